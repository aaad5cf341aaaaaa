"""The process window of a job: its grid solved with blade life, scoring risk and the steps of a shift, then judged."""

from __future__ import annotations

import concurrent.futures
import math
import os
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._case import LOADS, Case, require_case
from libblade._errors import LibbladeWarning, refuse
from libblade._evaluate import evaluate
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._limits import ADDED, moved_limits, variable
from libblade._particles import InkLoop
from libblade._point import OUTPUTS, STATUSES
from libblade._scoring_map import scoring_map
from libblade._sweep import FLAGS, sweep
from libblade._units import Floats, field_values, resolve, si
from libblade._wear import WearHistory, wear
from libblade._window import ProcessWindow, _case_of, _solved, process_window

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

_LIFE = {
    "life_distance": ("m", "km", 1e-3, "blade life as length of web, at least"),
    "life_time": ("s", "h", 1.0 / 3600.0, "blade life, at least"),
}
_STATE = ("bedded_angle", "facet_length", "interference", "line_load", "ink_carried", "film_on_lands", "excess_ink")
_BEDDED = ("tip.facet_length", "tip.bedded_angle", "tip.bedded_set_angle", "tip.bedded_line_load")
STEPPED = {"speed": "setting.surface_speed", "load": "setting.line_load"}


def add_life(
    grid: xr.Dataset, schedule: Any, *, points: int = 3, new: bool = True, threads: int = 0, **options: Any
) -> xr.Dataset:
    """A sweep's grid with the blade's life at every point: ``life_distance`` [m] and ``life_time`` [s].

    ``schedule`` and ``options`` (``facet_limit``, ``length_limit``, ``excess_limit`` ...) are those of ``wear``, ``tolerance`` 1e-4
    by default, run with the case at each point; its steps should not set a swept field. A ``new`` blade begins as a square edge,
    else the case's facet goes on (a fully worn one has lost thickness / tan(angle) already).

    Along each field ``points`` of the grid's values are worn, both ends among them; between them 1 / life is interpolated linearly,
    since wear goes nearly with load (the long name says so); ``points=0`` wears every one. A life that ends with the schedule
    counts as long as that: at least. Where a history cannot go on, the points up to the next ones worn are NaN, and fail every
    limit.

    Raises InvalidInput on bad values.
    """
    case, axes = _case_of_grid(grid)
    if isinstance(points, bool) or not isinstance(points, int) or points == 1 or points < 0:
        raise refuse("points", points, "must be 0 or a whole number of at least 2")
    if not any(options.get(name) is not None for name in ("facet_limit", "length_limit", "excess_limit")):
        raise refuse("life", "no limit", "state what ends a blade: facet_limit, length_limit or excess_limit")
    dims = tuple(axes)
    chosen = [
        np.arange(v.size) if points == 0 else np.unique(np.linspace(0, v.size - 1, points).round().astype(int))
        for _, v in axes.values()
    ]
    shape = tuple(k.size for k in chosen)
    cases = [
        case.replace({path: _text(path, v[k[i]]) for (path, v), k, i in zip(axes.values(), chosen, place, strict=True)})
        for place in np.ndindex(*shape)
    ]

    def worn(one: Case) -> tuple[float, float]:
        story = life_history(one, schedule, new=new, **options)
        return (story.life.distance, 3600.0 * story.life.hours) if story.convergence.ok else (math.nan, math.nan)

    with concurrent.futures.ThreadPoolExecutor(threads or os.cpu_count()) as pool:
        lives = np.array(list(pool.map(worn, cases)))
    how = "" if points == 0 else f", interpolated between {' x '.join(map(str, shape))} wear histories"
    added: dict[str, Any] = {}
    for column, (name, (units, shown, scale, words)) in enumerate(_LIFE.items()):
        values = 1.0 / np.maximum(lives[:, column].reshape(shape), 1.0)
        for axis, ((_, all_values), k) in enumerate(zip(axes.values(), chosen, strict=True)):
            rows = np.moveaxis(values, axis, -1)
            flat = [np.interp(all_values, all_values[k], row) for row in rows.reshape(-1, k.size)]
            values = np.moveaxis(np.reshape(flat, (*rows.shape[:-1], all_values.size)), -1, axis)
        about = {"units": units, "display_units": shown, "display_scale": scale, "long_name": words + how}
        added[name] = (dims, 1.0 / values, about)
    return grid.assign(added)


def life_history(case: Case, schedule: Any, *, new: bool = True, points: int = 0, **options: Any) -> WearHistory:
    """One blade's history; ``points`` is of the grid and means nothing here."""
    del points
    options = {"tolerance": 1e-4, **options}
    return wear(case.replace({"tip.kind": "square_edge"}) if new else case, schedule, on_failure="flag", **options)


def add_scoring(
    grid: xr.Dataset, particles: Any, loop: InkLoop | None = None, *, threads: int = 0, **options: Any
) -> xr.Dataset:
    """A sweep's grid with its scoring risk: ``scores`` and ``chips`` [1/s] and ``first_score`` [s], as by ``scoring_map``.

    A point that this does not solve is NaN, and fails every limit. Raises InvalidInput on bad values.
    """
    case, axes = _case_of_grid(grid)
    risk = scoring_map(case, particles, _stated(axes), loop=loop, threads=threads, **options)
    return grid.assign(
        {
            name: risk[name].transpose(*axes).drop_vars("particles", errors="ignore")
            for name in ("scores", "chips", "first_score")
        }
    )


def after_shift(
    grid: xr.Dataset, limits: Mapping[str, Any], shift: Mapping[str, Any], *, threads: int = 0
) -> dict[str, xr.Dataset]:
    """Every point of a sweep after the steps of a shift: the blade as it bedded there, not bedded anew.

    ``shift`` maps ``"speed"`` and ``"load"`` to relative steps (``{"speed": ("-20 %", "20 %"), "load": "-5 %"}``). Facet and
    holder stay, as in ``pressed_harder``; a step of load is one of the holder's advance, of the load itself where the blade
    floats. Each state is that which a start from rest at the new setting finds. The numeric outputs that ``moved_limits(limits)``
    names are solved; limits on words (regime, branch) are not judged there.

    The grid must hold ``bedded_angle``, ``facet_length``, ``interference`` and ``line_load``. Returns grids by name, for
    ``process_window``. Raises InvalidInput on bad steps.
    """
    case, axes = _case_of_grid(grid)
    if not isinstance(shift, Mapping) or not shift or any(word not in STEPPED for word in shift):
        raise refuse("shift", shift, 'must map "speed", "load" or both to relative steps')
    names = list(dict.fromkeys(["ink_carried", *(n for n in moved_limits(limits) if n in OUTPUTS)]))
    floating = case["setting.holding"] == "floating"
    load = "setting.line_load" if floating else "setting.interference"
    frame = grid["status"]

    def spread(values: Any, dim: str) -> xr.DataArray:
        return (
            xr.DataArray(values, dims=(dim,)).broadcast_like(frame.drop_vars(list(frame.coords))).transpose(*frame.dims)
        )

    at: dict[str, xr.DataArray] = {
        path: spread(values, dim) for dim, (path, values) in axes.items() if path not in LOADS and path not in _BEDDED
    }
    solved = _solved(grid).ravel()
    at[load] = variable(grid, load.rpartition(".")[2])
    with warnings.catch_warnings():  # of a number that only keeps the place of the points' own
        warnings.simplefilter("ignore", LibbladeWarning)
        still = case.replace({load: float(np.nanmedian(at[load].values))}) if solved.any() else case
    if case["tip.kind"] == "facet":
        still = still.replace({"tip.bedding": "angle", "tip.bedded_angle": "20 deg"})
        at |= {"tip.bedded_angle": variable(grid, "bedded_angle"), "tip.facet_length": variable(grid, "facet_length")}
    speed = STEPPED["speed"]
    at.setdefault(speed, xr.full_like(frame, float(case[speed]), dtype=float))
    out = {}
    for word, path in (("speed", speed), ("load", load)):
        for words, step in _steps(word, shift.get(word, ())):
            stepped = {**at, path: at[path] * (1.0 + step)}
            values = {name: np.full(solved.shape, np.nan) for name in names}
            if solved.any():
                rows: dict[str, Any] = {_in_si(p): column.values.ravel()[solved] for p, column in stepped.items()}
                for name, found in evaluate(still, names, threads=threads, **rows).items():
                    values[name][solved] = found
            good = ~np.isnan(values["ink_carried"])
            states = np.where(good, list(STATUSES).index("converged"), list(STATUSES).index("not_run")).astype(np.int8)
            columns = {n: (frame.dims, v.reshape(frame.shape)) for n, v in values.items()}
            out[f"after {words}"] = xr.Dataset(
                {f"{n}_result" if n in frame.dims else n: v for n, v in columns.items()}
                | {"status": (frame.dims, states.reshape(frame.shape))},
                {dim: grid[dim] for dim in axes},
            )
    return out


def _in_si(path: str) -> str:
    return f"{path}_rad" if FIELDS[path].unit == "rad" else path


def _steps(word: str, steps: Any) -> Iterator[tuple[str, float]]:
    for given in (steps,) if isinstance(steps, str | float | int) else steps:
        step = si(given, "1", f"shift.{word}")
        if not -0.9 <= step <= 1.0 or step == 0.0:
            raise refuse(f"shift.{word}", given, "must lie between -0.9 and 1, and not be 0")
        yield f"{word} {100.0 * step:+.3g} %", step


def _text(path: str, value: float) -> str | float:
    unit = FIELDS[path].unit
    return float(value) if unit == "1" else f"{float(value)!r} {unit}"


def _stated(axes: Mapping[str, tuple[str, Floats]]) -> dict[str, Any]:
    return {path: xr.DataArray(values, attrs={"units": FIELDS[path].unit}) for path, values in axes.values()}


def _case_of_grid(grid: Any) -> tuple[Case, dict[str, tuple[str, Floats]]]:
    """The case of a sweep, and path and values of its fields by dimension."""
    case = _case_of(grid) if isinstance(grid, xr.Dataset) and "status" in grid else None
    if case is None:
        raise refuse("grid", type(grid).__name__, "must be a dataset from libblade.sweep")
    return case, {str(d): (str(grid[d].attrs["field"]), grid[d].values.astype(float)) for d in grid["status"].dims}


@dataclass(frozen=True)
class Job:
    """What is asked of a window; ``ask`` solves it."""

    case: Case
    fields: dict[str, Floats]
    """Path to values [SI]."""
    limits: dict[str, Any]
    tolerances: dict[str, Any]
    """Keywords of ``process_window``."""
    shift: dict[str, Any] = field(default_factory=dict)
    life: dict[str, Any] = field(default_factory=dict)
    scoring: dict[str, Any] = field(default_factory=dict)
    threads: int = 0

    def ask(self) -> ProcessWindow:
        """The window, with the grid and the job it comes from."""
        wanted = dict.fromkeys([*_STATE, *FLAGS, *(n for n in self.limits if n not in ADDED)])
        axes = {path: (path, values) for path, values in self.fields.items()}
        grid = sweep(self.case, _stated(axes), threads=self.threads, outputs=list(wanted))
        if any(name.startswith("life") for name in self.limits):
            grid = add_life(grid, **self.life, threads=self.threads)
        if any(name in ADDED and not name.startswith("life") for name in self.limits):
            grid = add_scoring(grid, **self.scoring, threads=self.threads)
        after = after_shift(grid, self.limits, self.shift, threads=self.threads) if self.shift else None
        window = process_window(grid, self.limits, after=after, **self.tolerances)
        return replace(window, grid=grid, job=self)

    def changed(self, changes: Mapping[str, Any]) -> Job:
        """The same question of another blade, roll, ink or setting."""
        return replace(self, case=self.case.replace(changes))

    def coarser(self, points: int) -> Job:
        """On so many points along each field at most, both ends among them."""
        fields = {
            path: v[np.unique(np.linspace(0, v.size - 1, min(points, v.size)).round().astype(int))]
            for path, v in self.fields.items()
        }
        return replace(self, fields=fields)


def find_window(
    case: Case,
    fields: Mapping[str, Any],
    limits: Mapping[str, Any],
    *,
    angle_tolerance: Any = "1 deg",
    load_tolerance: Any = 0.1,
    tolerances: Mapping[str, Any] | None = None,
    shift: Mapping[str, Any] | None = None,
    life: Mapping[str, Any] | None = None,
    scoring: Mapping[str, Any] | None = None,
    threads: int = 0,
) -> ProcessWindow:
    """The process window of a job over two or more fields, judged for the bedded blade and after the steps of a shift.

    ``fields`` are as for ``sweep``, ``limits`` and tolerances as for ``process_window``, ``shift`` as for ``after_shift``
    (``{"speed": ("-20 %", "20 %"), "load": ("-5 %", "5 %")}``). Limits on ``life_distance`` or ``life_time`` (a pair with the
    smallest, ``("300 km", None)``) need ``life``, the arguments of ``add_life`` (``{"schedule": "2000 km", "length_limit":
    "0.5 mm"}``); limits on ``scores``, ``chips`` or ``first_score`` need ``scoring``, those of ``add_scoring`` (``{"particles":
    lb.example_particles()}``). The window keeps its ``grid``; ``window.card()`` tells it, and without a window the nearest change
    that would open one.

    Raises InvalidInput on bad values.
    """
    require_case(case)
    if not isinstance(fields, Mapping) or len(fields) < 2:
        raise refuse("fields", fields, "must map two or more paths to their values")
    if not isinstance(limits, Mapping) or not limits:
        raise refuse("limits", limits, "must map at least one output to its limit")
    for name, needed, stated in (("life", "schedule", life), ("scoring", "particles", scoring)):
        asked = any((word.startswith("life") == (name == "life")) for word in limits if word in ADDED)
        if asked and (not isinstance(stated, Mapping) or needed not in stated):
            raise refuse(name, stated, f"must hold {needed}, since a limit asks for it")
    values: dict[str, Floats] = {}
    for given, numbers in fields.items():
        found, unit = resolve(given)
        if found.path in values:
            raise refuse(given, "", "is given twice")
        values[found.path] = field_values(numbers, found, unit, given)
    held = {"angle_tolerance": angle_tolerance, "load_tolerance": load_tolerance, "tolerances": tolerances}
    return Job(
        case, values, dict(limits), held, dict(shift or {}), dict(life or {}), dict(scoring or {}), threads
    ).ask()


__all__ = ["Job", "add_life", "add_scoring", "after_shift", "find_window"]
