"""Sweeps larger than memory: a folder of netCDF files, one for each chunk of the grid, opened lazily as one dataset.

The folder holds ``sweep.json``, which says what sweep it is, and ``chunk_<first>_<behind last>_<digest>.nc``, each wholly or not
at all; the digest is that of its content.
"""

from __future__ import annotations

import concurrent.futures
import hashlib
import importlib
import json
import logging
import math
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._case import Case
from libblade._checkpoint import SweepFolder
from libblade._errors import one_of, refuse
from libblade._lazy import lazy
from libblade._progress import Progress, Report, reporting
from libblade._schema import write_whole
from libblade._sweep import (
    Axes,
    Plan,
    _check_run,
    _dimension_names,
    _failed,
    _failure,
    _Grid,
    _log_end,
    _run_here,
    _run_there,
    _warn_unusual,
    plan_sweep,
)
from libblade._sweep_file import _h5netcdf, netcdf

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

FORMAT = "libblade sweep in chunks"
CHUNK = 50_000

log = logging.getLogger("libblade")


class Store(SweepFolder):
    """Raises InvalidInput, naming the folder, when it holds anything else or cannot be used."""

    argument = "folder"
    format = FORMAT
    parts = "chunk_*.nc"

    def done(self) -> set[tuple[int, int]]:
        """First point and behind the last of every chunk that is whole. A damaged file is removed with a warning."""
        found = set()
        for file in sorted(self.folder.glob(self.parts)):
            if _digest(self._content(file)) == file.stem.rpartition("_")[2]:
                found.add(_ends(file))
            else:
                self._discard(file, "not what was written")
        return found

    def write(self, first: int, behind: int, content: bytes) -> None:
        write_whole(self.folder / f"chunk_{first:012d}_{behind:012d}_{_digest(content)}.nc", content, self.argument)


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def _ends(file: Path) -> tuple[int, int]:
    first, behind = file.stem.split("_")[1:3]
    return int(first), int(behind)


def _pieces(shape: Sequence[int], chunk: int) -> list[list[slice]]:
    """Slices along every axis: the last axes whole, one in pieces, those before it value by value. Their product, in the order of
    the grid, are its chunks, each a stretch of points."""
    inner, cut = 1, len(shape)
    while cut > 0 and inner * shape[cut - 1] <= chunk:
        cut -= 1
        inner *= shape[cut]
    size = max(1, chunk // inner)
    steps = [1] * (cut - 1) + [size] * (cut > 0) + list(shape[cut:])
    return [[slice(k, min(k + step, n)) for k in range(0, n, step)] for n, step in zip(shape, steps, strict=True)]


def _chunks(axes: Axes, chunk: int) -> Iterator[tuple[int, Axes]]:
    """First point and axes of every chunk."""
    pieces = _pieces([values.size for _, values in axes], chunk)
    first = 0
    for place in np.ndindex(*map(len, pieces)):
        part = [(field, values[pieces[d][place[d]]]) for d, (field, values) in enumerate(axes)]
        yield first, part
        first += math.prod(values.size for _, values in part)


def sweep_to(
    folder: str | os.PathLike[str],
    case: Case,
    fields: Mapping[str, Any],
    *,
    chunk: int = CHUNK,
    threads: int = 0,
    progress: Progress = False,
    outputs: Sequence[str] | None = None,
    on_failure: str = "flag",
    start: str = "resting",
    mesh: int = 1,
    executor: concurrent.futures.Executor | None = None,
) -> xr.Dataset:
    """A sweep of any size into a folder, in memory that one chunk of at most ``chunk`` points needs.

    ``fields`` and the options are those of ``sweep``, and the numbers have the same bits. Every chunk is a netCDF file of its own.
    The same call goes on from there, whatever ended the last one: chunks already there are checked against the digest in their
    names, damaged ones solved again with a warning; one chunk is what a crash costs. With an ``executor`` each chunk is spread
    over it. With ``on_failure="raise"`` the sweep ends with the first chunk that holds a point not solved, NotSolved names the
    point, and the chunks before stay.

    Returns ``open_sweep(folder)``: one dataset, whose values are read when they are asked for.

    Raises InvalidInput, before any solve, on a bad path, value or option, a folder that holds another sweep, anything else or
    cannot be written. Needs h5netcdf and dask: pip install "libblade[files,scale]".
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    _check_run(threads, mesh, executor, False)
    if isinstance(chunk, bool) or not isinstance(chunk, int) or chunk < 1:
        raise refuse("chunk", chunk, "must be a whole number of points, at least 1")
    _h5netcdf()
    _dask()
    plan = plan_sweep(case, fields, outputs, start, mesh)
    _warn_unusual(case, plan.axes)
    total = plan.job.total
    about = {**plan.description(), "outputs": sorted(plan.wanted), "chunk": chunk, "start": start}
    store = Store(folder, {**about, "dimensions": _dimension_names(plan.axes)})
    there = store.done()
    before = sum(behind - first for first, behind in there)
    log.info("sweep of %d points into %s: %d are there", total, store.folder, before)
    with reporting(progress) as report:
        if report is not None and there:
            report(before, total)
        for first, axes in _chunks(plan.axes, chunk):
            part = replace(plan, axes=axes)
            behind = first + part.job.total
            if (first, behind) not in there:
                data = _solve(part, threads, executor, _later(report, before, total))
                failed = np.flatnonzero(_failed(data["status"].values.ravel()))
                if on_failure == "raise" and failed.size:
                    raise _failure(data, int(failed[0]), plan.axes)
                store.write(first, behind, netcdf(data))
                before += behind - first
    return open_store(store.folder)


def _later(report: Report | None, before: int, total: int) -> Report | None:
    """Tells of the whole sweep what is told of a chunk."""
    return None if report is None else lambda done, _: report(before + done, total)


def _solve(part: Plan, threads: int, executor: concurrent.futures.Executor | None, report: Report | None) -> xr.Dataset:
    began = time.monotonic()
    grid = _Grid(part.job.total, stop_at_failure=False)
    if executor is None:
        _run_here(part.job, grid, threads, report)
    else:
        _run_there(part.job, grid, executor, report)
    data = part.dataset(grid.whole())
    data["reason"] = data["reason"].astype(object)  # of any length, since chunks differ in their longest
    _log_end(data, time.monotonic() - began)
    return data


def open_store(folder: Path) -> xr.Dataset:
    """A sweep in chunks as one lazy dataset. Raises InvalidInput when it is none, is not complete or a file cannot be opened."""
    _h5netcdf()
    _dask()
    try:
        about = json.loads((folder / "sweep.json").read_bytes())
        if about["format"] != FORMAT:
            raise ValueError("another format")
        shape = [len(about["axes"][path]) for path in about["order"]]
        dims, pieces = list(about["dimensions"]), _pieces(shape, about["chunk"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise refuse("path", str(folder), f"holds no sweep of libblade: {error}") from error
    files = {_ends(file)[0]: file for file in sorted(folder.glob(Store.parts))}
    wanted, first = [], 0
    for place in np.ndindex(*map(len, pieces)):
        wanted.append(files.get(first))
        first += math.prod(pieces[d][k].stop - pieces[d][k].start for d, k in enumerate(place))
    missing = sum(file is None for file in wanted)
    if missing:
        raise refuse(
            "path", str(folder), f"is not complete: {missing} of {len(wanted)} chunks are missing; sweep again"
        )
    # Nested lists over the axes that are cut: files are joined by their place, since axes need not be in order.
    cut = [d for d, along in enumerate(pieces) if len(along) > 1]
    nested: Any = np.array(wanted, dtype=object).reshape([len(pieces[d]) for d in cut]).tolist() if cut else [wanted[0]]
    try:
        return xr.open_mfdataset(
            nested,
            engine="h5netcdf",
            combine="nested",
            concat_dim=[dims[d] for d in cut] or [dims[0]],
            combine_attrs="override",
            data_vars="minimal",
            coords="minimal",
            compat="override",
            join="exact",
        )
    except Exception as error:  # xarray, h5netcdf and HDF5 each have their own
        raise refuse("path", str(folder), f"has a file that cannot be read, sweep again: {error}") from error


def _dask() -> None:
    try:
        importlib.import_module("dask.array")
    except ImportError as error:
        raise ImportError('sweeps in chunks need dask: pip install "libblade[scale]"') from error
