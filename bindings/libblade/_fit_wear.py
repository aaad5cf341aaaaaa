"""Worn facets and lengths lost along one history, read for every wear coefficient."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case, _restore
from libblade._errors import NotSolved
from libblade._point import solve
from libblade._units import Floats
from libblade._wear import wear

KINDS = ("facet_length", "bedded_angle", "length_lost")
"""What a distance of web goes with."""
ACCURACY = 1e-5  # of the curve between its entries, over the largest reading
RISING = 0.02  # of a reading per factor e of k_b: less says nothing


class Curve(NamedTuple):
    """One history, for every k_b."""

    kind: str
    area: Any
    angle: Any
    end: float
    """Distance at the case's own k_b [m]."""
    rate: float
    """Of the area beyond [m]."""
    stopped: str
    """Why it could not go on there; empty where it need not."""
    full_from: float
    """Area from which on the cut face is eaten [m2]."""
    thickness: float
    rides_from: float
    """Distance from which on the blade does not wear [m]."""

    def worn(self, s: Floats, ln_k: float) -> Floats:
        """Area at distances, k_b being the case's own times e^ln_k [m2]."""
        x = s * math.exp(ln_k)
        area: Floats = self.area(np.minimum(x, self.end)) + self.rate * np.maximum(x - self.end, 0.0)
        return area

    def at(self, s: Floats, ln_k: float) -> Floats:
        x = np.append(s * math.exp(ln_k), 0.0)
        length, lost = _core.wear_cut(
            self.worn(np.append(s, 0.0), ln_k), self.angle(np.minimum(x, self.end)), self.full_from, self.thickness
        )
        out: Floats = length[:-1] if self.kind == "facet_length" else lost[:-1] - lost[-1]
        if self.kind == "bedded_angle":
            out = self.angle(np.minimum(x[:-1], self.end))
        return out

    def slope(self, s: Floats, ln_k: float) -> Floats:
        """Against ln k_b."""
        return (self.at(s, ln_k + 1e-4) - self.at(s, ln_k - 1e-4)) / 2e-4


def curve_of(case: Case, kind: str, far: float, largest: float, reach: float) -> Curve:
    """The history that readings up to a distance ``far`` [m] and a length ``largest`` [m] need, for k_b up to ``reach`` times the
    case's; ends are rounded up, so that records of one trial share it."""

    def rounded(value: float) -> float:
        return 1.3 ** math.ceil(math.log(1.3 * max(value, 1e-9)) / math.log(1.3))

    return _history(case.to_json(), kind, reach * rounded(far), rounded(largest))


@functools.lru_cache(maxsize=64)
def _history(case_text: str, kind: str, distance: float, measured: float) -> Curve:
    from scipy.interpolate import CubicHermiteSpline, PchipInterpolator  # noqa: PLC0415 -- slow to import

    case = _restore(case_text)
    thickness = float(_core.tip_thickness(case._core))
    # Lost when the cut face is gone, amply: at half the set angle.
    corner = 1.5 * thickness / math.tan(max(0.5 * float(case["setting.set_angle"]), 0.02))
    limits: dict[str, Any] = {"length_limit": corner + (measured if kind == "length_lost" else 0.0)}
    if kind == "facet_length":
        there = solve(case, step_response=False, other_branch=False, run_out=False).facet_length
        limits["facet_limit"] = max(measured, 1.3 * there if case["tip.kind"] == "facet" else 0.0)
    story = wear(case, distance, on_failure="flag", **limits)
    if story.dataset.distance.size < 2:
        raise NotSolved(str(story.convergence), story)
    data = story.dataset
    s, first = np.unique(data.distance.values, return_index=True)
    area, angle, load = (data[name].values[first] for name in ("removed_area", "bedded_angle", "asperity_load"))
    if s[0] > 0.0:  # a square edge begins with nothing worn
        begin = (0.0, 0.0, angle[0], load[0])
        s, area, angle, load = (np.insert(c, 0, v) for c, v in zip((s, area, angle, load), begin, strict=True))
    k = float(case["blade.specific_wear"])
    full = next((e.distance for e in story.events if e.kind == "fully_worn"), math.inf)
    if data.facet_length.values[0] * math.sin(angle[0]) > 0.999 * thickness:
        full = 0.0
    resting = np.flatnonzero(load > 1e-4 * load.max())
    return Curve(
        kind,
        CubicHermiteSpline(s, area, k * load),
        PchipInterpolator(s, angle),
        float(s[-1]),
        k * float(load[-1]),
        story.convergence.message,
        float(area[np.searchsorted(s, full)]) if math.isfinite(full) else math.inf,
        thickness,
        float(s[resting[-1]]) if resting[-1] + 1 < s.size else math.inf,
    )


def notes_of(curve: Curve, s: Floats, ln_k: float) -> Iterator[str]:
    """What readings at distances ``s`` can and cannot say of k_b."""
    silent = np.abs(curve.slope(s, ln_k)) < RISING * np.maximum(curve.at(s, ln_k), 1e-12)
    full = curve.worn(s, ln_k) >= curve.full_from
    if curve.kind == "facet_length" and full.any():
        yield (
            f"{int(full.sum())} of {s.size} readings come after the facet has eaten the cut face: its length then says "
            "nothing about blade.specific_wear"
        )
    if curve.kind == "length_lost" and not full.all():
        yield (
            f"{int((~full).sum())} of {s.size} readings come before the facet has eaten the cut face: only the roll-facing side "
            "is shorter then, and by a corner that grows as a root of the distance"
        )
    if curve.kind != "bedded_angle" and np.any(silent & ~full):
        yield f"{int(np.sum(silent & ~full))} of {s.size} readings hardly change with blade.specific_wear"
    if curve.rides_from * math.exp(-ln_k) < s.max():
        yield f"from {1e-3 * curve.rides_from * math.exp(-ln_k):.3g} km on the blade rides on the ink and does not wear"
