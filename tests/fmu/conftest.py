"""The unit as an importer holds it."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fmpy import extract, read_model_description
from fmpy.fmi3 import FMU3Slave

ROOT = Path(__file__).parents[2]
FMU = Path(os.environ.get("LIBBLADE_FMU", ROOT / "out" / "nip.fmu"))


@pytest.fixture(scope="session")
def fmu() -> str:
    assert FMU.exists(), "the unit is not built: `make fmu`"
    return str(FMU)


@pytest.fixture(scope="session")
def description(fmu: str):
    return read_model_description(fmu)


@pytest.fixture(scope="session")
def variables(description) -> dict:
    return {v.name: v for v in description.modelVariables}


@pytest.fixture(scope="session")
def folder(fmu: str) -> Iterator[str]:
    place = extract(fmu)
    yield place
    shutil.rmtree(place)


class Unit:
    """An instance with its log, values by name."""

    def __init__(self, folder: str, variables: dict, token: str, *, logging: bool = False, early: bool = False):
        self.log: list[tuple[int, str, str]] = []
        self.variables = variables
        self.slave = FMU3Slave(instanceName="nip", guid=token, unzipDirectory=folder, modelIdentifier="nip")
        self.time = 0.0

        def told(_, status, category, message):
            self.log.append((status, category.decode(), message.decode()))

        self.slave.instantiate(logMessage=told, loggingOn=logging, earlyReturnAllowed=early)

    def set(self, **values: float) -> None:
        """Names with __ for the dot."""
        for name, value in values.items():
            self.put(name.replace("__", "."), value)

    def put(self, name: str, value: float) -> None:
        v = self.variables[name]
        (self.slave.setInt64 if v.type == "Enumeration" else self.slave.setFloat64)([v.valueReference], [value])

    def get(self, name: str):
        v = self.variables[name]
        return (self.slave.getInt64 if v.type == "Enumeration" else self.slave.getFloat64)([v.valueReference])[0]

    def start(self, time: float = 0.0) -> None:
        self.time = time
        self.slave.enterInitializationMode(startTime=time)
        self.slave.exitInitializationMode()

    def step(self, duration: float):
        out = self.slave.doStep(self.time, duration)
        self.time += duration
        return out

    def outputs(self) -> dict[str, float]:
        return {name: self.get(name) for name, v in self.variables.items() if v.causality == "output"}


@pytest.fixture
def make(folder, variables, description):
    """Instances that are freed in the end, the library with the last."""
    made: list[Unit] = []

    def one(*, folder: str = folder, **options) -> Unit:
        made.append(Unit(folder, variables, description.guid, **options))
        return made[-1]

    yield one
    for unit in made:
        unit.slave.fmi3FreeInstance(unit.slave.component)
