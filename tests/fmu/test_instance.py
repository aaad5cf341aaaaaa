"""Instances: what is refused and how, states, several at once."""

import shutil
from pathlib import Path

import pytest
from fmpy.fmi1 import FMICallException
from fmpy.fmi3 import FMU3Slave, fmi3Discard, fmi3Error

DISCARD, ERROR = fmi3Discard, fmi3Error


def refused(status: int, act, *arguments, **values) -> None:
    with pytest.raises(FMICallException) as raised:
        act(*arguments, **values)
    assert raised.value.status == status


def run(unit, steps: int = 2) -> dict[str, float]:
    for _ in range(steps):
        unit.step(30.0)
    return unit.outputs()


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        (
            "setting.surface_speed",
            -1.0,
            "setting.surface_speed: must be between 0.06 m/min and 6000 m/min or 0 (got -60 m/min)",
        ),
        ("setting.surface_speed", 1e-4, "setting.surface_speed"),
        ("setting.line_load", 0.0, "setting.line_load: must be between 0.1 N/m and 10000 N/m (got 0 N/m)"),
        ("setting.set_angle", 30.0, "setting.set_angle: must be between 1 deg and 89 deg"),
        ("ink.temperature", 25.0, "ink.temperature: must be between -13.15 degC"),
        ("ink.temperature", float("nan"), "ink.temperature"),
    ],
)
def test_a_bad_input_is_refused_and_the_unit_goes_on(make, name: str, value: float, said: str):
    unit = make()
    unit.start()
    before = unit.get(name)
    refused(DISCARD, unit.put, name, value)
    status, category, message = unit.log[-1]
    assert (status, category) == (DISCARD, "logStatusDiscard")
    assert said in message
    assert unit.get(name) == before
    assert unit.step(10.0) == (False, False, False, 10.0)


def test_bad_parameters(make):
    unit = make()
    refused(DISCARD, unit.put, "blade.thickness", 0.2)
    assert "blade.thickness: must be between 0.02 mm and 2 mm (got 200 mm)" in unit.log[-1][2]
    refused(DISCARD, unit.put, "setting.holding", 3)
    assert "setting.holding" in unit.log[-1][2]
    assert "fixed|floating" in unit.log[-1][2]
    unit.set(tip__facet_length=1e-3)  # in its range, but longer than 0.2 mm / sin(26 deg)
    refused(DISCARD, unit.start)
    assert "tip.facet_length" in unit.log[-1][2]
    unit.set(tip__facet_length=100e-6)
    unit.slave.exitInitializationMode()
    refused(ERROR, unit.put, "blade.thickness", 0.3e-3)
    assert "step mode" in unit.log[-1][2]


def test_several_values_are_set_together_or_not_at_all(make):
    unit = make()
    unit.start()
    references = [unit.variables[name].valueReference for name in ("setting.line_load", "setting.set_angle")]
    refused(DISCARD, unit.slave.setFloat64, references, [120.0, 3.0])
    assert unit.get("setting.line_load") == 110.0


def test_a_nip_without_solution_is_no_number(make):
    """A load that pushes the blade flat: the step is not made, and the unit goes on with another."""
    unit = make()
    unit.start()
    before = run(unit, 1)
    unit.set(setting__line_load=5000.0)
    refused(DISCARD, unit.step, 30.0)
    status, category, message = unit.log[-1]
    assert (status, category) == (DISCARD, "logStatusDiscard")
    assert "the step from 30 s was not made: " in message
    assert unit.outputs() == before
    unit.set(setting__line_load=110.0)
    unit.time = 30.0
    assert run(unit, 1)["distance"] == pytest.approx(2.0 * before["distance"])
    other = make()
    other.set(setting__line_load=5000.0)
    refused(ERROR, other.start)
    assert "the nip has no solution at the start" in other.log[-1][2]
    other.set(setting__line_load=110.0)
    other.slave.exitInitializationMode()


def test_time_goes_on_from_where_it_stands(make):
    unit = make()
    unit.start(time=100.0)
    assert unit.get("time") == 100.0
    refused(ERROR, unit.slave.doStep, 90.0, 10.0)
    assert "100 s" in unit.log[-1][2]
    refused(ERROR, unit.slave.doStep, 100.0, 0.0)
    refused(ERROR, unit.slave.doStep, 100.0, float("inf"))
    assert unit.slave.doStep(100.0, 10.0)[3] == 110.0
    assert unit.get("time") == 110.0


def test_calls_out_of_turn(make):
    unit = make()
    refused(ERROR, unit.slave.doStep, 0.0, 1.0)
    refused(ERROR, unit.get, "film_on_lands")
    refused(ERROR, unit.slave.exitInitializationMode)
    refused(ERROR, unit.slave.terminate)
    unit.start()
    refused(ERROR, unit.slave.enterInitializationMode)
    refused(ERROR, unit.slave.enterEventMode)
    refused(ERROR, unit.slave.getFloat64, [99])
    refused(ERROR, unit.slave.setFloat64, [unit.variables["film_on_lands"].valueReference], [1e-6])
    refused(ERROR, unit.slave.getBoolean, [1])
    refused(ERROR, unit.slave.getDirectionalDerivative, [1], [1001], [1.0])
    assert all(category == "logStatusError" for _, category, _ in unit.log)
    run(unit, 1)


def test_outputs_follow_what_is_set_in_initialization(make):
    unit = make()
    unit.slave.enterInitializationMode()
    film = unit.get("film_on_lands")
    unit.set(setting__surface_speed=8.0)
    assert unit.get("film_on_lands") > 1.01 * film
    unit.set(setting__surface_speed=5.0)
    assert unit.get("film_on_lands") == film
    unit.slave.exitInitializationMode()
    assert unit.get("film_on_lands") == film


def test_two_instances_know_nothing_of_each_other(make):
    """Their steps in turn against one after the other."""
    alone = []
    for speed in (3.0, 6.0):
        unit = make()
        unit.set(setting__surface_speed=speed)
        unit.start()
        alone.append(run(unit, 3))
    both = [make(), make()]
    for unit, speed in zip(both, (3.0, 6.0), strict=True):
        unit.set(setting__surface_speed=speed)
        unit.start()
    for _ in range(3):
        for unit in both:
            unit.step(30.0)
    assert [unit.outputs() for unit in both] == alone
    assert alone[0] != alone[1]


def test_back_to_a_state_to_the_same_bits(make):
    unit = make()
    unit.start()
    run(unit)
    unit.set(setting__line_load=120.0)
    state = unit.slave.getFMUState()
    first = run(unit)
    again = unit.slave.getFMUState()
    unit.slave.setFMUState(state)
    unit.time = 60.0
    assert unit.get("time") == 60.0
    assert unit.get("setting.line_load") == 120.0
    assert run(unit) == first
    unit.slave.setFMUState(again)
    assert unit.outputs() == first
    for kept in (state, again):
        unit.slave.freeFMUState(kept)


@pytest.mark.parametrize(("tier", "speed"), [(1, 5.0), (2, 5.0), (1, 0.0)])
def test_a_state_as_bytes_begins_another_instance(make, tier: int, speed: float):
    unit, other = make(), make()
    unit.put("wear.tier", tier)
    unit.set(roll__run_out=0.0)
    unit.start()
    run(unit, 1)
    unit.set(setting__surface_speed=speed)
    run(unit, 1)
    state = unit.slave.getFMUState()
    data = unit.slave.serializeFMUState(state)
    read = other.slave.deserializeFMUState(data)
    other.slave.setFMUState(read)
    assert other.slave.serializeFMUState(read) == data
    assert other.outputs() == unit.outputs()
    other.time = unit.time
    for one in (unit, other):
        one.set(setting__surface_speed=4.0)
    assert run(other) == run(unit)
    for wrong in (data[:-1], data + b"\0", b"", b"x" * len(data)):
        refused(ERROR, other.slave.deserializeFMUState, wrong)
        assert "no state of this unit" in other.log[-1][2]
    unit.slave.freeFMUState(state)
    other.slave.freeFMUState(read)


def test_reset_and_terminate(make):
    unit = make()
    unit.start()
    first = run(unit)
    unit.slave.terminate()
    assert unit.outputs() == first
    refused(ERROR, unit.step, 1.0)
    unit.slave.reset()
    unit.set(setting__surface_speed=5.0)
    unit.start()
    assert run(unit) == first


@pytest.mark.parametrize("how", ["token", "case", "square edge", "interference"])
def test_what_cannot_be_instantiated(folder: str, description, tmp_path: Path, how: str):
    place, token, said = folder, description.guid, "instantiation token"
    if how == "token":
        token = "{0}"
    else:
        place = str(tmp_path / "unit")
        shutil.copytree(folder, place)
        case = tmp_path / "unit" / "resources" / "case.json"
        if how == "case":
            case.write_text("{")
            said = "line 1"
        elif how == "square edge":
            text = case.read_text().replace('"facet"', '"square_edge"').replace('"facet_length": "worn",', "")
            case.write_text(text.replace('"bedding": "here",', ""))
            said = "tip.kind"
        else:
            case.write_text(case.read_text().replace('"line_load": "110 N/m"', '"interference": "0.5 mm"'))
            said = "setting.line_load"
    log = []
    slave = FMU3Slave(instanceName="nip", guid=token, unzipDirectory=place, modelIdentifier="nip")
    with pytest.raises(Exception, match="instantiate"):
        slave.instantiate(logMessage=lambda _, status, category, message: log.append((status, message.decode())))
    assert log[-1][0] == ERROR
    assert said in log[-1][1]


def test_log_categories(make):
    unit = make()
    unit.start()
    unit.slave.setDebugLogging(False, ["logStatusDiscard"])
    refused(DISCARD, unit.put, "setting.line_load", -1.0)
    assert unit.log == []
    unit.slave.setDebugLogging(True, ["logStatusDiscard"])
    refused(DISCARD, unit.put, "setting.line_load", -1.0)
    assert len(unit.log) == 1
    refused(ERROR, unit.slave.setDebugLogging, True, ["logEverything"])
    assert "logEverything" in unit.log[-1][2]


def test_events_are_told_where_that_is_asked_for(make):
    """A facet of 0.4 mm eats the rest of a 0.2 mm blade's end."""
    told = []
    for logging in (True, False):
        unit = make(logging=logging)
        unit.set(tip__facet_length=0.4e-3, roll__run_out=0.0)
        unit.start()
        unit.step(4 * 3600.0)
        told.append(unit.log)
    assert [(category, message.split()[0]) for _, category, message in told[0]] == [("logEvents", "fully_worn")]
    assert told[1] == []
