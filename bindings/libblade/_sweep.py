"""Many operating points: a grid over any fields, as one xarray dataset."""

from __future__ import annotations

import concurrent.futures
import difflib
import json
import logging
import math
import os
import time
import warnings
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case, _restore, require_case
from libblade._checkpoint import Checkpoint, description
from libblade._errors import InvalidInput, LibbladeWarning, NotSolved, one_of, refuse
from libblade._fields import Field
from libblade._lazy import lazy
from libblade._point import BRANCHES, OUTPUTS, REGIMES, STATUSES, VALIDITY
from libblade._progress import Progress, Report, reporting
from libblade._units import Floats, field_values, gather, resolve

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


_SWITCHES = ("bedded_stable", "other_branch_exists")
FLAGS = ("regime", "branch", *_SWITCHES, "validity")
ALWAYS = ("status", "reason")
_CHOICES = {"regime": REGIMES, "branch": BRANCHES, "status": tuple(STATUSES)}
_LONG_NAMES = {
    "regime": "what carries the load",
    "branch": "which of the possible states",
    "status": "how the solve ended",
    "bedded_stable": "whether the parallel bedded state is where the blade stays",
    "other_branch_exists": "whether a second state exists at the same setting",
    "validity": "laws that left their range",
    "reason": "why the point is not solved",
}

log = logging.getLogger("libblade")
log.addHandler(logging.NullHandler())

BLOCK_SECONDS = 2.0  # what a crash can cost
TOLD = 5  # failed points in the log
STOPPED = "not reached: the sweep was stopped before"

Columns = dict[str, Any]
Axes = list[tuple[Field, Floats]]


def sweep(
    case: Case,
    fields: Mapping[str, Any],
    *,
    threads: int = 0,
    progress: Progress = False,
    outputs: Sequence[str] | None = None,
    on_failure: str = "flag",
    start: str = "resting",
    mesh: int = 1,
    executor: concurrent.futures.Executor | None = None,
    checkpoint: str | os.PathLike[str] | None = None,
    partial: bool = False,
) -> xr.Dataset:
    """Solves the full grid over the given fields.

    ``fields`` maps dotted paths to values: SI numbers, text with units, quantities, or a name that carries the unit
    (``{"setting.set_angle_deg": np.linspace(24, 40, 65)}``). A bare number for an angle is refused: radians are stated too, by
    ``set_angle_rad`` or by units. ``threads=0`` uses every core; any number gives the same bits. ``progress`` is True for a
    bar (tqdm, when installed, else a line on standard error), or a function of (done, total). ``outputs`` names the variables
    wanted, which leaves out solves that are not needed. With an ``executor`` (of ``concurrent.futures``, or Dask's
    ``client.get_executor()``) stretches of the grid are spread over it instead of threads, with the same bits.

    ``checkpoint`` is a folder in which what is solved is kept from time to time: the same call goes on from there, whatever
    ended the last one, and the result has the same bits. A checkpoint of another sweep is refused, a damaged file in it
    solved again with a warning.

    Returns a dataset whose dimensions are the last words of the paths. Numbers are SI with ``units``, ``long_name`` and
    ``display_units``; regime, branch and status are integer flags. A point that is not solved is NaN with its status and
    reason. With ``on_failure="raise"`` the sweep ends soon after the first such point is known (within seconds) and raises
    NotSolved, which names the first one in the order of the grid, whatever the threads or the executor; ``result`` is then what
    is solved. A swept field that bears the name of an output keeps it; the output is then called ``<name>_result``.

    Ctrl-C stops the threads, then raises KeyboardInterrupt; with ``partial=True`` what is solved is returned, the other
    points with status not_run. In an executor, stretches already begun run to their end unused.

    The logger "libblade" tells start and end (INFO) and the first points that failed (WARNING).

    Raises InvalidInput before any solve when a path, a value or an option is bad, and when the checkpoint cannot be written.
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    _check_run(threads, mesh, executor, partial)
    plan = plan_sweep(case, fields, outputs, start, mesh)
    axes, job = plan.axes, plan.job
    _warn_unusual(case, axes)
    log.info("sweep of %d points: %s", job.total, " x ".join(f"{v.size} {field.path}" for field, v in axes))
    began = time.monotonic()
    grid = _Grid(job.total, stop_at_failure=on_failure == "raise")
    with reporting(progress) as report:
        if checkpoint is not None:
            grid.keep(Checkpoint(checkpoint, plan.description(), job.total))
            log.info("%d points are in the checkpoint %s", grid.done, checkpoint)
        try:
            if executor is None:
                _run_here(job, grid, threads, report)
            else:
                _run_there(job, grid, executor, report)
        except KeyboardInterrupt:
            log.warning("stopped with %d of %d points solved", grid.done, job.total)
            if not partial:
                raise
    data = plan.dataset(grid.whole())
    _log_end(data, time.monotonic() - began)
    if grid.end < job.total:
        raise _failure(data, grid.end, axes)
    return data


def _failure(data: xr.Dataset, index: int, axes: Axes) -> NotSolved:
    """``data`` holds the point at ``index``; ``axes`` are those of the whole sweep, by which it is named."""
    at = np.unravel_index(index, data["status"].shape)
    point = [float(data[dim].values[k]) for dim, k in zip(data["status"].dims, at, strict=True)]
    place = ", ".join(str(int(np.flatnonzero(v == x)[0])) for (_, v), x in zip(axes, point, strict=True))
    reason = data["reason"].values.flat[index]
    return NotSolved(f"point [{place}] is not solved, at {_story(data, index)} ({reason})", data)


@dataclass(frozen=True)
class Plan:
    """What is to be solved, and how it is told."""

    case: Case
    axes: Axes
    wanted: set[str]
    start: str
    options: dict[str, Any]

    @property
    def job(self) -> _Job:
        return _Job(self.case.to_json(), [(field.path, values) for field, values in self.axes], self.options)

    def description(self) -> dict[str, Any]:
        """All that decides the numbers."""
        return description(self.case.to_dict(), self.job.axes, self.options)

    def dataset(self, columns: Columns) -> xr.Dataset:
        return _dataset(self.case, self.axes, columns, self.wanted, {**self.options, "start": self.start})


def plan_sweep(case: Case, fields: Mapping[str, Any], outputs: Sequence[str] | None, start: str, mesh: int) -> Plan:
    """Raises InvalidInput on a bad path, value or option."""
    require_case(case)
    one_of("start", start, ("resting", "riding"))
    wanted = _wanted(outputs)
    options: dict[str, Any] = {
        "riding": start == "riding",
        "step_response": bool({"film_after_step", "excess_after_step"} & wanted),
        "other_branch": "other_branch_exists" in wanted,
        "run_out": bool({"run_out_load", "run_out_angle", "run_out_tilt", "film_over_turn"} & wanted),
        "mesh": mesh,
    }
    return Plan(case, _axes(fields), wanted, start, options)


def _check_run(threads: object, mesh: object, executor: object, partial: object) -> None:
    if isinstance(threads, bool) or not isinstance(threads, int) or threads < 0:
        raise refuse("threads", threads, "must be a whole number, 0 for one thread per core")
    if mesh not in (0, 1, 2):
        raise refuse("mesh", mesh, "must be 0, 1 or 2")
    if executor is not None and not callable(getattr(executor, "submit", None)):
        raise refuse("executor", executor, "must be an executor of concurrent.futures")
    if executor is not None and not isinstance(executor, concurrent.futures.Executor):
        hint = "; of a Dask client it is client.get_executor()" if hasattr(executor, "get_executor") else ""
        raise refuse("executor", executor, f"must be an executor of concurrent.futures{hint}")
    if not isinstance(partial, bool):
        raise refuse("partial", partial, "must be True or False")


def _wanted(outputs: Sequence[str] | None) -> set[str]:
    known = {*OUTPUTS, *FLAGS, *ALWAYS}
    if outputs is None:
        return known
    if isinstance(outputs, str) or not outputs:
        raise refuse("outputs", outputs, "must be a list of output names")
    gather(
        [("outputs", str(name), "is no output" + _nearest(str(name), known)) for name in outputs if name not in known]
    )
    return {*outputs, *ALWAYS}


def _nearest(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, sorted(known), 1, 0.4)
    return f"; the nearest is {near[0]}" if near else "; see output_table()"


def _axes(fields: Mapping[str, Any]) -> Axes:
    if not isinstance(fields, Mapping) or not fields:
        raise refuse("fields", fields, "must map at least one field path to its values")
    axes: Axes = []
    problems: list[tuple[str, str, str]] = []
    for given, values in fields.items():
        try:
            field, unit = resolve(given)
            if any(field is other for other, _ in axes):
                raise refuse(given, "", "is given twice")
            numbers = field_values(values, field, unit, given)
            if numbers.size == 0:
                raise refuse(given, "no values", "at least one value is needed")
            if np.unique(numbers).size != numbers.size:
                raise refuse(given, values, "holds a value twice")
            axes.append((field, numbers))
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    return axes


def _warn_unusual(case: Case, axes: Axes) -> None:
    """One warning for each end of an axis that lies outside its usual range."""
    for field, values in axes:
        for value in {float(values.min()), float(values.max())}:
            trial = case._core.copy()
            trial.set_number(field.path, value)
            for path, text, message in _core.unusual(trial):
                if path == field.path:
                    warnings.warn(f"{path} = {text} {message}", LibbladeWarning, stacklevel=3)


@dataclass(frozen=True)
class _Job:
    """What a worker needs."""

    case: str
    axes: list[tuple[str, Floats]]
    options: dict[str, Any]

    @property
    def total(self) -> int:
        return math.prod(values.size for _, values in self.axes)

    def solve(
        self, first: int, count: int, threads: int = 1, report: Report | None = None
    ) -> tuple[Columns, BaseException | None]:
        """Columns of the points solved, and what stopped it."""
        case, options = _restore(self.case)._core, _core.NipOptions(**self.options)
        columns, error = _core.sweep(case, self.axes, options, threads, report, first, count)
        return columns, error


def _block(job: _Job, first: int, count: int) -> Columns:
    """A stretch of the grid, in a worker of an executor."""
    columns, error = job.solve(first, count)
    if error is not None:
        raise error
    return columns


class _Grid:
    """Columns over the whole grid, filled stretch by stretch, and in the checkpoint too when there is one."""

    def __init__(self, total: int, *, stop_at_failure: bool) -> None:
        self.stop_at_failure = stop_at_failure
        self.end = total
        """Behind the last point to solve: the first that failed, when that ends the sweep."""
        self._known = np.zeros(total, dtype=bool)
        self._columns: Columns = {name: np.full(total, np.nan) for name in OUTPUTS}
        self._columns |= {name: np.zeros(total, dtype=np.int8) for name in (*_CHOICES, *_SWITCHES)}
        self._columns |= {"reason": [STOPPED] * total, "validity": [[] for _ in range(total)]}
        self.checkpoint: Checkpoint | None = None

    def keep(self, checkpoint: Checkpoint) -> None:
        for first, columns in checkpoint.blocks():
            self.put(first, columns)
        self.checkpoint = checkpoint

    @property
    def done(self) -> int:
        return int(self._known.sum())

    @property
    def total(self) -> int:
        return self._known.size

    def knows(self, first: int) -> bool:
        return bool(self._known[first])

    def put(self, first: int, columns: Columns) -> int:
        """Takes solved points from ``first`` on; returns how many."""
        count = len(columns["reason"])
        for name, column in self._columns.items():
            column[first : first + count] = columns[name]
        self._known[first : first + count] = True
        if self.stop_at_failure:
            failed = np.flatnonzero(_failed(np.asarray(columns["status"])))
            self.end = min([self.end, *(first + failed[:1])])
        if self.checkpoint is not None and count:
            self.checkpoint.write(first, columns)
        return count

    def gaps(self) -> list[tuple[int, int]]:
        """Stretches still to solve: first and behind the last."""
        edges = np.flatnonzero(np.diff(np.concatenate([[True], self._known, [True]])))
        return [(int(first), int(behind)) for first, behind in zip(edges[::2], edges[1::2], strict=True)]

    def whole(self) -> Columns:
        return self._columns


def _run_here(job: _Job, grid: _Grid, threads: int, report: Report | None) -> None:
    """In threads: all at once, or in stretches of about BLOCK_SECONDS when something may happen between them."""
    at_once = grid.checkpoint is None and not grid.stop_at_failure
    before = grid.done
    size = 8 * (threads or os.cpu_count() or 1)

    def told(done: int, _: int) -> None:
        if report is not None:
            report(before + done, grid.total)

    hook = None if report is None else told
    if report is not None and before == grid.total:
        report(before, before)
    for first, behind in grid.gaps():
        at = first
        while at < (last := min(behind, grid.end)):
            count = last - at if at_once else min(size, last - at)
            began = time.monotonic()
            columns, error = job.solve(at, count, threads, hook)
            solved = grid.put(at, columns)
            if error is not None:
                raise error
            at += solved
            before += solved
            size = max(1, min(4 * size, int(count * BLOCK_SECONDS / max(time.monotonic() - began, 1e-6))))


def _run_there(job: _Job, grid: _Grid, executor: concurrent.futures.Executor, report: Report | None) -> None:
    """In an executor, in short stretches so that many workers get a share."""
    size = min(256, -(-grid.total // 64))
    firsts: dict[concurrent.futures.Future[Columns], int] = {}
    try:
        for first, behind in grid.gaps():
            for at in range(first, min(behind, grid.end), size):
                firsts[executor.submit(_block, job, at, min(size, behind - at))] = at
        waiting = set(firsts)
        while waiting:
            # Waits end from time to time, since not every system lets Ctrl-C into a lock.
            done, waiting = concurrent.futures.wait(waiting, 0.1, concurrent.futures.FIRST_COMPLETED)
            for future in done:
                grid.put(firsts[future], future.result())
            for future in [later for later in waiting if firsts[later] > grid.end]:
                future.cancel()
                waiting.remove(future)
            if done and report is not None:
                report(grid.done, grid.total)
    except BaseException:
        for future in firsts:
            future.cancel()
        for future, first in firsts.items():  # what ended meanwhile is kept
            if future.done() and not future.cancelled() and future.exception() is None and not grid.knows(first):
                grid.put(first, future.result())
        raise
    if report is not None and not firsts:
        report(grid.done, grid.total)


def _dimension_names(axes: Axes) -> list[str]:
    leaves = [field.path.rpartition(".")[2] for field, _ in axes]
    return [
        leaf if leaves.count(leaf) == 1 else field.path.replace(".", "_")
        for leaf, (field, _) in zip(leaves, axes, strict=True)
    ]


def _dataset(case: Case, axes: Axes, columns: Columns, wanted: set[str], options: dict[str, Any]) -> xr.Dataset:
    dims = _dimension_names(axes)
    shape = tuple(values.size for _, values in axes)
    coords = {
        dim: (
            (dim,),
            values,
            {
                "units": field.unit,
                "long_name": field.meaning,
                "display_units": field.display_unit or "1",
                "field": field.path,
            },
        )
        for dim, (field, values) in zip(dims, axes, strict=True)
    }
    variables: dict[str, Any] = {}

    def put(name: str, values: Any, attrs: dict[str, Any]) -> None:
        key = f"{name}_result" if name in dims else name
        variables[key] = (tuple(dims), np.asarray(values).reshape(shape), {**attrs, "output": name})

    for name, output in OUTPUTS.items():
        if name in wanted:
            about = {"units": output.unit, "long_name": output.long_name, "display_units": output.display_unit}
            put(name, columns[name], {**about, "display_scale": output.display_scale})
    for name in ("regime", "branch", "status"):
        if name in wanted:
            words = _CHOICES[name]
            flags = {"flag_values": np.arange(len(words), dtype=np.int8), "flag_meanings": " ".join(words)}
            put(name, columns[name], {"units": "1", "long_name": _LONG_NAMES[name], **flags})
    for name in _SWITCHES:
        if name in wanted:
            put(name, columns[name].astype(bool), {"units": "1", "long_name": _LONG_NAMES[name]})
    if "validity" in wanted:
        bits = {name: 1 << k for k, name in enumerate(VALIDITY)}
        masks = np.array([sum(bits[name] for name in set(names)) for names in columns["validity"]], dtype=np.int32)
        flags = {"flag_masks": np.array(list(bits.values()), dtype=np.int32), "flag_meanings": " ".join(VALIDITY)}
        put("validity", masks, {"units": "1", "long_name": _LONG_NAMES["validity"], **flags})
    put("reason", np.array(columns["reason"], dtype=str), {"units": "1", "long_name": _LONG_NAMES["reason"]})
    about_all = {
        "Conventions": "CF-1.11",
        "title": f"libblade sweep of {case.name or 'a case'}",
        "case": case.to_json(),
        "options": json.dumps(options),
        "libblade_version": str(_core.version),
        "numpy_version": np.__version__,
        "xarray_version": xr.__version__,
    }
    return xr.Dataset(variables, coords, about_all)


def _failed(status: npt.NDArray[np.int8]) -> npt.NDArray[np.bool_]:
    words = _CHOICES["status"]
    return np.isin(status, [words.index("converged"), words.index("not_run")], invert=True)


def _log_end(data: xr.Dataset, seconds: float) -> None:
    """Tells how it went."""
    status = data["status"].values.ravel()
    words = _CHOICES["status"]
    counts = np.bincount(status, minlength=len(words))
    story = ", ".join(f"{count} {word}" for count, word in zip(counts, words, strict=True) if count)
    log.info("%d points in %.2f s: %s", status.size, seconds, story)
    failed = np.flatnonzero(_failed(status))
    for index in failed[:TOLD]:
        log.warning("not solved at %s (%s)", _story(data, index), data["reason"].values.flat[index])
    if failed.size > TOLD:
        log.warning("and %d more points not solved", failed.size - TOLD)


def _story(data: xr.Dataset, index: int | np.intp) -> str:
    place = np.unravel_index(index, data["status"].shape)
    where = ", ".join(
        f"{dim} = {float(data[dim][k]):.6g} {data[dim].units}"
        for dim, k in zip(data["status"].dims, place, strict=True)
    )
    return f"{where}: {_CHOICES['status'][int(data['status'].values[place])]}"
