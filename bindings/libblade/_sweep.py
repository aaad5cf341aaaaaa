"""Many operating points: a grid over any fields, as one xarray dataset."""

from __future__ import annotations

import concurrent.futures
import itertools
import json
import sys
import time
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from libblade import _core
from libblade._case import Case, _restore, require_case
from libblade._errors import InvalidInput, LibbladeWarning, NotSolved, one_of, refuse
from libblade._fields import Field
from libblade._point import BRANCHES, OUTPUTS, REGIMES, STATUSES
from libblade._units import Floats, field_values, gather, resolve

FLAGS = ("regime", "branch", "bedded_stable", "other_branch_exists", "validity")
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

Progress = bool | Callable[[int, int], object]
Columns = dict[str, Any]


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
) -> xr.Dataset:
    """Solves the full grid over the given fields.

    ``fields`` maps dotted paths to values: SI numbers, text with units, quantities, or a name that carries the unit
    (``{"setting.set_angle_deg": np.linspace(24, 40, 65)}``). ``threads=0`` uses every core; any number gives the same bits.
    ``progress`` is True for a line on standard error, or a function of (done, total). ``outputs`` names the variables wanted,
    which leaves out solves that are not needed. With an ``executor`` the rows are spread over it instead of threads.

    Returns a dataset whose dimensions are the last words of the paths. Numbers are SI with ``units``, ``long_name`` and
    ``display_units``; regime, branch and status are integer flags. A point that is not solved is NaN with its status and
    reason; with ``on_failure="raise"`` it raises NotSolved instead. A swept field that bears the name of an output keeps it;
    the output is then called ``<name>_result``.

    Raises InvalidInput before any solve when a path, a value or an option is bad. Ctrl-C stops it.
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    one_of("start", start, ("resting", "riding"))
    wanted = _wanted(outputs)
    if isinstance(threads, bool) or not isinstance(threads, int) or threads < 0:
        raise refuse("threads", threads, "must be a whole number, 0 for one thread per core")
    if mesh not in (0, 1, 2):
        raise refuse("mesh", mesh, "must be 0, 1 or 2")
    axes = _axes(fields)
    _warn_unusual(case, axes)
    options: dict[str, Any] = {
        "riding": start == "riding",
        "step_response": bool({"film_after_step", "excess_after_step"} & wanted),
        "other_branch": "other_branch_exists" in wanted,
        "mesh": mesh,
    }
    arrays = [(field.path, values) for field, values in axes]
    report = _reporter(progress)
    if executor is None:
        columns = _core.sweep(case._core, arrays, _core.NipOptions(**options), threads, report)
    else:
        columns = _spread(executor, case, arrays, options, report)
    data = _dataset(case, axes, columns, wanted, {**options, "start": start})
    if on_failure == "raise":
        _raise_failed(data)
    return data


def _wanted(outputs: Sequence[str] | None) -> set[str]:
    known = {*OUTPUTS, *FLAGS, *ALWAYS}
    if outputs is None:
        return known
    if isinstance(outputs, str) or not outputs:
        raise refuse("outputs", outputs, "must be a list of output names")
    gather([("outputs", str(name), "is no output; see output_table()") for name in outputs if name not in known])
    return {*outputs, *ALWAYS}


def _axes(fields: Mapping[str, Any]) -> list[tuple[Field, Floats]]:
    if not isinstance(fields, Mapping) or not fields:
        raise refuse("fields", fields, "must map at least one field path to its values")
    axes: list[tuple[Field, Floats]] = []
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


def _warn_unusual(case: Case, axes: list[tuple[Field, Floats]]) -> None:
    """One warning for each end of an axis that lies outside its usual range."""
    for field, values in axes:
        for value in {float(values.min()), float(values.max())}:
            trial = case._core.copy()
            trial.set_number(field.path, value)
            for path, text, message in _core.unusual(trial):
                if path == field.path:
                    warnings.warn(f"{path} = {text} {message}", LibbladeWarning, stacklevel=3)


def _reporter(progress: Progress) -> Callable[[int, int], object] | None:
    if callable(progress):
        return progress
    if not progress:
        return None
    began = time.monotonic()
    shown = -1

    def line(done: int, total: int) -> None:
        nonlocal shown
        if done != shown:
            end = "\n" if done == total else ""
            print(f"\r{done} of {total} points, {time.monotonic() - began:.1f} s", end=end, file=sys.stderr, flush=True)
        shown = done

    return line


def _rows(text: str, axes: list[tuple[str, Floats]], options: dict[str, Any]) -> Columns:
    """A block of rows, in a worker of an executor."""
    columns: Columns = _core.sweep(_restore(text)._core, axes, _core.NipOptions(**options), 1, None)
    return columns


def _spread(
    executor: concurrent.futures.Executor,
    case: Case,
    axes: list[tuple[str, Floats]],
    options: dict[str, Any],
    report: Callable[[int, int], object] | None,
) -> Columns:
    (path, values), rest = axes[0], axes[1:]
    per_row = int(np.prod([len(v) for _, v in rest], dtype=int))
    text = case.to_json()
    jobs = [executor.submit(_rows, text, [(path, values[k : k + 1]), *rest], options) for k in range(len(values))]
    blocks = []
    try:
        for count, job in enumerate(jobs, 1):
            blocks.append(job.result())
            if report is not None:
                report(count * per_row, len(values) * per_row)
    except BaseException:
        for job in jobs:
            job.cancel()
        raise
    joined: Columns = {}
    for name, first in blocks[0].items():
        parts = [block[name] for block in blocks]
        joined[name] = np.concatenate(parts) if isinstance(first, np.ndarray) else list(itertools.chain(*parts))
    return joined


def _dimension_names(axes: list[tuple[Field, Floats]]) -> list[str]:
    leaves = [field.path.rpartition(".")[2] for field, _ in axes]
    return [
        leaf if leaves.count(leaf) == 1 else field.path.replace(".", "_")
        for leaf, (field, _) in zip(leaves, axes, strict=True)
    ]


def _dataset(
    case: Case, axes: list[tuple[Field, Floats]], columns: Columns, wanted: set[str], options: dict[str, Any]
) -> xr.Dataset:
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
    for name in ("bedded_stable", "other_branch_exists"):
        if name in wanted:
            put(name, columns[name].astype(bool), {"units": "1", "long_name": _LONG_NAMES[name]})
    if "validity" in wanted:
        names = sorted({flag for flags in columns["validity"] for flag in flags})
        bits = {name: 1 << k for k, name in enumerate(names)}
        masks = np.array([sum(bits[flag] for flag in set(flags)) for flags in columns["validity"]], dtype=np.int32)
        attrs: dict[str, Any] = {"units": "1", "long_name": _LONG_NAMES["validity"]}
        if names:
            attrs |= {"flag_masks": np.array(list(bits.values()), dtype=np.int32), "flag_meanings": " ".join(names)}
        put("validity", masks, attrs)
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


def _raise_failed(data: xr.Dataset) -> None:
    failed = data["status"].values != _CHOICES["status"].index("converged")
    if failed.any():
        place = tuple(int(k) for k in np.argwhere(failed)[0])
        where = ", ".join(
            f"{dim} = {float(data[dim][k]):.6g} {data[dim].units}" for dim, k in zip(data.dims, place, strict=True)
        )
        status = _CHOICES["status"][int(data["status"].values[place])]
        raise NotSolved(f"{failed.sum()} of {failed.size} points not solved; the first, {where}: {status}", data)
