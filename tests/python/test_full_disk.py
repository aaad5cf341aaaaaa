"""Disks that fill and processes that die: a file is there wholly or as it was, and whoever asked for it is told."""

import contextlib
import os
import resource
import signal
import subprocess
import sys
import textwrap
from types import SimpleNamespace

import numpy as np
import pytest
from libblade._cli import main

import libblade as lb

CASE = "folding_carton_water"
FIELDS = {"setting.line_load": np.array([80.0, 120.0]), "setting.set_angle_deg": np.array([29.0, 31.0])}
MAP = ["map", CASE, "--quiet", "--vary", "setting.line_load=80:120 N/m:2", "--vary", "setting.set_angle_deg=29:31:2"]
WEAR = ["wear", CASE, "--quiet", "--distance", "100 m"]
SCORE = ["score", CASE, "--quiet"]
LEVELS = ["--vary", "loop.filter.size=20:50 um:2", "--vary", "setting.line_load=80:120 N/m:2"]
COMMANDS = {  # every file that the command line writes
    "map.nc": [*MAP, "-o"],
    "map.csv": [*MAP, "-o"],
    "map.json": [*MAP, "-o"],
    "map.png": [*MAP, "-o"],
    "life.nc": [*WEAR, "-o"],
    "life.csv": [*WEAR, "-o"],
    "life.json": [*WEAR, "-o"],
    "life.png": [*WEAR, "-o"],
    "kept.json": [*WEAR, "--save"],
    "risk.json": [*SCORE, "-o"],
    "risk.nc": [*SCORE, *LEVELS, "-o"],
    "risk.csv": [*SCORE, *LEVELS, "-o"],
    "risk.png": [*SCORE, *LEVELS, "-o"],
    "levers.png": [*SCORE, "--levers", "-o"],
    "case.json": ["migrate", "old.json", "-o"],
    "lesson.html": ["lesson", CASE, "--engine", "engine.js", "-o"],
}
OLD = b"what was there before\n"


@contextlib.contextmanager
def no_file_beyond(size):
    """The kernel itself refuses; Python ignores the signal that comes with it."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture
def inputs(tmp_path, monkeypatch):
    (tmp_path / "in").mkdir()
    monkeypatch.chdir(tmp_path / "in")
    (tmp_path / "in" / "old.json").write_text(lb.example_case(CASE).to_json(), encoding="utf-8")
    (tmp_path / "in" / "engine.js").write_text("// engine\n" + "//\n" * 2000, encoding="utf-8")
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_file_of_the_command_line(name, inputs, capsys, closed_figures):
    path = inputs / name
    if name != "kept.json":  # which replaces nothing but a history
        path.write_bytes(OLD)
    with no_file_beyond(700):
        assert main([*COMMANDS[name], str(path)]) == 2
    told = capsys.readouterr().err
    assert str(path) in told
    assert "cannot be written: File too large" in told
    assert "Traceback" not in told
    assert {file.name: file.read_bytes() for file in inputs.iterdir()} == ({} if name == "kept.json" else {name: OLD})
    if name in ("map.csv", "risk.json", "life.png", "case.json"):  # and with room it is written
        assert main([*COMMANDS[name], str(path)]) == 0
        assert path.stat().st_size > 700
        assert os.listdir(inputs) == [name]


@pytest.mark.parametrize("arguments", [["solve", CASE, "--json"], ["cases"], ["schema"], ["check", CASE, "--json"]])
def test_standard_output_on_a_full_disk_is_told(arguments):
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "libblade", *arguments], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 2
    assert done.stderr == "error: No space left on device\n"


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 256 kB, all but full. Only root can have one; everybody has the other tests."""
    place = tmp_path / "disk"
    place.mkdir()
    if (
        os.geteuid() != 0
        or subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=256k", "none", place], capture_output=True, check=False
        ).returncode
    ):
        pytest.skip("no leave to mount a disk")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", place], check=True)


def test_a_disk_that_is_full(small_disk):
    case = lb.example_case(CASE)
    grid = lb.sweep(case, FIELDS)
    (small_disk / "grid.nc").write_bytes(OLD)
    (small_disk / "filler").write_bytes(bytes(244 * 1024))
    before = sorted(small_disk.iterdir())
    for write in (
        lambda: lb.save_sweep(grid, small_disk / "grid.nc"),
        lambda: lb.sweep_to(small_disk, case, FIELDS),
        lambda: lb.write_lesson(case, small_disk / "grid.nc", engine=__file__),
        lambda: lb.Report.save(SimpleNamespace(html="x" * 20_000), small_disk / "grid.nc"),
    ):
        with pytest.raises(lb.InvalidInput, match=r"No space left on device|other things"):
            write()
        assert sorted(small_disk.iterdir()) == before
        assert (small_disk / "grid.nc").read_bytes() == OLD
    (small_disk / "filler").unlink()
    lb.save_sweep(grid, small_disk / "grid.nc")
    assert lb.open_sweep(small_disk / "grid.nc").identical(grid)


def test_chunks_on_a_full_disk(tmp_path):
    case = lb.example_case(CASE)
    with no_file_beyond(4000), pytest.raises(lb.InvalidInput, match="File too large") as error:
        lb.sweep_to(tmp_path / "chunks", case, FIELDS, chunk=2)
    assert str(tmp_path / "chunks") in str(error.value)
    assert os.listdir(tmp_path / "chunks") == ["sweep.json"]
    assert lb.sweep_to(tmp_path / "chunks", case, FIELDS, chunk=2).sizes == lb.sweep(case, FIELDS).sizes


DIES = """
    import os, signal, sys
    import numpy as np
    import libblade as lb
    from libblade import _cli, _schema
    def die(*_):
        os.kill(os.getpid(), signal.SIGKILL)
    setattr(_schema.os, sys.argv[1], die)
    _cli.main(sys.argv[2:])
"""


@pytest.mark.parametrize("moment", ["fsync", "chmod", "replace"])
@pytest.mark.parametrize("name", ["case.json", "map.csv"])
def test_killed_in_the_middle_of_writing(moment, name, inputs):
    """Written but not on the disk, not yet with its mode, not yet in its place: the old file is whole each time."""
    path = inputs / name
    path.write_bytes(OLD)
    arguments = [sys.executable, "-c", textwrap.dedent(DIES), moment, *COMMANDS[name], str(path)]
    assert subprocess.run(arguments, check=False).returncode == -signal.SIGKILL
    assert path.read_bytes() == OLD
    assert main([*COMMANDS[name], str(path)]) == 0
    assert path.read_bytes() != OLD


def test_a_history_killed_while_it_is_kept_goes_on(tmp_path, inputs):
    """The file of the stretch before stays, and the life goes on from it to the same bits."""
    case, kept = lb.example_case(CASE), inputs / "kept.json"
    whole = lb.wear(case, "200 m", tier="facet")
    lb.wear(case, "200 m", save=kept, max_steps=3, on_failure="flag")
    before = kept.read_bytes()
    code = f"""
        import os, signal
        import libblade as lb
        from libblade import _schema
        _schema.os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
        lb.wear(lb.example_case({CASE!r}), "200 m", save={str(kept)!r}, resume={str(kept)!r})
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], check=False)
    assert done.returncode == -signal.SIGKILL
    assert kept.read_bytes() == before
    again = lb.wear(case, "200 m", resume=kept)
    assert again.dataset.drop_attrs().identical(whole.dataset.drop_attrs())
