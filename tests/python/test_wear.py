"""The wear of a blade in Python: schedules, histories, limits, files to go on from, slivers and ceramic."""

import json
import math
import pickle

import numpy as np
import pytest

import libblade as lb

pytestmark = pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")


def near(value, rel):
    """Without the 1e-12 that pytest.approx allows in any unit: these numbers are SI and small."""
    return pytest.approx(value, rel=rel, abs=0.0)


def press(**changes) -> lb.Case:
    """Water ink on cells whose walls are a quarter of the roll; the blade's facet has begun."""
    return lb.example_case("folding_carton_water").replace(
        {
            **({} if "tip.kind" in changes else {"tip.facet_length": "200 um"}),
            "roll.run_out": 0.0,
            "roll.engraving.pressure_flow_factor": 4.0,
            "roll.engraving.land_fraction": 0.25,
            "ink.viscosity": "30 mPa s",
            "setting.line_load": 100.0,
            **changes,
        }
    )


SHIFT = [
    lb.ScheduleStep("2 km"),
    lb.ScheduleStep("2 km", set={"setting.line_load": "120 N/m"}, ramp={"setting.surface_speed": "6 m/s"}),
    lb.ScheduleStep("1 km", ripple="3 %"),
]


@pytest.fixture(scope="module")
def trailing() -> lb.Case:
    return press(**{"setting.orientation": "trailing"})


@pytest.fixture(scope="module")
def story(trailing) -> lb.WearHistory:
    return lb.wear(trailing, lb.Schedule(SHIFT))


@pytest.fixture(scope="module")
def worn_out() -> lb.WearHistory:
    """From the last of the cut face on, in a thin ink at low speed."""
    case = press(
        **{"tip.facet_length": "0.395 mm", "ink.viscosity": "5 mPa s", "setting.surface_speed": "1 m/s"},
    )
    return lb.wear(case, "60 km")


def test_the_dataset_is_what_the_core_gives(story):
    data = story.dataset
    assert story.convergence.ok
    assert data.distance.values[-1] == near(5e3, 1e-14)
    assert np.all(np.diff(data.distance) >= 0.0)
    assert np.all(np.diff(data.time) >= 0.0)
    assert set(data.schedule_step.values) == {0, 1, 2}
    for name, variable in data.variables.items():
        assert {"units", "long_name", "display_units"} <= variable.attrs.keys(), name
    words = data.regime.attrs["flag_meanings"].split()
    assert words[int(data.regime[0])] == lb.solve(story.case).regime
    assert lb.Case.from_json(data.attrs["case"]) == story.case
    assert lb.Schedule.from_json(data.attrs["schedule"]) == story.schedule
    assert json.loads(data.attrs["options"])["first_facet"] == 5e-6
    assert data.attrs["status"] == "converged"
    assert story.life.distance == data.distance.values[-1]
    assert story.life.hours == data.time.values[-1] / 3600.0
    assert story.life.ended_by == "the end of the schedule"
    assert story.life.limit is None
    assert "\n" not in repr(story)


def test_the_first_entry_is_the_operating_point(story):
    point, first = lb.solve(story.case), story.dataset.isel(distance=0)
    for name in ("film_on_lands", "asperity_load", "line_load", "facet_length", "bedded_angle", "effective_angle"):
        assert float(first[name]) == near(getattr(point, name), 1e-6), name


def test_time_along_a_ramp_by_hand(story):
    """Speed in proportion to the distance from 5 to 6 m/s: t = integral of ds / U."""
    data = story.dataset
    ramp = data.time.values[data.schedule_step.values == 1]
    assert ramp[-1] - ramp[0] == near(2e3 * math.log(6.0 / 5.0) / 1.0, 1e-9)


def test_worn_metal_is_the_integral_of_the_touching_load(story):
    """Archard 1953, J. Appl. Phys. 24:981; trapezoids over a load that varies along long steps."""
    data = story.dataset
    s, load = data.distance.values, data.asperity_load.values
    integral = float(np.sum(0.5 * (load[1:] + load[:-1]) * np.diff(s)))
    grown = float(data.removed_area[-1] - data.removed_area[0])
    assert grown == near(story.case["blade.specific_wear"] * integral, 0.02)


def test_a_square_edge_follows_archard():
    """b = sqrt(2 k N s / (sin a cos a)) while touching lands carry all: a stiff blade, slow, in a thin ink."""
    dry = press(
        **{
            "tip.kind": "square_edge",
            "tip.edge_radius": "0.1 um",
            "blade.thickness": "1 mm",
            "ink.viscosity": "0.1 mPa s",
            "setting.surface_speed": "0.01 m/s",
            "setting.holding": "floating",
            "setting.chamber_pressure": 0.0,
        }
    )
    last = lb.wear(dry, "20 km").dataset.isel(distance=-1)
    a = float(last.effective_angle)
    expected = math.sqrt(2.0 * dry["blade.specific_wear"] * 100.0 * 20e3 / (math.sin(a) * math.cos(a)))
    assert float(last.facet_length) == near(expected, 2e-4)


def test_a_bare_distance_is_one_step(trailing):
    assert lb.wear(trailing, "1 km") == lb.wear(trailing, [{"distance": 1000.0}])
    by_time = lb.wear(trailing, [lb.ScheduleStep(duration="0.1 h")])
    assert by_time.life.distance == near(360.0 * trailing["setting.surface_speed"], 1e-12)


def test_limits_end_the_life(trailing):
    for limit, name, value in [
        ("facet_limit", "facet_length", "201 um"),
        ("length_limit", "length_lost", "179 um"),
        ("excess_limit", "excess_ink", "0.12 um"),
    ]:
        found = lb.wear(trailing, "300 km", **{limit: value})
        assert found.events[-1].kind == limit
        assert found.life.limit == limit
        assert found.life.distance == found.events[-1].distance < 300e3
        reached = float(found.dataset[name][-1]) * 1e6
        assert reached == near(float(value.split()[0]), 1e-5)
        assert "limit" in found.life.ended_by
        assert found.events[-1].sentence.endswith("its limit.")


def test_a_floating_blade_beds_itself_into_the_fold():
    found = lb.wear(press(**{"setting.holding": "floating"}), "2 km")
    (jump,) = [event for event in found.events if event.kind == "branch_jump"]
    assert 100.0 < jump.distance < 500.0
    before, after = map(float, jump.sentence.split(" from ")[1].split(" \N{MICRO SIGN}m")[0].split(" to "))
    assert after > 2.0 * before
    held = lb.wear(press(**{"setting.holding": "floating"}), "2 km", constant_friction=True)
    assert not held.events


def test_ceramic_along_the_history(story):
    """k_c N_a / (land fraction) per revolution, by trapezoids over loads recorded every 100 m."""
    case = story.case
    data = lb.wear(case, "3 km", longest_step="100 m").dataset
    turns = np.diff(data.distance.values) / (2.0 * math.pi * case["roll.radius"])
    load = data.asperity_load.values
    mean = 0.5 * (load[1:] + load[:-1])
    loss = case["roll.specific_wear"] / 0.25 * np.sum(mean * turns)
    assert float(data.land_loss[-1]) == near(loss, 0.002)
    # As roll_wear has it, at the load of the last interval.
    per_turn = lb.roll_wear(case, asperity_load=float(mean[-1])).loss_per_pass
    assert float(data.land_loss[-1] - data.land_loss[-2]) / turns[-1] == near(per_turn, 0.002)


def test_slivers_come_with_the_feather(worn_out):
    data = worn_out.dataset
    assert [event.kind for event in worn_out.events] == ["fully_worn"]
    before = data.distance.values < worn_out.events[0].distance
    assert np.all(data.sliver_index.values[before] == 0.0)
    assert np.all(data.sliver_volume.values[before] == 0.0)
    assert float(data.sliver_volume[-1]) > 0.0
    last = data.isel(distance=-1)
    angle, b = float(last.bedded_angle), float(last.facet_length)
    drag = -float(last.tangential_load) / b  # pushes a doctoring feather back
    peak = lb.feather_index(f"{angle} rad", float(last.line_load) / b, drag).peak
    assert float(last.sliver_index) == near(peak / lb.feather_index("30 deg", "0.5 MPa").peak, 1e-12)
    # As sliver_source of a facet that stands as this one does, per length of web.
    rate = np.diff(data.sliver_volume.values[-2:])[0] / np.diff(data.worn_area.values[-2:])[0]
    assert rate == near(0.01 * float(last.sliver_index), 0.02)
    twice = lb.wear(worn_out.case, "60 km", sliver_fraction="2 %").dataset
    assert float(twice.sliver_volume[-1]) == near(2.0 * float(data.sliver_volume[-1]), 1e-12)


def test_a_new_blade_begins_anew(trailing):
    found = lb.wear(trailing, [lb.ScheduleStep("2 km"), lb.ScheduleStep("1 km", new_blade=True)])
    data = found.dataset
    fresh = int(np.argmax(data.schedule_step.values == 1))
    assert float(data.facet_length[fresh]) == near(200e-6, 1e-9)
    assert float(data.worn_area[fresh]) < float(data.worn_area[fresh - 1])
    assert np.all(np.diff(data.land_loss) >= 0.0)


def test_the_worn_surface(trailing):
    found = lb.wear(trailing, "300 m", tier="profile")
    straight = lb.wear(trailing, "300 m")
    assert found.profile.place[0] == 0.0
    assert found.profile.place[-1] == near(float(found.dataset.facet_length[-1]), 1e-6)
    assert found.profile.height.shape == found.profile.place.shape
    assert np.ptp(found.profile.height) < 2e-6
    assert straight.profile.place.size == 0
    assert float(found.dataset.film_on_lands[-1]) == near(float(straight.dataset.film_on_lands[-1]), 0.05)


class Killed(Exception):
    pass


@pytest.mark.parametrize("kill", [1, 7, 25])
def test_a_killed_history_goes_on_to_the_same_bits(kill, story, trailing, tmp_path):
    file, calls = tmp_path / "story.json", []

    def killer(done: int, total: int) -> None:
        assert total == 5000
        calls.append(done)
        if len(calls) == kill:
            raise Killed

    with pytest.raises(Killed):
        lb.wear(trailing, SHIFT, save=file, progress=killer)
    there = len(json.loads(file.read_text())["run"]["columns"]["distance"])
    assert there < story.dataset.distance.size
    again = lb.wear(trailing, SHIFT, resume=file, save=file)
    assert again == story  # identical datasets: bit for bit
    for name in story.dataset.variables:
        assert again.dataset[name].values.tobytes() == story.dataset[name].values.tobytes(), name
    # What is finished comes from the file.
    assert lb.wear(trailing, SHIFT, resume=file) == story


def test_the_worn_surface_goes_on_too(trailing, tmp_path):
    file = tmp_path / "story.json"
    whole = lb.wear(trailing, "50 m", tier="profile")

    def killer(done: int, total: int) -> None:
        if done > 20:
            raise Killed

    with pytest.raises(Killed):
        lb.wear(trailing, "50 m", tier="profile", save=file, progress=killer)
    assert lb.wear(trailing, "50 m", tier="profile", resume=file) == whole


def test_events_before_and_after_are_kept(tmp_path):
    """A blade that jumps to and fro between two states."""
    file = tmp_path / "story.json"
    case = press(
        **{
            "tip.facet_length": "0.395 mm",
            "ink.viscosity": "5 mPa s",
            "setting.surface_speed": "1 m/s",
            "setting.holding": "floating",
        }
    )
    whole = lb.wear(case, "12 km")
    assert len(whole.events) == 4

    def killer(done: int, total: int) -> None:
        if done > 6000:
            raise Killed

    with pytest.raises(Killed):
        lb.wear(case, "12 km", save=file, progress=killer)
    assert 2 <= len(json.loads(file.read_text())["run"]["events"]) < len(whole.events)
    assert lb.wear(case, "12 km", resume=file) == whole


def test_only_the_same_history_goes_on(trailing, tmp_path):
    file = tmp_path / "story.json"
    lb.wear(trailing, "500 m", save=file)
    for case, schedule, options, words in [
        (trailing.replace({"setting.line_load": 110.0}), "500 m", {}, "setting.line_load"),
        (trailing, "600 m", {}, r"schedule.0.distance is 500.0 there and 600.0 here"),
        (trailing, "500 m", {"facet_limit": "0.3 mm"}, "options.facet_limit"),
    ]:
        with pytest.raises(lb.InvalidInput, match=words):
            lb.wear(case, schedule, resume=file, **options)
    other = tmp_path / "case.json"
    other.write_text(trailing.to_json(), encoding="utf-8")
    for argument in ("save", "resume"):
        with pytest.raises(lb.InvalidInput, match="holds no wear history") as error:
            lb.wear(trailing, "500 m", **{argument: other})
        assert error.value.problems[0].path == argument
    assert lb.load_case(other) == trailing  # untouched
    file.write_text(file.read_text()[:-40], encoding="utf-8")
    with pytest.raises(lb.InvalidInput, match="damaged"):
        lb.wear(trailing, "500 m", resume=file)
    with pytest.raises(lb.InvalidInput, match="folder that does not exist"):
        lb.wear(trailing, "500 m", save=tmp_path / "no" / "story.json")


def test_one_that_ran_out_of_steps_gets_more(trailing, tmp_path):
    file = tmp_path / "story.json"
    with pytest.raises(lb.NotSolved, match="ran out of steps") as error:
        lb.wear(trailing, SHIFT, save=file, max_steps=9)
    assert isinstance(error.value.result, lb.WearHistory)
    few = lb.wear(trailing, SHIFT, max_steps=9, on_failure="flag")
    assert few == error.value.result
    assert not few.convergence.ok
    assert few.life.ended_by.startswith("no answer beyond")
    more = lb.wear(trailing, SHIFT, resume=file).dataset
    assert more.drop_attrs().identical(lb.wear(trailing, SHIFT).dataset.drop_attrs())


def test_a_history_that_cannot_begin_says_so():
    flat = press(**{"blade.free_length": "30 mm", "blade.thickness": "0.1 mm", "setting.line_load": 300.0})
    found = lb.wear(flat, "1 km", on_failure="flag")
    assert not found.convergence.ok
    assert found.dataset.distance.size == 0
    assert math.isnan(found.life.distance)
    assert repr(found).startswith("not solved")
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(lb.NotSolved):
        lb.wear(flat, "1 km")


def test_ctrl_c_ends_it_and_the_file_keeps_what_is_there(trailing, tmp_path):
    import _thread

    file = tmp_path / "story.json"

    def press_ctrl_c(done: int, total: int) -> None:
        if done > 100:
            _thread.interrupt_main()

    with pytest.raises(KeyboardInterrupt):
        lb.wear(trailing, SHIFT, save=file, progress=press_ctrl_c)
    assert lb.wear(trailing, SHIFT, resume=file) == lb.wear(trailing, SHIFT)


@pytest.mark.parametrize(
    ("schedule", "path", "words"),
    [
        ([], "schedule", "at least one step"),
        ([lb.ScheduleStep(-5.0)], "schedule.0.distance", "0 m or more"),
        ([lb.ScheduleStep("5 kg")], "schedule.0.distance", "kg"),
        ([lb.ScheduleStep("1 km"), lb.ScheduleStep("1 km", duration="1 h")], "schedule.1.duration", "not both"),
        ([lb.ScheduleStep("1 km", set={"setting.line_loud": 1})], "schedule.0.set.setting.line_loud", "line_load"),
        ([lb.ScheduleStep("1 km", set={"setting.set_angle": 28})], "schedule.0.set.setting.set_angle", "unit"),
        ([lb.ScheduleStep("1 km", set={"setting.line_load": -1})], "schedule.0.set.setting.line_load", "between"),
        ([lb.ScheduleStep("1 km", set={"setting.holding": "fixed"})], "schedule.0.set.setting.holding", "choice"),
        (
            [lb.ScheduleStep(1, set={"setting.line_load": 90, "setting.interference": 1e-3})],
            "schedule.0.set.setting.interference",
            "contradicts",
        ),
        ([lb.ScheduleStep("1 km", set={"blade.thickness": "0.2 mm"})], "schedule.0.set.blade.thickness", "new blade"),
        ([lb.ScheduleStep(ramp={"setting.surface_speed": 3})], "schedule.0.ramp", "needs a way"),
        ([lb.ScheduleStep("1 km", ripple="120 %")], "schedule.0.ripple", "below 1"),
        ([lb.ScheduleStep("1 km", stopped=True)], "schedule.0.distance", "stands"),
        ([lb.ScheduleStep("1 km", stopped=1)], "schedule.0.stopped", "True or False"),
        ([{"distance": 1, "speed": 3}], "schedule.0.speed", "no part of a step"),
        ([3.0], "schedule.0", "ScheduleStep"),
        (-1.0, "schedule.0.distance", "0 m or more"),
        ("3 kg", "distance", "kg"),
    ],
)
def test_a_bad_schedule_is_refused(schedule, path, words, trailing):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        lb.wear(trailing, schedule)
    assert error.value.problems[0].path == path


@pytest.mark.parametrize(
    ("options", "path"),
    [
        ({"tier": "straight"}, "tier"),
        ({"facet_limit": -1.0}, "facet_limit"),
        ({"length_limit": "3 Pa"}, "length_limit"),
        ({"excess_limit": 0}, "excess_limit"),
        ({"first_facet": 0}, "first_facet"),
        ({"tolerance": 1.0}, "tolerance"),
        ({"longest_step": -1.0}, "longest_step"),
        ({"mesh": 3}, "mesh"),
        ({"max_steps": 0}, "max_steps"),
        ({"start": "moving"}, "start"),
        ({"constant_friction": 1}, "constant_friction"),
        ({"sliver_fraction": 2}, "sliver_fraction"),
        ({"on_failure": "ignore"}, "on_failure"),
        ({"save": 3}, "save"),
        ({"resume": "nowhere.json"}, "resume"),
    ],
)
def test_bad_options_are_refused(options, path, trailing):
    with pytest.raises(lb.InvalidInput) as error:
        lb.wear(trailing, "1 km", **options)
    assert error.value.problems[0].path == path


def test_a_schedule_reads_units_and_names():
    step = lb.ScheduleStep(
        duration="8 h",
        set={"setting.set_angle_deg": 28, "setting.line_load": "0.12 N/mm"},
        ramp={"ink.temperature": "35 degC"},
    )
    plan = lb.Schedule([lb.ScheduleStep(distance="30 km"), step])
    assert plan[0].distance == 30e3
    assert plan[1].duration == 28800.0
    assert plan[1].set == {"setting.set_angle": math.radians(28.0), "setting.line_load": 120.0}
    assert plan[1].ramp == {"ink.temperature": pytest.approx(308.15)}
    assert lb.Schedule.from_json(plan.to_json()) == plan
    assert pickle.loads(pickle.dumps(plan)) == plan
    assert repr(plan) == (
        "Schedule of 2 steps: 30 km; set angle 28 deg, line load 120 N/m, temperature towards 35 degC, 8 h"
    )
    with pytest.raises(lb.InvalidInput, match="line 1, column 2"):
        lb.Schedule.from_json("[")


def test_an_unusual_value_of_a_step_is_told(trailing):
    with pytest.warns(lb.LibbladeWarning, match="setting.friction"):
        lb.wear(trailing, [lb.ScheduleStep("10 m", set={"setting.friction": 0.5})])
