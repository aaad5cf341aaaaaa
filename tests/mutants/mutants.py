"""The list of mutants: what it holds, and what is wrong with it."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = Path(__file__).with_name("mutants.toml")
TEST_CASE = re.compile(r'TEST_CASE(?:_METHOD)?\(\s*"((?:[^"\\]|\\.)*)"')


@dataclass(frozen=True)
class Mutant:
    """One line of physics broken on purpose; see mutants.toml."""

    name: str
    what: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]

    def applied(self, root: Path) -> str:
        """The broken text of its file. Raises ValueError where the old text does not stand there once."""
        text = (root / self.file).read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise ValueError(f"{self.name}: its text stands {text.count(self.old)} times in {self.file}")
        return text.replace(self.old, self.new)


def is_python(test: str) -> bool:
    """Whether a test is one for pytest, a file or "file::test"; others are C++ test programs."""
    return ".py" in test


def program_of(test: str) -> tuple[str, str]:
    """A C++ test program and the pattern of its tests ("" for all)."""
    program, _, pattern = test.partition(":")
    return program, pattern.strip()


def source_of(test: str) -> str:
    """The file that holds a test, from the root."""
    return test.partition("::")[0] if is_python(test) else f"tests/cpp/{program_of(test)[0]}.cpp"


def mutants(path: Path = LIST) -> list[Mutant]:
    """All of them, in the list's order."""
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["mutant"]
    return [Mutant(**(row | {"tests": tuple(row["tests"])})) for row in rows]


def faults(listed: list[Mutant], root: Path = ROOT) -> list[str]:
    """What is wrong with a list, in words."""
    out = []
    names = [mutant.name for mutant in listed]
    out += [f"{name} is listed {names.count(name)} times" for name in dict.fromkeys(names) if names.count(name) > 1]
    for mutant in listed:
        where = root / mutant.file
        count = where.read_text(encoding="utf-8").count(mutant.old) if where.is_file() else 0
        if count != 1:
            out.append(f"{mutant.name}: its text stands {count} times in {mutant.file}, not once: {mutant.old!r}")
        if mutant.old == mutant.new or not mutant.tests:
            out.append(f"{mutant.name}: breaks nothing, or nothing is to see it")
        for test in mutant.tests:
            source = root / source_of(test)
            if not source.is_file():
                out.append(f"{mutant.name}: there is no {source_of(test)}")
            elif is_python(test):
                if f"def {test.partition('::')[2]}" not in source.read_text(encoding="utf-8"):
                    out.append(f"{mutant.name}: there is no {test}")
            elif pattern := program_of(test)[1]:
                cases = TEST_CASE.findall(source.read_text(encoding="utf-8"))
                if not any(fnmatchcase(case.lower(), pattern.lower()) for case in cases):
                    out.append(f'{mutant.name}: no test of {program_of(test)[0]} is named "{pattern}"')
    return out
