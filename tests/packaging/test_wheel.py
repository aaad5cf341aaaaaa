"""The package as a stranger gets it: wheel built from the sdist, in a venv of its own with the declared dependencies and nothing
else, used from an empty folder. No network. ``make package`` runs it; it takes the time of one build of the C++ library.
"""

import email
import importlib.metadata
import json
import os
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
SCRIPTS = "Scripts" if os.name == "nt" else "bin"
EXTRAS = ("matplotlib", "h5netcdf", "h5py", "tqdm", "dask", "scipy", "pint", "distributed")
CASE = "folding_carton_water"


def run(*command: object, cwd: Path, status: int = 0) -> subprocess.CompletedProcess[str]:
    """In a clean environment: no PYTHONPATH, no user packages, no package index; the choice of compiler passes."""
    settings = {name: text for name, text in os.environ.items() if name in ("PATH", "CXX") or name.startswith("CMAKE_")}
    settings |= {"HOME": str(cwd), "LC_ALL": "C.UTF-8", "PYTHONNOUSERSITE": "1"}
    settings |= {"PIP_NO_INDEX": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_ROOT_USER_ACTION": "ignore"}
    words = [str(word) for word in command]
    done = subprocess.run(words, cwd=cwd, env=settings, capture_output=True, text=True, check=False)
    assert done.returncode == status, f"{words}\n{done.stdout}\n{done.stderr}"
    return done


def needed(names: list[str]) -> set[str]:
    """Installed distributions that these need, without extras."""
    found: set[str] = set()
    while names:
        name = canonicalize_name(names.pop())
        if name not in found:
            found.add(name)
            wanted = [Requirement(line) for line in importlib.metadata.requires(name) or []]
            names += [w.name for w in wanted if w.marker is None or w.marker.evaluate({"extra": ""})]
    return found


@pytest.fixture(scope="session")
def sdist(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("sdist")
    code = f"from scikit_build_core.build import build_sdist; build_sdist({str(folder)!r})"
    run(sys.executable, "-c", code, cwd=ROOT)
    (file,) = folder.glob("*.tar.gz")
    return file


@pytest.fixture(scope="session")
def wheel(sdist, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "-w", folder, sdist, cwd=folder)
    (file,) = folder.glob("*.whl")
    return file


@pytest.fixture(scope="session")
def python(wheel, tmp_path_factory) -> Path:
    """The interpreter of a venv with the wheel and links to what it declares to need."""
    folder = tmp_path_factory.mktemp("stranger")
    venv.create(folder, symlinks=os.name != "nt")
    python = folder / SCRIPTS / "python"
    paths = {"base": str(folder), "platbase": str(folder)}
    site = Path(sysconfig.get_path("purelib", "venv", paths))
    with zipfile.ZipFile(wheel) as content:
        (metadata,) = (name for name in content.namelist() if name.endswith(".dist-info/METADATA"))
        declared = email.message_from_bytes(content.read(metadata)).get_all("Requires-Dist")
    plain = [Requirement(line) for line in declared if "extra ==" not in line]
    for name in needed([requirement.name for requirement in plain]):
        distribution = importlib.metadata.distribution(name)
        for top in {file.parts[0] for file in distribution.files or () if file.parts[0] != ".."}:
            if not (site / top).exists():
                (site / top).symlink_to(distribution.locate_file(top))
    run(sys.executable, "-m", "pip", "--python", python, "install", "--no-deps", wheel, cwd=folder)
    return python


@pytest.fixture
def command(python) -> Path:
    return python.with_name("libblade")


def read(sdist: Path, name: str) -> str:
    """A file of the sdist: what the wheel was built from, whatever happens to the sources meanwhile."""
    with tarfile.open(sdist) as content:
        return content.extractfile(f"{sdist.name.removesuffix('.tar.gz')}/{name}").read().decode()


def names_in(sdist: Path) -> set[str]:
    with tarfile.open(sdist) as content:
        return {member.name.partition("/")[2] for member in content.getmembers() if member.isfile()}


def test_the_sdist_holds_the_sources_and_nothing_built(sdist):
    names = names_in(sdist)
    assert {"LICENSE", "README.md", "pyproject.toml", "CMakeLists.txt", "libblade/src/nip.cpp"} <= names
    tops = {name.partition("/")[0] for name in names}
    assert not tops & {"build", "dist", "out", "notebooks", ".venv", ".git", ".ci"}
    assert not [name for name in names if name.endswith((".so", ".o", ".a", ".pyc"))]


def test_the_wheel_holds_the_package_and_nothing_else(sdist, wheel):
    with zipfile.ZipFile(wheel) as content:
        names = content.namelist()
    package = {name for name in names if name.startswith("libblade/")}
    modules = {name for name in package if name.startswith("libblade/_core.") and not name.endswith(".pyi")}
    sources = {name.removeprefix("bindings/") for name in names_in(sdist) if name.startswith("bindings/libblade/")}
    assert package - modules == sources
    assert len(modules) == 1
    shipped = {"py.typed", "_core.pyi", "schema/case-1.schema.json", f"cases/{CASE}.json"}
    assert {f"libblade/{name}" for name in shipped} <= package
    rest = {Path(name).parts[0] for name in names} - {"libblade"}
    assert [name.endswith(".dist-info") for name in rest] == [True]
    assert any(name.endswith("/LICENSE") for name in names)


def test_its_metadata_names_every_extra(sdist, wheel):
    with zipfile.ZipFile(wheel) as content:
        (name,) = (name for name in content.namelist() if name.endswith(".dist-info/METADATA"))
        metadata = email.message_from_bytes(content.read(name))
    assert {"plots", "files", "progress", "scale", "units"} <= set(metadata.get_all("Provides-Extra"))
    assert f'"{metadata["Version"]}"' in read(sdist, "libblade/include/libblade/version.hpp")
    assert metadata["License-Expression"] == "MIT"


USE = f"""
    import importlib.util, json, os, sys
    import libblade as lb
    assert os.path.realpath(sys.prefix) in os.path.realpath(lb.__file__), lb.__file__
    assert [name for name in {EXTRAS!r} if importlib.util.find_spec(name)] == []
    case = lb.example_case({CASE!r})
    point = lb.solve(case)
    fields = {{"setting.set_angle_deg": [28.0, 30.0, 32.0], "setting.line_load": [80.0, 120.0]}}
    grid = lb.sweep(case, fields, progress=True)
    here = grid.isel(set_angle=1, line_load=1)
    again = lb.solve(case.replace({{"setting.set_angle_deg": 30.0, "setting.line_load": 120.0}}))
    window = lb.process_window(grid, {{"excess_ink": "50 um"}})
    print(json.dumps([point.excess_ink, float(here.film_on_lands), again.film_on_lands, bool(window.exists)]))
"""


def test_solving_and_sweeping_from_an_empty_folder(python, tmp_path):
    done = run(python, "-W", "error", "-c", "\n".join(line[4:] for line in USE.splitlines()), cwd=tmp_path)
    excess, swept, solved, exists = json.loads(done.stdout)
    assert excess >= 0.0
    assert swept == solved > 0.0
    assert exists
    assert "6 of 6 points" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_command_and_the_module_are_one(sdist, python, command, tmp_path):
    outs = [run(*start, "solve", CASE, cwd=tmp_path).stdout for start in ([command], [python, "-m", "libblade"])]
    assert outs[0] == outs[1]
    assert outs[0].startswith("converged")
    (version,) = {run(*start, "--version", cwd=tmp_path).stdout for start in ([command], [python, "-m", "libblade"])}
    assert f'"{version.split()[1]}"' in read(sdist, "libblade/include/libblade/version.hpp")
    assert list(tmp_path.iterdir()) == []


def test_the_schema_that_ships_is_the_one_it_prints(sdist, command, tmp_path):
    shipped = read(sdist, "bindings/libblade/schema/case-1.schema.json")
    assert run(command, "schema", cwd=tmp_path).stdout == shipped


VARY = ("--vary", "setting.set_angle_deg=28:30:2", "--vary", "setting.line_load=80:120 N/m:2", "--quiet")


def test_a_map_needs_no_extra(command, tmp_path):
    run(command, "map", CASE, *VARY, "-o", "map.csv", cwd=tmp_path)
    assert len((tmp_path / "map.csv").read_text(encoding="utf-8").splitlines()) == 5


@pytest.mark.parametrize(("file", "extra"), [("map.nc", "files"), ("map.png", "plots")])
def test_what_needs_an_extra_names_it(command, tmp_path, file, extra):
    told = run(command, "map", CASE, *VARY, "-o", file, cwd=tmp_path, status=2).stderr
    assert f'pip install "libblade[{extra}]"' in told
    assert list(tmp_path.iterdir()) == []


def test_a_type_checker_sees_its_types(python, tmp_path):
    (tmp_path / "use.py").write_text("import libblade\n\nnumber: int = libblade.example_case('x')\n", encoding="utf-8")
    checker = [sys.executable, "-m", "mypy", "--python-executable", python, "--follow-imports=silent", "use.py"]
    told = run(*checker, cwd=tmp_path, status=1).stdout
    assert 'expression has type "Case", variable has type "int"' in told
    assert "Found 1 error" in told
