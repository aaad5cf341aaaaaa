"""What a pressroom can measure, and what a case says it should have read."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._cup import flow_cup, flow_cups
from libblade._errors import NotSolved, refuse
from libblade._evaluate import _rows
from libblade._fields import FIELDS, Field
from libblade._fit_wear import KINDS, Curve, curve_of
from libblade._ink import _exp
from libblade._point import OUTPUTS, _Same
from libblade._print import DensityLaw, ink_transfer, print_density
from libblade._units import Floats, field_value, resolve, si

WEAR = "blade.specific_wear"
PRINTED = {"ink_on_print": "m", "density": "1"}
CUP_RATE = 300.0  # [1/s] in a flow cup: 1e2 to 1e3
APART = 0.02  # step of a field by which histories are compared, in its logarithm or its scale


@dataclass(frozen=True, eq=False)
class Reading(_Same):
    """One measured number with the setting it was read at.

    ``lb.Reading("density", 1.32, 0.02, {"setting.surface_speed": "300 m/min"}, times={"setting.line_load": 1.1})``
    """

    kind: str
    """``ink_on_print`` [m, that is m3/m2], ``density`` of a solid relative to the paper [-], ``cup_seconds`` [s],
    ``facet_length`` [m], ``bedded_angle`` [rad] or ``length_lost`` [m] after a ``distance``, or any output of an operating
    point (``ink_carried``, ``effective_angle``, ``interference``; see ``output_table()``)."""
    value: Any = None
    """SI number, text with unit or quantity; None where it is asked for (``Fit.predict``)."""
    error: Any = None
    """Its standard error: likewise, or a share of the value as text (``"5 %"``)."""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """Fields that differ from the case: values by path."""
    times: Mapping[str, float] = field(default_factory=dict)
    """Fields that are so many times those of the case, fitted ones too: a load step of +10 % is 1.1."""
    distance: Any = None
    """Of web since the blade began [m], for worn blades."""
    transfer: Any = 0.3
    """Of ``ink_on_print`` and ``density``: share of the ink carried that reaches the print, or a ``WalkerFetsko``."""
    density_law: DensityLaw | None = None
    """Of ``density``: D = limit (1 - exp(-absorption y)) (Tollenaar & Ernst 1961)."""
    cup: str = ""
    """Of ``cup_seconds``: standard and number, as ``flow_cup`` takes it."""
    high_shear_ratio: Any = None
    """Of ``cup_seconds``: viscosity of the ink's law over that in the cup, at 300 1/s; to be stated for a Newtonian ink, 1 by
    default for the other laws, which thin by themselves."""

    @property
    def unit(self) -> str:
        """SI."""
        units = {**PRINTED, "cup_seconds": "s", "length_lost": "m"}
        return units[self.kind] if self.kind in units else OUTPUTS[self.kind].unit


class Item(NamedTuple):
    """A reading as numbers."""

    reading: Reading
    kind: str
    value: float
    error: float
    settings: tuple[tuple[str, float | str], ...]
    times: tuple[tuple[str, float], ...]
    distance: float

    @property
    def worn(self) -> bool:
        return math.isfinite(self.distance)


def item_of(reading: Any, name: str, *, asked: bool = False) -> Item:
    """Raises InvalidInput, naming the reading, on anything that does not fit. ``asked``: value and error may be missing."""
    if not isinstance(reading, Reading):
        raise refuse(name, reading, "must be a Reading(...); data is a list of them or the dictionary of a record")
    kind, wear_only = reading.kind, reading.kind == "length_lost"
    if kind not in {*OUTPUTS, *PRINTED, "cup_seconds", "length_lost"}:
        raise refuse(f"{name}.kind", kind, f"must be {', '.join(PRINTED)}, cup_seconds, length_lost or an output")
    distance = math.nan if reading.distance is None else si(reading.distance, "m", f"{name}.distance")
    if (wear_only and reading.distance is None) or (reading.distance is not None and kind not in KINDS):
        raise refuse(
            f"{name}.distance", reading.distance, "goes with " + ", ".join(KINDS) + ", and length_lost needs it"
        )
    if reading.distance is not None and not (math.isfinite(distance) and distance >= 0.0):
        raise refuse(f"{name}.distance", reading.distance, "must be at least 0 m")
    if (kind == "cup_seconds") != bool(reading.cup) or (reading.cup and reading.cup not in _cups()):
        raise refuse(f"{name}.cup", reading.cup, "must be a cup of flow_cups() with cup_seconds, and with nothing else")
    value = math.nan if asked and reading.value is None else si(reading.value, reading.unit, f"{name}.value")
    error = math.nan if asked and reading.error is None else _error(reading, value, f"{name}.error")
    if reading.cup and reading.value is not None:
        flow_cup(reading.cup, value)
    if reading.value is not None and not (math.isfinite(value) and value >= 0.0):
        raise refuse(f"{name}.value", reading.value, "must be finite and at least 0")
    settings, times = dict[str, float | str](), dict[str, float]()
    for given, number in reading.settings.items():
        about, unit = resolve(given, f"{name}.settings.{given}")
        settings[about.path] = field_value(number, about, unit, given)
    for given, number in reading.times.items():
        about, _ = resolve(given, f"{name}.times.{given}")
        times[about.path] = si(number, "1", f"{name}.times.{given}")
        if about.kind != "number" or about.path in settings or not 0.0 < times[about.path] < math.inf:
            raise refuse(
                f"{name}.times.{given}", number, "must be above 0, for a numeric field that settings do not hold"
            )
    return Item(reading, kind, value, error, tuple(settings.items()), tuple(times.items()), distance)


def _error(reading: Reading, value: float, name: str) -> float:
    given = reading.error
    share = isinstance(given, str) and given.rstrip().endswith("%")
    if share and math.isnan(value):
        return value
    error = abs(value) * si(given, "1", name) if share else si(given, reading.unit, name)
    if not (math.isfinite(error) and error > 0.0):
        raise refuse(name, given, f"must be a standard error above 0 [{reading.unit}]")
    return error


@functools.cache
def _cups() -> dict[str, Any]:
    return {cup.name: cup for cup in flow_cups()}


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
        core, cup = self._case(item, u)._core, _cups()[item.reading.cup]
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


__all__ = ["FIELDS", "Item", "Model", "Parameter", "Reading", "first_failure", "item_of", "parameter"]
