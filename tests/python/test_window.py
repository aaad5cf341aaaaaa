"""The process window on invented maps, where the answer is known by construction, and on a real one."""

import numpy as np
import pytest
import xarray as xr
from libblade._advice import Side, _drift_words
from libblade._limits import moved_limits

import libblade as lb

ANGLES = np.radians(np.arange(20.0, 41.0))
LOADS = np.arange(50.0, 251.0, 10.0)


def invented(inside_film, inside_pressure=None, **extra) -> xr.Dataset:
    """A dataset like a sweep's, in which the film is 0.1 um where inside and 1 um elsewhere (invented data)."""
    angle, load = np.meshgrid(np.degrees(ANGLES), LOADS, indexing="ij")
    film = np.where(inside_film(angle, load), 1e-7, 1e-6)
    pressure = np.where(inside_pressure(angle, load), 1e6, 9e6) if inside_pressure else np.full_like(film, 1e6)
    dims = ("set_angle", "line_load")
    return xr.Dataset(
        {
            "excess_ink": (dims, film),
            "ink_carried": (dims, np.full_like(film, 4e-6)),
            "mean_pressure": (dims, pressure),
            "bedded_stable": (dims, angle > 22.0),
            "regime": (dims, np.where(load > 100.0, 1, 3).astype(np.int8)),
            "status": (dims, np.full(film.shape, 1, dtype=np.int8)),
            **{name: (dims, values) for name, values in extra.items()},
        },
        {
            "set_angle": ("set_angle", ANGLES, {"units": "rad", "display_units": "deg", "field": "setting.set_angle"}),
            "line_load": ("line_load", LOADS, {"units": "N/m", "display_units": "N/m", "field": "setting.line_load"}),
        },
    )


@pytest.fixture
def box() -> xr.Dataset:
    return invented(lambda a, n: (a > 24.5) & (a < 35.5), lambda a, n: (n > 75.0) & (n < 205.0))


def test_lowest_load_with_one_tolerance_on_every_side(box):
    window = lb.process_window(box, {"excess_ink": "0.3 um", "mean_pressure": "3 MPa"})
    # Good: 25..35 deg, 80..200 N/m. One tolerance of 10 % below the load: N - 80 >= 0.1 N, N >= 88.9, on the grid 90.
    assert window.exists
    assert window.recommended_with_margin
    assert window.recommended.line_load == 90.0
    # Every angle 1 deg inside has the same load; the largest smallest margin is that of the load (1.11), so the first wins.
    assert 26.0 <= np.degrees(window.recommended.set_angle) <= 34.0
    assert window.margins.load_down == pytest.approx(10.0 / 9.0)
    assert window.margins.smallest >= 1.0
    assert int(window.contains.sum()) == 11 * 13
    assert window.contains.dims == ("set_angle", "line_load")


def test_what_fails_first_is_named():
    # A different limit closes each side: film at low angle, pressure at high load, stability nowhere, the map elsewhere.
    corner = invented(lambda a, n: a > 24.5, lambda a, n: n < 205.0)
    window = lb.process_window(corner, {"excess_ink": "0.3 um", "mean_pressure": "3 MPa"})
    assert window.limiting == {
        "angle_down": ("excess_ink",),
        "angle_up": ("edge of the map",),
        "load_down": ("edge of the map",),
        "load_up": ("mean_pressure",),
    }


def test_the_edge_of_the_map_is_an_end(box):
    everywhere = lb.process_window(box, {"excess_ink": "5 um"})
    assert set(everywhere.limiting.values()) == {("edge of the map",)}


def test_a_smaller_tolerance_recommends_less_load(box):
    limits = {"excess_ink": "0.3 um", "mean_pressure": "3 MPa"}
    strict = lb.process_window(box, limits, load_tolerance="30 %")
    assert strict.recommended.line_load == 120.0  # N - 80 >= 0.3 N
    loose = lb.process_window(box, limits, load_tolerance=0.01)
    assert loose.recommended.line_load == 90.0  # 80 itself has nothing below it


def test_without_margin_the_best_is_flagged():
    narrow = invented(lambda a, n: (abs(a - 30.0) < 0.5) & (n > 75.0) & (n < 205.0))
    window = lb.process_window(narrow, {"excess_ink": "0.3 um"})
    assert window.exists
    assert not window.recommended_with_margin
    assert window.margins.angle_up == 0.0
    assert "LESS than one holding tolerance" in repr(window)


def test_no_window_says_what_is_hardest_to_meet(box):
    window = lb.process_window(box, {"excess_ink": "1 nm", "mean_pressure": "3 MPa"})
    assert not window.exists
    assert window.recommended is None
    assert window.margins is None
    assert not window.contains.any()
    assert window.passed["excess_ink"] == 0.0
    assert repr(window).startswith("no setting on this map meets every limit")
    assert "hardest to meet is excess_ink" in repr(window)


def test_a_share_of_the_ink_is_a_film(box):
    # Of 4 um, 4 % is 0.16 um and 24 % is 0.96 um: between 0.1 and 1 um; 26 % is 1.04 um: above both; 2 % below both.
    expected = lb.process_window(box, {"excess_ink": "0.2 um"}).contains
    for share in ("4 %", "24 %"):
        assert lb.process_window(box, {"excess_ink": share}).contains.equals(expected)
    assert lb.process_window(box, {"excess_ink": "26 %"}).contains.all()
    assert not lb.process_window(box, {"excess_ink": "2 %"}).exists


def test_limits_of_every_kind(box):
    both = lb.process_window(box, {"excess_ink": ("0.05 um", "0.3 um")})
    assert both.contains.equals(lb.process_window(box, {"excess_ink": 0.3e-6}).contains)
    assert not lb.process_window(box, {"excess_ink": ("0.2 um", "0.3 um")}).exists
    stable = lb.process_window(box, {"bedded_stable": True})
    assert int(stable.contains.sum()) == 18 * 21
    wiping = lb.process_window(box, {"regime": "wiping"})
    assert int(wiping.contains.sum()) == 21 * 15
    assert lb.process_window(box, {"regime": ["wiping", "riding"]}).contains.all()


def test_points_that_are_not_solved_are_outside(box):
    box["status"][:, -1] = 7
    box["excess_ink"][:, -1] = np.nan
    window = lb.process_window(box, {"mean_pressure": "10 MPa"})
    assert not window.contains[:, -1].any()
    assert window.limiting["load_up"] == ("not solved",)


def test_dimensions_may_come_in_any_order(box):
    limits = {"excess_ink": "0.3 um", "mean_pressure": "3 MPa"}
    turned = lb.process_window(box.transpose("line_load", "set_angle").isel(line_load=slice(None, None, -1)), limits)
    assert turned.contains.equals(lb.process_window(box, limits).contains)


@pytest.mark.parametrize(
    ("limits", "options", "name"),
    [
        ({}, {}, "limits"),
        ({"excess": "1 um"}, {}, "excess"),
        ({"film_on_lands": "1 um"}, {}, "film_on_lands"),
        ({"excess_ink": "3 s"}, {}, "excess_ink"),
        ({"excess_ink": float("nan")}, {}, "excess_ink"),
        ({"excess_ink": (None, None)}, {}, "excess_ink"),
        ({"mean_pressure": "5 %"}, {}, "mean_pressure"),
        ({"regime": "flying"}, {}, "regime"),
        ({"bedded_stable": "yes"}, {}, "bedded_stable"),
        ({"excess_ink": "1 um"}, {"angle_tolerance": 1.0}, "angle_tolerance"),
        ({"excess_ink": "1 um"}, {"angle_tolerance": "0 deg"}, "angle_tolerance"),
        ({"excess_ink": "1 um"}, {"load_tolerance": -0.1}, "load_tolerance"),
        ({"excess_ink": "1 um"}, {"case": "name"}, "case"),
    ],
)
def test_bad_limits_are_refused(box, limits, options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.process_window(box, limits, **options)
    assert error.value.problems[0].path == name


def test_bad_grids_are_refused(box):
    for grid in (None, xr.Dataset(), box.isel(set_angle=0), box.expand_dims("speed")):
        with pytest.raises(lb.InvalidInput, match="grid"):
            lb.process_window(grid, {"excess_ink": "1 um"})


def test_a_window_on_a_real_map_solves_again_where_it_recommends():
    case = lb.example_case("folding_carton_water")
    grid = lb.sweep(
        case, {"setting.set_angle_deg": np.linspace(24, 38, 8), "setting.line_load": np.linspace(50, 250, 9)}
    )
    window = lb.process_window(grid, {"excess_ink": "2 %", "mean_pressure": "3 MPa"})
    assert window.exists
    assert window.case["setting.line_load"] == pytest.approx(window.recommended.line_load)
    point = lb.solve(window.case)
    # Angles go through text in rad and back: the same bits.
    assert point.excess_ink == pytest.approx(window.recommended["excess_ink"], rel=1e-9, abs=1e-15)
    assert point.excess_ink <= 0.02 * point.ink_carried
    assert window.recommended.regime == point.regime
    assert repr(window).startswith("recommended: set_angle")


def test_a_drift_is_told_on_its_own_side():
    """By hand: from 30 deg and 110 N/m, each side with a reach and a limit of its own."""
    case = lb.example_case("folding_carton_water")
    drifts = {
        "angle_down": Side(np.radians(28.0), ("mean_pressure",)),
        "angle_up": Side(np.radians(33.0), ("excess_ink",)),
        "load_down": Side(90.0, ("film_on_lands",)),
        "load_up": Side(150.0, ("wear_rate",)),
    }
    reaches, fails = _drift_words(case, drifts)
    assert (
        "2 deg to a lower angle and 3 deg to a steeper angle, or 20 N/m to less load and 40 N/m to more load" in reaches
    )
    for words in (
        "lower angle: pressure on the lands",
        "steeper angle: excess ink",
        "less load: ink left on the lands",
        "more load: blade wear",
    ):
        assert words in fails


def test_limits_after_a_step_hold_for_the_state_itself_once_the_blade_was_moved():
    limits = {"excess_ink": "9 %", "excess_after_step": "12 %", "film_on_lands": "6 %", "mean_pressure": "0.5 MPa"}
    assert moved_limits(limits) == {"excess_ink": "12 %", "mean_pressure": "0.5 MPa"}
    assert moved_limits({"film_on_lands": "6 %"}) == {"film_on_lands": "6 %"}
