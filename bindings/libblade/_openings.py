"""Without a window: the single changes that would open one, by solving anew."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from libblade._advice import LIMIT_WORDS
from libblade._case import Case
from libblade._errors import InvalidInput, LibbladeWarning, refuse
from libblade._fields import FIELDS
from libblade._limits import STEP_OUTPUTS
from libblade._point import solve
from libblade._units import resolve
from libblade._window import ProcessWindow
from libblade._window_job import Job, _text

RUNGS = (1.1, 1.25, 1.5, 2.0)
HALVINGS = 3
# What a pressroom or a purchaser can change; fields and words. A facet is shorter on a newer blade.
LEVERS: dict[str, str] = {
    "blade.free_length": "extension",
    "blade.thickness": "blade thickness",
    "ink": "ink viscosity",
    "setting.surface_speed": "speed",
    "tip.facet_length": "facet (a newer blade)",
    "roll.land_roughness": "roughness of the roll's lands",
    "setting.orientation": "orientation",
    "setting.holding": "holding",
}
_VISCOSITIES = (
    "ink.rheology.viscosity",
    "ink.rheology.zero_shear_viscosity",
    "ink.rheology.infinite_shear_viscosity",
    "ink.rheology.consistency",
)


@dataclass(frozen=True)
class Opening:
    """A single change with which a window exists."""

    lever: str
    """Path of the field, ``"ink"`` (all viscosities) or ``"limit NAME"``."""
    words: str
    """In a sentence's part: "extension 12 mm to 14.1 mm"."""
    factor: float
    """New value over old one, of a limit how far it is relaxed [-]; NaN for a choice."""
    window: ProcessWindow | None = field(default=None, repr=False, compare=False)
    """With the change, on the searched grid; None for a limit."""

    @property
    def size(self) -> float:
        """``abs(ln(factor))``, by which openings are ranked; choices come after numbers."""
        return math.inf if math.isnan(self.factor) else abs(math.log(self.factor))


def openings(
    window: ProcessWindow, levers: Mapping[str, str] | None = None, *, points: int = 7, limits: bool = True
) -> tuple[Opening, ...]:
    """Single changes that would open a window where ``find_window`` found none, the nearest (least ``abs(ln(factor))``) first.

    ``levers`` maps fields, or ``"ink"`` for all viscosities, to words; by default extension, blade thickness, ink viscosity,
    speed, a shorter facet, roughness of the lands, orientation and holding, as far as they are not swept. Numbers are tried at 1.1,
    1.25, 1.5 and 2 times more and less (the facet only less) on ``points`` values along each field at most, and the least change is
    then halved in on, to an eighth of a rung; choices are tried as words. With ``limits`` each limit with a number is relaxed
    alone too, as far as the whole grid asks. A lever that opens nothing is left out; one that opens a window between rungs only, or
    between the searched points only, is missed.

    Raises InvalidInput when the window is none of ``find_window``, or a lever is unknown.
    """
    job = window.job
    if job is None:
        raise refuse("window", "no job", "must come from libblade.find_window")
    found: list[Opening] = []
    if window.exists:
        return ()
    coarse = job.coarser(points)
    for lever, words in (LEVERS if levers is None else levers).items():
        path = lever if lever == "ink" else resolve(lever)[0].path
        if path in job.fields:
            continue
        if path != "ink" and FIELDS[path].kind != "number":
            found += _choices(coarse, path, words)
        elif (opening := _nearest(coarse, path, words)) is not None:
            found.append(opening)
    if limits:
        found += _relaxed(window)
    return tuple(sorted(found, key=lambda opening: (opening.size, opening.lever)))


def _try(job: Job, changes: Mapping[str, Any]) -> ProcessWindow | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", LibbladeWarning)
            other = job.changed(changes)
    except (InvalidInput, LibbladeWarning):
        return None  # outside what a case may be, or usually is
    window = other.ask()
    return window if window.exists else None


def _choices(job: Job, path: str, words: str) -> list[Opening]:
    now = job.case[path]
    opened = ((other, _try(job, {path: other})) for other in FIELDS[path].choices if other != now)
    return [Opening(path, f"{words} {other} instead of {now}", math.nan, window) for other, window in opened if window]


def _scaled(case: Case, path: str) -> tuple[Callable[[float], dict[str, Any]], str, Callable[[float], str]] | None:
    """Changes by a factor, the value now and by a factor in words."""
    if path == "ink":
        stated = {p: float(v) for p in _VISCOSITIES if isinstance(v := case.get(p), float | int)}
        if not stated:
            return None
        return lambda f: {p: _text(p, f * v) for p, v in stated.items()}, "as it is", lambda f: f"x {f:.3g}"
    value = case.get(path)
    if path == "tip.facet_length" and value == "worn":
        value = solve(case, step_response=False, other_branch=False, on_failure="flag").facet_length
    if not isinstance(value, float | int) or not math.isfinite(value) or value <= 0.0:
        return None
    shown = FIELDS[path]
    return (
        lambda f: {path: _text(path, f * value)},
        f"{shown.display(value):.3g} {shown.display_unit}".rstrip(),
        lambda f: f"{shown.display(f * value):.3g} {shown.display_unit}".rstrip(),
    )


def _nearest(job: Job, path: str, words: str) -> Opening | None:
    scaled = _scaled(job.case, path)
    if scaled is None:
        return None
    changes, now, then = scaled
    best: tuple[float, ProcessWindow] | None = None
    for sign in (-1.0,) if path == "tip.facet_length" else (-1.0, 1.0):
        closed = 1.0
        for rung in RUNGS:
            if best is not None and math.log(closed) >= abs(math.log(best[0])):
                break
            window = _try(job, changes(rung**sign))
            if window is None:
                closed = rung
                continue
            opened = rung
            for _ in range(HALVINGS):
                middle = math.sqrt(closed * opened)
                nearer = _try(job, changes(middle**sign))
                if nearer is None:
                    closed = middle
                else:
                    opened, window = middle, nearer
            if best is None or math.log(opened) < abs(math.log(best[0])):
                best = (opened**sign, window)
            break
    if best is None:
        return None
    return Opening(path, f"{words} {now} to {then(best[0])}", best[0], best[1])


def _relaxed(window: ProcessWindow) -> list[Opening]:
    """The least factor on each limit alone, at a point where every other limit holds."""
    stepped = {STEP_OUTPUTS[name]: name for name in window.limits if name in STEP_OUTPUTS}

    def owner(condition: str) -> str:
        """The limit a condition belongs to; after a step of a shift that on the case's load step is one on the state itself."""
        stem, after, _ = condition.partition(" ")
        return stepped.get(stem, stem) if after else stem

    out = []
    for name in map(str, window.used):
        others = np.logical_and.reduce([mask for condition, mask in window.holds.items() if owner(condition) != name])
        least = float(np.min(np.where(others, window.used[name].values, np.inf)))
        if math.isfinite(least) and least > 1.0:
            words = f"limit on {LIMIT_WORDS.get(name, name.replace('_', ' '))} ({window.limits[name]}) relaxed by "
            out.append(Opening(f"limit {name}", f"{words}{100.0 * (least - 1.0):.2g} %", least))
    return out
