"""Sweeps as netCDF files."""

from __future__ import annotations

import contextlib
import importlib
import io
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libblade._case import Case, _restore
from libblade._errors import refuse
from libblade._lazy import lazy
from libblade._schema import path_of, write_whole

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


def save_sweep(data: xr.Dataset, path: str | os.PathLike[str]) -> None:
    """Writes a sweep as netCDF 4, wholly or not at all. Needs h5netcdf: pip install "libblade[files]".

    Raises InvalidInput, naming the path, when the file cannot be written.
    """
    if not isinstance(data, xr.Dataset):
        raise refuse("data", type(data).__name__, "must be a dataset from libblade.sweep")
    target = _path(path)
    write_whole(target, netcdf(data), "path")


def netcdf(data: xr.Dataset) -> bytes:
    """The content of a netCDF 4 file."""
    h5netcdf = _h5netcdf()
    # In memory first: HDF5 brings the process down when the disk fills under it.
    content = io.BytesIO()
    store: Any = xr.backends.H5NetCDFStore(h5netcdf.File(content, "w"))
    data.dump_to_store(store)
    store.close()
    return content.getvalue()


def open_sweep(path: str | os.PathLike[str]) -> xr.Dataset:
    """A sweep from its netCDF file, wholly in memory and equal to what was saved; of a folder that ``sweep_to`` filled, one
    dataset whose values are read when they are asked for. Needs h5netcdf, for a folder dask too.

    Raises InvalidInput, naming the path, when it is no such file or folder, or the folder is not complete.
    """
    source = _path(path)
    _h5netcdf()
    if source.is_dir():
        from libblade._sweep_store import open_store  # noqa: PLC0415 -- which writes by this module

        return open_store(source)
    try:
        with open(source, "rb"):
            pass
    except OSError as error:
        raise refuse("path", str(path), f"cannot be read: {error.strerror}") from error
    try:
        with xr.open_dataset(source, engine="h5netcdf") as file:
            data = file.load()
    except Exception as error:  # xarray, h5netcdf and HDF5 each have their own
        raise refuse("path", str(path), f"cannot be read as netCDF: {error}") from error
    if "case" not in data.attrs or "status" not in data:
        raise refuse("path", str(path), "holds no sweep of libblade")
    data.encoding = {}
    for name in data.variables:
        data[name].encoding = {}
    return data


def case_of(data: xr.Dataset) -> Case:
    """The case that a sweep was made from."""
    with contextlib.suppress(AttributeError, KeyError):
        return _restore(str(data.attrs["case"]))
    raise refuse("data", type(data).__name__, 'must be a dataset from libblade.sweep, which states its "case"')


def _path(path: str | os.PathLike[str]) -> Path:
    return Path(os.path.realpath(path_of(path, "path")))


def _h5netcdf() -> Any:
    try:
        importlib.import_module("h5py")  # h5netcdf itself asks for it too late
        return importlib.import_module("h5netcdf")
    except ImportError as error:
        raise ImportError('netCDF files need h5netcdf: pip install "libblade[files]"') from error
