"""The setting in pressroom terms: worked numbers, round trips, refusals, and readings beside a map."""

import math
import pickle

import numpy as np
import pytest
import xarray as xr

import libblade as lb

ANGLES = np.radians([28.0, 29.0, 30.0, 31.0, 32.0])


def lever(**changes) -> lb.Actuator:
    """Invented: 1.5 bar on 10 cm2, a lever of 1.2, 20 N of weight, a blade of 1.3 m."""
    given = {
        "air_pressure": "1.5 bar",
        "piston_area": "10 cm2",
        "lever_ratio": 1.2,
        "blade_width": "1.3 m",
        "dead_load": "20 N",
    }
    return lb.Actuator(**{**given, **changes})


def invented_map(dim: str, loads: np.ndarray, unit: str) -> xr.Dataset:
    """A dataset like a sweep's with a window between the second and the last but one load (invented data)."""
    good = np.zeros((ANGLES.size, loads.size), dtype=bool)
    good[1:-1, 1:-1] = True
    dims = ("set_angle", dim)
    return xr.Dataset(
        {"excess_ink": (dims, np.where(good, 1e-7, 1e-6)), "status": (dims, np.ones(good.shape, dtype=np.int8))},
        {
            "set_angle": ("set_angle", ANGLES, {"units": "rad", "display_units": "deg", "field": "setting.set_angle"}),
            dim: (dim, loads, {"units": unit, "display_units": unit, "field": f"setting.{dim}"}),
        },
    )


@pytest.fixture
def grid() -> xr.Dataset:
    return invented_map("line_load", np.arange(10.0, 200.0, 10.0), "N/m")


def test_line_load_and_air_pressure_by_hand():
    # (1.5e5 Pa x 1e-3 m2 x 1.2 + 20 N) / 1.3 m; (100 N/m x 1.3 m - 20 N) / 1.2e-3 m2
    actuator = lever()
    assert actuator.line_load == pytest.approx(200.0 / 1.3, rel=1e-14)
    assert actuator.air_pressure_for(100) == pytest.approx(110.0 / 1.2e-3, rel=1e-14)
    assert actuator.air_pressure_for("1 N/cm") == pytest.approx(110.0 / 1.2e-3, rel=1e-14)
    for load in (20.0, 100.0, 400.0):
        assert lever(air_pressure=actuator.air_pressure_for(load)).line_load == pytest.approx(load, rel=1e-14)
    assert pickle.loads(pickle.dumps(actuator)).line_load == actuator.line_load
    assert "1.5 bar" in repr(actuator)


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"air_pressure": "-1 bar"}, ["air_pressure"]),
        ({"air_pressure": "3 mm"}, ["air_pressure"]),
        ({"piston_area": 0}, ["piston_area"]),
        ({"piston_area": "10 N"}, ["piston_area"]),
        ({"lever_ratio": math.nan}, ["lever_ratio"]),
        ({"blade_width": "1300 m"}, ["blade_width"]),
        ({"dead_load": None}, ["dead_load"]),
        ({"dead_load": "-250 N"}, ["air_pressure"]),
        ({"air_pressure": "x", "dead_load": "y"}, ["air_pressure", "dead_load"]),
        ({"piston_area": -1, "lever_ratio": 0}, ["piston_area", "lever_ratio"]),
    ],
)
def test_actuator_refuses(changes, names):
    with pytest.raises(lb.InvalidInput) as error:
        lever(**changes)
    assert [problem.path for problem in error.value.problems] == names


@pytest.mark.parametrize(
    ("load", "words"),
    [(15, "15.3846 N/m that the dead load alone"), (2000, "21.5 bar"), (-5, "must be"), ("1 mm", "unit")],
)
def test_air_pressure_for_refuses(load, words):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        lever().air_pressure_for(load)
    assert error.value.problems[0].path == "line_load"


def test_screw_there_and_back():
    screw = lb.Screw(advance="2 mm", slope="60 deg")  # cos 60 deg = 1/2
    assert screw.interference == pytest.approx(1e-3, rel=1e-14)
    assert screw.advance_for("1 mm") == pytest.approx(2e-3, rel=1e-14)
    assert lb.Screw(advance="0.7 mm").interference == pytest.approx(0.7e-3, rel=1e-14)
    assert "60 deg" in repr(screw)


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ({"advance": "-1 mm"}, "advance"),
        ({"advance": "1 m"}, "advance"),
        ({"advance": "1 N"}, "advance"),
        ({"advance": "1 mm", "slope": "85 deg"}, "slope"),
        ({"advance": "1 mm", "slope": 0.1}, "slope"),
    ],
)
def test_screw_refuses(options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.Screw(**options)
    assert error.value.problems[0].path == name


@pytest.mark.parametrize("interference", [-1e-3, "1 m", "1 N"])
def test_advance_for_refuses(interference):
    with pytest.raises(lb.InvalidInput) as error:
        lb.Screw().advance_for(interference)
    assert error.value.problems[0].path == "interference"


def test_a_map_gains_the_air_pressure(grid):
    told = lb.with_actuator(grid, lever())
    assert told.air_pressure.dims == ("line_load",)
    assert told.air_pressure.attrs["units"] == "Pa"
    assert told.air_pressure.attrs["display_units"] == "bar"
    # 10 N/m is less than the dead load alone brings; beyond, (N x 1.3 - 20) / 1.2e-3
    assert np.isnan(told.air_pressure.values[0])
    loads = grid.line_load.values[1:]
    assert told.air_pressure.values[1:] == pytest.approx((loads * 1.3 - 20.0) / 1.2e-3, rel=1e-13)
    assert "air_pressure" not in grid.coords
    xr.testing.assert_identical(told.drop_vars("air_pressure"), grid)
    one = lb.with_actuator(grid.isel(line_load=9), lever())
    assert float(one.air_pressure) == pytest.approx(110.0 / 1.2e-3, rel=1e-13)


def test_the_recommendation_names_the_air_pressure(grid):
    plain = lb.process_window(grid, {"excess_ink": "0.3 um"})
    window = lb.process_window(grid, {"excess_ink": "0.3 um"}, actuator=lever())
    load = window.recommended.line_load
    assert window.recommended.air_pressure == pytest.approx(lever().air_pressure_for(load), rel=1e-14)
    assert window.contains.air_pressure.dims == ("line_load",)
    bar = window.recommended.air_pressure * 1e-5
    assert f"gauge air pressure at the actuator: {bar:.4g} bar" in window.summary()
    # Nothing else changes.
    assert "air_pressure" not in plain.recommended
    assert {k: v for k, v in window.recommended.items() if k != "air_pressure"} == plain.recommended
    assert [line for line in window.summary().splitlines() if "air" not in line] == plain.summary().splitlines()
    again = lb.with_actuator(plain, lever())
    assert again.recommended == window.recommended
    assert again.contains.identical(window.contains)


def test_a_load_out_of_reach_is_said(grid):
    window = lb.process_window(grid, {"excess_ink": "0.3 um"}, actuator=lever(dead_load="1 kN"))
    assert math.isnan(window.recommended.air_pressure)
    assert "actuator: none gives this load" in window.summary()


def test_no_window_still_has_its_readings(grid):
    window = lb.process_window(grid, {"excess_ink": "1 nm"}, actuator=lever())
    assert window.recommended is None
    assert "air_pressure" in window.contains.coords
    assert window.summary().startswith("no setting on this map")


def test_a_screw_reads_beside_the_interference():
    grid = invented_map("interference", np.linspace(1e-4, 1e-3, 10), "m")
    window = lb.process_window(grid, {"excess_ink": "0.3 um"}, actuator=lb.Screw(slope="60 deg"))
    assert window.recommended.screw_advance == pytest.approx(2.0 * window.recommended.interference, rel=1e-14)
    assert f"first touch: {2e3 * window.recommended.interference:.4g} mm" in window.summary()


def test_with_actuator_refuses(grid):
    for place, actuator, name in [
        (grid, None, "actuator"),
        (grid, "1.5 bar", "actuator"),
        (grid, lb.Screw(), "grid"),
        (None, lever(), "grid"),
        (grid.drop_vars("line_load"), lever(), "grid"),
    ]:
        with pytest.raises(lb.InvalidInput) as error:
            lb.with_actuator(place, actuator)
        assert error.value.problems[0].path == name
    with pytest.raises(lb.InvalidInput, match="actuator"):
        lb.process_window(grid, {"excess_ink": "0.3 um"}, actuator="1.5 bar")


AIR = {"kind": "air", "piston_area": "10 cm2", "lever_ratio": 1.2, "blade_width": "1.3 m", "dead_load": "20 N"}


def with_air(**changes) -> lb.Case:
    """An example case whose load is stated as the air pressure of an invented lever."""
    fields = {f"setting.actuator.{name}": value for name, value in {**AIR, "air_pressure": "1 bar", **changes}.items()}
    return lb.example_case(lb.example_cases()[0]).replace(fields)


def test_a_case_states_its_actuator():
    case = with_air()
    assert "setting.line_load" not in {path for path in ("setting.line_load",) if case.get(path) is not None}
    # (1e5 Pa x 1e-3 m2 x 1.2 + 20 N) / 1.3 m
    assert lb.solve(case).line_load == pytest.approx(140.0 / 1.3, rel=1e-6)
    assert pickle.loads(pickle.dumps(case)) == case == lb.Case.from_json(case.to_json())
    loaded = case.replace({"setting.line_load": 100})
    assert loaded.get("setting.actuator.air_pressure") is None
    assert loaded["setting.actuator.piston_area"] == 1e-3
    with pytest.raises(lb.InvalidInput, match="contradicts"):
        case.replace({"setting.line_load": 100, "setting.actuator.air_pressure": "1 bar"})
    with pytest.raises(lb.InvalidInput, match="kind"):
        lb.example_case(lb.example_cases()[0]).replace({"setting.actuator.air_pressure": "1 bar"})


def test_actuator_objects_go_into_a_setting():
    plain = lb.example_case(lb.example_cases()[0])
    setting = {name: value for name, value in plain.setting if name not in ("line_load", "actuator.kind")}
    setting["set_angle"] = "30 deg"
    screw = lb.Screw(advance="0.5 mm", slope="60 deg")
    case = lb.Case(
        blade=plain.blade, roll=plain.roll, ink=plain.ink, tip=plain.tip, setting={**setting, "actuator": screw}
    )
    assert lb.solve(case).interference == pytest.approx(0.25e-3, rel=1e-6)
    case = lb.Case(
        blade=plain.blade, roll=plain.roll, ink=plain.ink, tip=plain.tip, setting={**setting, "actuator": lever()}
    )
    assert lb.solve(case).line_load == pytest.approx(lever().line_load, rel=1e-6)


def test_the_actuator_is_an_axis_and_a_column():
    case = with_air()
    angles = ["28 deg", "30 deg", "32 deg", "34 deg"]
    by_air = lb.sweep(case, {"setting.set_angle": angles, "setting.actuator.air_pressure_bar": [0.8, 0.9, 1.0, 1.1]})
    loads = (by_air["air_pressure"].values * 1e-3 * 1.2 + 20.0) / 1.3
    by_load = lb.sweep(case, {"setting.set_angle": angles, "setting.line_load": loads})
    np.testing.assert_allclose(by_air["excess_ink"], by_load["excess_ink"], rtol=1e-9, atol=1e-15)
    limits = {"mean_pressure": "10 MPa"}
    on_air = lb.process_window(by_air, limits, angle_tolerance="1 deg", load_tolerance=0.05)
    on_load = lb.process_window(by_load, limits, angle_tolerance="1 deg", load_tolerance=0.05)
    # The case states the actuator: the window over loads names the air pressure by itself.
    assert on_load.recommended["air_pressure"] == pytest.approx(
        lb.Actuator(**{k: v for k, v in AIR.items() if k != "kind"}).air_pressure_for(on_load.recommended["line_load"])
    )
    assert on_air.recommended["line_load"] == pytest.approx(
        (on_air.recommended["air_pressure"] * 1.2e-3 + 20.0) / 1.3, rel=1e-6
    )
