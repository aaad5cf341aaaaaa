"""Branches, riding onset, gradients and the film of a tip, from Python."""

from pathlib import Path

import numpy as np
import pytest

import libblade as lb

CASE = lb.load_case(Path(__file__).parents[1] / "reference/base_case/case.json")
FLOATING = CASE.replace({"setting.holding": "floating", "setting.line_load": 90})


@pytest.fixture(scope="module")
def loop():
    return lb.branches(FLOATING, {"setting.line_load": (60, "150 N/m")}, excess="0.3 um")


def test_folds_of_the_base_case(loop):
    """tests/reference/base_case: an independent solution jumps up between 91 and 96 N/m and back between 82 and 88."""
    down, up = np.sort(loop.folds)
    assert 91 < up < 96
    assert 82 < down < 88
    assert "folds: 92.9" in repr(loop)
    assert len(loop.curves) == 1


def test_between_the_folds_there_are_three_states(loop):
    curve = loop.curves[0]
    at_90 = np.flatnonzero(np.diff(np.sign(curve.value - 89.9)))
    assert at_90.size == 3
    assert [bool(curve.stable[k]) for k in at_90] == [True, False, True]
    films = curve.film_on_lands[at_90]
    assert films[0] < films[1] < films[2]
    # the wiping and the riding state are what solve() finds from rest and from the thickest film
    case = FLOATING.replace({"setting.line_load": 89.9})
    for start, film in (("riding", films[2]),):
        point = lb.solve(
            case.replace({"tip.bedding": "elsewhere", "tip.bedded_set_angle_deg": 30, "tip.bedded_line_load": 90}),
            start,
        )
        assert point.film_on_lands == pytest.approx(film, rel=0.05)


def test_dataset_of_a_diagram(loop):
    data = loop.dataset()
    assert data.film_on_lands.attrs["units"] == "m"
    assert data.sizes["state"] == loop.curves[0].value.size
    assert data.attrs["field"] == "setting.line_load"
    assert bool((data.excess_ink <= data.film_on_lands).all())


def test_riding_onset_by_any_field():
    for name, ends in {
        "setting.line_load": (70, 140),
        "setting.set_angle_deg": (26, 34),
        "ink.viscosity": ("5 mPa s", "300 mPa s"),
    }.items():
        onset = lb.riding_onset(CASE, {name: ends}, "0.2 um")
        moved = [v for v in (onset.lower, onset.upper) if np.isfinite(v)]
        assert moved, name
        field = "setting.set_angle" if "angle" in name else name
        # Solved there with the facet and the holder as they were bedded, the excess is the limit.
        bedded = lb.solve(CASE)
        there = {field: moved[0]} if "angle" not in name else {field: f"{moved[0]} rad"}
        keeps = {} if name.startswith("setting.") else {"setting.interference": bedded.interference}
        facet = {"tip.bedding": "angle", "tip.bedded_angle": f"{bedded.bedded_angle!r} rad"}
        point = lb.solve(CASE.replace({**facet, **keeps, **there}))
        assert point.excess_ink == pytest.approx(0.2e-6, rel=1e-3), name
    jump = lb.riding_onset(FLOATING, {"setting.line_load": (60, 150)}, "0.2 um")
    assert jump.upper_jumps
    assert "the blade jumps" in repr(jump)


def test_gradient_against_solves():
    fields = ["setting.line_load", "setting.set_angle", "blade.thickness"]
    slopes = lb.gradient(CASE, fields)
    point = lb.solve(CASE)
    for field in fields:
        now = CASE._core.get_number(field)

        def film(shift, field=field, now=now):
            unit = " rad" if field == "setting.set_angle" else " m" if field == "blade.thickness" else " N/m"
            return lb.solve(CASE.replace({field: f"{now * (1 + shift)!r}{unit}"}), step_response=False).film_on_lands

        step = 2e-4
        whole = (8 * (film(step) - film(-step)) - film(2 * step) + film(-2 * step)) / (12 * step * now)
        assert slopes["film_on_lands", field] == pytest.approx(whole, rel=2e-6)
    assert slopes.values["film_on_lands"] == pytest.approx(point.film_on_lands, rel=1e-9)
    assert slopes.dataset().film_on_lands.sizes == {"field": 3}
    assert "setting.line_load" in repr(slopes)


def test_film_of_a_tip_at_a_place():
    """The operating point's own place gives its own film."""
    point = lb.solve(CASE)
    s = point.section
    low = float(s.gap.min())  # between mean surfaces; the mean planes lie lower where lands touch
    film = lb.tip_film(CASE, f"{point.effective_angle!r} rad", f"{point.facet_length!r} m", f"{low!r} m")
    assert film.convergence.ok
    assert film.convergence.residual == 0.0
    assert film.section.gap.min() >= low
    thick = lb.tip_film(CASE, "28 deg", "0.2 mm", "3 um", tilt="1 mrad")
    assert thick.flow / 5.0 == pytest.approx(0.5 * 3e-6, rel=0.4)
    assert thick.asperity_load == 0.0
    assert thick.film_load > 0.0


@pytest.mark.parametrize(
    ("call", "path"),
    [
        (lambda: lb.branches(CASE, {"setting.line_load": (120, 150)}), "setting.line_load"),
        (lambda: lb.branches(CASE, {"setting.line_load": 120}), "setting.line_load"),
        (lambda: lb.branches(CASE, {"setting.line_load": (90, 110), "ink.density": (1000, 1200)}), "fields"),
        (lambda: lb.branches(CASE, {"setting.holding": (0, 1)}), "setting.holding"),
        (lambda: lb.branches(CASE, {"setting.line_load": (90, 110)}, excess="-1 um"), "excess"),
        (lambda: lb.riding_onset(CASE, {"setting.line_load": (90, 110)}, 0.0), "excess"),
        (lambda: lb.gradient(CASE, ["setting.holding"]), "setting.holding"),
        (lambda: lb.gradient(CASE, ["setting.interference"]), "setting.interference"),
        (lambda: lb.tip_film(CASE, "100 deg", "0.2 mm", "1 um"), "effective_angle"),
        (lambda: lb.tip_film(CASE, "30 deg", "0.2 mm", "1 m"), "low_gap"),
        (lambda: lb.gradient(CASE, "setting.set_angle"), "fields"),
    ],
)
def test_bad_input_names_its_field(call, path):
    with pytest.raises(lb.InvalidInput) as caught:
        call()
    assert path in [problem.path for problem in caught.value.problems]


def test_flags_of_the_engraving():
    """Few cells, air in them, and cells so wide and shallow that the blade empties them."""

    def flags(changes):
        case = lb.example_case("folding_carton_water").replace(changes)
        return {flag.name for flag in lb.solve(case, step_response=False).validity}

    assert "cells_per_facet" in flags({})
    assert "cells_per_facet" not in flags({"roll.engraving.screen": "400 1/cm", "roll.engraving.wall_width": "2 um"})
    assert "air_in_cells" in flags({"ink.air_fraction": 0.02})
    assert "air_in_cells" not in flags({})
    wide = {"roll.engraving.screen": "30 1/cm", "setting.surface_speed": "8 m/s", "setting.line_load": 30}
    assert "shallow_cells" in flags(wide)
    assert "shallow_cells" not in flags({})


def test_pictures(loop):
    matplotlib = pytest.importorskip("matplotlib")
    matplotlib.use("Agg")
    ax = lb.plot_branches(loop)
    assert "line load" in ax.get_xlabel()
    assert "[" in ax.get_ylabel()
    assert {"a blade stays here", "a blade leaves here", "jumps"} <= {t.get_text() for t in ax.get_legend().get_texts()}
    assert "85.1" in lb.describe_branches(loop)
    with pytest.raises(lb.InvalidInput, match="must be one of"):
        lb.plot_branches(loop, "regime")
    point = lb.solve(CASE)
    upper, middle, lower = lb.plot_film(point)
    assert [a.get_ylabel() for a in (middle, lower)] == ["pressure [MPa]", "void [-]"]
    assert upper.get_ylabel().startswith("gap [")
    assert "peaks at" in lb.describe_film(point)
    for axis in (ax, upper):
        matplotlib.pyplot.close(axis.figure)


def test_every_pattern_solves_and_grooves_along_the_motion_leak():
    """Grooves along the motion lead pressure away under the whole facet, those across it less, closed cells least."""
    case = lb.example_case("narrow_web_curing").replace({"setting.line_load": 100})
    lift, carried = {}, {}
    for name, changes in {
        "hexagon": {},
        "diamond": {"roll.engraving.pattern": "diamond"},
        "elongated": {"roll.engraving.pattern": "elongated", "roll.engraving.aspect": 1.6},
        "along": {"roll.engraving.pattern": "channel"},
        "slanted": {"roll.engraving.pattern": "channel", "roll.engraving.screen_angle": "45 deg"},
        "steep": {"roll.engraving.pattern": "channel", "roll.engraving.screen_angle": "60 deg"},
    }.items():
        point = lb.solve(case.replace(changes), step_response=False)
        lift[name], carried[name] = point.film_load_share, point.ink_carried
    assert lift["along"] < 0.7 * lift["hexagon"]
    assert lift["along"] < lift["slanted"] < lift["steep"] < lift["hexagon"]
    # The blade drags half of what lies in grooves along the motion back: (1 + sin^2) / 2 travels.
    assert carried["along"] == pytest.approx(0.5 * carried["hexagon"], rel=0.1)
    assert carried["slanted"] == pytest.approx(0.75 * carried["hexagon"], rel=0.1)
