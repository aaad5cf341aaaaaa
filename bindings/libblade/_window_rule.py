"""The rule that recommends a setting: margins in holding tolerances on a grid of any number of fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from libblade._case import LOADS
from libblade._errors import InvalidInput, refuse
from libblade._fields import FIELDS
from libblade._limits import Mask
from libblade._units import Floats, is_quantity, positive, resolve

EDGE = "edge of the map"
ENOUGH = 1.0 - 1e-9


class Held(NamedTuple):
    """How well a field is held."""

    amount: float
    relative: bool
    text: str

    def at(self, values: Floats) -> Floats:
        """Tolerance in SI at each value."""
        return self.amount * values if self.relative else np.full_like(values, self.amount)


class Choice(NamedTuple):
    """What the rule says."""

    place: tuple[int, ...] | None
    with_margin: bool
    margins: Floats
    """To the last good point down and up each axis, in tolerances, (..., axis, 2); 0 outside."""


def held(path: str, value: Any, given: str) -> Held:
    """A tolerance: a share (``0.1``, ``"10 %"``) or an amount with its unit; angles and temperatures take the amount only."""
    field = FIELDS[path]
    share_allowed = field.unit not in ("rad", "K")
    bare = not isinstance(value, str) and not is_quantity(value)
    if share_allowed and field.unit != "1":
        try:
            return Held(positive(value, "1", given), True, f"{100.0 * positive(value, '1', given):.4g} %")
        except InvalidInput:
            if bare:
                raise
    elif share_allowed:
        return Held(positive(value, "1", given), True, f"{100.0 * positive(value, '1', given):.4g} %")
    elif bare:
        raise refuse(given, value, f'must carry its unit, e.g. "{_default(path)}"')
    return Held(positive(value, field.unit, given), False, str(value))


def _default(path: str) -> str:
    return {"rad": "1 deg", "K": "2 K"}.get(FIELDS[path].unit, "10 %")


def holding(
    paths: Sequence[str], angle: Any, load: Any, others: Mapping[str, Any] | None, axes: Sequence[Floats]
) -> list[Held]:
    """Tolerance of every axis: as stated, else 1 deg, 2 K or 10 % (assumptions)."""
    stated: dict[str, tuple[Any, str]] = {}
    for path in paths:
        if path == "setting.set_angle":
            stated[path] = (angle, "angle_tolerance")
        elif path in LOADS:
            stated[path] = (load, "load_tolerance")
    for given, value in (others or {}).items():
        path = resolve(given)[0].path
        if path not in paths:
            raise refuse(f"tolerances.{given}", value, f"is not swept; swept are {', '.join(paths)}")
        stated[path] = (value, f"tolerances.{given}")
    out = []
    for path, values in zip(paths, axes, strict=True):
        value, given = stated.get(path, (_default(path), f"tolerances.{path}"))
        tolerance = held(path, value, given)
        if tolerance.relative and values.min() <= 0.0:
            raise refuse(
                given, tolerance.text, "must be an amount with its unit, since the field is swept to 0 or below"
            )
        out.append(tolerance)
    return out


def choose(axes: Sequence[Floats], inside: Mask, tolerances: Sequence[Held], load_axis: int | None) -> Choice:
    """The lowest load that keeps a tolerance on every side, the largest smallest margin among equals; without such a point, or
    without a load among the axes, the largest smallest margin. What was not computed is not promised: margins end at the edge."""
    margins = np.zeros((*inside.shape, len(axes), 2))
    for k, (values, tolerance) in enumerate(zip(axes, tolerances, strict=True)):
        good = np.moveaxis(inside, k, 0)
        unit = tolerance.at(values).reshape(-1, *[1] * (inside.ndim - 1))
        here = values.reshape(unit.shape)
        for side, order in ((0, range(values.size)), (1, range(values.size - 1, -1, -1))):
            last = np.zeros(good.shape)
            before: int | None = None
            for i in order:
                last[i] = values[i] if before is None else np.where(good[before], last[before], values[i])
                before = i
            reach = np.where(good, np.abs(here - last) / unit, 0.0)
            margins[..., k, side] = np.moveaxis(reach, 0, k)
    if not inside.any():
        return Choice(None, False, margins)
    smallest = np.where(inside, margins.min(axis=(-1, -2)), -1.0)
    holds = smallest >= ENOUGH
    with_margin = bool(holds.any())
    ranked = np.where(holds, smallest, -1.0) if with_margin else smallest
    if with_margin and load_axis is not None:
        lowest = np.argwhere(holds)[:, load_axis].min()
        level = np.arange(inside.shape[load_axis]).reshape([-1 if k == load_axis else 1 for k in range(inside.ndim)])
        ranked = np.where(level == lowest, ranked, -1.0)
    place = np.unravel_index(int(np.argmax(ranked)), inside.shape)
    return Choice(tuple(int(k) for k in place), with_margin, margins)


def failing(
    good: Mapping[str, Mask], place: tuple[int, ...], sides: Sequence[tuple[str, str]]
) -> dict[str, tuple[str, ...]]:
    """Walks from a good point down and up each axis; names what holds no longer at the first bad one."""
    shape = next(iter(good.values())).shape
    out: dict[str, tuple[str, ...]] = {}
    for axis, names in enumerate(sides):
        for name, steps in zip(
            names, (range(place[axis] - 1, -1, -1), range(place[axis] + 1, shape[axis])), strict=True
        ):
            out[name] = (EDGE,)
            for k in steps:
                there = (*place[:axis], k, *place[axis + 1 :])
                if broken := tuple(limit for limit, mask in good.items() if not mask[there]):
                    # Where nothing is solved every number fails too: the reason is that nothing is solved.
                    out[name] = ("not solved",) if "solved" in broken else broken
                    break
    return out
