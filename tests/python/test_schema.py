"""The JSON Schema against the reader, earlier versions of case files, and files that are written whole."""

import json
import math
import os
import resource
import stat
import subprocess
import sys
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from libblade._cli import main

import libblade as lb
from libblade import _core

REFERENCE = Path(__file__).parents[1] / "reference"
CORPUS = REFERENCE / "schema_corpus"
SHIPPED = resources.files("libblade") / "schema"
VALIDATOR = jsonschema.Draft202012Validator(lb.case_schema())
FIELDS = {field.path: field for field in lb.field_table()}


def manifest(name: str, width: int) -> list[tuple[str, ...]]:
    lines = (CORPUS / name).read_text(encoding="utf-8").splitlines()
    rows = [tuple(cell.strip() for cell in line.split("|")) for line in lines if line and not line.startswith("#")]
    assert all(len(row) == width for row in rows)
    return rows


BOTH = manifest("manifest.txt", 4)
BEYOND = manifest("beyond_schema.txt", 4)


def reader_paths(text: bytes | str) -> set[str]:
    """Field paths of what the reader refuses; empty: it takes the file."""
    try:
        _core.read_case(text)
    except lb.InvalidInput as error:
        return {problem.path for problem in error.problems}
    return set()


def refuse_constant(word: str) -> float:
    """NaN and Infinity, which Python takes and JSON has not."""
    raise ValueError(word)


def schema_pointers(document: object) -> set[str]:
    """JSON pointers of what the schema refuses."""
    return {"/" + "/".join(str(key) for key in error.absolute_path) for error in VALIDATOR.iter_errors(document)}


def test_the_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(lb.case_schema())
    assert lb.case_schema()["$id"] == "urn:libblade:schema:case-1"


def test_the_shipped_copies_are_current(root):
    for name, text in {"case-1.schema.json": _core.case_schema(), "fields.md": _core.fields_markdown()}.items():
        assert (SHIPPED / name).read_text(encoding="utf-8") == text, f"installed {name}"
        assert (root / "bindings/libblade/schema" / name).read_text(encoding="utf-8") == text, (
            f"{name}: write it again with `libblade schema` or `libblade schema --fields`"
        )


def test_the_corpus_is_large_enough_and_every_file_is_in_it():
    assert len({row[0] for row in BOTH}) == len(BOTH) >= 60
    assert sum(row[1] == "valid" for row in BOTH) >= 30
    named = {row[0] for row in BOTH + BEYOND}
    assert not {row[0] for row in BOTH} & {row[0] for row in BEYOND}
    for folder, prefix in ((CORPUS, ""), (REFERENCE / "valid_cases", "../valid_cases/")):
        assert {prefix + path.name for path in folder.glob("*.json")} <= named
    assert {f"../malformed_cases/{path.name}" for path in (REFERENCE / "malformed_cases").glob("*.json")} <= named


@pytest.mark.parametrize(("name", "verdict", "paths", "pointers"), BOTH, ids=[row[0] for row in BOTH])
def test_reader_and_schema_give_one_verdict(name, verdict, paths, pointers):
    text = (CORPUS / name).read_bytes()
    of_reader, of_schema = reader_paths(text), schema_pointers(json.loads(text))
    if verdict == "valid":
        assert (of_reader, of_schema) == (set(), set())
        assert not paths
        assert not pointers
    else:
        assert verdict == "invalid"
        assert {"" if path == "-" else path for path in paths.split()} <= of_reader
        assert paths
        assert of_schema == set(pointers.split())


@pytest.mark.parametrize(("name", "verdict", "paths", "reason"), BEYOND, ids=[row[0] for row in BEYOND])
def test_beyond_the_schema_the_reader_decides(name, verdict, paths, reason):
    text = (CORPUS / name).read_bytes()
    of_reader = reader_paths(text)
    assert (verdict == "valid") == (not of_reader)
    assert {"" if path == "-" else path for path in paths.split()} <= of_reader
    if reason == "syntax":
        with pytest.raises(ValueError, match=r"."):
            json.loads(text.decode("utf-8"), parse_constant=refuse_constant)
        with pytest.raises(lb.InvalidInput, match=r"line \d+, column \d+: "):
            _core.read_case(text)
    elif reason in {"keys given twice", "range of a text", "numbers that contradict each other"}:
        assert schema_pointers(json.loads(text)) == set()
    elif reason in {"dotted keys", "older version"}:
        assert schema_pointers(json.loads(text.decode("utf-8-sig")))
    else:
        assert reason in {"too large for a number", "depth"}


@pytest.mark.parametrize("name", lb.example_cases())
def test_shipped_cases_and_what_is_written_are_valid(name):
    case = lb.example_case(name)
    assert schema_pointers(json.loads(case.to_json())) == set()
    shipped = resources.files("libblade") / "cases" / f"{name}.json"
    assert schema_pointers(json.loads(shipped.read_text(encoding="utf-8"))) == set()


# --- every key -------------------------------------------------------------------------------------------------------

SCHEMA = lb.case_schema()


def group_of(path: str) -> dict:
    node = SCHEMA
    for word in path.split(".")[:-1]:
        node = node["items"] if word.isdigit() else node["properties"][word]
    return node["properties"]


def spellings(path: str) -> list[tuple[str, str]]:
    """Keys of a field in the schema, each with the unit it carries."""
    word = path.rpartition(".")[2]
    names = [key for key in group_of(path) if key == word or key.startswith(word + "_")]
    found = [(name, *_core.resolve_field(f"{path.rpartition('.')[0]}.{name}")) for name in names]
    return [(name, unit) for name, field, unit in found if field == path]  # "screen_angle" is no spelling of "screen"


def units_of(path: str) -> set[str]:
    return {FIELDS[path].unit, *(unit for _, unit in spellings(path) if unit)}


def put(document: dict, path: str, value: object) -> None:
    *groups, key = path.split(".")
    node: dict | list = document
    for group, below in zip(groups, [*groups[1:], key], strict=True):
        if isinstance(node, list):
            node.extend({} for _ in range(len(node), int(group) + 1))
            node = node[int(group)]
        else:
            node = node.setdefault(group, [] if below.isdigit() else {})
    node[key] = value


PLATEAUS = {"zero_shear_viscosity": 2.0, "infinite_shear_viscosity": 0.03, "time_constant": 1e-3, "exponent": 0.7}
LAWS = {
    "cross": {"law": "cross", **PLATEAUS},
    "power_law": {"law": "power_law", "consistency": 1.0, "exponent": 0.7},
    "carreau_yasuda": {"law": "carreau_yasuda", **PLATEAUS},
}


def hard_range(path: str, law: str | None) -> tuple[float, float]:
    """That of the exponent depends on the law: its stress must rise with the shear rate."""
    if path == "ink.rheology.exponent":
        return (0.05, 1.0) if law == "cross" else (0.1, 1.5)
    return FIELDS[path].hard_range


def around(path: str) -> dict:
    """A good case that leaves out the field and has what it needs."""
    law = {"consistency": "power_law", "transition": "carreau_yasuda"}.get(path.rpartition(".")[2], "cross")
    ink: dict = {"rheology": LAWS[law]} if path.startswith("ink.rheology.") else {"viscosity": 0.03}
    tip: dict = {}
    if path == "tip.bedded_angle":
        tip = {"bedding": "angle"}
    elif path.startswith("tip.bedded_"):
        tip = {"bedding": "elsewhere", "bedded_set_angle": "30 deg", "bedded_line_load": 95}
    if path == "ink.rheology.viscosity":
        ink = {"rheology": {"law": "newtonian"}}
    document = {
        "blade": {"free_length": 0.012, "thickness": 0.0002},
        "tip": tip,
        "roll": {"radius": 0.07},
        "ink": ink,
        "setting": {"set_angle": "30 deg", "line_load": 100, "surface_speed": 5},
    }
    readings = ("setting.actuator.air_pressure", "setting.actuator.advance")
    if path == "setting.interference" or path in readings:
        del document["setting"]["line_load"]
    if path.startswith("setting.actuator."):
        screw = path.rpartition(".")[2] in {"advance", "slope"}
        # A piston of a square centimetre, so that the usual air pressures are loads of a blade.
        air = {"kind": "air", "piston_area": 1e-4, "blade_width": 1.0}
        document["setting"]["actuator"] = {"kind": "screw"} if screw else air
    if path.startswith("blade.sections."):
        section = {"length": 0.006, "thickness": 0.0002}
        document["blade"] = {"sections": [dict(section) for _ in range(max(int(path.split(".")[2]) + 1, 2))]}
    if path == "blade.backing_length":
        document["blade"]["free_length"] = 0.05
    if path.startswith("roll.bearing_curve."):
        *_, k, name = path.split(".")
        # The field's own usual maximum fits in its place.
        gaps = [5e-6 + 0.3e-6 * (i - (int(k) if name == "gap" else 11)) for i in range(12)]
        pressures = [5e9 * 1.2 ** ((int(k) if name == "pressure" else 0) - i) for i in range(12)]
        document["roll"]["bearing_curve"] = [{"gap": g, "pressure": p} for g, p in zip(gaps, pressures, strict=True)]
    if path == "roll.engraving.aspect":
        document["roll"]["engraving"] = {"pattern": "elongated"}
    document = json.loads(json.dumps(document))
    *groups, key = path.split(".")
    node = document
    for group in groups:
        node = node[int(group)] if group.isdigit() else node.setdefault(group, {})
    node.pop(key, None)
    return document


@pytest.mark.parametrize("path", [path for path, field in FIELDS.items() if field.kind == "number"])
def test_every_key_is_taken_alone_and_refused_in_company(path):
    keys = spellings(path)
    assert keys[0] == (path.rpartition(".")[2], "")
    group = path.rpartition(".")[0]
    value = FIELDS[path].usual_range[1]
    before = ""
    for key, unit in keys:
        document = around(path)
        spelled = _core.field_from_si(value, unit, path) if unit else f"{value!r} {FIELDS[path].unit}"
        put(document, f"{group}.{key}", spelled)
        assert (reader_paths(json.dumps(document)), schema_pointers(document)) == (set(), set()), key
        if before:
            put(document, f"{group}.{before}", value)
            assert f"{group}.{before}" in reader_paths(json.dumps(document))
            assert "/" + group.replace(".", "/") in schema_pointers(document)
        before = key


# --- generated cases -------------------------------------------------------------------------------------------------


def numbers_of(path: str, draw, low: float, high: float) -> float:
    """Evenly in the logarithm where the range spans decades, with both ends."""
    if low > 0.0 and high / low > 100.0:
        share = draw(st.floats(0.0, 1.0))
        return min(max(low * (high / low) ** share, low), high)
    return draw(st.floats(low, high))


def bearing_curve(draw, points: int) -> dict[str, float]:
    """Evenly in gap, at random in pressure, which now and then does not fall."""
    pressures = [draw(st.floats(1.0, 1e11)) for _ in range(points)]
    if draw(st.integers(0, 4)) > 0:
        pressures = sorted(set(pressures), reverse=True)
    if len(pressures) == 1:
        return {}
    step = draw(st.floats(1e-8, 5e-6))
    return {
        f"roll.bearing_curve.{k}.{name}": value
        for k, pressure in enumerate(pressures)
        for name, value in (("gap", step * k), ("pressure", pressure))
    }


def depends(path: str, faceted: bool, chosen: dict[str, str | None]) -> bool:
    """Whether other fields decide if a case may have this one."""
    if path == "ink.rheology.transition":
        return chosen["ink.rheology.law"] != "carreau_yasuda"
    if path == "roll.engraving.aspect":
        return chosen["roll.engraving.pattern"] != "elongated"
    if path == "tip.facet_length":
        return not faceted
    groups = ("ink.rheology.", "roll.bearing_curve.", "setting.actuator.", "blade.sections.", "tip.bedded")
    alone = ("setting.line_load", "setting.interference", "ink.viscosity", "blade.free_length", "blade.thickness")
    return path.startswith(groups) or path in alone


def spell(draw, document: dict, path: str, value: float, only_numbers: bool) -> None:
    """States a number in one of its spellings."""
    field = FIELDS[path]
    how = draw(st.sampled_from(["number", "suffix"] if only_numbers else ["number", "suffix", "text"]))
    if how == "number" and field.dimension != "angle":
        put(document, path, value)
    elif how == "text":
        unit = draw(st.sampled_from(sorted(units_of(path)))) if field.unit != "1" else ""
        put(document, path, f"{_core.field_from_si(value, unit, path)!r} {unit}".rstrip())
    else:
        key, unit = draw(st.sampled_from([s for s in spellings(path) if s[1]] or spellings(path)[:1]))
        put(document, f"{path.rpartition('.')[0]}.{key}", _core.field_from_si(value, unit, path) if unit else value)


@st.composite
def documents(draw, stray: bool = False):
    """A case file within the hard ranges, its fields spelled in any way; with ``stray`` one number may be outside.

    Returns the document and whether no number is a text, so that the schema can judge all ranges.
    """
    chosen = {
        "tip.kind": draw(st.sampled_from([None, "facet", "square_edge"])),
        "blade.material.grade": draw(st.sampled_from([None, *FIELDS["blade.material.grade"].choices])),
        "setting.orientation": draw(st.sampled_from([None, "doctoring", "trailing"])),
        "setting.holding": draw(st.sampled_from([None, "fixed", "floating"])),
        "setting.pressure_side": draw(st.sampled_from([None, *FIELDS["setting.pressure_side"].choices])),
        "roll.engraving.pattern": draw(st.sampled_from([None, *FIELDS["roll.engraving.pattern"].choices])),
        "roll.engraving.profile": draw(st.sampled_from([None, "flat", "parabolic"])),
    }
    curve = bearing_curve(draw, draw(st.integers(2, 12)) if draw(st.integers(0, 3)) == 0 else 0)
    sections = draw(st.integers(1, 8)) if draw(st.integers(0, 3)) == 0 else 0
    actuator = draw(st.sampled_from([None, None, "none", "air", "screw"]))
    chosen["setting.actuator.kind"] = actuator
    faceted = chosen["tip.kind"] != "square_edge"
    bedding = draw(st.sampled_from([None, "here", "elsewhere", "angle"])) if faceted else None
    law = draw(st.sampled_from([None, "newtonian", *LAWS]))
    chosen |= {"tip.bedding": bedding, "ink.rheology.law": law}
    wanted = {path for path, field in FIELDS.items() if field.required}
    stated = {"air": ["setting.actuator.air_pressure"], "screw": ["setting.actuator.advance"]}.get(actuator, [])
    wanted |= {draw(st.sampled_from(["setting.line_load", "setting.interference", *stated]))}
    if actuator == "air":
        wanted |= {"setting.actuator.piston_area", "setting.actuator.blade_width"}
    pairs = [f"blade.sections.{k}.{name}" for k in range(sections) for name in ("length", "thickness")]
    wanted |= set(pairs) if pairs else {"blade.free_length", "blade.thickness"}
    wanted |= {"angle": {"tip.bedded_angle"}, "elsewhere": {"tip.bedded_set_angle", "tip.bedded_line_load"}}.get(
        bedding, set()
    )
    wanted |= set(curve)
    of_law = {f"ink.rheology.{word}" for word in LAWS.get(law, {"viscosity": 1.0}) if word != "law"}
    wanted |= {"ink.viscosity"} if law is None else of_law
    decided = {path for path in FIELDS if depends(path, faceted, chosen)}
    decided |= {draw(st.sampled_from(["roll.engraving.cell_volume", "roll.engraving.cell_depth"]))}
    optional = [path for path, f in FIELDS.items() if f.kind == "number" and path not in wanted | decided]
    wanted |= set(draw(st.lists(st.sampled_from(optional), unique=True)))
    document: dict = {"name": draw(st.text(st.characters(codec="utf-8"), max_size=20))}
    only_numbers = draw(st.booleans())
    astray = draw(st.sampled_from([None, *sorted(wanted)])) if stray else None
    for path, word in chosen.items():
        if word is not None:
            put(document, path, word)
    for path in sorted(wanted):
        low, high = hard_range(path, law)
        if path in curve:
            low = high = curve[path]
        if path == astray:
            low, high = hard_range(path, law)
            low, high = (1.01 * high, 1.3 * high) if draw(st.booleans()) else (low / 1.3 if low > 0.0 else low, high)
        value = numbers_of(path, draw, low, high)
        spell(draw, document, path, value, only_numbers)
    return document, only_numbers


# A message that names a second field, or the one that a limit depends on, is of two numbers that contradict each other.
CONTRADICTIONS = (
    "5 times blade.thickness",
    "5 times the largest thickness",
    "longer than 100 mm",
    "half of the length of blade.sections",
    "at most 95 % of",
    "half of the thickness at the tip",
    "to setting.line_load",
    "brings setting.",
    "smaller than blade.material.youngs_modulus",
    "smaller than roll.material.youngs_modulus",
    "half of blade.free_length",
    "half of blade.thickness",
    "can wear to",
    "the inverse of roll.engraving.screen",
    "must not exceed ink.rheology.zero_shear_viscosity",
    "must be smaller than roll.bearing_curve.",
    "must be larger than roll.bearing_curve.",
)

FEW = settings(max_examples=200, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def test_schema_and_reader_agree_on_any_case():
    """The schema refuses nothing the reader takes; what only the reader refuses is a contradiction or a text's range."""
    seen = {"both take": 0, "both refuse": 0}

    @FEW
    @given(documents(stray=True))
    def check(drawn):
        document, only_numbers = drawn
        pointers = {p for p in schema_pointers(document) if not at_an_end(p[1:].replace("/", "."), document)}
        try:
            _core.read_case(json.dumps(document))
        except lb.InvalidInput as error:
            left = [p for p in error.problems if not any(words in p.message for words in CONTRADICTIONS)]
            left = [p for p in left if not at_an_end(p.path, document)]
            assert left or not pointers
            if only_numbers:
                assert bool(left) == bool(pointers)
                seen["both refuse" if left else "both take"] += 1
        else:
            assert pointers == set()
            seen["both take"] += 1

    check()
    assert min(seen.values()) > 20, seen


def test_what_is_read_is_written_and_read_again_the_same():
    seen = {"read": 0, "refused": 0}

    @FEW
    @given(documents())
    def check(drawn):
        document, _ = drawn
        try:
            case = _core.read_case(json.dumps(document))
        except lb.InvalidInput as error:
            seen["refused"] += 1
            # Drawn one by one within their ranges, numbers may contradict each other, or leave the range by a rounding.
            for problem in error.problems:
                assert any(words in problem.message for words in CONTRADICTIONS) or at_an_end(problem.path, document)
            return
        seen["read"] += 1
        text = _core.write_case(case)
        assert _core.read_case(text) == case
        assert _core.write_case(_core.read_case(text)) == text
        assert schema_pointers(json.loads(text)) == set()

    check()
    assert seen["read"] > 60, seen


def at_an_end(path: str, document: dict) -> bool:
    """Whether a number is an end of its range but for the rounding of its unit: 8.329999999999984 degF is 260 K."""
    named = _core.resolve_field(path)
    if named is None:
        return False
    value: object = document
    for word in path.split("."):
        value = value[int(word) if word.isdigit() else word]  # type: ignore[index]
    field, unit = named
    si = (
        _core.parse_field(value, field, path) if isinstance(value, str) else _core.field_to_si(value, unit, field, path)
    )
    ends = {*FIELDS[field].hard_range, *hard_range(field, "cross"), *hard_range(field, "power_law")}
    return any(math.isclose(si, end, rel_tol=1e-14) for end in ends)


# --- versions and commands -------------------------------------------------------------------------------------------

OLD = REFERENCE / "old_cases" / "version_0.json"
NEW = REFERENCE / "old_cases" / "version_0.migrated.json"


def exact(path: Path) -> str:
    return path.read_bytes().decode("utf-8")


def test_an_older_file_is_migrated():
    assert lb.migrate_case(exact(OLD)) == exact(NEW)
    assert lb.migrate_case(exact(NEW)) == exact(NEW)
    assert lb.load_case(OLD) == lb.load_case(NEW)
    assert lb.load_case(NEW).name == 'setting.load "roughness" é'
    with pytest.raises(lb.InvalidInput, match="newer than this program reads: libblade-case-1"):
        lb.migrate_case(exact(OLD).replace("\\u0030", "7"))
    with pytest.raises(lb.InvalidInput, match="must be the text"):
        lb.migrate_case(3)


def test_schema_command(capsys):
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == lb.case_schema()
    assert main(["schema", "--fields"]) == 0
    assert capsys.readouterr().out == _core.fields_markdown()


def test_migrate_command_prints(capsys):
    assert main(["migrate", str(OLD)]) == 0
    assert capsys.readouterr().out == exact(NEW)


def test_migrate_command_writes_in_place_and_through_a_link(tmp_path):
    path, link = tmp_path / "case.json", tmp_path / "link.json"
    path.write_bytes(OLD.read_bytes())
    path.chmod(0o640)
    link.symlink_to(path)
    assert main(["migrate", str(path), "-o", str(link)]) == 0
    assert path.read_bytes() == NEW.read_bytes()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert link.is_symlink()
    assert sorted(tmp_path.iterdir()) == [path, link]


def test_a_new_file_has_the_usual_rights(tmp_path):
    before = os.umask(0o027)
    try:
        assert main(["migrate", str(OLD), "-o", str(tmp_path / "new.json")]) == 0
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "new.json").stat().st_mode) == 0o640


def read_only(tmp_path: Path) -> Path:
    """A folder that takes no file; root needs one of the kernel's."""
    if os.geteuid() == 0:
        return Path("/proc")
    folder = tmp_path / "locked"
    folder.mkdir(mode=0o555)
    return folder


def test_what_cannot_be_written_or_read_is_said(tmp_path, capsys):
    for output in (read_only(tmp_path) / "case.json", tmp_path / "no" / "folder.json", tmp_path, Path("/dev/null")):
        assert main(["migrate", str(OLD), "-o", str(output)]) == 2
        out, err = capsys.readouterr()
        assert (out, err.startswith("error: --output: ")) == ("", True)
        assert str(output)[:40] in err  # a long value is cut
    for source in (tmp_path / "none.json", tmp_path):
        assert main(["migrate", str(source)]) == 2
        assert "the case file cannot be" in capsys.readouterr().err


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path):
    path = tmp_path / "case.json"
    path.write_bytes(OLD.read_bytes())
    done = subprocess.run(
        [sys.executable, "-B", "-m", "libblade", "migrate", str(path), "-o", str(path)],
        capture_output=True,
        text=True,
        check=False,
        # The kernel refuses to let a file grow past this, as it does when a disk is full.
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)),
    )
    assert done.returncode == 2, done.stderr
    assert done.stderr.startswith("error: --output: cannot be written: ")
    assert "nothing was changed" in done.stderr
    assert path.read_bytes() == OLD.read_bytes()
    assert list(tmp_path.iterdir()) == [path]


def test_an_interruption_leaves_the_file_as_it_was(tmp_path, monkeypatch, capsys):
    path = tmp_path / "case.json"
    path.write_bytes(OLD.read_bytes())

    def stop(handle: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stop)
    assert main(["migrate", str(path), "-o", str(path)]) == 130
    assert path.read_bytes() == OLD.read_bytes()
    assert list(tmp_path.iterdir()) == [path]
