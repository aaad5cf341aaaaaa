"""What a case says should have been read, as a function of the fitted fields, and its slopes."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._errors import NotSolved, refuse
from libblade._evaluate import _rows
from libblade._fields import Field
from libblade._fit_wear import Curve, curve_of
from libblade._ink import _exp
from libblade._print import ink_transfer, print_density
from libblade._reading import PRINTED, Item, cups
from libblade._units import Floats, resolve, si

WEAR = "blade.specific_wear"
CUP_RATE = 300.0  # [1/s] in a flow cup: 1e2 to 1e3
APART = 0.02  # step of a field by which histories are compared, in its logarithm or its scale


class Parameter(NamedTuple):
    """A fitted field: in its logarithm, or a share of half its usual range."""

    field: Field
    base: float
    log: bool
    scale: float

    def value(self, u: float) -> float:
        return self.base * float(_exp(np.asarray(u))) if self.log else self.base + self.scale * u

    def place(self, value: float) -> float:
        return math.log(value / self.base) if self.log else (value - self.base) / self.scale

    def by_u(self, value: float) -> float:
        """d(value) / du."""
        return value if self.log else self.scale


def parameter(case: Case, given: str) -> Parameter:
    """Raises InvalidInput on a field that is no number of this case, and on a scale that is 0."""
    about, _ = resolve(given)
    if about.kind != "number":
        raise refuse("fields", given, "is a choice: fit one case for each choice")
    base = case.get(about.path)
    if not isinstance(base, float) or not math.isfinite(base):
        raise refuse("fields", given, "has no value in this case: the search begins there")
    log = about.hard_range[0] >= 0.0 and about.unit not in {"rad", "K"}
    if log and base <= 0.0:
        raise refuse(about.path, f"{base:g} {about.unit}", "must be above 0: the search begins there")
    low, high = about.usual_range
    return Parameter(about, base, log, 1.0 if log else 0.5 * (high - low))


class Model:
    """Readings of a case as functions of u, the fields in their logarithms or scales; and their slopes."""

    def __init__(self, case: Case, parameters: Sequence[Parameter], items: Sequence[Item], reach: float) -> None:
        self.case, self.parameters, self.items, self.reach = case, parameters, items, reach
        self.paths = [p.field.path for p in parameters]
        self._last: tuple[bytes, tuple[Floats, Floats]] | None = None
        groups: dict[tuple[Any, ...], list[int]] = {}
        for k, item in enumerate(items):
            for path, _ in item.settings:
                if path in self.paths:
                    raise refuse(f"data[{k}].settings.{path}", "", "is fitted: say how many times that with times")
            if item.worn or item.kind == "cup_seconds":
                key: tuple[Any, ...] = (item.kind, item.settings, item.times)
            else:
                words = tuple((path, v) for path, v in item.settings if isinstance(v, str))
                key = ("point", words, tuple(path for path, v in item.settings if not isinstance(v, str)))
            groups.setdefault(key, []).append(k)
        self.groups = groups

    @property
    def worn(self) -> dict[tuple[Any, ...], list[int]]:
        """Groups of readings of one history."""
        return {group: rows for group, rows in self.groups.items() if group[0] not in {"point", "cup_seconds"}}

    def at(self, u: Floats) -> tuple[Floats, Floats]:
        """(n,) and its slopes by u, (n, p); NaN where a point is not solved. Raises NotSolved when a history does not go."""
        key = np.asarray(u, dtype=float).tobytes()
        if self._last is None or self._last[0] != key:
            values, slopes = np.empty(len(self.items)), np.zeros((len(self.items), len(u)))
            for group, rows in self.groups.items():
                solver = {"point": self._points, "cup_seconds": self._cup}.get(group[0], self._worn)
                values[rows], slopes[rows] = solver(rows, u)
            self._last = key, (values, slopes)
        return self._last[1]

    def _case(self, item: Item, u: Floats, *, wear: bool = True) -> Case:
        """With the fields at u and the settings; with ``wear`` False, k_b stays the case's."""
        core = self.case._core.copy()
        own = {p.field.path: p.value(x) for p, x in zip(self.parameters, u, strict=True)}
        if not wear:
            own.pop(WEAR, None)
        for path, value in [*own.items(), *item.settings]:
            core.set_choice(path, value) if isinstance(value, str) else core.set_number(path, value)
        for path, factor in item.times:
            if path != WEAR or wear:
                core.set_number(path, factor * core.get_number(path))
        return Case._wrap(core)

    def _points(self, rows: list[int], u: Floats) -> tuple[Floats, Floats]:
        items = [self.items[k] for k in rows]
        words = [pair for pair in items[0].settings if isinstance(pair[1], str)]
        case = self.case.replace(dict(words)) if words else self.case
        swept = [path for item in items for path, v in item.settings if not isinstance(v, str)]
        paths = list(dict.fromkeys([*self.paths, *swept, *(path for item in items for path, _ in item.times)]))
        paths = paths or ["setting.surface_speed"]  # evaluation wants one
        base = [float(case[path]) for path in paths]
        base[: len(u)] = [p.value(x) for p, x in zip(self.parameters, u, strict=True)]
        values, by = np.tile(base, (len(items), 1)), np.zeros((len(items), len(u)))
        by += [p.by_u(base[j]) for j, p in enumerate(self.parameters)]
        for row, item in enumerate(items):
            for path, number in item.settings:
                if not isinstance(number, str):
                    values[row, paths.index(path)] = number
            for path, factor in item.times:
                values[row, paths.index(path)] *= factor
                if path in self.paths:
                    by[row, self.paths.index(path)] *= factor
        outputs = ["ink_carried" if item.kind in PRINTED else item.kind for item in items]
        names = tuple(dict.fromkeys(outputs))
        at = np.array([names.index(name) for name in outputs])
        solve = functools.partial(_rows, case, paths, names, start="resting", mesh=1, threads=0)
        numbers, _, slopes, _ = solve(values, slopes=True)
        y = numbers[np.arange(len(items)), at]
        dy = slopes[np.arange(len(items)), at][:, : len(u)] * by
        for j in np.flatnonzero(np.isnan(dy).any(axis=0) & np.isfinite(y).any()):  # outputs without implicit slopes
            ends = []
            for step in (-1e-4, 1e-4):
                moved = values.copy()
                moved[:, j] += step * by[:, j]
                ends.append(solve(moved, slopes=False)[0][np.arange(len(items)), at])
            dy[:, j] = np.where(np.isnan(dy[:, j]), (ends[1] - ends[0]) / 2e-4, dy[:, j])
        for row, item in enumerate(items):
            if item.kind in PRINTED and np.isfinite(y[row]):
                law = _printed(item)
                ends = [law(y[row] * (1.0 + step)) for step in (-1e-5, 1e-5)]
                dy[row] *= (ends[1] - ends[0]) / (2e-5 * y[row])
                y[row] = law(y[row])
        return y, dy

    def _cup(self, rows: list[int], u: Floats) -> tuple[Floats, Floats]:
        """Closed laws: central differences are good to 1e-9."""
        item = self.items[rows[0]]
        steps = np.eye(len(u)) * 1e-5
        slopes = [(self._seconds(item, u + step) - self._seconds(item, u - step)) / 2e-5 for step in steps]
        return np.full(len(rows), self._seconds(item, u)), np.tile(slopes, (len(rows), 1))

    def _seconds(self, item: Item, u: Floats) -> float:
        core, cup = self._case(item, u)._core, cups()[item.reading.cup]
        ratio = item.reading.high_shear_ratio
        if ratio is None and core.get_choice("ink.rheology.law") in {"", "newtonian"}:
            raise refuse("high_shear_ratio", "", "must be stated for a Newtonian ink: no cup can tell it")
        share = 1.0 if ratio is None else si(ratio, "1", "high_shear_ratio")
        eta = float(_core.shear_viscosity(core, CUP_RATE, core.get_number("ink.temperature")))
        nu = 1e6 * eta / (share * core.get_number("ink.density"))  # as the formulas are printed, mm2/s
        if "/ t" in cup.formula:
            return float((nu + math.sqrt(nu * nu + 4.0 * cup.a * cup.b)) / (2.0 * cup.a))
        return float(nu / cup.a + cup.b)

    def _worn(self, rows: list[int], u: Floats) -> tuple[Floats, Floats]:
        s = np.array([self.items[k].distance for k in rows])
        item, slopes = self.items[rows[0]], np.zeros((len(rows), len(u)))
        curve, ln_k = self.curve(rows, u)
        for j, p in enumerate(self.parameters):
            if p.field.path == WEAR:
                slopes[:, j] = curve.slope(s, ln_k)
            elif p.field.path in dict(item.times) or not _silent(p.field.path):
                step = APART * np.eye(len(u))[j]
                ends = [self.curve(rows, u + sign * step)[0].at(s, ln_k) for sign in (-1.0, 1.0)]
                slopes[:, j] = (ends[1] - ends[0]) / (2.0 * APART)
        return curve.at(s, ln_k), slopes

    def curve(self, rows: list[int], u: Floats) -> tuple[Curve, float]:
        """The history of a group of worn readings at the case's own k_b, and ln of how many times that k_b is."""
        items = [self.items[k] for k in rows]
        k_only = [p.value(x) / p.base for p, x in zip(self.parameters, u, strict=True) if p.field.path == WEAR]
        factor = (k_only[0] if k_only else 1.0) * dict(items[0].times).get(WEAR, 1.0)
        lengths = (
            [item.value for item in items if math.isfinite(item.value)] if items[0].kind != "bedded_angle" else [1e-3]
        )
        far = max(item.distance for item in items)
        reach = self.reach if k_only else max(1.0, factor)
        case = self._case(items[0], u, wear=False)
        if not float(case[WEAR]):
            raise refuse(WEAR, "0 m2/N", "must be above 0 for a blade that wears")
        return curve_of(case, items[0].kind, far, max(lengths, default=1e-3), reach), math.log(factor)


def _printed(item: Item) -> Callable[[float], float]:
    transfer, law = item.reading.transfer, item.reading.density_law
    if item.kind == "ink_on_print":
        return lambda carried: float(ink_transfer(carried, transfer))
    return lambda carried: float(print_density(ink_transfer(carried, transfer), law))


def _silent(path: str) -> bool:
    """Fields that no worn blade shows."""
    return path.startswith(("roll.specific_wear", "roll.dry_specific_wear"))


def first_failure(model: Model, u: Floats) -> None:
    """Raises NotSolved, naming the first reading that is not solved at u."""
    values, _ = model.at(u)
    for k, value in itertools.compress(enumerate(values), ~np.isfinite(values)):
        raise NotSolved(f"data[{k}] ({model.items[k].kind}) is not solved where the search begins", value)
