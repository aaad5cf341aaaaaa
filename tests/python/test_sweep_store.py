"""Sweeps larger than memory: chunks in a folder equal the plain sweep, memory stays flat, a killed process goes on."""

import concurrent.futures
import os
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
import xarray as xr

import libblade as lb

pytest.importorskip("h5netcdf")
pytest.importorskip("dask")

FIELDS = {
    "setting.line_load": [120.0, 60.0, 180.0],
    "setting.surface_speed": np.linspace(1.0, 8.0, 5),
    "ink.viscosity": [0.01, 0.03],
}
WANTED = ["film_on_lands", "regime", "validity", "bedded_stable", "effective_angle"]


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


def files(folder):
    return sorted(folder.glob("chunk_*.nc"))


@pytest.mark.parametrize(("chunk", "count"), [(1000, 1), (10, 3), (20, 2), (4, 9), (7, 6)])
def test_chunks_joined_are_the_plain_sweep_bit_for_bit(case, tmp_path, chunk, count):
    """An axis out of order stays so; chunks cut the first axis, the second or every point."""
    plain = lb.sweep(case, FIELDS, outputs=WANTED)
    lazy = lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=chunk)
    assert len(files(tmp_path / "s")) == count
    assert lazy.chunks  # dask's: nothing is read yet
    assert lazy.attrs == plain.attrs
    for name in plain.variables:
        xr.testing.assert_identical(lazy[name].load(), plain[name])
        assert lazy[name].dtype == plain[name].dtype or name == "reason"
    lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=chunk)
    xr.testing.assert_identical(lb.open_sweep(tmp_path / "s").load(), lazy.load())


def test_points_that_fail_keep_their_reasons(case, tmp_path):
    trailing = case.replace({"setting.orientation": "trailing", "setting.set_angle": "15 deg"})
    fields = {"setting.line_load": [100.0, 2900.0, 110.0]}
    with pytest.warns(lb.LibbladeWarning, match="line_load"):
        plain = lb.sweep(trailing, fields)
    with pytest.warns(lb.LibbladeWarning, match="line_load"):
        lazy = lb.sweep_to(tmp_path / "s", trailing, fields, chunk=1)
    assert lazy["reason"].values.tolist() == plain["reason"].values.tolist()
    assert plain["reason"].values[1]
    with (
        pytest.warns(lb.LibbladeWarning),
        pytest.raises(lb.NotSolved, match=r"point \[1\] is not solved, at line_load = 2900"),
    ):
        lb.sweep_to(tmp_path / "r", trailing, fields, chunk=1, on_failure="raise")
    assert len(files(tmp_path / "r")) == 1  # what went well before


def test_an_executor_solves_the_same(case, tmp_path):
    plain = lb.sweep(case, FIELDS, outputs=WANTED)
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        xr.testing.assert_identical(
            lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=8, executor=pool).load(), plain
        )


def test_dask_solves_the_same(case, tmp_path):
    distributed = pytest.importorskip("distributed")
    plain = lb.sweep(case, FIELDS, outputs=WANTED)
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        lazy = lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=12, executor=client.get_executor())
        xr.testing.assert_identical(lazy.load(), plain)


def test_a_damaged_chunk_is_solved_again(case, tmp_path):
    folder = tmp_path / "s"
    whole = lb.sweep_to(folder, case, FIELDS, outputs=WANTED, chunk=10).load()
    broken = files(folder)[1]
    content = bytearray(broken.read_bytes())
    content[len(content) // 2] ^= 1  # one bit, which netCDF itself does not see
    broken.write_bytes(content)
    kept = files(folder)[0].stat().st_mtime_ns
    with pytest.warns(lb.LibbladeWarning, match="is damaged .*solved again"):
        again = lb.sweep_to(folder, case, FIELDS, outputs=WANTED, chunk=10)
    xr.testing.assert_identical(again.load(), whole)
    assert files(folder)[0].stat().st_mtime_ns == kept
    files(folder)[2].unlink()
    with pytest.raises(lb.InvalidInput, match="not complete: 1 of 3 chunks"):
        lb.open_sweep(folder)
    files(folder)[1].write_bytes(b"half")
    with pytest.warns(lb.LibbladeWarning, match="is damaged"):
        xr.testing.assert_identical(lb.sweep_to(folder, case, FIELDS, outputs=WANTED, chunk=10).load(), whole)
    files(folder)[1].write_bytes(b"half")
    with pytest.raises(lb.InvalidInput, match="cannot be read, sweep again"):
        lb.open_sweep(folder)


def test_the_folder_of_another_sweep_is_refused(case, tmp_path):
    lb.sweep_to(tmp_path / "s", case, {"setting.line_load": [80.0, 90.0]}, chunk=1)
    for change, told in (
        ({"chunk": 2}, "chunk is 1 there and 2 here"),
        ({"mesh": 0}, "mesh is 1 there"),
        ({"outputs": WANTED}, "outputs"),
    ):
        with pytest.raises(lb.InvalidInput, match=told):
            lb.sweep_to(tmp_path / "s", case, {"setting.line_load": [80.0, 90.0]}, **{"chunk": 1, **change})
    (tmp_path / "o").mkdir()
    (tmp_path / "o" / "letter.txt").write_text("hello")
    with pytest.raises(lb.InvalidInput, match="other things"):
        lb.sweep_to(tmp_path / "o", case, {"setting.line_load": [80.0]})
    with pytest.raises(lb.InvalidInput, match="holds no sweep"):
        lb.open_sweep(tmp_path / "o")
    lb.sweep(case, {"setting.line_load": [80.0]}, checkpoint=tmp_path / "c")
    with pytest.raises(lb.InvalidInput, match="other things"):
        lb.sweep_to(tmp_path / "c", case, {"setting.line_load": [80.0]})


@pytest.mark.parametrize("chunk", [0, -1, 2.5, True, "10"])
def test_a_bad_chunk_is_refused(case, tmp_path, chunk):
    with pytest.raises(lb.InvalidInput, match="whole number of points"):
        lb.sweep_to(tmp_path / "s", case, FIELDS, chunk=chunk)
    assert not (tmp_path / "s").exists()


def test_progress_counts_the_whole(case, tmp_path):
    told = []
    lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=10, progress=lambda *at: told.append(at))
    assert told[-1] == (30, 30)
    assert told == sorted(told)
    files(tmp_path / "s")[0].unlink()
    told.clear()
    lb.sweep_to(tmp_path / "s", case, FIELDS, outputs=WANTED, chunk=10, progress=lambda *at: told.append(at))
    assert told[0] == (20, 30)
    assert told[-1] == (30, 30)


SCRIPT = """
import sys, resource, numpy as np, libblade as lb
case = lb.example_case("folding_carton_water")
rows = int(sys.argv[2])
lb.sweep_to(sys.argv[1], case, {"setting.surface_speed": np.linspace(1, 8, rows), "setting.line_load": np.linspace(60, 200, 100)},
            outputs=["film_on_lands"], chunk=int(sys.argv[3]), mesh=0)
peak = [line for line in open("/proc/self/status") if line.startswith("VmHWM")]
print(peak[0].split()[1])
"""


def test_a_killed_process_goes_on(case, tmp_path):
    folder, command = tmp_path / "s", [sys.executable, "-c", SCRIPT, str(tmp_path / "s"), "40", "200"]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    while not files(folder) and child.poll() is None:
        time.sleep(0.01)
    child.send_signal(signal.SIGKILL)
    child.wait()
    before = {file.name: file.stat().st_mtime_ns for file in files(folder)}
    assert 0 < len(before) < 20
    fields = {"setting.surface_speed": np.linspace(1, 8, 40), "setting.line_load": np.linspace(60, 200, 100)}
    whole = lb.sweep_to(folder, case, fields, outputs=["film_on_lands"], chunk=200, mesh=0)
    assert before.items() <= {file.name: file.stat().st_mtime_ns for file in files(folder)}.items()
    xr.testing.assert_identical(whole.load(), lb.sweep(case, fields, outputs=["film_on_lands"], mesh=0))


@pytest.mark.slow
@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="reads the peak from Linux")
def test_memory_does_not_grow_with_the_points(tmp_path):
    """20 thousand points and ten times as many: the peak of the process, which holds a chunk of 10 thousand."""
    peaks = []
    for rows in ("200", "2000"):
        command = [sys.executable, "-c", SCRIPT, str(tmp_path / rows), rows, "10000"]
        peaks.append(int(subprocess.run(command, check=True, capture_output=True, text=True).stdout))
    print(peaks)
    # kB; the columns of the 180 thousand points more would take 60 MB and the words of each.
    assert peaks[1] < peaks[0] + 20e3
