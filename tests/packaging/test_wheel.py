"""The package as a stranger gets it: wheel built from the sdist, in a venv of its own with the declared dependencies and nothing
else, used from an empty folder; the C++ library in it, used by a project of C++. Made twice, the bytes are the same:
``make package`` packs twice what it compiled once, ``make reproducible`` compiles twice. No network.
"""

import email
import importlib.metadata
import json
import os
import subprocess
import sys
import sysconfig
import tarfile
import time
import venv
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
SCRIPTS = "Scripts" if os.name == "nt" else "bin"
CMAKE = "lib/cmake/libblade"
EXTRAS = ("matplotlib", "h5netcdf", "h5py", "tqdm", "dask", "scipy", "pint", "distributed")
CASE = "folding_carton_water"


def run(*command: object, cwd: Path, status: int = 0, umask: int = -1, **more: str) -> subprocess.CompletedProcess[str]:
    """In a clean environment: no PYTHONPATH, no user packages, no package index; the choice of compiler and its cache pass."""
    passes = ("CMAKE_", "CCACHE_")
    settings = {name: text for name, text in os.environ.items() if name in ("PATH", "CXX") or name.startswith(passes)}
    settings |= {"HOME": str(cwd), "LC_ALL": "C.UTF-8", "PYTHONNOUSERSITE": "1"}
    settings |= {"PIP_NO_INDEX": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_ROOT_USER_ACTION": "ignore"}
    words = [str(word) for word in command]
    done = subprocess.run(words, cwd=cwd, env=settings | more, capture_output=True, text=True, check=False, umask=umask)
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


def make_sdist(source: Path, target: Path, **more) -> Path:
    code = f"from scikit_build_core.build import build_sdist; build_sdist({str(target)!r})"
    run(sys.executable, "-c", code, cwd=source, **more)
    (file,) = target.glob("*.tar.gz")
    return file


def make_wheel(source: Path, target: Path, **more) -> Path:
    pack = [sys.executable, "-m", "pip", "wheel", "--no-deps", "--no-build-isolation", "-w", target, "."]
    run(*pack, cwd=source, **{"CCACHE_BASEDIR": str(source)} | more)
    (file,) = target.glob("*.whl")
    return file


def unpack(sdist: Path, folder: Path) -> Path:
    with tarfile.open(sdist) as content:
        content.extraction_filter = getattr(tarfile, "data_filter", None)
        content.extractall(folder)
    return folder / sdist.name.removesuffix(".tar.gz")


@pytest.fixture(scope="session")
def sdist(tmp_path_factory) -> Path:
    return make_sdist(ROOT, tmp_path_factory.mktemp("sdist"))


@pytest.fixture(scope="session")
def source(sdist, tmp_path_factory) -> Path:
    """Where the wheel is built."""
    return unpack(sdist, tmp_path_factory.mktemp("source"))


@pytest.fixture(scope="session")
def wheel(source, tmp_path_factory) -> Path:
    return make_wheel(source, tmp_path_factory.mktemp("wheel"))


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
    headers = {name for name in names_in(sdist) if name.startswith("libblade/include/")}
    config = {
        f"libblade/{CMAKE}/libblade{part}.cmake" for part in ("Config", "ConfigVersion", "Targets", "Targets-release")
    }
    assert package - modules == sources | headers | config | {"libblade/lib/libblade.a"}
    assert len(modules) == 1 < len(headers)
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


def test_the_module_shows_python_its_entry_and_nothing_else(wheel, tmp_path):
    with zipfile.ZipFile(wheel) as content:
        (module,) = (name for name in content.namelist() if Path(name).match("_core.*.so"))
        content.extract(module, tmp_path)
    shown = run("nm", "-D", "--defined-only", tmp_path / module, cwd=tmp_path).stdout
    assert [line.split()[1:] for line in shown.splitlines()] == [["T", "PyInit__core"]]


def test_a_project_finds_the_library_in_the_wheel(sdist, python, tmp_path):
    """Without any of the libraries it is made of. The project itself looks at what its plug-in shows."""
    folder = run(python, "-m", "libblade", "--cmake-dir", cwd=tmp_path).stdout.rstrip("\n")
    assert folder.endswith(f"/libblade/{CMAKE}")
    consumer = unpack(sdist, tmp_path) / "tests" / "consumer"
    without = [f"-DCMAKE_DISABLE_FIND_PACKAGE_{name}=ON" for name in ("Eigen3", "Boost", "nlohmann_json")]
    for variable in ("CMAKE_PREFIX_PATH", "libblade_DIR"):
        build = tmp_path / variable
        run(
            "cmake",
            "-S",
            consumer,
            "-B",
            build,
            "-DCMAKE_BUILD_TYPE=Release",
            f"-D{variable}={folder}",
            *without,
            cwd=tmp_path,
        )
    run("cmake", "--build", build, cwd=tmp_path)
    told = run(build / "consumer", cwd=tmp_path).stdout
    assert told.startswith("libblade ")
    assert "converged" in told


def test_no_folder_of_the_build_is_in_the_wheel(source, wheel):
    folders = {str(source), str(ROOT), sys.prefix, str(Path(sys.prefix).resolve())}
    with zipfile.ZipFile(wheel) as content:
        found = {(name, f) for name in content.namelist() for f in folders if f.encode() in content.read(name)}
    assert found == set()


def differences(one: Path, other: Path) -> list[str]:
    """Names of the members that differ; "archive" where only times, modes or order do."""
    if one.read_bytes() == other.read_bytes():
        return []
    with zipfile.ZipFile(one) as a, zipfile.ZipFile(other) as b:
        names = sorted({*a.namelist(), *b.namelist()})
        both = {*a.namelist()} & {*b.namelist()}
        return [name for name in names if name not in both or a.read(name) != b.read(name)] or ["archive"]


def touch(folder: Path, pattern: str) -> None:
    for number, file in enumerate(folder.glob(pattern)):
        os.utime(file, (number, 1e9 + number))


def test_the_sdist_makes_the_same_sdist(sdist, tmp_path):
    """Elsewhere, later, with other times and modes of the files."""
    folder = unpack(sdist, tmp_path / "some" / "where")
    touch(folder, "**/*")
    (folder / "PKG-INFO").unlink()
    again = make_sdist(folder, tmp_path, umask=0o077, TZ="Asia/Kathmandu")
    assert again.name == sdist.name
    assert again.read_bytes() == sdist.read_bytes()


def test_packed_again_the_wheel_is_the_same(source, wheel, tmp_path):
    """What was compiled is kept: ``make reproducible`` compiles again."""
    began = time.time()
    touch(source, "bindings/libblade/**/*")
    again = make_wheel(source, tmp_path, umask=0o077, TZ="Asia/Kathmandu")
    assert again.stat().st_mtime >= began
    assert differences(wheel, again) == []


@pytest.mark.skipif(
    "LIBBLADE_REPRODUCIBLE" not in os.environ, reason="compiles everything once more: make reproducible"
)
def test_compiled_again_elsewhere_the_wheel_is_the_same(sdist, wheel, tmp_path):
    """Another folder, time, umask, time zone, number of jobs; no cache of the compiler's work."""
    folder = unpack(sdist, tmp_path / "a folder of another length")
    touch(folder, "**/*")
    changed = {"TZ": "Asia/Kathmandu", "CMAKE_BUILD_PARALLEL_LEVEL": "1", "CCACHE_DISABLE": "1"}
    again = make_wheel(folder, tmp_path, umask=0o077, **changed)
    assert differences(wheel, again) == []
    print(f"{wheel.name}: {wheel.stat().st_size} bytes, the same twice")
