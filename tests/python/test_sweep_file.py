"""Sweeps through netCDF files."""

import errno
import os
import resource
import subprocess
import sys
import textwrap

import numpy as np
import pytest
import xarray as xr

import libblade as lb
from libblade import _schema

pytest.importorskip("h5netcdf")


@pytest.fixture(scope="module")
def thin() -> lb.Case:
    with pytest.warns(lb.LibbladeWarning):
        return lb.example_case("folding_carton_water").replace(
            {"blade.free_length": "30 mm", "blade.thickness": "0.1 mm"}
        )


@pytest.fixture(scope="module")
def grid(thin) -> xr.Dataset:
    """With solved and failed points, so with reasons and NaN."""
    return lb.sweep(thin, {"setting.set_angle_deg": [28.0, 30.0], "setting.line_load": [20.0, 300.0]})


def test_a_sweep_comes_back_equal(grid, tmp_path):
    lb.save_sweep(grid, tmp_path / "grid.nc")
    again = lb.open_sweep(str(tmp_path / "grid.nc"))
    assert again.identical(grid)
    assert again.bedded_stable.dtype == bool
    assert again.status.dtype == np.int8
    assert np.array_equal(again.status.attrs["flag_values"], grid.status.attrs["flag_values"])
    assert str(again.reason.values[0, 1]) == str(grid.reason.values[0, 1]) != ""
    assert again.status.attrs["flag_meanings"].split()[int(again.status[0, 1])] == "lying_flat"
    assert sorted(os.listdir(tmp_path)) == ["grid.nc"]
    lb.save_sweep(again, tmp_path / "grid.nc")  # over itself
    assert lb.open_sweep(tmp_path / "grid.nc").identical(grid)


def test_xarray_writes_and_reads_it_too(grid, tmp_path):
    grid.to_netcdf(tmp_path / "plain.nc", engine="h5netcdf")
    assert lb.open_sweep(tmp_path / "plain.nc").identical(grid)
    lb.save_sweep(grid, tmp_path / "ours.nc")
    with xr.open_dataset(tmp_path / "ours.nc", engine="h5netcdf") as plain:
        assert plain.identical(grid)


def test_the_case_comes_back_equal(thin, grid, tmp_path):
    assert lb.case_of(grid) == thin
    lb.save_sweep(grid, tmp_path / "grid.nc")
    assert lb.case_of(lb.open_sweep(tmp_path / "grid.nc")) == thin


@pytest.mark.parametrize("data", [None, xr.Dataset(), "grid.nc"])
def test_what_has_no_case_is_refused(data):
    with pytest.raises(lb.InvalidInput, match="states its"):
        lb.case_of(data)


@pytest.mark.parametrize("what", ["missing", "noise", "half", "folder", "other"])
def test_what_is_no_sweep_is_refused_by_name(grid, tmp_path, what):
    path = tmp_path / "grid.nc"
    if what == "noise":
        path.write_bytes(b"\7" * 5000)
    elif what == "half":
        lb.save_sweep(grid, path)
        path.write_bytes(path.read_bytes()[:9000])
    elif what == "folder":
        path.mkdir()
    elif what == "other":
        xr.Dataset({"a": ("x", [1.0])}).to_netcdf(path, engine="h5netcdf")
    with pytest.raises(lb.InvalidInput) as error:
        lb.open_sweep(path)
    assert str(path) in str(error.value)


def test_a_full_disk_leaves_the_old_file(grid, tmp_path):
    path = tmp_path / "grid.nc"
    lb.save_sweep(grid, path)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4000, hard))
    try:
        with pytest.raises(lb.InvalidInput, match="cannot be written: File too large") as error:
            lb.save_sweep(grid.isel(line_load=[0]), path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert str(path) in str(error.value)
    assert sorted(os.listdir(tmp_path)) == ["grid.nc"]
    assert lb.open_sweep(path).identical(grid)


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_other_refusals_of_the_disk_leave_nothing(grid, tmp_path, monkeypatch, code):
    def failing(*args):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(_schema.os, "replace", failing)
    with pytest.raises(lb.InvalidInput, match=os.strerror(code)):
        lb.save_sweep(grid, tmp_path / "grid.nc")
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("path", ["", 7, "no/where/grid.nc"])
def test_bad_places_are_refused(grid, tmp_path, monkeypatch, path):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(lb.InvalidInput, match="path"):
        lb.save_sweep(grid, path)
    with pytest.raises(lb.InvalidInput, match="data"):
        lb.save_sweep({"a": 1}, "grid.nc")
    assert os.listdir(tmp_path) == []


def test_a_missing_extra_names_the_command():
    code = """
        import sys
        sys.modules["h5netcdf"] = None
        import xarray as xr, libblade as lb
        for use in (lambda: lb.save_sweep(xr.Dataset(), "x.nc"), lambda: lb.open_sweep("x.nc")):
            try:
                use()
            except ImportError as error:
                print(error)
    """
    done = subprocess.run([sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True, check=True)
    assert done.stdout.count('pip install "libblade[files]"') == 2
