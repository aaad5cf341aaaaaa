"""The floor plan as a test: includes only go down, rooms have one stem, Python stays out of libblade/."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CORE = ROOT / "libblade"

FLOORS = [
    {"version", "error", "status", "units"},
    {"root", "continuation", "tridiagonal", "complementarity", "ode", "interpolation", "quadrature", "dual", "random"},
    {
        "parameters",
        "solid",
        "blade",
        "tip",
        "tip_outline",
        "solids",
        "roll",
        "engraving",
        "ink",
        "particle",
        "setting",
        "case",
        "flow_cup",
        "actuator",
    },
    {"bending", "contact", "width", "film", "cell_flow", "asperity", "heat", "ink_flow"},
    {"nip", "solver"},
    {"wear", "roll_wear", "feather", "scoring", "lines", "print", "tracing"},
    {"case_file", "schema", "sweep", "window", "risk", "evaluate", "lesson", "c_interface"},
]
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}

# Sideways arrows inside a floor, one by one.
SIDEWAYS = {
    ("units", "error"),
    ("dual", "interpolation"),
    ("roll", "blade"),
    ("roll", "engraving"),
    ("tip", "blade"),
    ("case", "blade"),
    ("case", "ink"),
    ("case", "roll"),
    ("case", "setting"),
    ("case", "tip"),
    ("parameters", "case"),
    ("parameters", "solids"),
    ("flow_cup", "parameters"),
    ("actuator", "parameters"),
    ("setting", "actuator"),
    ("schema", "case_file"),
    ("lesson", "case_file"),
    ("solids", "blade"),
    ("tip_outline", "blade"),
    ("scoring", "feather"),
    ("risk", "sweep"),
    ("solver", "nip"),
    ("c_interface", "case_file"),
    ("evaluate", "sweep"),
    ("lines", "print"),
    ("lines", "roll_wear"),
    ("tracing", "lines"),
    ("tracing", "print"),
}

# Parts of a room that do not carry its name.
OTHER_STEMS = {"field_table": "parameters"}

# Only the doors know these.
DOOR_HEADERS = {"thread", "mutex", "atomic", "condition_variable", "future", "iostream", "fstream", "stop_token"}
# What the threads of a caller share may lock; it starts none.
LOCKS = {"nip_tables.cpp": {"mutex"}}
STANDARD = re.compile(r"^([a-z_]+|stddef\.h)$")

FILES = sorted([*CORE.glob("include/libblade/*.h*"), *CORE.glob("src/*.?pp")])


def room_of(stem: str) -> str:
    """The room a file belongs to: its own stem, or the longest room name it starts with ("film_kernel" is film)."""
    stem = OTHER_STEMS.get(stem, stem)
    rooms = [room for room in FLOOR_OF if stem == room or stem.startswith(room + "_")]
    assert rooms, f"{stem} belongs to no room: add it to the floor plan"
    return max(rooms, key=len)


def includes(path: Path) -> list[str]:
    return re.findall(r'^\s*#\s*include\s*[<"]([^>"]+)[>"]', path.read_text(encoding="utf-8"), re.MULTILINE)


def room_arrows(path: Path) -> list[tuple[str, str]]:
    own = [name for name in includes(path) if name.endswith(".hpp") and "/" not in name.removeprefix("libblade/")]
    return [(room_of(path.stem), room_of(Path(name).stem)) for name in own]


def bad_arrows(arrows: list[tuple[str, str]]) -> list[tuple[str, str]]:
    return [
        (a, b)
        for a, b in arrows
        if a != b and (FLOOR_OF[b] > FLOOR_OF[a] or (FLOOR_OF[b] == FLOOR_OF[a] and (a, b) not in SIDEWAYS))
    ]


def test_the_core_is_there():
    assert len(FILES) > 20


def test_the_rule_itself_refuses():
    assert bad_arrows([("film", "nip")]) == [("film", "nip")]
    assert bad_arrows([("film", "bending")]) == [("film", "bending")]
    assert bad_arrows([("nip", "film"), ("roll", "blade"), ("film", "film")]) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_includes_only_go_down(path: Path):
    assert bad_arrows(room_arrows(path)) == []


@pytest.mark.parametrize("path", [p for p in FILES if "include" in p.parts], ids=lambda p: p.name)
def test_public_headers_show_only_the_standard_library(path: Path):
    strangers = [name for name in includes(path) if not name.startswith("libblade/") and not STANDARD.match(name)]
    assert strangers == []


@pytest.mark.parametrize("path", [p for p in FILES if FLOOR_OF[room_of(p.stem)] < 6], ids=lambda p: p.name)
def test_only_doors_know_threads_console_and_json(path: Path):
    names = includes(path)
    allowed = LOCKS.get(path.name, set())
    assert [n for n in names if n in DOOR_HEADERS - allowed or n.startswith(("nlohmann", "pybind11", "Python"))] == []
    assert not re.search(r"\b(printf|std::cout|std::cerr)\b", path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", sorted(CORE.glob("src/*.cpp")), ids=lambda p: p.name)
def test_every_source_belongs_to_a_header(path: Path):
    header = CORE / "include" / "libblade" / room_of(path.stem)
    assert header.with_suffix(".hpp").exists() or header.with_suffix(".h").exists()


@pytest.mark.parametrize("path", sorted((ROOT / "tests" / "cpp").glob("test_*.cpp")), ids=lambda p: p.name)
def test_cpp_tests_bear_the_stem_of_a_room(path: Path):
    room_of(path.stem.removeprefix("test_"))


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_files_stay_short(path: Path):
    limit = 600 if path.suffix == ".cpp" else 300
    assert len(path.read_text(encoding="utf-8").splitlines()) <= limit


def test_no_python_in_the_core_folder():
    assert list(CORE.rglob("*.py")) == []
