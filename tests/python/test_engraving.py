"""The engraving by itself through the Python door: conversions, cell problem, cells under a facet (more in tests/cpp)."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import libblade as lb

PITCH = 1e-4
REYNOLDS = {"wall_ends": False}


def cells(pattern: str, wall: float, depth: float, **fields) -> lb.Engraving:
    """Wall as a share of the pitch, depth in m."""
    return lb.Engraving(pattern=pattern, screen=1.0 / PITCH, wall_width=wall * PITCH, cell_depth=depth, **fields)


@pytest.fixture(scope="module")
def grooves(root: Path) -> dict[str, float]:
    with (root / "tests/reference/christensen_1969/channels.csv").open(encoding="utf-8") as table:
        return {row["quantity"]: float(row["value"]) for row in csv.DictReader(table)}


def test_numbers_of_an_engraving():
    # 500 lines per inch: 44744.735 cells/cm2 in the hexagonal, 38750.0775 in the square lattice (geometry).
    by_pattern = {"hexagon": 44744.73535e4, "diamond": 38750.0775e4, "channel": 0.0}
    for pattern, count in by_pattern.items():
        numbers = lb.engraving_numbers(lb.Engraving(pattern=pattern, screen=500 / 0.0254, wall_width="5 um"))
        assert numbers.cells_per_area == pytest.approx(count, rel=1e-9)
        assert numbers.pitch == pytest.approx(50.8e-6, rel=1e-12)
    # Walls of 10 um at 100 um pitch, by hand: 0.9^2 is open, 8.1 cm3/m2 are 10 um deep, (2 - 0.19) / 0.19.
    numbers = lb.engraving_numbers(lb.Engraving(screen="100 1/cm", wall_width_um=10, cell_volume="8.1 cm3/m2"))
    assert numbers.open_fraction == pytest.approx(0.81, rel=1e-12)
    assert numbers.land_fraction == pytest.approx(0.19, rel=1e-12)
    assert numbers.cell_depth == pytest.approx(10e-6, rel=1e-12)
    assert numbers.deep_flow_factor == pytest.approx(1.81 / 0.19, rel=1e-12)
    assert "pitch 100 um, land 19.0%" in repr(numbers)
    # A paraboloid fills half its cylinder (Archimedes): a stated depth decides.
    bowl = lb.engraving_numbers(cells("hexagon", 0.1, 10e-6, profile="parabolic"))
    assert (bowl.depth_shape_factor, bowl.cell_volume) == pytest.approx((0.5, 4.05e-6), rel=1e-12)


def test_every_way_to_name_an_engraving():
    case = lb.example_case("folding_carton_water").replace(
        {
            "roll.engraving.pattern": "channel",
            "roll.engraving.screen_angle": "30 deg",
            "roll.engraving.wall_width": 8e-6,
        }
    )
    direct = lb.Engraving(
        pattern="channel", screen=case["roll.engraving.screen"], wall_width="8 um", screen_angle="30 deg",
        cell_volume=case["roll.engraving.cell_volume"],
    )  # fmt: skip
    flows = [lb.cell_flow(e, "1 um") for e in (direct, case.roll.engraving, case.roll, case)]
    assert all(flow == flows[0] for flow in flows)
    assert flows[0].pressure_factor[0, 1] > 0.1  # the angle got through
    assert lb.engraving_numbers(case.roll.engraving) == lb.engraving_numbers(direct)


def test_channels_are_the_means_of_one_dimension(grooves):
    e = cells("channel", 0.3, 3e-6)
    moving, still = (lb.cell_flow(e, 1e-6, texture=word, **REYNOLDS) for word in ("moving", "stationary"))
    assert moving.pressure_factor[0, 0] == pytest.approx(grooves["pressure_along"], rel=1e-10)
    assert moving.pressure_factor[1, 1] == pytest.approx(grooves["pressure_across"], rel=1e-9)  # ten digits
    assert moving.mean_gap == pytest.approx(grooves["mean_gap"] * 1e-6, rel=1e-12)
    assert still.couette_factor[1, 1] == pytest.approx(grooves["couette_across_stationary"], rel=1e-9)
    assert moving.couette_factor[1, 1] == pytest.approx(grooves["couette_across_moving"], rel=1e-9)
    assert moving.couette_factor[0, 0] == pytest.approx(
        grooves["mean_gap"], rel=1e-10
    )  # along it the mean gap is dragged
    assert (moving.texture, still.texture) == ("moving", "stationary")
    # Turned by 30 deg: a tensor.
    turned = lb.cell_flow(cells("channel", 0.3, 3e-6, screen_angle="30 deg"), 1e-6, **REYNOLDS).pressure_factor
    along, across = grooves["pressure_along"], grooves["pressure_across"]
    assert turned[0, 0] == pytest.approx(0.75 * along + 0.25 * across, rel=1e-9)
    assert turned[0, 1] == pytest.approx(math.sqrt(3.0) / 4.0 * (along - across), rel=1e-9)
    assert np.array_equal(turned, turned.T)


def test_deep_hexagons_resist_by_their_walls():
    # Thin walls are resistors between cells of uniform pressure: pitch / wall, exact as wall -> 0. At 0.1 and 0.3 of the pitch
    # finite elements give 9.6442 and 2.9813, that is factors of 0.964 and 0.894 (tests/cpp/test_cell_flow.cpp names them).
    for wall, factor, tolerance in ((0.01, 1.0, 0.01), (0.1, 0.96442, 2e-3), (0.3, 0.89439, 2e-3)):
        flow = lb.cell_flow(cells("hexagon", wall, 1e-4), 1e-7, **REYNOLDS)
        phi = flow.pressure_factor
        assert phi[0, 0] * wall == pytest.approx(factor, rel=tolerance)
        assert phi[1, 1] == pytest.approx(phi[0, 0], rel=1e-3)  # six-fold symmetry
        assert phi[0, 1] == phi[1, 0] == 0.0
        finer = lb.cell_flow(cells("hexagon", wall, 1e-4), 1e-7, resolution=192, **REYNOLDS)
        assert finer.pressure_factor[0, 0] == pytest.approx(phi[0, 0], rel=5e-3)
        assert flow.dissipation_factor[0, 0] == pytest.approx(phi[0, 0], rel=1e-7)  # energy identity
        closed = lb.engraving_numbers(cells("hexagon", wall, 1e-4)).deep_flow_factor
        assert closed * 0.999 < phi[0, 0] < closed * 1.021


def test_moving_and_resting_texture_differ_in_sign():
    e = cells("hexagon", 0.06, 8e-6)
    for gap in (0.3e-6, 3e-6, 30e-6):
        moving, still = (lb.cell_flow(e, gap, texture=word) for word in ("moving", "stationary"))
        mean = moving.mean_gap / gap
        assert np.array_equal(moving.shear_factor, still.shear_factor)
        assert moving.couette_factor[0, 0] > mean > still.couette_factor[0, 0] >= 1.0
        # Patir & Cheng 1979: equal and opposite
        assert moving.couette_factor[0, 0] - mean == pytest.approx(mean - still.couette_factor[0, 0], rel=1e-12)
    # Deep cells travel whole: q = U h / 2 + U volume.
    gap = 2e-8
    carried = lb.cell_flow(e, gap, **REYNOLDS).couette_factor[0, 0]
    volume = lb.engraving_numbers(e).cell_volume
    assert 0.5 * gap * carried == pytest.approx(0.5 * gap + volume, rel=1e-5)


def test_wall_ends_lengthen_steep_walls_by_0_638_gaps():
    # 2D Stokes flow over deep grooves (tests/stokes/grooves.py): every edge of a wall acts 0.638 land gaps longer.
    e, gap = cells("channel", 0.3, 1e-3), 3e-6
    assert lb.cell_flow(e, gap).pressure_factor[1, 1] == pytest.approx(100.0 / (30.0 + 2 * 0.638 * 3.0), rel=5e-3)
    assert lb.cell_flow(e, gap, **REYNOLDS).pressure_factor[1, 1] == pytest.approx(100.0 / 30.0, rel=1e-3)
    bowl = cells("channel", 0.3, 1e-3, profile="parabolic")  # no steep walls
    assert lb.cell_flow(bowl, gap) == lb.cell_flow(bowl, gap, **REYNOLDS)


def test_many_gaps_are_a_dataset():
    e, gaps = cells("hexagon", 0.06, 8e-6), [1e-7, 1e-6, 1e-3]
    data = lb.cell_flow(e, gaps, texture="stationary", resolution=48)
    assert isinstance(data, xr.Dataset)
    assert data["pressure_factor"].dims == ("land_gap", "along", "by")
    assert {name: data[name].attrs["units"] for name in data.variables if name not in {"along", "by"}} == {
        "land_gap": "m", "mean_gap": "m", "pressure_factor": "1", "couette_factor": "1", "shear_factor": "1",
        "dissipation_factor": "1", "converged": "1",
    }  # fmt: skip
    assert bool(data["converged"].all())
    one = lb.cell_flow(e, "1 um", texture="stationary", resolution=48)
    at = data.sel(land_gap=1e-6)
    for name in ("pressure_factor", "couette_factor", "shear_factor"):
        assert np.array_equal(at[name].values, getattr(one, name))
    assert float(at["mean_gap"]) == one.mean_gap
    phi = data["pressure_factor"].sel(along="x", by="x")
    assert bool((phi.diff("land_gap") < 0.0).all())
    assert float(phi[-1]) == pytest.approx(1.0, abs=0.03)  # 3 x volume / gap to first order is 0.021
    assert repr(one).startswith("converged")
    smooth = lb.cell_flow(lb.Engraving(pattern="smooth"), 1e-6)
    assert np.array_equal(smooth.pressure_factor, np.eye(2))


def facet(pattern: str, count: float, gaps, **options) -> lb.CellsUnderFacet:
    return lb.cells_under_facet(cells(pattern, 0.06, 8e-6), count * PITCH, gaps, **options)


def test_cells_without_depth_leave_a_plane_slider():
    # Reynolds 1886: W = 6 eta U b^2 / h^2 [ln K - 2 (K - 1) / (K + 1)] / (K - 1)^2, q = U h_in h_out / (h_in + h_out), K = 2.2.
    e, k, b, h = cells("hexagon", 0.06, 1e-15), 2.2, 2 * PITCH, 0.5e-6
    got = lb.cells_under_facet(e, b, [k * h, h], speed=5.0, viscosity="30 mPa s", phases=3)
    load = 6 * 0.03 * 5.0 * b**2 / h**2 * (math.log(k) - 2 * (k - 1) / (k + 1)) / (k - 1) ** 2
    assert got.load == pytest.approx(load, rel=2e-3)  # second order on 96 mesh cells
    assert got.homogenised_load == pytest.approx(load, rel=1e-5)
    assert got.flow == pytest.approx(5.0 * k * h / (k + 1.0), rel=1e-4)
    # Pressure flow alone between parallel planes: q = h^3 p / (12 eta b), W = p b / 2.
    still = lb.cells_under_facet(e, b, h, speed=0.0, pressure_in="1 bar", phases=1, resolution=24)
    assert still.flow == pytest.approx(h**3 * 1e5 / (12 * 0.03 * b), rel=1e-6)
    assert still.load == pytest.approx(0.5 * 1e5 * b, rel=1e-6)


def test_homogenised_load_is_too_high_over_few_cells():
    # Regression values (tests/cpp/test_cell_flow_facet.cpp): +80, +21, +10 % over 2, 4, 8 hexagons; the cells at both ends are open
    # to the ambient and hold no pressure, so that the error goes with 1 / cells.
    errors = []
    for count, expected in ((2, 0.80), (4, 0.21), (8, 0.10)):
        got = facet("hexagon", count, [0.6e-6, 0.5e-6])
        assert got.convergence.ok
        assert got.load_error == pytest.approx(expected, abs=0.02)
        assert got.load == pytest.approx(got.phase_load.mean(), rel=1e-12)
        assert got.phase.shape == got.phase_load.shape == got.phase_flow.shape == (48,)
        assert got.section_difference < 1e-9  # ink is conserved
        assert abs(got.flow_error) < 0.01
        errors.append(got.load_error)
    many = facet("hexagon", 24, [0.6e-6, 0.5e-6], resolution=24, phases=36)
    assert abs(many.load_error) < 0.04 < errors[-1]


def test_a_parallel_facet_carries_nothing_on_the_mean():
    got = facet("diamond", 2, 0.5e-6, resolution=24, phases=12)
    swing = np.abs(got.phase_load).max()
    assert swing > 1.0
    assert abs(got.load) < 1e-6 * swing  # mirrored in x the pattern runs backwards: pressures change sign
    assert math.isnan(got.load_error)
    assert "nan" in repr(got)


E1 = cells("hexagon", 0.06, 8e-6)


@pytest.mark.parametrize(
    ("action", "name", "words"),
    [
        (lambda: lb.cell_flow("hexagon", 1e-6), "engraving", "must be an Engraving"),
        (lambda: lb.cell_flow(lb.Ink(viscosity=0.03), 1e-6), "engraving", "must be an Engraving"),
        (lambda: lb.cell_flow(E1, 0.0), "land_gap", "above 0"),
        (lambda: lb.cell_flow(E1, [1e-6, -1e-6]), "land_gap", "above 0"),
        (lambda: lb.cell_flow(E1, [[1e-6]]), "land_gap", "one dimension"),
        (lambda: lb.cell_flow(E1, []), "land_gap", "one dimension"),
        (lambda: lb.cell_flow(E1, "1 mPa s"), "land_gap", "unit"),
        (lambda: lb.cell_flow(E1, 1e-6, texture="moved"), "texture", '"moving" or "stationary"'),
        (lambda: lb.cell_flow(E1, 1e-6, resolution=3), "resolution", "from 4 to 2000"),
        (lambda: lb.cell_flow(E1, 1e-6, resolution=96.0), "resolution", "whole number"),
        (lambda: lb.cell_flow(E1, 1e-6, wall_ends=0.638), "wall_ends", "True or False"),
        (lambda: lb.cell_flow(E1, 1e-6, on_failure="no"), "on_failure", "raise"),
        (
            lambda: lb.engraving_numbers(cells("hexagon", 1.5, 8e-6)),
            "roll.engraving.wall_width",
            "smaller than the pitch",
        ),
        (lambda: lb.engraving_numbers(lb.Engraving(screen=100)), "roll.engraving.screen", "between"),
        (lambda: lb.engraving_numbers(lb.Engraving(screen_angle=0.5)), "screen_angle", "unit"),
        (lambda: facet("channel", 2, 1e-6), "engraving.pattern", "closed cells"),
        (lambda: facet("hexagon", 101, 1e-6), "facet_length", "at most 100 pitches"),
        (lambda: facet("hexagon", 2, [1e-6, 1e-6, 1e-6]), "land_gap", "or two"),
        (lambda: facet("hexagon", 2, [1e-6, 0.0]), "land_gap", "above 0"),
        (lambda: facet("hexagon", 2, 1e-6, viscosity=0.0), "viscosity", "above 0"),
        (lambda: facet("hexagon", 2, 1e-6, speed=math.nan), "speed", "finite"),
        (lambda: facet("hexagon", 2, 1e-6, phases=0), "phases", "from 1 to 1000"),
        (lambda: facet("hexagon", 2, 1e-6, resolution=500), "resolution", "from 4 to 400"),
        (
            lambda: lb.cells_under_facet(cells("hexagon", 0.06, 8e-6, screen_angle="30 deg"), 2e-4, 1e-6),
            "engraving.screen_angle",
            "must be 0",
        ),
    ],
)
def test_it_refuses(action, name, words):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        action()
    assert error.value.problems[0].path.endswith(name)
