"""Fields of a case from measured records, with their uncertainty."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case, _restore, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._ink import AT_REST, WIDE, _quantile, _spread
from libblade._physics import _number
from libblade._point import Convergence, _Same, solve
from libblade._units import Floats, _has_units, numbers, resolve, si
from libblade._wear import wear

KINDS = ("facet_length", "length_lost")
FIT_FIELDS = ("blade.specific_wear",)
RANGE = 100.0  # the search: the case's own value over and times this
REACHES = (4.0, 20.0, RANGE)  # a history goes so many times as far as the record, the next where the search ends there
GRID = 12  # values of k_b tried before the search, for each factor e
ACCURACY = 1e-5  # of the curve between its entries, over the largest reading
RISING = 0.02  # of a reading per factor e of k_b: less says nothing


@dataclass(frozen=True, eq=False)
class FitBand(_Same):
    """What a fit says at other distances, 90 % each; every number has the shape of the input."""

    distance: Any
    """[m]."""
    value: Any
    """Of the measured kind, SI."""
    lower: Any
    """Of the curve."""
    upper: Any
    """Of the curve."""
    lower_reading: Any
    """Of one more reading, as uncertain as the ones fitted."""
    upper_reading: Any
    """Of one more reading."""


@dataclass(frozen=True, eq=False)
class Fit(_Same):
    """Fields fitted to a record; p fields, n readings."""

    fields: tuple[str, ...]
    values: Floats
    """SI, (p,)."""
    covariance: Floats
    """Of the logarithms of the values [-], (p, p)."""
    standard_error: Floats
    """Relative, of the values [-], (p,)."""
    lower: Floats
    """90 % interval by Student's t on n - p degrees of freedom, SI, (p,)."""
    upper: Floats
    """Same, (p,)."""
    undetermined: tuple[str, ...]
    """Fields that the record does not determine: interval wider than a factor of 3 either way, or the search ended at a limit."""
    notes: tuple[str, ...]
    """What the record can and cannot say, in sentences."""
    kind: str
    """"facet_length" or "length_lost"."""
    distance: Floats
    """Of the readings [m], (n,)."""
    measured: Floats
    """SI, (n,)."""
    reading_error: Floats
    """Standard error of the readings that the covariance stands on, SI, (n,)."""
    residuals: Floats
    """Model less reading, SI, (n,)."""
    scatter: float
    """sqrt(sum of squares of the residuals / (n - p)); in stated errors where they were stated, else SI."""
    convergence: Convergence
    case: Case
    """With the fitted values."""

    @property
    def degrees_of_freedom(self) -> int:
        """n - p."""
        return self.distance.size - self.values.size

    def predict(self, distance: npt.ArrayLike) -> FitBand:
        """The measured kind at other distances [m] with 90 % intervals of curve and reading: linear propagation in ln k_b.

        A reading there is taken to be as uncertain as the fitted ones beside it. Raises InvalidInput on a distance below 0.
        """
        s = _column(distance, "m", "distance")
        if not np.all(s >= 0.0):
            raise refuse("distance", float(s.min()), "must be at least 0 m")
        curve = _curve(self.case, self.distance, self.measured, self.kind, REACHES[0])
        value, slope = curve.at(s.ravel(), 0.0), curve.slope(s.ravel(), 0.0)
        order = np.argsort(self.distance)
        noise = np.interp(s.ravel(), self.distance[order], self.reading_error[order])
        quantile = _quantile(self.degrees_of_freedom)
        half = quantile * np.abs(slope) * self.standard_error[0]
        wide = np.hypot(half, quantile * noise)
        columns = (value, value - half, value + half, value - wide, value + wide)
        return FitBand(_number(s), *(_number(column.reshape(s.shape)) for column in columns))

    def __repr__(self) -> str:
        lines = [f"{self.convergence}, {self.distance.size} readings of {self.kind}, scatter {self.scatter:.2g}"]
        for name, value, low, high in zip(self.fields, self.values, self.lower, self.upper, strict=True):
            lines.append(f"  {name:<26}{value:.5g}  90 %: {low:.4g} to {high:.4g}")
        return "\n".join([*lines, *(f"  {note}" for note in self.notes)])


def fit(
    case: Case,
    data: Mapping[str, Any],
    fields: Sequence[str] = FIT_FIELDS,
    *,
    relative_error: Any = None,
    absolute_error: Any = None,
    on_failure: str = "raise",
) -> Fit:
    """Fits fields of a case to a record: today ``blade.specific_wear`` (k_b) to worn facets or blade lengths lost.

    ``data``: a dictionary or an xarray dataset with ``distance`` of web since the case's blade began [m] and either
    ``facet_length`` or ``length_lost`` since then along the roll-facing side [m], (n,) each; SI numbers, texts with unit, arrays
    with units, or names that carry the unit (``distance_km``). ``relative_error`` [-] and ``absolute_error`` [m] are standard
    errors of a reading, one number or (n,), together in quadrature: they weigh the readings, and the scatter about the model
    replaces them where that is larger; without, weights are equal and the scatter alone counts.

    Least squares by scipy in ln k_b, within a factor of 100 of the case's own value, from the best of a grid: same record, same
    result. At a steady setting a history depends on k_b and the distance s through k_b s alone (Archard's law has no other place
    for k_b), so that one history serves every k_b: worn area as Hermite cubics with its slope k_b N_a, bedded angle as monotone
    cubics, facet and length lost by their plane geometry. Intervals are ln k_b -/+ t_95 %(n - p) standard errors (Gauss-Newton).

    Raises InvalidInput on bad records; NotSolved when the history or the search does not converge (``on_failure="flag"`` returns
    an unconverged search). Needs scipy: pip install "libblade[statistics]".
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    paths = tuple(fields) if not isinstance(fields, str) else (fields,)
    if tuple(resolve(path)[0].path for path in paths) != FIT_FIELDS:
        raise refuse("fields", ", ".join(map(str, paths)), f"must be {list(FIT_FIELDS)}")
    record = _record(data, relative_error, absolute_error)
    if not case["blade.specific_wear"]:
        raise refuse("blade.specific_wear", "0 m2/N", "must be above 0: the search begins there")
    found = _fit(case, record)
    if not found.convergence.ok and on_failure == "raise":
        raise NotSolved(str(found.convergence), found)
    return found


class _Record(NamedTuple):
    kind: str
    distance: Floats
    measured: Floats
    error: Floats
    stated: bool


def _column(values: Any, unit: str, name: str) -> Floats:
    """Numbers, quantities, arrays with units or a list of texts, as SI."""
    if _has_units(values):
        units = str(values.attrs["units"])
        column: Floats = np.vectorize(lambda v: _core.to_si(v, units, unit, name))(numbers(values.values, "1", name))
        return column
    if isinstance(values, list | tuple) and any(isinstance(value, str) for value in values):
        return np.array([si(value, unit, name) for value in values])
    return numbers(values, unit, name)


def _record(data: Any, relative_error: Any, absolute_error: Any) -> _Record:
    names = ("distance", *KINDS)
    if not isinstance(data, Mapping):
        raise refuse("data", type(data).__name__, "must be a dictionary or a dataset with " + " or ".join(names))
    columns: dict[str, Floats] = {}
    for given in getattr(data, "variables", data):  # of a dataset, coordinates too
        name = next((n for n in names if given == n or str(given).startswith(n + "_")), None)
        unit = _core.unit_of_suffix(str(given)[len(name) + 1 :], "m") if name and given != name else ""
        if name is None or (given != name and not unit) or name in columns:
            raise refuse(
                f"data.{given}", "", "is not one of " + ", ".join(names) + ", once, with a unit of length or none"
            )
        column = _column(data[given], "m", str(given))
        columns[name] = np.vectorize(lambda v, u=unit: _core.to_si(v, u, "m", "data"))(column) if unit else column
    kinds = [kind for kind in KINDS if kind in columns]
    if "distance" not in columns or len(kinds) != 1:
        raise refuse("data", ", ".join(columns), f"must hold distance and one of {' and '.join(KINDS)}")
    s, y = columns["distance"], columns[kinds[0]]
    if s.ndim != 1 or s.size < 2 or y.shape != s.shape:
        raise refuse("data", f"{s.shape} and {y.shape}", "must hold at least 2 readings, as many values as distances")
    if not (np.all(s > 0.0) and np.all(y >= 0.0)):
        raise refuse("data", float(min(s.min(), y.min())), "must hold distances above 0 and lengths of at least 0")
    error, stated = np.zeros(s.size), relative_error is not None or absolute_error is not None
    for name, value, unit, scale in (
        ("relative_error", relative_error, "1", y),
        ("absolute_error", absolute_error, "m", np.ones(s.size)),
    ):
        if value is None:
            continue
        part = _column(value, unit, name)
        if part.shape not in {(), s.shape} or not np.all(part > 0.0):
            raise refuse(name, value, f"must be above 0, one number or with the shape {s.shape}")
        error = np.hypot(error, part * scale)
    if stated and not np.all(error > 0.0):
        raise refuse(
            "relative_error", relative_error, "leaves a reading of 0 without an error: state absolute_error too"
        )
    return _Record(kinds[0], s, y, error if stated else np.ones(s.size), stated)


class _Curve(NamedTuple):
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
        return out

    def slope(self, s: Floats, ln_k: float) -> Floats:
        """Against ln k_b."""
        return (self.at(s, ln_k + 1e-4) - self.at(s, ln_k - 1e-4)) / 2e-4


def _curve(case: Case, distance: Floats, measured: Floats, kind: str, reach: float) -> _Curve:
    """The history that a record needs; ends are rounded up, so that records of one trial share it."""

    def rounded(value: float) -> float:
        return 1.3 ** math.ceil(math.log(1.3 * max(value, 1e-9)) / math.log(1.3))

    far, long = rounded(float(distance.max())), rounded(float(measured.max()))
    return _history(case.to_json(), kind, reach * far, long)


@functools.lru_cache(maxsize=16)
def _history(case_text: str, kind: str, distance: float, measured: float) -> _Curve:
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
    return _Curve(
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


def _fit(case: Case, record: _Record) -> Fit:
    try:
        from scipy.optimize import least_squares  # noqa: PLC0415 -- slow to import
    except ImportError as missing:
        raise ImportError('fitting needs scipy: pip install "libblade[statistics]"') from missing
    s, y = record.distance, record.measured
    for reach in REACHES:
        curve = _curve(case, s, y, record.kind, reach)
        residuals = functools.partial(_residuals, curve, record)
        low, high = -math.log(RANGE), math.log(reach)
        tried = np.arange(low, high, 1.0 / GRID)
        start = float(tried[np.argmin([np.sum(residuals(tried[i : i + 1]) ** 2) for i in range(tried.size)])])
        found = least_squares(
            residuals,
            [np.clip(start, low + 1e-6, high - 1e-6)],
            jac=lambda p, curve=curve: (curve.slope(s, float(p[0])) / record.error)[:, None],
            bounds=(max(start - 2.0 / GRID, low), min(start + 2.0 / GRID, high)),
            x_scale="jac",
            ftol=1e-15,
            xtol=1e-15,
            gtol=1e-15,
        )
        if found.x[0] < high - 0.2:
            break
    ln_k, freedom = float(found.x[0]), s.size - 1
    chi = math.sqrt(2.0 * found.cost / freedom)
    reading_error = np.maximum(record.error * (max(chi, 1.0) if record.stated else chi), ACCURACY * y.max())
    jacobian = (curve.slope(s, ln_k) / reading_error)[:, None]
    seen = float(np.linalg.norm(jacobian)) > 0.0
    spread = _spread(jacobian) if seen else np.array([[1e15]])
    error = np.linalg.norm(spread, axis=1)
    half = _quantile(freedom) * error
    at_limit = math.log(RANGE) - abs(ln_k) < 0.01
    left = abs(float(jacobian[:, 0] @ (found.fun * record.error / reading_error))) * float(error[0])
    ended = "converged" if left <= AT_REST or at_limit or not seen else "stagnated"
    words = "" if ended == "converged" else "the least squares were not found"
    if curve.stopped and float(s.max()) * math.exp(ln_k) > curve.end:
        ended, words = "out_of_range", f"the history ends within the record: {curve.stopped}"
    k = float(case["blade.specific_wear"]) * math.exp(ln_k)
    with np.errstate(over="ignore"):
        lower, upper = k * np.exp(-half), k * np.exp(half)
    out = Fit(
        FIT_FIELDS,
        np.array([k]),
        spread @ spread.T,
        error,
        lower,
        upper,
        FIT_FIELDS if half[0] > math.log(WIDE) or at_limit else (),
        (),
        record.kind,
        s.copy(),
        y.copy(),
        reading_error,
        curve.at(s, ln_k) - y,
        chi,
        Convergence(ended, left, AT_REST, int(found.nfev), words),
        Case._wrap(_with(case, k)),
    )
    return replace(out, notes=tuple(_notes(out, curve, ln_k, at_limit=at_limit, stated=record.stated)))


def _residuals(curve: _Curve, record: _Record, p: Floats) -> Floats:
    out: Floats = (curve.at(record.distance, float(p[0])) - record.measured) / record.error
    return out


def _with(case: Case, specific_wear: float) -> _core.Case:
    core = case._core.copy()
    core.set_number(FIT_FIELDS[0], specific_wear)
    return core


def _notes(fitted: Fit, curve: _Curve, ln_k: float, *, at_limit: bool, stated: bool) -> Iterator[str]:
    """What the record can and cannot say."""
    s = fitted.distance
    if fitted.undetermined:
        known = "the search ended at its limit" if at_limit else "its interval is wider than a factor of 3 either way"
        yield f"blade.specific_wear is not determined: {known}"
    silent = np.abs(curve.slope(s, ln_k)) < RISING * np.maximum(curve.at(s, ln_k), 1e-12)
    full = curve.worn(s, ln_k) >= curve.full_from
    if fitted.kind == "facet_length" and full.any():
        yield (
            f"{int(full.sum())} of {s.size} readings come after the facet has eaten the cut face: its length then says "
            "nothing about blade.specific_wear"
        )
    if fitted.kind == "length_lost" and not full.all():
        yield (
            f"{int((~full).sum())} of {s.size} readings come before the facet has eaten the cut face: only the roll-facing side "
            "is shorter then, and by a corner that grows as a root of the distance"
        )
    if np.any(silent & ~full):
        yield f"{int(np.sum(silent & ~full))} of {s.size} readings hardly change with blade.specific_wear"
    if curve.rides_from * math.exp(-ln_k) < s.max():
        yield f"from {1e-3 * curve.rides_from * math.exp(-ln_k):.3g} km on the blade rides on the ink and does not wear"
    if stated and fitted.scatter**2 * fitted.degrees_of_freedom > _largest(fitted.degrees_of_freedom):
        yield f"the readings scatter {fitted.scatter:.2g} times as much as their stated error: the case may not be theirs"
    yield (
        "only the product of blade.specific_wear and touching load is seen: a line load that is wrong by a share makes the "
        "value wrong by about as much, beyond the interval"
    )


def _largest(freedom: int) -> float:
    from scipy.special import chdtri  # noqa: PLC0415 -- slow to import

    return float(chdtri(freedom, 0.01))
