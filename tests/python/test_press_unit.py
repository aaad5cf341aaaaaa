"""The model of a press unit: its heat against a plain integrator, its blades against the cantilever, and the two languages."""

import csv
import dataclasses
import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

import libblade as lb

image = pytest.importorskip("matplotlib.image")
ROOT = Path(__file__).parents[2]
SHIFT = ROOT / "tests/reference/press_unit/shift.csv"


def load():
    spec = importlib.util.spec_from_file_location("press_unit", ROOT / "examples/python/press_unit.py")
    module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


press = load()
UNIT = press.PressUnit()
METERING, CONTAINMENT = UNIT.mounts
RUNNING = {"setting.surface_speed": 5.0, "ink.temperature": 300.0}
ADVANCE = UNIT.advances[0]
DRIVE = press.Drive(power=300.0, round_trip=28e-6, printed=8e-6, cooler=40.0)
COLD = press.Heat(UNIT.room, UNIT.room, UNIT.room)


def table(text: str) -> dict[str, np.ndarray]:
    rows = list(csv.DictReader(text.splitlines()))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}


@pytest.fixture(scope="module")
def series():
    """Make-ready, run-up and the first hour and a half of the run."""
    return press.run_shift(UNIT, 2.75)


def test_both_languages_tell_the_same(series):
    # Regression values: examples/cpp/press_unit.cpp printed them; its own test compares them with what it prints now.
    kept = table(SHIFT.read_text(encoding="utf-8"))
    assert kept.keys() == series.keys()
    assert kept["hours"][-1] == 8.0
    for name, values in series.items():
        np.testing.assert_allclose(values, kept[name][: values.size], rtol=1e-6, err_msg=name)


def test_heat_that_came_is_stored_or_went(series):
    came, went, stored = (series[name][1:] for name in ("came", "went", "stored"))
    assert np.all(np.abs(came - went - stored) <= 1e-6 * came)
    assert np.all(went[series["hours"][1:] > 1.0] > 0.05 * came[series["hours"][1:] > 1.0])  # neither side is empty
    # Friction alone brings it, and its power stays over a step.
    np.testing.assert_allclose(came, np.cumsum(series["power"][:-1]) * press.STEP, rtol=1e-12)


def test_heat_follows_its_equations():
    # Against SciPy's integrator and, at rest, a linear solve of the same rates; by hand in the simplest case below.
    integrate = pytest.importorskip("scipy.integrate")

    def rates(_, y):
        return press.heat_rates(UNIT, DRIVE, press.Heat(*y))

    exact = integrate.solve_ivp(rates, (0.0, 900.0), COLD, method="LSODA", rtol=1e-11, atol=1e-9).y[:, -1]
    np.testing.assert_allclose(press.heated(UNIT, DRIVE, COLD, 900.0)[:3], exact[:3], rtol=1e-6)

    origin = np.array(rates(0.0, np.zeros(5)))[:3]
    slopes = np.column_stack([np.array(rates(0.0, np.eye(5)[k]))[:3] - origin for k in range(3)])
    rest = np.linalg.solve(slopes, -origin)
    late = press.Heat(*rest)
    for _ in range(20):
        late = press.heated(UNIT, DRIVE, late, press.STEP)
    np.testing.assert_allclose(late[:3], rest, rtol=1e-9)
    assert late.went == pytest.approx(late.came, rel=1e-9)


def test_heat_of_a_roll_alone():
    # No ink moves and nothing cools: the roll warms by (1 - e) P t / C, the chamber by e P t / C.
    still = dataclasses.replace(UNIT, circulation=0.0, losses=(0.0, 0.0, 0.0))
    warm = press.heated(still, press.Drive(100.0, 0.0, 0.0, 0.0), COLD, 300.0)
    assert warm.roll - UNIT.room == pytest.approx(0.9 * 100.0 * 300.0 / 29e3, rel=1e-9)
    assert warm.chamber - UNIT.room == pytest.approx(0.1 * 100.0 * 300.0 / (1100.0 * 3400.0 * 3e-3), rel=1e-9)
    assert warm.tank == UNIT.room


def test_a_longer_step_changes_little(series):
    # First order in the step: half of it would move this by half as much.
    coarse = press.run_shift(UNIT, 2.5, 2.0 * press.STEP)
    fine = {name: values[: 2 * coarse["hours"].size : 2] for name, values in series.items()}
    assert np.abs(coarse["chamber"] - fine["chamber"]).max() < 0.3
    np.testing.assert_allclose(coarse["metering_load"], fine["metering_load"], rtol=2e-3)


def nip(mount, advance=ADVANCE, lost=0.0, **more):
    return lb.solve(mount.case.replace({**RUNNING, **mount.seen(advance, lost), **more}))


def test_equal_blades_carry_equal_loads():
    mirror = dataclasses.replace(CONTAINMENT, case=METERING.case, later=0.0)
    assert nip(mirror).line_load == nip(METERING).line_load
    # One that sits further round the roll gets less of the same advance.
    assert nip(dataclasses.replace(mirror, place=0.9)).line_load < 0.9 * nip(METERING).line_load


def test_orientation_changes_the_load_by_friction_alone():
    # What bends a blade at one interference is N (cos a -+ T/N sin a), whatever its orientation: doctoring -, trailing +.
    turned = dataclasses.replace(METERING, case=METERING.case.replace({"setting.orientation": "trailing"}))
    points = nip(METERING), nip(turned)
    bends = [
        p.line_load * (np.cos(p.effective_angle) - sign * p.friction_coefficient * np.sin(p.effective_angle))
        for sign, p in zip((1.0, -1.0), points, strict=True)
    ]
    assert bends[0] == pytest.approx(bends[1], rel=0.01)
    assert points[0].line_load > 1.2 * points[1].line_load


@pytest.mark.parametrize("mount", UNIT.mounts, ids=lambda m: m.name)
@pytest.mark.parametrize("lost", [0.0, 0.1e-3])
def test_each_load_is_that_of_its_own_cantilever(mount, lost):
    # Small bending (Timoshenko & Gere 1961): the tip stands off by F L^3 / (3 D), of which cos a lies along the roll's normal.
    # Chamber pressure adds to it; left out here.
    point = nip(mount, lost=lost, **{"setting.chamber_pressure": 0.0})
    past, angle = ADVANCE - mount.later, np.pi / 6.0
    depth = past * np.cos(np.radians(35.0)) - lost * np.sin(angle)
    length = mount.case["blade.free_length"] - lost
    force = 3.0 * (205e9 * 0.2e-3**3 / (12.0 * (1.0 - 0.29**2))) * depth / np.cos(angle) / length**3
    sign = -1.0 if mount is CONTAINMENT else 1.0
    turn = np.cos(point.effective_angle) - sign * point.friction_coefficient * np.sin(point.effective_angle)
    assert point.line_load == pytest.approx(force / turn, rel=0.04)


def test_the_chamber_moves_both_blades():
    further = ADVANCE + 10e-6
    for mount in UNIT.mounts:
        before, after = mount.seen(ADVANCE, 0.0), mount.seen(further, 0.0)
        moved = after["setting.interference"] - before["setting.interference"]
        assert moved == pytest.approx(10e-6 * np.cos(np.radians(35.0)), rel=1e-9)
        # The contact moves round the roll by 10 um sin(b) / 70 mm, away from the line, and the tangent with it.
        turned = np.radians(after["setting.set_angle_deg"] - before["setting.set_angle_deg"])
        assert turned == pytest.approx(10e-6 * np.sin(np.radians(35.0)) / 70e-3, rel=1e-6)


def test_wear_is_of_the_lands_share_of_the_load(series):
    # Archard 1953: L = k_b integral of N_a ds / t, with N_a the touching lands' share of N, nearly all of it here.
    slid = 0.5 * (series["speed"][1:] + series["speed"][:-1]) * press.STEP
    for blade in ("metering", "containment"):
        most = 2e-15 * np.cumsum(series[f"{blade}_load"][:-1] * slid) / 0.2e-3
        assert np.all(series[f"{blade}_lost"][1:] <= (1.0 + 1e-9) * most)
        assert np.all(series[f"{blade}_lost"][1:] > 0.8 * most)


def test_density_is_of_what_is_printed(series):
    stands = series["speed"] < 0.5
    assert np.array_equal(np.isnan(series["density"]), stands)
    first = np.flatnonzero(~stands)[0]
    assert series["density"][first] == pytest.approx(1.4, rel=1e-12)
    assert np.all(series["density_over_turn"][~stands] > series["density"][~stands])


def test_a_blade_that_cannot_reach_ends_the_shift_with_a_sentence(capsys, monkeypatch, tmp_path):
    short = dataclasses.replace(METERING, later=0.5e-3)
    monkeypatch.setattr(press, "PressUnit", lambda: dataclasses.replace(UNIT, mounts=(short, CONTAINMENT)))
    with pytest.raises(SystemExit, match=r"the shift ends early: the metering blade at 0\.00 h: setting\.interference"):
        press.main(["--hours", "0.1", "--out", str(tmp_path)])
    assert not list(tmp_path.iterdir())


def test_it_draws_and_says_what(tmp_path, capsys, closed_figures):
    del closed_figures
    press.main(["--hours", "0.75", "--out", str(tmp_path)])
    words = capsys.readouterr().out
    assert "Over 0.75 h" in words
    assert "Density of a solid from 1.400" in words
    picture = image.imread(tmp_path / "press_unit.png")
    assert picture.shape[1] > 1000
    assert picture[..., :3].std() > 0.05  # not a blank sheet
