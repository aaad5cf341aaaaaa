"""A day of the unit in an importer against the same day as a wear schedule of the Python package."""

import json
import math
import shutil
import zipfile
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from fmpy import simulate_fmu
from fmpy.fmi1 import FMICallException
from fmpy.fmi3 import fmi3Discard

import libblade as lb

pytestmark = pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")

DEG = math.pi / 180.0


def near(value, rel):
    """Without the 1e-12 that pytest.approx allows in any unit: these numbers are SI and small."""
    return pytest.approx(value, rel=rel, abs=0.0)


# Of a schedule's last entry of a step; the rest follows.
SAME = {
    "film_on_lands": "film_on_lands",
    "excess_ink": "excess_ink",
    "film_over_turn": "film_over_turn",
    "tangential_load": "tangential_load",
    "effective_angle": "effective_angle",
    "bedded_angle": "bedded_angle",
    "line_load": "line_load",
    "interference": "interference",
    "asperity_load": "asperity_load",
    "facet_length": "facet_length",
    "length_lost": "length_lost",
    "regime": "regime",
}
INPUTS = ("setting.surface_speed", "setting.line_load", "setting.set_angle", "ink.temperature")


@dataclass(frozen=True)
class Held:
    """A communication step and the inputs held over it."""

    duration: float
    speed: float
    load: float = 110.0
    angle: float = 30.0 * DEG
    temperature: float = 298.15

    @property
    def inputs(self) -> tuple[float, float, float, float]:
        return self.speed, self.load, self.angle, self.temperature


def day() -> list[Held]:
    """Run-up, a warming ink, a load step, a stop at noon with another angle after it, run-down."""
    out = [Held(20.0, 1.0 + k) for k in range(5)]
    out += [Held(3600.0, 5.0, temperature=298.15 + 2.0 * k) for k in range(3)]
    out += [Held(1800.0, 5.0, 130.0, temperature=302.15), Held(5400.0, 5.5, 130.0, temperature=303.15)]
    out += [Held(600.0, 0.0, 130.0), Held(1200.0, 0.0, 130.0, 31.0 * DEG)]
    out += [
        Held(30.0, 2.0, 130.0, 31.0 * DEG),
        Held(7200.0, 5.0, 130.0, 31.0 * DEG),
        Held(3600.0, 5.0, 130.0, 31.0 * DEG),
    ]
    return [*out, Held(10.0, 3.0, 130.0, 31.0 * DEG), Held(10.0, 1.0, 130.0, 31.0 * DEG)]


def schedule_of(steps: list[Held]) -> tuple[list[lb.ScheduleStep], list[int]]:
    """The same as a schedule, and which of its steps ends each communication step; -1: the roll stands."""
    out, ends = [lb.ScheduleStep()], []
    applied, still, stands = steps[0].inputs, 0.0, False
    for held in steps:
        if held.speed == 0.0:
            still, stands = still + held.duration, True
            ends.append(-1)
            continue
        changed = {
            path: f"{new!r} rad" if path == "setting.set_angle" else new
            for path, old, new in zip(INPUTS, applied, held.inputs, strict=True)
            if new != old
        }
        if stands:
            out.append(lb.ScheduleStep(duration=still, stopped=True, set=changed))
        out.append(lb.ScheduleStep(duration=held.duration, set={} if stands else changed))
        applied, still, stands = held.inputs, 0.0, False
        ends.append(len(out) - 1)
    return out, ends


@pytest.fixture(scope="module")
def case(fmu: str) -> lb.Case:
    return lb.Case.from_json(zipfile.ZipFile(fmu).read("resources/case.json").decode())


def begun(case: lb.Case, held: Held) -> lb.Case:
    return case.replace(dict(zip(INPUTS, (*held.inputs[:2], f"{held.angle!r} rad", held.temperature), strict=True)))


def native(case: lb.Case, steps: list[Held], **options) -> tuple[lb.WearHistory, list[int]]:
    schedule, ends = schedule_of(steps)
    story = lb.wear(begun(case, steps[0]), schedule, **options)
    step = story.dataset["schedule_step"].to_numpy()
    return story, [-1 if end < 0 else int(np.flatnonzero(step == end)[-1]) for end in ends]


def drive(unit, steps: list[Held]) -> list[dict[str, float]]:
    out = []
    for k, held in enumerate(steps):
        for path, value in zip(INPUTS, held.inputs, strict=True):
            unit.put(path, value)
        if k == 0:
            unit.start()
        unit.step(held.duration)
        out.append(unit.outputs())
    return out


def compare(
    case: lb.Case, seen: list[dict[str, float]], story: lb.WearHistory, entries: list[int], steps: list[Held]
) -> None:
    rel = 1e-9  # the same instructions but for the compiler's choices
    for shown, entry, held in zip(seen, entries, steps, strict=True):
        if entry < 0:
            continue
        row = story.dataset.isel(distance=entry)
        for name, column in SAME.items():
            assert shown[name] == near(float(row[column]), rel), name
        assert shown["distance"] == near(float(row["distance"]), rel)
        assert shown["power_per_width"] == near(float(row["tangential_load"]) * held.speed, rel)
        # Archard on the whole end, k_b N_a / t.
        rate = case["blade.specific_wear"] * float(row["asperity_load"]) / case["blade.thickness"]
        assert shown["wear_rate"] == near(rate, 1e-12)
        assert shown["status"] == 1


@pytest.mark.parametrize("tier", ["facet", "profile"])
def test_a_day_is_the_schedule_of_its_steps(make, case: lb.Case, tier: str):
    steps = day() if tier == "facet" else day()[:7]
    unit = make()
    unit.put("wear.tier", 1 + (tier == "profile"))
    seen = drive(unit, steps)
    story, entries = native(case, steps, tier=tier)
    compare(case, seen, story, entries, steps)
    slid = sum(held.duration * held.speed for held in steps)
    assert seen[-1]["distance"] == near(slid, 1e-12)
    assert seen[-1]["length_lost"] > seen[0]["length_lost"]


def test_a_floating_blade_with_a_short_facet(make, case: lb.Case):
    """Parameters: what is set before the start is what the case's fields say."""
    unit = make()
    unit.put("setting.holding", 2)
    unit.set(tip__facet_length=40e-6, blade__thickness=0.25e-3, roll__run_out=0.0)
    steps = [Held(600.0, 4.0), Held(600.0, 5.0, 120.0)]
    other = case.replace(
        {"setting.holding": "floating", "tip.facet_length": 40e-6, "blade.thickness": 0.25e-3, "roll.run_out": 0.0}
    )
    story, entries = native(other, steps)
    seen = drive(unit, steps)
    compare(other, seen, story, entries, steps)
    assert seen[-1]["line_load"] == near(120.0, 1e-6)


def test_the_importer_drives_it(fmu: str, case: lb.Case):
    """The importer's own loop over a table of inputs, constant between its points."""
    speeds = [(0.0, 3.0), (60.0, 3.0), (60.0, 5.0), (240.0, 5.0)]
    signals = np.array([*speeds], dtype=np.double)
    table = np.array([tuple(row) for row in signals], dtype=[("time", np.double), ("setting.surface_speed", np.double)])
    result = simulate_fmu(
        fmu, stop_time=240.0, output_interval=60.0, input=table, output=["film_on_lands", "distance", "status"]
    )
    steps = [Held(60.0, 3.0), *[Held(60.0, 5.0)] * 3]
    story, entries = native(case, steps)
    assert len(result) == 5
    for row, entry in zip(result[1:], entries, strict=True):
        assert row["distance"] == near(float(story.dataset.distance[entry]), 1e-12)
        assert row["film_on_lands"] == near(float(story.dataset.film_on_lands[entry]), 1e-9)


def test_a_standing_roll(make, case: lb.Case):
    """Nothing slides, nothing wears, no power; the blade carries its load as from rest at 0.01 m/s."""
    unit = make()
    unit.set(roll__run_out=0.0, setting__chamber_pressure=0.0)
    seen = drive(unit, [Held(60.0, 5.0), Held(60.0, 0.0), Held(3600.0, 0.0), Held(60.0, 5.0)])
    ran, stood, later, again = seen
    assert (ran["status"], stood["status"], later["status"], again["status"]) == (1, 2, 2, 1)
    assert stood == later
    for name in ("distance", "facet_length", "length_lost"):
        assert stood[name] == ran[name]
    assert stood["power_per_width"] == 0.0
    assert all(math.isfinite(value) for value in stood.values())
    # Amontons: so slow a film carries and shears next to nothing.
    assert stood["tangential_load"] == near(case["setting.friction"] * stood["line_load"], 0.02)
    assert stood["asperity_load"] == near(stood["line_load"], 0.02)
    assert again["distance"] == near(600.0, 1e-12)


def test_it_may_begin_standing(make, case: lb.Case):
    """Its blade has run in at the case's own speed."""
    unit = make()
    steps = [Held(60.0, 0.0), Held(60.0, 4.0)]
    seen = drive(unit, steps)
    assert seen[0]["status"] == 2
    assert seen[0]["distance"] == 0.0
    schedule = [
        lb.ScheduleStep(),
        lb.ScheduleStep(duration=60.0, stopped=True, set={"setting.surface_speed": 4.0}),
        lb.ScheduleStep(duration=60.0),
    ]
    story = lb.wear(case, schedule)
    compare(case, seen[1:], story, [story.dataset.distance.size - 1], steps[1:])


def test_shorter_steps_come_to_the_same_blade(make):
    """Of the integrator's tolerance, 1e-6 a step."""
    long = drive(make(), [Held(1200.0, 5.0)])[-1]
    short = drive(make(), [Held(d, 5.0) for d in (1.0, 19.0, 100.0, 400.0, 680.0)])[-1]
    assert short["distance"] == near(long["distance"], 1e-12)
    assert short["length_lost"] == near(long["length_lost"], 1e-4)
    assert short["film_on_lands"] == near(long["film_on_lands"], 1e-4)
    assert short["length_lost"] != long["length_lost"]


@pytest.mark.parametrize("early", [True, False])
def test_a_thin_tip_is_used_up(make, folder: str, case: lb.Case, tmp_path: Path, early: bool):
    """It ends the simulation where it comes down to its step; who forbids an early return is refused the step."""
    thin = json.loads(case.to_json())
    thin["blade"]["sections"] = [
        {"length": "10.5 mm", "thickness": "0.2 mm"},
        {"length": "0.3 mm", "thickness": "0.1 mm", "flush": "roll"},
    ]
    del thin["blade"]["free_length"], thin["blade"]["thickness"]
    thin["roll"]["run_out"] = 0.0
    shutil.copytree(folder, tmp_path / "unit")
    (tmp_path / "unit" / "resources" / "case.json").write_text(json.dumps(thin))
    story = lb.wear(lb.Case.from_json(json.dumps(thin)), "2000 km")
    assert [event.kind for event in story.events] == ["thin_tip_used_up"]
    end = story.events[0].time
    assert 3600.0 < end < 4e5
    unit = make(folder=str(tmp_path / "unit"), early=early)
    unit.start()
    unit.step(3600.0)
    before = unit.outputs()
    if early:
        assert unit.step(4e5) == (False, True, True, near(end, 1e-4))
        assert unit.get("status") == 3
        assert unit.get("distance") == near(story.events[0].distance, 1e-4)
        unit.time = unit.get("time")
        assert unit.time == near(end, 1e-4)
        with pytest.raises(FMICallException):
            unit.step(1.0)
        assert "used up" in unit.log[-1][2]
    else:
        with pytest.raises(FMICallException) as refused:
            unit.step(4e5)
        assert refused.value.status == fmi3Discard
        assert "thin tip has come down" in unit.log[-1][2]
        assert unit.outputs() == before
        unit.time = 3600.0
        assert unit.step(60.0) == (False, False, False, 3660.0)


def test_the_day_is_a_day():
    assert all(a != b for a, b in pairwise(day()[:5]))
    assert {held.speed for held in day()} >= {0.0, 1.0, 5.0}
