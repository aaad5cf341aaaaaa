"""What a `law` block names, and whether that exists: no Sphinx here, so that the tests can ask the same question."""

import re
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"^:::\{law\} *(?P<title>[^\n]*)\n(?P<options>(?::[a-z]+:[^\n]*\n)*)(?P<body>.*?)^:::$", re.S | re.M)
OPTION = re.compile(r"^:(?P<name>[a-z]+): *(?P<value>.*)$", re.M)


@dataclass(frozen=True)
class Named:
    """One "room: name" of an option."""

    room: str
    name: str


@dataclass(frozen=True)
class Law:
    title: str
    functions: tuple[Named, ...]
    tests: tuple[Named, ...]
    sources: tuple[str, ...]  # keys of references.bib, or words


def named(text: str) -> tuple[Named, ...]:
    """ "film: solve_film | film_kernel: one_pass"."""
    parts = [part.split(": ", 1) for part in text.split(" | ")] if text else []
    return tuple(Named(room.strip(), name.strip()) for room, name in parts)


def law(title: str, options: dict[str, str]) -> Law:
    sources = tuple(s.strip() for s in options.get("source", "").split(" | ") if s.strip())
    return Law(title, named(options.get("function", "")), named(options.get("test", "")), sources)


def laws_of(text: str) -> list[tuple[Law, str]]:
    """Every law of a page, with its body."""
    return [
        (law(block["title"], {o["name"]: o["value"] for o in OPTION.finditer(block["options"])}), block["body"])
        for block in BLOCK.finditer(text)
    ]


def header(room: str) -> Path:
    return ROOT / "libblade" / "include" / "libblade" / f"{room}.hpp"


def test_files(room: str) -> list[Path]:
    """Of "film" the C++ tests, of "python/stokes" the Python ones, of "validation" its checks."""
    if room == "validation":
        return sorted((ROOT / "tests" / "validation").glob("checks_*.py"))
    folder, stem = room.split("/") if "/" in room else ("cpp", room)
    return [ROOT / "tests" / folder / f"test_{stem}.{'cpp' if folder == 'cpp' else 'py'}"]


def cited_keys(bibliography: str) -> set[str]:
    return set(re.findall(r"^@\w+\{([^,]+),", bibliography, re.M))


def problems_of(found: Law, keys: set[str]) -> list[str]:
    """What a law names and there is none of."""
    problems = []
    if not (found.functions and found.tests and found.sources):
        problems.append(f"{found.title}: a law names a function, a test and a source")
    for function in found.functions:
        file = header(function.room)
        if not file.exists() or not re.search(rf"\b{re.escape(function.name)}\b *(?:\(|\{{|=|;)", file.read_text()):
            problems.append(f"{found.title}: no {function.name} in {file.name}")
    for test in found.tests:
        text = "".join(file.read_text() for file in test_files(test.room) if file.exists())
        if not (f'TEST_CASE("{test.name}"' in text or f"def {test.name}(" in text):
            problems.append(f'{found.title}: no test "{test.name}" of {test.room}')
    problems += [
        f"{found.title}: {source} is not in references.bib"
        for source in found.sources
        if re.fullmatch(r"[a-z_]+\d{4}[a-z]?", source) and source not in keys
    ]
    return problems
