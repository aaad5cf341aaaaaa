"""Limits on what a grid holds: where they are kept, and how much of each is used."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade._errors import InvalidInput, refuse
from libblade._lazy import lazy
from libblade._point import BRANCHES, OUTPUTS, REGIMES, Output
from libblade._units import Floats, si

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

# A limit on these may be a share of the ink carried.
_FILMS = {"film_on_lands", "excess_ink", "film_after_step", "excess_after_step", "clean_wipe_film"}
STEP_OUTPUTS = {"excess_after_step": "excess_ink", "film_after_step": "film_on_lands"}
# What a grid may hold besides outputs, and what puts it there.
ADDED = {
    "life_distance": "add_life",
    "life_time": "add_life",
    "scores": "add_scoring",
    "chips": "add_scoring",
    "first_score": "add_scoring",
}

Mask = npt.NDArray[np.bool_]


class Kept(NamedTuple):
    """One limit on a grid."""

    holds: Mask
    text: str
    used: Floats | None
    """Value over largest value, or smallest value over value, whichever is more; above 1 it is passed. None: no number."""


def moved_limits(limits: Mapping[str, Any]) -> dict[str, Any]:
    """The limits for a blade that was moved: those on the state after a load step apply to the state itself.

    They replace limits on the film of a blade just run in, which say nothing about a blade on its way.
    """
    stepped = {STEP_OUTPUTS[name]: limit for name, limit in limits.items() if name in STEP_OUTPUTS}
    films = set(STEP_OUTPUTS.values()) if stepped else set()
    return {name: limit for name, limit in limits.items() if name not in films and name not in STEP_OUTPUTS} | stepped


def variable(grid: xr.Dataset, name: str) -> xr.DataArray:
    """An output of a grid, also where a swept field bears its name."""
    for key in (f"{name}_result", name):
        if key in grid.data_vars:
            return grid[key]
    if name in ADDED:
        raise refuse(name, "", f"was not computed on this grid: see {ADDED[name]}")
    known = name in OUTPUTS or name in ("regime", "branch", "bedded_stable", "other_branch_exists")
    what = "was not computed on this grid: add it to outputs" if known else "is no output; see output_table()"
    raise refuse(name, "", what)


def within(grid: xr.Dataset, name: str, limit: Any) -> Kept:
    """Where a limit holds. Raises InvalidInput on what cannot be limited so."""
    values = variable(grid, name).values
    if name in ("regime", "branch"):
        words = REGIMES if name == "regime" else BRANCHES
        wanted = [limit] if isinstance(limit, str) else list(limit)
        if not wanted or any(word not in words for word in wanted):
            raise refuse(name, limit, "must be one or several of " + ", ".join(words))
        return Kept(np.isin(values, [words.index(word) for word in wanted]), " or ".join(wanted), None)
    if values.dtype == bool:
        if not isinstance(limit, bool | np.bool_):
            raise refuse(name, limit, "must be True or False")
        return Kept(values == limit, str(limit), None)
    if name not in OUTPUTS and name not in ADDED:
        raise refuse(name, limit, "cannot be limited")
    if isinstance(limit, tuple | list):
        if len(limit) != 2 or all(end is None for end in limit):
            raise refuse(name, limit, "must be a largest value, or a pair of smallest and largest")
        low, high = limit
    else:
        low, high = None, limit
    inside = ~np.isnan(values)  # no first score at all is later than any time
    used = np.where(inside, 0.0, np.inf)
    texts = []
    for end, above in ((low, True), (high, False)):
        if end is None:
            continue
        number, text = bound(grid, name, end)
        inside &= values >= number if above else values <= number
        used = np.maximum(used, _ratio(number, values) if above else _ratio(values, number))
        texts.append(f"{'>=' if above else '<='} {text}")
    return Kept(inside, " and ".join(texts), used)


def _ratio(a: Any, b: Any) -> Floats:
    """a / b of numbers that are not negative; 0 where a is, infinite where b alone is 0 or one is unknown."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(np.asarray(a) <= 0.0, 0.0, np.divide(a, b))
    return np.where(np.isnan(ratio) | (ratio < 0.0), np.inf, ratio)


def output_of(grid: xr.Dataset, name: str) -> Output:
    """Units and words of an output, or of what was added to the grid."""
    if name in OUTPUTS:
        return OUTPUTS[name]
    about = variable(grid, name).attrs
    return Output(name, about["units"], about["display_units"], float(about["display_scale"]), about["long_name"])


def shown(output: Output, value: float) -> str:
    """A number for people."""
    if not math.isfinite(value):
        return "none" if math.isnan(value) else "for ever"
    return f"{value * output.display_scale:.4g} {output.display_unit}".removesuffix(" 1")


def bound(grid: xr.Dataset, name: str, limit: Any) -> tuple[Any, str]:
    """A limit as SI values on the grid, and as text."""
    output = output_of(grid, name)
    if isinstance(limit, str) and limit.strip().endswith("%") and name in _FILMS:
        share = si(limit, "1", name)
        _finite(name, share)
        return share * variable(grid, "ink_carried").values, f"{limit} of the ink carried"
    if name == "ink_carried" and isinstance(limit, str):
        try:
            return si(limit, "m3/m2", name), limit
        except InvalidInput:
            pass
    number = si(limit, output.unit, name)
    _finite(name, number)
    return number, limit if isinstance(limit, str) else shown(output, number)


def _finite(name: str, number: float) -> None:
    if not math.isfinite(number):
        raise refuse(name, str(number), "must be finite")
