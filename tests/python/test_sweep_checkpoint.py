"""Checkpoints: killed, stopped, damaged, foreign, full disk. The result has the bits of an uninterrupted sweep."""

import concurrent.futures
import contextlib
import ctypes
import errno
import json
import os
import resource
import signal
import subprocess
import sys
import textwrap
import warnings

import numpy as np
import pytest
import xarray as xr

import libblade as lb
from libblade import _checkpoint, _schema, _sweep

FIELDS = {"setting.set_angle_deg": np.linspace(26.0, 36.0, 12), "setting.line_load": np.linspace(60.0, 180.0, 10)}


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def grid(case) -> xr.Dataset:
    return lb.sweep(case, FIELDS)


@pytest.fixture(autouse=True)
def short_blocks(monkeypatch):
    monkeypatch.setattr(_sweep, "BLOCK_SECONDS", 0.05)


@pytest.fixture
def begun(case, tmp_path):
    """A checkpoint with some of the points."""
    stop_after(case, tmp_path / "kept", 30)
    return tmp_path / "kept"


def stop_after(case, folder, points, **more):
    def stop(done, total):
        if done >= points:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        lb.sweep(case, FIELDS, checkpoint=folder, progress=stop, **more)


def first_told(case, folder, **more) -> int:
    """How many points were there at the start; the sweep is stopped at once."""
    seen = []

    def told(done, total):
        seen.append(done)

    lb.sweep(case, FIELDS, checkpoint=folder, progress=told, **more)
    return seen[0]


def test_a_checkpoint_changes_no_bit_and_is_read_back_whole(case, grid, tmp_path, monkeypatch):
    folder = tmp_path / "kept"
    assert lb.sweep(case, FIELDS, checkpoint=folder, threads=2).identical(grid)
    assert len(list(folder.glob("points_*.npz"))) > 2
    monkeypatch.setattr(_sweep._Job, "solve", None)  # nothing is solved again
    assert lb.sweep(case, FIELDS, checkpoint=str(folder)).identical(grid)


@pytest.mark.parametrize("threads", [1, 3])
def test_stopped_and_gone_on_with(case, grid, begun, threads):
    assert first_told(case, begun, threads=threads) >= 30
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)


def test_an_executor_goes_on_where_threads_stopped(case, grid, begun):
    with concurrent.futures.ThreadPoolExecutor(2) as executor:
        assert first_told(case, begun, executor=executor) >= 30
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)


def test_killed_and_gone_on_with(case, grid, tmp_path):
    folder = tmp_path / "kept"
    code = f"""
        import numpy as np, libblade as lb
        from libblade import _sweep
        _sweep.BLOCK_SECONDS = 0.05
        fields = {{"setting.set_angle_deg": np.linspace(26.0, 36.0, 12), "setting.line_load": np.linspace(60.0, 180.0, 10)}}
        told = lambda done, total: print(done, flush=True)
        lb.sweep(lb.example_case("folding_carton_water"), fields, checkpoint={str(folder)!r}, progress=told, threads=1)
    """
    with subprocess.Popen([sys.executable, "-c", textwrap.dedent(code)], stdout=subprocess.PIPE, text=True) as process:
        done = 0
        while done < 40:
            done = int(process.stdout.readline())
        os.kill(process.pid, signal.SIGKILL)
        assert process.wait(60) == -signal.SIGKILL
    assert 0 < first_told(case, folder) < 120
    assert lb.sweep(case, FIELDS, checkpoint=folder).identical(grid)


def test_reasons_of_failed_points_survive(case, tmp_path):
    with pytest.warns(lb.LibbladeWarning):
        thin = case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"})
    loads = {"setting.line_load": [20.0, 300.0, 320.0]}
    straight = lb.sweep(thin, loads)
    assert lb.sweep(thin, loads, checkpoint=tmp_path / "kept").identical(straight)
    assert lb.sweep(thin, loads, checkpoint=tmp_path / "kept").identical(straight)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"case": {"setting.surface_speed": "4 m/s"}}, r"setting\.surface_speed is 5\.0 there and 4\.0 here \(got"),
        (
            {"fields": {"setting.line_load": [60.0, 90.0]}},
            r"the axis setting\.line_load is 10 values from 60 to 180 there and 2 values from 60 to 90 here",
        ),
        ({"fields": {"setting.friction": [0.1, 0.2]}}, "the axis setting.friction is absent there"),
        ({"turned": True}, "order"),
        ({"options": {"start": "riding"}}, r"options\.riding is false there and true here"),
        ({"options": {"mesh": 0}}, r"options\.mesh is 1 there and 0 here"),
        ({"options": {"outputs": ["film_on_lands"]}}, r"options\.step_response"),
        ({"version": "9.9.9"}, "libblade_version"),
    ],
)
def test_another_sweep_is_refused_by_what_differs(case, begun, change, told, monkeypatch):
    other = case.replace(change.get("case", {}))
    fields = {**FIELDS, **change.get("fields", {})}
    if change.get("turned"):
        fields = dict(reversed(fields.items()))
    if "version" in change:
        monkeypatch.setattr(_checkpoint, "_core", type("Core", (), {"version": change["version"]}))
    before = sorted(file.name for file in begun.iterdir())
    with pytest.raises(lb.InvalidInput, match=told) as error:
        lb.sweep(other, fields, checkpoint=begun, **change.get("options", {}))
    assert str(begun) in str(error.value)
    assert sorted(file.name for file in begun.iterdir()) == before


def test_name_and_note_may_differ(case, begun):
    renamed = lb.Case.from_json(json.dumps({**case.to_dict(), "name": "renamed", "note": "another note"}))
    assert first_told(renamed, begun) >= 30


def test_a_newer_checkpoint_is_refused(case, begun):
    manifest = begun / "sweep.json"
    manifest.write_text(json.dumps({**json.loads(manifest.read_text()), "format_version": 2}))
    with pytest.raises(lb.InvalidInput, match=r"newer libblade \(format 2; this one reads 1\)") as error:
        lb.sweep(case, FIELDS, checkpoint=begun)
    assert str(begun) in str(error.value)


@pytest.mark.parametrize("damage", ["half", "empty", "noise", "foreign", "shifted"])
def test_a_damaged_block_is_solved_again_with_a_warning(case, grid, begun, damage):
    blocks = sorted(begun.glob("points_*.npz"))
    content = blocks[0].read_bytes()
    if damage == "foreign":
        arrays = {**np.load(blocks[0]), "sweep": np.array("of another")}
        np.savez(blocks[0], **arrays)
    elif damage == "shifted":
        arrays = {**np.load(blocks[0]), "first": np.array(119)}
        np.savez(blocks[0], **arrays)
    else:
        blocks[0].write_bytes({"half": content[: len(content) // 2], "empty": b"", "noise": b"\7" * 500}[damage])
    with pytest.warns(lb.LibbladeWarning, match=blocks[0].name):
        assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)  # and without a warning now


def test_a_damaged_file_is_told_of_once(case, grid, begun):
    odd = begun / "points_000000003_000000004.npz"
    odd.write_bytes(b"PK")
    with pytest.warns(lb.LibbladeWarning, match=odd.name):
        lb.sweep(case, FIELDS, checkpoint=begun)
    assert not odd.exists()
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)


def test_any_changed_byte_is_seen_or_harmless(case, begun):
    """Every 97th byte turned: read as damaged, or read with the same numbers."""
    block = sorted(begun.glob("points_*.npz"))[0]
    content = block.read_bytes()
    sweep = json.loads((begun / "sweep.json").read_text())
    kept = _checkpoint.Checkpoint(begun, {k: v for k, v in sweep.items() if not k.startswith("format")}, 120)
    first, columns = kept._read(content)
    damaged = 0
    for at in range(0, len(content), 97):
        broken = bytearray(content)
        broken[at] ^= 0x55
        try:
            again = kept._read(bytes(broken))
        except _checkpoint._DAMAGED:
            damaged += 1
            continue
        assert again[0] == first
        for name, column in columns.items():
            assert [str(v) for v in again[1][name]] == [str(v) for v in column], (at, name)
    assert damaged > 20


def test_a_damaged_manifest_is_refused(case, begun):
    (begun / "sweep.json").write_text('{"format": "libb')
    with pytest.raises(lb.InvalidInput, match=r"damaged sweep\.json"):
        lb.sweep(case, FIELDS, checkpoint=begun)


def test_a_process_that_died_at_the_first_file_leaves_no_trap(case, tmp_path):
    folder = tmp_path / "kept"
    folder.mkdir()
    (folder / ".sweep.json.x1y2").write_text("{")
    lb.sweep(case, {"setting.line_load": [100.0]}, checkpoint=folder)


def test_old_halves_are_cleared_away(case, begun):
    old, young = begun / ".points_1.npz.aa", begun / ".points_2.npz.bb"
    old.touch(), young.touch()
    os.utime(old, (0, 0))
    lb.sweep(case, FIELDS, checkpoint=begun)
    assert not old.exists()
    assert young.exists()


@pytest.mark.parametrize("what", ["file", "other", "nowhere", "number", "sweep.json of others"])
def test_a_place_that_cannot_be_one_is_refused(case, tmp_path, what):
    place = tmp_path / "place"
    if what == "file":
        place.write_text("a letter")
    elif what == "other":
        place.mkdir()
        (place / "letter.txt").write_text("dear")
    elif what == "sweep.json of others":
        place.mkdir()
        (place / "sweep.json").write_text("{}")
    elif what == "nowhere":
        place = tmp_path / "no" / "where"
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(lb.InvalidInput) as error:
        lb.sweep(case, FIELDS, checkpoint=7 if what == "number" else place)
    assert error.value.problems[0].path == "checkpoint"
    assert what == "number" or str(place) in str(error.value)
    assert sorted(tmp_path.rglob("*")) == before


def test_a_full_disk_is_told_and_what_was_kept_stays_good(case, grid, begun, monkeypatch):
    """The kernel itself refuses: no file may grow beyond 2 kB."""
    before = {file.name: file.read_bytes() for file in begun.iterdir()}
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, hard))
    try:
        with pytest.raises(lb.InvalidInput, match="cannot be written: File too large") as error:
            lb.sweep(case, FIELDS, checkpoint=begun)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert str(begun) in str(error.value)
    assert {file.name: file.read_bytes() for file in begun.iterdir()} == before
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_disk_that_cannot_be_written_is_told_before_the_first_solve(case, tmp_path, monkeypatch, code):
    def failing(*args, **more):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(_schema.os, "fsync", failing)
    with pytest.raises(lb.InvalidInput, match=os.strerror(code)):
        lb.sweep(case, FIELDS, checkpoint=tmp_path / "kept")
    assert list((tmp_path / "kept").iterdir()) == []


@contextlib.contextmanager
def like_anybody():
    """Root may write anywhere by two capabilities of Linux, which a thread can lay down and take up again."""
    if os.geteuid() != 0:
        yield
        return
    libc = ctypes.CDLL(None)
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)  # third version of the call; this thread
    sets = (ctypes.c_uint32 * 6)()  # effective, permitted, inheritable; twice 32 bits
    assert libc.capget(header, sets) == 0
    before = sets[0]
    sets[0] &= ~0b110  # CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH
    assert libc.capset(header, sets) == 0
    try:
        yield
    finally:
        sets[0] = before
        assert libc.capset(header, sets) == 0


def test_a_folder_without_leave_to_write_is_refused_before_the_first_solve(case, grid, begun, monkeypatch):
    before = sorted(file.name for file in begun.iterdir())
    begun.chmod(0o500)
    try:
        with monkeypatch.context() as patch, like_anybody():
            patch.setattr(_sweep._Job, "solve", None)
            with pytest.raises(lb.InvalidInput, match="cannot be written: Permission denied") as error:
                lb.sweep(case, FIELDS, checkpoint=begun)
    finally:
        begun.chmod(0o700)
    assert str(begun) in str(error.value)
    assert sorted(file.name for file in begun.iterdir()) == before
    assert lb.sweep(case, FIELDS, checkpoint=begun).identical(grid)


def test_a_folder_cannot_be_made_where_none_may_be(case, tmp_path):
    tmp_path.chmod(0o500)
    try:
        with like_anybody(), pytest.raises(lb.InvalidInput, match="cannot be used: Permission denied"):
            lb.sweep(case, FIELDS, checkpoint=tmp_path / "kept")
    finally:
        tmp_path.chmod(0o700)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("later_first", [False, True])
def test_a_failure_that_ends_the_sweep_is_the_first_of_the_grid(case, tmp_path, threads, later_first):
    """Also when the checkpoint holds a later one already."""
    with pytest.warns(lb.LibbladeWarning):
        thin = case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"})
    loads = {"setting.line_load": [20.0, 300.0, 22.0, 310.0, 24.0]}
    folder = tmp_path / "kept"
    if later_first:
        lb.sweep(thin, loads, checkpoint=folder)
        (block,) = folder.glob("points_*.npz")
        arrays = dict(np.load(block))
        named = ("sweep", "first")
        tail = {name: values if name in named else values[2:] for name, values in arrays.items()}
        np.savez(folder / "points_000000002_000000005.npz", **{**tail, "first": np.array(2)})
        block.unlink()
    with pytest.raises(lb.NotSolved, match=r"point \[1\] is not solved, at line_load = 300 N/m: lying_flat"):
        lb.sweep(thin, loads, checkpoint=folder, threads=threads, on_failure="raise")
    assert lb.sweep(thin, loads, checkpoint=folder).identical(lb.sweep(thin, loads))


def test_warnings_are_rare(case, grid, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        lb.sweep(case, FIELDS, checkpoint=tmp_path / "kept")
