"""What readings cannot tell: directions among the fields, in words, and the reading that would tell them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from libblade._case import Case
from libblade._errors import InvalidInput, NotSolved
from libblade._fit_model import WEAR, Model
from libblade._ink import WIDE
from libblade._point import _Same
from libblade._reading import Item, Reading, item_of
from libblade._units import Floats

TOGETHER = 0.2  # share of the largest from which on a field takes part in a direction
USUAL = {
    "the angle of the worn facet": Reading("effective_angle", None, "0.5 deg"),
    "the holder advance past first touch": Reading("interference", None, "20 um"),
    "the ink on the print at this setting": Reading("ink_on_print", None, "5 %"),
    "the ink on the print at twice the speed": Reading(
        "ink_on_print", None, "5 %", times={"setting.surface_speed": 2.0}
    ),
    "the ink on the print at half the speed": Reading(
        "ink_on_print", None, "5 %", times={"setting.surface_speed": 0.5}
    ),
    "the density at 10 % more load": Reading("density", None, 0.02, times={"setting.line_load": 1.1}),
}
WORN = {"the facet after 100 km": Reading("facet_length", None, "5 um", distance="100 km")}


@dataclass(frozen=True, eq=False)
class Unknown(_Same):
    """A direction among the fields along which the readings hardly change."""

    fields: tuple[str, ...]
    """That take part."""
    direction: Floats
    """In the logarithms of the fields (angles and the like: in halves of their usual range), of length 1, (p,)."""
    half_width: float
    """Of the 90 % interval along it [-]; infinite where nothing changes. Unknown: a field's share of it is above a factor of 3."""
    words: str
    """What is known instead."""
    remedy: str
    """What further reading would settle it."""


def unknown_directions(model: Model, u: Floats, by_reading: Floats, quantile: float) -> tuple[Unknown, ...]:
    """From the slopes of the readings in their standard errors, (n, p): least known first."""
    _, s, vt = np.linalg.svd(by_reading)
    s = np.append(s, np.zeros(vt.shape[0] - s.size))
    with np.errstate(divide="ignore"):
        half = np.where(s > 1e-12 * max(s[0], 1e-300), quantile / s, np.inf)
    vague = half * np.abs(vt).max(axis=1) > math.log(WIDE)
    out = []
    for k in np.flatnonzero(vague)[::-1]:
        v = vt[k]
        part = np.flatnonzero(np.abs(v) > TOGETHER * np.abs(v).max())
        names = tuple(model.paths[j] for j in part)
        words = _words(model, names, v[part], int(vague.sum()))
        if len(names) == 2:
            firm, w = ~vague, np.zeros(v.size)
            w[part] = v[part][1], -v[part][0]
            known = quantile * float(np.linalg.norm((vt[firm] @ (w / w[part[0]])) / s[firm]))
            words += f", to a factor of {math.exp(min(known, 20.0)):.3g} either way" if firm.any() else ""
        out.append(Unknown(names, v, float(half[k]), words, _remedy(model, u, v, float(half[k]), quantile)))
    return tuple(out)


def _words(model: Model, names: tuple[str, ...], v: Floats, count: int) -> str:
    logs = [p.log for p in model.parameters if p.field.path in names]
    if len(names) == 1:
        return f"the readings say nothing of {names[0]}"
    if len(names) == 2 and count == 1 and all(logs):
        power = -v[0] / v[1]
        if abs(power - 1.0) < 0.15:
            return f"only the product of {names[0]} and {names[1]} is known"
        if abs(power + 1.0) < 0.15:
            return f"only the ratio of {names[0]} and {names[1]} is known"
        return f"only {names[0]} x {names[1]}^{power:.2g} is known"
    return f"only a combination of {', '.join(names[:-1])} and {names[-1]} is known, not each of them"


def _remedy(model: Model, u: Floats, v: Floats, half: float, quantile: float) -> str:
    """The usual reading that narrows the direction most."""
    best, least, most = "", half, float(np.abs(v).max())
    usual = dict(USUAL)
    if WEAR in model.paths and not any(item.worn for item in model.items):
        usual |= WORN
    for words, reading in usual.items():
        slope = _slope(model, reading, u, v)
        narrowed = quantile / math.hypot(slope, quantile / half)
        if narrowed < 0.98 * least:
            best, least = f"{words}, read to {reading.error}", narrowed
    if least * most > math.log(WIDE):
        return "no usual reading settles it: take one of the fields from elsewhere, as a prior"
    return f"{best}, would settle it: to a factor of {math.exp(least * most):.3g} either way"


def _slope(model: Model, reading: Reading, u: Floats, v: Floats) -> float:
    """Along v, in standard errors of the reading."""
    item = item_of(reading, "usual", asked=True)
    try:
        values, slopes = Model(model.case, model.parameters, [item], model.reach).at(u)
    except (InvalidInput, NotSolved):
        return 0.0
    error = 0.05 * float(values[0]) if reading.error == "5 %" else item.error
    slope = abs(float(slopes[0] @ v)) / error
    return slope if math.isfinite(slope) else 0.0


def outside(case: Case, item: Item, fitted: list[Item]) -> Iterator[str]:
    """In what a reading lies beyond the fitted ones of its kind."""
    alike = [other for other in fitted if other.kind == item.kind and other.worn == item.worn]
    if not alike:
        yield f"{item.kind} was not among the readings"
        return
    if item.worn:
        first, last = (1e-3 * end(other.distance for other in alike) for end in (min, max))
        if not first * (1.0 - 1e-9) <= 1e-3 * item.distance <= last * (1.0 + 1e-9):
            yield f"{item.kind} was read from {first:.4g} to {last:.4g} km"
    for path in dict.fromkeys(path for i in (item, *alike) for path, _ in (*i.settings, *i.times)):
        here, there = _setting(case, item, path), [_setting(case, other, path) for other in alike]
        if isinstance(here, str):
            if here not in there:
                yield f"{item.kind} was not read with {path} = {here}"
            continue
        numbers = [float(value) for value in there]
        if not min(numbers) - 1e-9 * abs(here) <= here <= max(numbers) + 1e-9 * abs(here):
            yield f"{item.kind} was read with {path} from {min(numbers):.4g} to {max(numbers):.4g}"


def _setting(case: Case, item: Item, path: str) -> float | str:
    value = dict(item.settings).get(path, case[path])
    return value if isinstance(value, str) else value * dict(item.times).get(path, 1.0)
