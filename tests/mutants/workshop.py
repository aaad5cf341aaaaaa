"""Unbroken copies of the sources and of the package, and broken parts made beside them.

A broken C++ file is compiled aside and linked before the unbroken library, whose own part then stays in the archive; of a broken
header that is done with every part of the program that reads it. So the unbroken build stays whole, and mutants do not wait for
one another.
"""

from __future__ import annotations

import hashlib
import html
import importlib.util
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from mutants import ROOT, Mutant, is_python, program_of

WORK = ROOT / "build" / "mutants"
SOURCE, BUILD, SITE, MADE = WORK / "src", WORK / "cpp", WORK / "site-packages", WORK / "made"
COPIED = ("CMakeLists.txt", "pyproject.toml", "libblade", "tests", "examples")
LIBRARY = "libblade/libblade.a"
SLOWER, LEAST = 10.0, 120.0  # a broken test may take so many times as long, and so many seconds at least
SHOWN = 2000  # letters of a failed build


class Unsound(Exception):
    """The list, or a test on the unbroken sources, is at fault."""


class Ran(NamedTuple):
    """How a test ended."""

    passed: bool
    case: str
    """The first that failed, or what happened instead."""
    seconds: float


def digest(parts: Iterable[str]) -> str:
    """Of texts."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:16]


def save(path: Path, data: dict[str, Any]) -> None:
    """As JSON, wholly or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_text(json.dumps(data, indent=1), encoding="utf-8")
    part.replace(path)


def files(place: Path) -> dict[Path, bytes]:
    """All below a folder, or the one file; what Python leaves beside them left out."""
    paths = sorted(place.rglob("*")) if place.is_dir() else [place]
    return {path: path.read_bytes() for path in paths if path.is_file() and "__pycache__" not in path.parts}


def bring(source: Path, target: Path) -> None:
    """Makes a folder or file equal to another, touching only what differs: a build then does only what it must."""
    wanted = {target / path.relative_to(source): data for path, data in files(source).items()}
    for path in files(target).keys() - wanted.keys():
        path.unlink()
    for path, data in wanted.items():
        if not path.is_file() or path.read_bytes() != data:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)


def told(command: Sequence[str], where: Path = BUILD) -> str:
    """What a command prints. Raises Unsound where it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=where)
    if done.returncode:
        said = done.stdout + done.stderr
        errors = [line for line in said.splitlines() if "error" in line.lower()]
        raise Unsound(f"{command[0]} failed:\n" + ("\n".join(errors) or said)[:SHOWN])
    return done.stdout


class Workshop:
    """The unbroken copies and the tests on them."""

    def __init__(self, jobs: int) -> None:
        self.jobs = jobs
        self._lock = threading.Lock()
        self._keys: dict[str, str] = {}
        self._commands: dict[str, list[str]] = {}

    def set_up_cpp(self) -> None:
        """Sources for C++ tests: quick to build, no sanitizers."""
        for name in COPIED:
            bring(ROOT / name, SOURCE / name)
        command = ["cmake", "-S", str(SOURCE), "-B", str(BUILD), "-G", "Ninja", "-DCMAKE_BUILD_TYPE=Debug"]
        command += ["-DCMAKE_CXX_FLAGS_DEBUG=-O1", "-DLIBBLADE_TESTS=ON", "-DLIBBLADE_PYTHON=OFF"]
        command.append("-DCMAKE_EXPORT_COMPILE_COMMANDS=ON")
        if shutil.which("ccache"):
            command.append("-DCMAKE_CXX_COMPILER_LAUNCHER=ccache")
        told(command, ROOT)
        for row in json.loads((BUILD / "compile_commands.json").read_text(encoding="utf-8")):
            if (source := Path(row["file"])).is_relative_to(SOURCE):
                self._commands[str(source.relative_to(SOURCE))] = shlex.split(row["command"])

    def set_up_python(self) -> None:
        """The installed package with the working tree's Python files."""
        spec = importlib.util.find_spec("libblade")
        if spec is None or spec.origin is None:
            raise Unsound("libblade is not installed for this Python: run `make build` first")
        bring(Path(spec.origin).parent, SITE / "libblade")
        for path, data in files(ROOT / "bindings" / "libblade").items():
            (SITE / path.relative_to(ROOT / "bindings")).write_bytes(data)

    # ---- a broken program ----------------------------------------------------------------------------------------------

    def _compiled(self, mutant: Mutant, source: str, folder: Path) -> Path:
        """The object of a source that is broken or reads a broken header."""
        command = list(self._commands[source])
        out = folder / (Path(source).name + ".o")
        if out.is_file():
            return out
        command[command.index("-o") + 1] = str(out)
        first = next(k for k, word in enumerate(command) if word.startswith("-"))
        broken = Path(mutant.file)
        if broken.is_relative_to("libblade/include"):
            place = folder / broken.relative_to("libblade/include")
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(mutant.applied(SOURCE), encoding="utf-8")
            command[first:first] = ["-w", f"-I{folder}"]
        else:
            # A header of the sources' own is found beside its reader, which is compiled from beside the broken one.
            place = folder / Path(source).name
            place.write_text((SOURCE / source).read_text(encoding="utf-8"), encoding="utf-8")
            (folder / broken.name).write_text(mutant.applied(SOURCE), encoding="utf-8")
            command[command.index("-c") + 1] = str(place)
            command[first:first] = ["-w", "-iquote", str((SOURCE / source).parent)]
        told(command)
        return out

    def _reads(self, object_file: str, header: str) -> bool:
        return str(SOURCE / header) in {
            str((BUILD / line.strip()).resolve())
            for line in told(["ninja", "-t", "deps", object_file]).splitlines()[1:]
        }

    def broken_program(self, mutant: Mutant, program: str) -> Path:
        """A test program with the mutant in it, in a folder of its own."""
        folder = MADE / mutant.name
        folder.mkdir(parents=True, exist_ok=True)
        test = f"tests/cpp/{program}.cpp"
        link = shlex.split(told(["ninja", "-t", "commands", program]).splitlines()[-1].split("&&")[1])
        out = folder / program
        link[link.index("-o") + 1] = str(out)
        if mutant.file in self._commands:
            own = [self._compiled(mutant, mutant.file, folder)]
        else:
            trace = told([*link, "-Wl,-tt"])  # names what it takes from the archive
            members = re.findall(r"libblade\.a\)?\(?([a-z0-9_]+)\.cpp\.o", trace)
            objects = {
                f"libblade/src/{m}.cpp": f"libblade/CMakeFiles/libblade.dir/src/{m}.cpp.o" for m in sorted(set(members))
            }
            objects[test] = f"tests/CMakeFiles/{program}.dir/cpp/{program}.cpp.o"
            own = [self._compiled(mutant, s, folder) for s, o in objects.items() if self._reads(o, mutant.file)]
        if own and own[-1].name == f"{program}.cpp.o":
            place = next(k for k, word in enumerate(link) if word.endswith(f"{program}.cpp.o"))
            link[place] = str(own.pop())
        link[link.index(LIBRARY) : link.index(LIBRARY)] = map(str, own)
        told(link)
        return out

    def broken_package(self, mutant: Mutant) -> Path:
        """A folder to import the broken package from."""
        site = MADE / mutant.name / "site-packages"
        shutil.copytree(SITE, site, dirs_exist_ok=True)
        (site / Path(mutant.file).relative_to("bindings")).write_text(mutant.applied(ROOT), encoding="utf-8")
        return site

    # ---- tests ---------------------------------------------------------------------------------------------------------

    def run(self, test: str, most: float, with_what: Path) -> Ran:
        """One test up to its first failure, with a program or a folder to import from."""
        began = time.monotonic()
        environment = dict(os.environ)
        if is_python(test):
            command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", test]
            environment |= {"PYTHONPATH": str(with_what), "PYTHONDONTWRITEBYTECODE": "1"}
        else:
            pattern = program_of(test)[1]
            command = [str(with_what), "--abort", "--reporter", "xml", *([pattern] if pattern else [])]
        where = ROOT if is_python(test) else SOURCE
        try:
            done = subprocess.run(
                command, capture_output=True, text=True, check=False, timeout=most, cwd=where, env=environment
            )
        except subprocess.TimeoutExpired:
            return Ran(False, f"no end within {most:.0f} s", time.monotonic() - began)
        seconds = time.monotonic() - began
        if done.returncode == 0 and not is_python(test) and "<TestCase" not in done.stdout:
            raise Unsound(f"{test}: no test of that name")
        return Ran(done.returncode == 0, "" if done.returncode == 0 else _ended(test, done), seconds)

    def baseline(self, test: str) -> float:
        """Seconds of a test on the unbroken copy. Raises Unsound where it fails."""
        python = is_python(test)
        parts = ("bindings/libblade", "tests/python") if python else ("libblade", "tests/cpp", "tests/reference")
        with self._lock:
            for part in parts:
                if part not in self._keys:
                    texts = files((ROOT if python else SOURCE) / part).items()
                    self._keys[part] = digest(f"{p.name}:{hashlib.sha256(d).hexdigest()}" for p, d in texts)
            key = digest([test, *(self._keys[part] for part in parts)])
            program = program_of(test)[0]
            if not python:
                told(["cmake", "--build", str(BUILD), "-j", str(self.jobs), "--target", program])
            kept = WORK / "unbroken" / (re.sub(r"\W+", "_", test) + ".json")
            if kept.is_file() and (known := json.loads(kept.read_text(encoding="utf-8")))["key"] == key:
                return float(known["seconds"])
            ran = self.run(test, 3600.0, SITE if python else BUILD / "tests" / program)
            if not ran.passed:
                raise Unsound(f"{test} fails on the unbroken sources: {ran.case}")
            save(kept, {"key": key, "seconds": ran.seconds})
            return ran.seconds

    def judge(self, mutant: Mutant) -> dict[str, Any]:
        """Whether its tests see a mutant, and which first."""
        python = mutant.file.startswith("bindings/")
        if any(is_python(test) != python for test in mutant.tests):
            raise Unsound(f"{mutant.name}: a broken C++ file is seen by C++ tests, a Python file by Python tests")
        out: dict[str, Any] = {"name": mutant.name, "verdict": "survived", "by": "", "case": "", "seconds": 0.0}
        programs: dict[str, Path] = {}
        try:
            for test in mutant.tests:
                unbroken = self.baseline(test)
                name = "" if python else program_of(test)[0]
                if name not in programs:
                    programs[name] = self.broken_package(mutant) if python else self.broken_program(mutant, name)
                ran = self.run(test, max(LEAST, SLOWER * unbroken), programs[name])
                out["seconds"] = round(out["seconds"] + ran.seconds, 1)
                if not ran.passed:
                    return out | {"verdict": "caught", "by": test, "case": ran.case}
            return out
        finally:
            shutil.rmtree(MADE / mutant.name, ignore_errors=True)


def _ended(test: str, done: subprocess.CompletedProcess[str]) -> str:
    """The test that failed first, or what happened instead."""
    if is_python(test):
        failed = re.findall(r"^(?:FAILED|ERROR) \S*?::(\S+)", done.stdout, re.MULTILINE)
        return failed[0] if failed else "error: " + (done.stdout + done.stderr).strip().splitlines()[-1]
    cases = re.findall(r'<TestCase name="([^"]*)"', done.stdout)
    name = html.unescape(cases[-1]) if cases else "before its first test"
    return name + (f" (signal {-done.returncode})" if done.returncode < 0 else "")
