"""The unit as a file: what the standard asks of it, and what the field table says."""

import re
import shutil
import subprocess
import zipfile
from xml.etree import ElementTree as ET

import pint
import pytest
from fmpy.validation import validate_fmu
from libblade._fields import FIELDS
from libblade._point import OUTPUTS, REGIMES

import libblade as lb

INPUTS = {"setting.surface_speed", "setting.line_load", "setting.set_angle", "ink.temperature"}


def test_no_problems(fmu: str):
    """By the importer's checks: schema, names, structure, start values, units."""
    assert validate_fmu(fmu) == []


def test_contents(fmu: str):
    names = set(zipfile.ZipFile(fmu).namelist())
    assert {
        "modelDescription.xml",
        "resources/case.json",
        "documentation/index.html",
        "documentation/licenses/license.txt",
    } <= names
    assert any(re.fullmatch(r"binaries/\w+-\w+/nip\.(so|dylib|dll)", name) for name in names)


def test_capabilities(description):
    unit = description.coSimulation
    assert unit.canHandleVariableCommunicationStepSize
    assert unit.canGetAndSetFMUstate
    assert unit.canSerializeFMUstate
    assert not unit.needsExecutionTool
    assert not unit.canBeInstantiatedOnlyOncePerProcess
    assert description.modelExchange is None


def test_variables_are_those_of_the_field_table(fmu: str, variables: dict):
    case = lb.Case.from_json(zipfile.ZipFile(fmu).read("resources/case.json").decode())
    assert {name for name, v in variables.items() if v.causality == "input"} == INPUTS
    taken = [v for v in variables.values() if v.causality in {"input", "parameter"} and v.type == "Float64"]
    assert len(taken) > 30
    for v in taken:
        field = FIELDS[v.name]
        low, high = field.hard_range
        words = v.name in {"tip.facet_length", "setting.surface_speed"}
        assert float(v.min) == (0.0 if words else low)
        if v.name != "ink.rheology.exponent":  # its range depends on the law
            assert float(v.max) == high
        assert v.description.startswith(field.meaning)
        if v.name != "tip.facet_length":  # the case says "worn"
            assert float(v.start) == pytest.approx(case[v.name], rel=1e-15)
    assert float(variables["tip.facet_length"].start) == 0.0


def test_units_are_si(fmu: str):
    """Exponents of the base units and factors of the display units, by pint."""
    root = ET.fromstring(zipfile.ZipFile(fmu).read("modelDescription.xml"))
    registry = pint.UnitRegistry()
    base = {"kg": "kilogram", "m": "meter", "s": "second", "A": "ampere", "K": "kelvin"}

    def spelled(name: str) -> str:
        return re.sub(r"(?<=[a-zA-Z])(\d)", r"**\1", name).replace(" ", "*").replace("degC", "delta_degC")

    units = root.findall("UnitDefinitions/Unit")
    assert len(units) > 12
    for unit in units:
        if unit.get("name") == "W s^0.5/(m2 K)":  # FMI has whole exponents only
            assert unit.find("BaseUnit") is None
            continue
        found = (1.0 * registry(spelled(unit.get("name")))).to_base_units()
        exponents = {name: int(unit.find("BaseUnit").get(name, 0)) for name in base}
        assert {name: float(found.units._units.get(base[name], 0)) for name in base} == exponents, unit.get("name")
        assert found.magnitude == pytest.approx(1.0)
        assert int(unit.find("BaseUnit").get("rad", 0)) == {"rad": 1, "N/rad": -1}.get(unit.get("name"), 0)
        for shown in unit.findall("DisplayUnit"):
            name = {"lines/cm": "1/cm", "mm/1000 km": "mm/(1000*km)"}.get(shown.get("name"), spelled(shown.get("name")))
            factor = (registry(spelled(unit.get("name"))) / registry(name)).to("").magnitude
            assert float(shown.get("factor")) == pytest.approx(factor, rel=1e-12), shown.get("name")
            assert float(shown.get("offset", 0)) == (-273.15 if shown.get("name") == "degC" else 0.0)


def test_outputs_have_the_words_of_the_package(variables: dict):
    items = variables["regime"].declaredType.items
    assert [(i.name, int(i.value)) for i in items] == [(name, k) for k, name in enumerate(REGIMES)]
    own = {"length_lost", "distance", "regime", "status"}
    given = {name: v for name, v in variables.items() if v.causality == "output" and name not in own}
    assert len(given) == 12
    for name, v in given.items():
        assert v.unit == OUTPUTS[name].unit
        assert v.description.removesuffix(", mean over a turn") == OUTPUTS[name].long_name


def test_nothing_but_the_interface_is_seen(folder: str, description):
    """Symbols of the binary, and the libraries it asks for: those of the C runtime."""
    if shutil.which("nm") is None:
        pytest.skip("nm is not installed")
    from fmpy import platform_tuple, sharedLibraryExtension

    binary = f"{folder}/binaries/{platform_tuple}/nip{sharedLibraryExtension}"
    listed = subprocess.run(["nm", "-D", "--defined-only", binary], capture_output=True, text=True, check=True).stdout
    names = [line.split()[-1] for line in listed.splitlines()]
    assert len(names) > 60
    assert [name for name in names if not name.startswith("fmi3")] == []
    needed = subprocess.run(["readelf", "-d", binary], capture_output=True, text=True, check=True).stdout
    assert set(re.findall(r"\[(lib\w+|ld[\w-]+)\.so", needed)) <= {"libc", "libm", "libpthread", "ld-linux-x86-64"}
