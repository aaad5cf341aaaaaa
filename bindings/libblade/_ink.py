"""The ink by itself: exact plane flow in a gap, and a viscosity law fitted to measured readings."""

from __future__ import annotations

import itertools
import math
import warnings
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import CarreauYasuda, Case, Component, Cross, Ink, PowerLaw, _flatten, assign
from libblade._errors import LibbladeWarning, NotSolved, one_of, refuse
from libblade._fields import FIELDS
from libblade._physics import _number
from libblade._point import Convergence, _Same
from libblade._units import Floats, gather, numbers, positive

NIP_RATES = (1e6, 1e8)
"""Speed over gap under a blade [1/s]: 1 to 10 m/s over 0.1 to 1 um."""


def _law_core(ink: Any) -> _core.Case:
    """A core case with this ink or law, every parameter of the law stated."""
    if isinstance(ink, Case):
        return ink._core
    if isinstance(ink, Ink):
        prefix = "ink."
    elif isinstance(ink, Cross | PowerLaw | CarreauYasuda | Mapping):
        prefix = "ink.rheology."
    else:
        raise refuse("ink", ink, "must be an Ink(...), Cross(...), PowerLaw(...), CarreauYasuda(...) or a Case")
    core, flat = _core.Case(), dict[str, Any]()
    _flatten(ink, prefix, flat)
    problems: list[tuple[str, str, str]] = []
    stated = assign(core, flat, problems)
    gather(problems)
    needed = ["ink.viscosity"]
    if (law := core.get_choice("ink.rheology.law")) != "newtonian":
        needed = [f"ink.rheology.{name}" for name in LAWS[law].names if name != "transition"]
    if "ink.rheology.viscosity" in stated:
        stated.add("ink.viscosity")
    gather([(path, "", f"is missing: the {law} law takes it") for path in needed if path not in stated])
    gather([problem for problem in _core.check(core) if problem[0].startswith("ink.")])
    return core


@dataclass(frozen=True, eq=False)
class PlaneFlow(_Same):
    """Flow of an ink between a wall that moves and one at rest; every number has the shape of the input."""

    flow: Any
    """q along the motion, per width [m2/s]."""
    moving_wall_stress: Any
    """Shear on the moving wall [Pa]; positive brakes a wall that moves to +x."""
    fixed_wall_stress: Any
    """Shear on the wall at rest, positive along +x [Pa]."""
    convergence: Convergence
    """Of the worst."""


def plane_flow(
    ink: Ink | Case | Cross | PowerLaw | CarreauYasuda | Mapping[str, Any],
    gap: npt.ArrayLike,
    speed: npt.ArrayLike,
    pressure_gradient: npt.ArrayLike,
    *,
    temperature: Any = None,
    on_failure: str = "raise",
) -> PlaneFlow:
    """Combined shear and pressure flow of an ink in a gap, exact for its viscosity law; arrays broadcast.

    The stress is linear over the gap, T = T_m - dp/dx (z - h / 2), and the law gives the shear rate R(T); with w = z / h - 1/2
    U / h = int R dw and q = U h / 2 + h^2 int w R dw (Bird, Armstrong & Hassager 1987, Dynamics of Polymeric Liquids vol. 1,
    ch. 4). Laminar, isothermal over the gap, no slip. Relative error about 1e-11.

    ``ink`` is an ``Ink(...)``, a law (``Cross``, ``PowerLaw``, ``CarreauYasuda``) or a case; ``gap`` [m], ``speed`` of the moving
    wall [m/s] of either sign, ``pressure_gradient`` dp/dx [Pa/m], positive against the flow. ``temperature`` [K], by default the
    ink's own; it scales the stress at a given shear rate. A law alone has no temperature: it is taken as it stands.

    Raises InvalidInput on a gap or temperature not above 0, numbers not finite, or a law with a parameter missing; NotSolved when
    a flow is not found (``on_failure="flag"`` returns it).
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    core = _law_core(ink)
    arrays = [
        numbers(gap, "m", "gap"),
        numbers(speed, "m/s", "speed"),
        numbers(pressure_gradient, "Pa/m", "pressure_gradient"),
    ]
    if not np.all(arrays[0] > 0.0):
        raise refuse("gap", arrays[0].min(), "must be above 0 [m]")
    try:
        h, U, G = np.broadcast_arrays(*arrays)
    except ValueError as error:
        shapes = ", ".join(str(array.shape) for array in arrays)
        raise refuse("pressure_gradient", shapes, "gap, speed and pressure_gradient must broadcast") from error
    factor = 1.0
    if isinstance(ink, Ink | Case):
        T = core.get_number("ink.temperature") if temperature is None else positive(temperature, "K", "temperature")
        if not (lowest := core.get_number("ink.vogel_temperature")) < T:
            raise refuse("temperature", f"{T:g} K", f"must be above the ink's vogel_temperature, {lowest:g} K")
        of_law = core.get_number("ink.reference_temperature")
        factor = float(_core.shear_viscosity(core, 1.0, T) / _core.shear_viscosity(core, 1.0, of_law))
    elif temperature is not None:
        raise refuse("temperature", temperature, "needs an Ink(...) or a Case: a law alone has no temperature")
    # eta(T) = factor x law: the same profile under a gradient smaller by the factor.
    *values, record = _core.plane_flow(core, h.ravel(), U.ravel(), G.ravel() / factor)
    q, moving, fixed = (value.reshape(h.shape) for value in values)
    result = PlaneFlow(_number(q), _number(factor * moving), _number(factor * fixed), Convergence(*record))
    if not result.convergence.ok and on_failure == "raise":
        raise NotSolved(str(result.convergence), result)
    return result


Curve = tuple[Floats, Floats]
"""ln viscosity (n,) and its slopes against the logarithms of the parameters (n, p)."""


def _newtonian(p: Floats, rate: Floats) -> Curve:
    return np.full(rate.size, p[0]), np.ones((rate.size, 1))


def _power_law(p: Floats, rate: Floats) -> Curve:
    n, x = math.exp(p[1]), np.log(rate)
    return p[0] + (n - 1.0) * x, np.stack([np.ones_like(x), n * x], 1)


def _between_plateaus(p: Floats, fall: Floats, slopes: list[Floats]) -> Curve:
    """eta = eta_inf + (eta_0 - eta_inf) fall; ``slopes`` of the fall against the logarithms of its own parameters."""
    zero, infinite = math.exp(p[0]), math.exp(p[1])
    eta = infinite + (zero - infinite) * fall
    columns = [zero * fall, infinite * (1.0 - fall), *((zero - infinite) * slope for slope in slopes)]
    return np.log(eta), np.stack([column / eta for column in columns], 1)


def _cross_fall(time: float, m: float, rate: Floats) -> tuple[Floats, list[Floats]]:
    log_x = m * np.log(time * rate)
    fall = 1.0 / (1.0 + np.exp(log_x))
    slope = -fall * (1.0 - fall)
    return fall, [m * slope, log_x * slope]


def _carreau_yasuda_fall(time: float, n: float, a: float, rate: Floats) -> tuple[Floats, list[Floats]]:
    log_y = a * np.log(time * rate)
    log_b, share = np.logaddexp(0.0, log_y), 1.0 / (1.0 + np.exp(-log_y))  # of B = 1 + y, and y / B
    fall = np.exp((n - 1.0) / a * log_b)
    return fall, [(n - 1.0) * share * fall, n / a * log_b * fall, (n - 1.0) / a * (share * log_y - log_b) * fall]


def _cross(p: Floats, rate: Floats) -> Curve:
    time, m = np.exp(p[2:])
    return _between_plateaus(p, *_cross_fall(time, m, rate))


def _carreau_yasuda(p: Floats, rate: Floats) -> Curve:
    time, n, a = np.exp(p[2:])
    return _between_plateaus(p, *_carreau_yasuda_fall(time, n, a, rate))


@dataclass(frozen=True)
class _Law:
    names: tuple[str, ...]
    curve: Callable[[Floats, Floats], Curve]
    fall: Callable[..., tuple[Floats, list[Floats]]] | None = None
    shapes: tuple[tuple[float, ...], ...] = ()
    """Where the search starts, for the parameters of the fall after its time constant."""
    limits: tuple[tuple[str, float, float], ...] = ()
    """Narrower than the field's hard range."""


_PLATEAUS = ("zero_shear_viscosity", "infinite_shear_viscosity", "time_constant")
LAWS = {
    "newtonian": _Law(("viscosity",), _newtonian),
    "power_law": _Law(("consistency", "exponent"), _power_law, limits=(("exponent", 0.1, 1.5),)),
    "cross": _Law((*_PLATEAUS, "exponent"), _cross, _cross_fall, ((0.3, 0.6, 0.9),), limits=(("exponent", 0.05, 1.0),)),
    "carreau_yasuda": _Law(
        (*_PLATEAUS, "exponent", "transition"),
        _carreau_yasuda,
        _carreau_yasuda_fall,
        ((0.2, 0.5, 0.8), (0.7, 2.0)),
        limits=(("exponent", 0.1, 1.0),),
    ),
}
COMPONENTS: dict[str, type[Component]] = {"power_law": PowerLaw, "cross": Cross, "carreau_yasuda": CarreauYasuda}
WIDE = 3.0  # factor either way beyond which an interval says nothing
PLATEAU = 0.1  # share left at the end of the readings above which a plateau is not reached
NEAR = 0.01  # a parameter this near to a limit of the search, in its logarithm, ended there
AT_REST = 0.01  # a search ends when it is nearer to the least squares than this share of a standard error


@dataclass(frozen=True, eq=False)
class ViscosityBand(_Same):
    """A fitted viscosity with the 90 % confidence band of the curve (not of a single reading)."""

    shear_rate: Any
    """[1/s]."""
    viscosity: Any
    """[Pa s]."""
    lower: Any
    """[Pa s]."""
    upper: Any
    """[Pa s]."""
    measured: Any
    """Whether the rate lies within the measured ones."""
    note: str
    """What it means to ask beyond them; empty within."""


@dataclass(frozen=True, eq=False)
class InkFit(_Same):
    """A viscosity law fitted to readings; p parameters, n readings."""

    law: str
    names: tuple[str, ...]
    """Of the parameters, as in the fields of ``ink.rheology``."""
    values: Floats
    """SI, (p,)."""
    covariance: Floats
    """Of the logarithms of the parameters [-], (p, p)."""
    standard_error: Floats
    """Relative, of the parameters [-], (p,)."""
    lower: Floats
    """90 % interval by Student's t on n - p degrees of freedom, SI, (p,); without an end where the readings need no plateau."""
    upper: Floats
    """Same, (p,)."""
    undetermined: tuple[str, ...]
    """Names of the parameters that the readings do not determine: 90 % interval wider than a factor of 3 either way, a plateau
    that the readings do as well without, or the search ended at a limit."""
    notes: tuple[str, ...]
    """What to know before use, in sentences."""
    shear_rate: Floats
    """Measured [1/s], (n,)."""
    viscosity: Floats
    """Measured [Pa s], (n,)."""
    reading_error: Floats
    """Standard relative error of the readings that the covariance stands on [-], (n,)."""
    residuals: Floats
    """ln(law / reading) [-], (n,)."""
    scatter: float
    """sqrt(sum of squares of the residuals / (n - p)), weighted where errors were stated [-]."""
    convergence: Convergence

    @property
    def degrees_of_freedom(self) -> int:
        """n - p."""
        return self.shear_rate.size - self.values.size

    @property
    def parameters(self) -> dict[str, float]:
        """Value by name, SI."""
        return dict(zip(self.names, map(float, self.values), strict=True))

    @property
    def rheology(self) -> Component | dict[str, Any]:
        """The law as ``Ink(rheology=...)`` takes it."""
        if self.law in COMPONENTS:
            return COMPONENTS[self.law](**self.parameters)
        return {"law": self.law, **self.parameters}

    def predict(self, shear_rate: npt.ArrayLike) -> ViscosityBand:
        """Viscosity at shear rates above 0 [1/s] with the 90 % band of the curve: linear propagation in the logarithm.

        Warns with LibbladeWarning beyond the measured rates: there the band holds only if the law does. It stays between the
        viscosity at the last reading and what a stress that rises with the rate allows, 1 / rate; towards a plateau that the
        readings do without it opens that far. Raises InvalidInput on a rate that is not above 0.
        """
        rate = numbers(shear_rate, "1", "shear_rate")
        if not np.all(rate > 0.0):
            raise refuse("shear_rate", shear_rate, "must be above 0 [1/s]")
        low, high = float(self.shear_rate.min()), float(self.shear_rate.max())
        log_eta, half = self._log_band(rate.ravel())
        lower, upper = log_eta - half, log_eta + half
        if LAWS[self.law].fall is not None:
            # Beyond the readings the viscosity falls on, but not faster than 1 / rate: the stress rises.
            ends, widths = self._log_band(np.array([low, high]))
            below, above = np.log(rate.ravel() / low), np.log(rate.ravel() / high)
            most, least = ends[0] + widths[0] - below, ends[1] - widths[1] - above
            if self.upper[0] < math.inf:
                most = np.minimum(upper, most)
            if self.lower[1] > 0.0:
                least = np.maximum(lower, least)
            upper = np.select([below < 0.0, above > 0.0], [most, np.minimum(upper, ends[1] + widths[1])], upper)
            lower = np.select([above > 0.0, below < 0.0], [least, np.maximum(lower, ends[0] - widths[0])], lower)
        band = [_exp(v).reshape(rate.shape) for v in (log_eta, lower, upper)]
        measured = (rate >= low * (1.0 - 1e-9)) & (rate <= high * (1.0 + 1e-9))
        note = ""
        if not np.all(measured):
            first, last = float(rate.min()), float(rate.max())
            note = (
                f"viscosity asked at {first:.3g} to {last:.3g} 1/s, measured from {low:.3g} to {high:.3g} 1/s: up to "
                f"{max(last / high, low / first):.3g} times beyond, where the band holds only if the {self.law} law does "
                f"(nip: {NIP_RATES[0]:.0e} to {NIP_RATES[1]:.0e} 1/s)"
            )
            warnings.warn(note, LibbladeWarning, stacklevel=2)
        eta, least_eta, most_eta = map(_number, band)
        inside = bool(measured) if rate.ndim == 0 else measured
        return ViscosityBand(_number(rate), eta, least_eta, most_eta, inside, note)

    def _log_band(self, rate: Floats) -> tuple[Floats, Floats]:
        """ln viscosity and the half-width of its band, (n,)."""
        p, curve = np.log(self.values), LAWS[self.law].curve
        spread = _spread(curve(p, self.shear_rate)[1] / self.reading_error[:, None])
        log_eta, slopes = curve(p, rate)
        return log_eta, _quantile(self.degrees_of_freedom) * np.linalg.norm(slopes @ spread, axis=1)

    def __repr__(self) -> str:
        lines = [f"{self.law}: {self.convergence}, {self.shear_rate.size} readings, scatter {self.scatter:.2g}"]
        for name, value, low, high in zip(self.names, self.values, self.lower, self.upper, strict=True):
            lines.append(f"  {name:<26}{value:.5g}  90 %: {low:.4g} to {high:.4g}")
        return "\n".join([*lines, *(f"  {note}" for note in self.notes)])


def fit_ink(
    shear_rate: npt.ArrayLike,
    viscosity: npt.ArrayLike,
    law: str = "carreau_yasuda",
    *,
    relative_error: npt.ArrayLike | None = None,
    on_failure: str = "raise",
) -> InkFit:
    """Fits a viscosity law to measured readings: weighted least squares in ln viscosity, parameters in their logarithms.

    ``shear_rate`` [1/s] and ``viscosity`` [Pa s], (n,), n above the number of parameters; ``law`` "newtonian" (1), "power_law" (2),
    "cross" (4) or "carreau_yasuda" (5). ``relative_error`` [-] is the standard error of a reading, one number or (n,): it weighs
    the readings, and the scatter about the law replaces it where that is larger; None: equal weights, the scatter alone.

    The covariance is the inverse of J^T J (Gauss-Newton), intervals are the logarithm -/+ t_95 %(n - p) standard errors. Systematic
    errors of an instrument (slip, inertia, heating) are not in them. Least squares by scipy's trust region from the best points of
    a fixed grid: same readings, same result. ``lb.Ink(rheology=lb.fit_ink(rate, eta, "cross").rheology)``

    Raises InvalidInput on readings that are too few, not above 0 or outside 1e-4 to 1e3 Pa s; NotSolved when the search does not
    converge (``on_failure="flag"`` returns it). Needs scipy: pip install "libblade[statistics]".
    """
    one_of("law", law, LAWS)
    one_of("on_failure", on_failure, ("raise", "flag"))
    count = len(LAWS[law].names)
    rate, eta = numbers(shear_rate, "1", "shear_rate"), numbers(viscosity, "Pa s", "viscosity")
    if rate.ndim != 1 or rate.size <= count:
        raise refuse("shear_rate", f"{rate.shape}", f"must have one dimension and more than {count} readings")
    if eta.shape != rate.shape:
        raise refuse("viscosity", f"{eta.shape}", f"must have the shape of shear_rate, {rate.shape}")
    if not np.all(rate > 0.0):
        raise refuse("shear_rate", rate.min(), "must be above 0 [1/s] everywhere")
    for wrong in eta[~((eta >= 1e-4) & (eta <= 1e3))]:
        raise refuse("viscosity", f"{wrong:g} Pa s", "must be between 1e-4 and 1e3 Pa s everywhere")
    error = np.ones(())
    if relative_error is not None:
        error = numbers(relative_error, "1", "relative_error")
        if error.shape not in {(), rate.shape}:
            raise refuse("relative_error", f"{error.shape}", f"must be one number or have the shape {rate.shape}")
        if not np.all((error > 0.0) & (error <= 1.0)):
            raise refuse("relative_error", relative_error, "must be above 0 and at most 1")
    fit = _fit(law, _Readings(rate, eta, 1.0 / np.broadcast_to(error, rate.shape)), relative_error is not None)
    if not fit.convergence.ok and on_failure == "raise":
        raise NotSolved(str(fit.convergence), fit)
    return fit


class _Readings(NamedTuple):
    rate: Floats
    eta: Floats
    weight: Floats

    def residuals(self, law: str, p: Floats) -> Floats:
        return self.weight * (LAWS[law].curve(p, self.rate)[0] - np.log(self.eta))


def _exp(log_values: Floats) -> Floats:
    """0 and infinity where a logarithm says so."""
    with np.errstate(over="ignore", under="ignore"):
        return np.exp(log_values)


def _limits(law: str, rate: Floats, eta: Floats) -> tuple[Floats, Floats]:
    """Of the logarithms of the parameters: the fields' hard ranges, closed in on the readings. The viscosity at rest stays above
    the middle of the readings, that at high shear below."""
    middle = math.sqrt(eta.min() * eta.max())
    near = {
        "zero_shear_viscosity": (middle, 1e3 * eta.max()),
        "infinite_shear_viscosity": (1e-3 * eta.min(), middle),
        "time_constant": (1e-3 / rate.max(), 1e3 / rate.min()),
    } | {name: (low, high) for name, low, high in LAWS[law].limits}
    low, high = [], []
    for name in LAWS[law].names:
        hard, closer = FIELDS[f"ink.rheology.{name}"].hard_range, near.get(name, (0.0, math.inf))
        low.append(math.log(max(hard[0], closer[0])))
        high.append(max(math.log(min(hard[1], closer[1])), low[-1] + 1e-6))
    return np.array(low) + 1e-12, np.array(high) - 1e-12  # exp(log()) may not leave the hard range


def _starts(law: str, readings: _Readings, low: Floats, high: Floats) -> list[Floats]:
    """Points to search from. At a given fall the plateaus follow linearly: the best four of a grid."""
    form, (rate, eta, weight), inner = LAWS[law], readings, 1e-3 * (high - low)
    if form.fall is None:
        columns = form.curve(np.zeros(len(form.names)), rate)[1]  # of ln K and n - 1, in which ln viscosity is linear
        p, *_ = np.linalg.lstsq(columns * weight[:, None], np.log(eta) * weight, rcond=None)
        p[1:] = np.log(np.maximum(p[1:] + 1.0, 0.05))
        return [np.clip(p, low + inner, high - inner)]
    ranked: list[tuple[float, int, Floats]] = []
    for shape in itertools.product(np.geomspace(0.1 / rate.max(), 10.0 / rate.min(), 12), *form.shapes):
        fall, _ = form.fall(*shape, rate)
        columns = np.stack([fall, 1.0 - fall], 1) * (weight / eta)[:, None]
        plateaus, *_ = np.linalg.lstsq(columns, weight, rcond=None)
        point: Floats = np.clip(np.log([*np.maximum(plateaus, 1e-12), *shape]), low + inner, high - inner)
        ranked.append((float(np.sum(readings.residuals(law, point) ** 2)), len(ranked), point))
    return [point for _, _, point in sorted(ranked, key=lambda row: row[:2])[:4]]


def _quantile(freedom: int) -> float:
    """Of Student's t, for a 90 % interval."""
    from scipy.special import stdtrit  # noqa: PLC0415 -- slow to import

    return float(stdtrit(freedom, 0.95))


def _spread(jacobian: Floats) -> Floats:
    """S with S S^T = (J^T J)^-1. A direction without any effect keeps a spread as large as numbers allow."""
    _, s, vt = np.linalg.svd(jacobian, full_matrices=False)
    spread: Floats = vt.T / np.maximum(s, 1e-15 * s[0])
    return spread


def _least_squares(
    law: str,
    readings: _Readings,
    limits: tuple[Floats, Floats],
    start: Floats,
    *,
    method: str = "dogbox",
    most: int = 60,
) -> Any:
    from scipy.optimize import least_squares  # noqa: PLC0415 -- slow to import

    return least_squares(
        lambda p: readings.residuals(law, p),
        np.clip(start, *limits),
        jac=lambda p: readings.weight[:, None] * LAWS[law].curve(p, readings.rate)[1],
        bounds=limits,
        method=method,
        x_scale="jac",
        ftol=1e-15,
        xtol=1e-15,
        gtol=1e-15,
        max_nfev=most,
    )


def _search(law: str, readings: _Readings, limits: tuple[Floats, Floats]) -> tuple[Floats, float, int]:
    """Least squares: parameters, how far from rest in standard errors, and evaluations.

    Where readings determine little, the valley is flat and the search long: it goes on from the best start alone.
    """

    def rest(found: Any) -> float:
        """What of the residuals lies in directions that may still be taken, over their scatter."""
        free = np.minimum(found.x - limits[0], limits[1] - found.x) >= NEAR
        q, s, _ = np.linalg.svd(found.jac[:, free], full_matrices=False)
        left = q[:, s > 1e-10 * s.max(initial=0.0)].T @ found.fun
        scatter = math.sqrt(2.0 * found.cost / (readings.rate.size - found.x.size))
        return float(np.linalg.norm(left)) / max(scatter, 1e-9)

    tried = [_least_squares(law, readings, limits, start) for start in _starts(law, readings, *limits)]
    for method in ("dogbox", "trf"):
        best = min(tried, key=lambda found: found.cost)
        if rest(best) > AT_REST:
            tried.append(_least_squares(law, readings, limits, best.x, method=method, most=500))
    best = min(tried, key=lambda found: found.cost)
    return best.x, rest(best), sum(found.nfev for found in tried)


def _plateaus_without_need(law: str, readings: _Readings, p: Floats, allowed: float) -> set[str]:
    """Plateaus that the readings do without: the sum of squares rises by less than allowed when the viscosity at rest lies far
    above them, or that at high shear far below. Found by searching again, since such valleys are curved."""
    low, high = _limits(law, readings.rate, readings.eta)
    least, found = float(np.sum(readings.residuals(law, p) ** 2)), set[str]()
    for k, end in ((0, high[0]), (1, low[1])):
        limits = (low.copy(), high.copy())
        limits[0][k], limits[1][k] = end - 1e-9, end + 1e-9
        for start in (p, *_starts(law, readings, *limits)):
            if 2.0 * _least_squares(law, readings, limits, start).cost < least + allowed:
                found.add(LAWS[law].names[k])
                break
    return found


def _fit(law: str, readings: _Readings, stated: bool) -> InkFit:
    try:
        from scipy.special import chdtri  # noqa: PLC0415 -- slow to import
    except ImportError as missing:
        raise ImportError('fitting an ink needs scipy: pip install "libblade[statistics]"') from missing
    rate, eta, weight = readings
    names, limits = LAWS[law].names, _limits(law, rate, eta)
    p, left, evaluations = _search(law, readings, limits)
    freedom = rate.size - p.size
    chi = float(np.linalg.norm(readings.residuals(law, p))) / math.sqrt(freedom)
    scale, quantile = max(chi, 1.0) if stated else chi, _quantile(freedom)
    reading_error = np.maximum(scale / weight, 1e-14)
    spread = _spread(LAWS[law].curve(p, rate)[1] / reading_error[:, None])
    half = quantile * np.linalg.norm(spread, axis=1)
    ended = "converged" if left <= AT_REST else "stagnated"
    words = "" if ended == "converged" else "the readings determine too little for the least squares to be found"
    at_limit = np.minimum(p - limits[0], limits[1] - p) < NEAR
    lower, upper = _exp(p - half), _exp(p + half)
    needless = set[str]()
    if LAWS[law].fall is not None:
        at_limit[:2] = [limits[1][0] - p[0] < NEAR, p[1] - limits[0][1] < NEAR]  # the others only keep the two in order
        if at_limit.any() or half.max() > math.log(1.5):
            needless = _plateaus_without_need(law, readings, p, max(quantile * scale, 1e-9) ** 2)
        upper[0] = math.inf if names[0] in needless else upper[0]
        lower[1] = 0.0 if names[1] in needless else lower[1]
    unknown = (half > math.log(WIDE)) | at_limit | [name in needless for name in names]
    fit = InkFit(
        law=law,
        names=names,
        values=np.exp(p),
        covariance=spread @ spread.T,
        standard_error=np.linalg.norm(spread, axis=1),
        lower=lower,
        upper=upper,
        undetermined=tuple(itertools.compress(names, unknown)),
        notes=(),
        shear_rate=rate.copy(),
        viscosity=eta.copy(),
        reading_error=reading_error,
        residuals=LAWS[law].curve(p, rate)[0] - np.log(eta),
        scatter=chi,
        convergence=Convergence(ended, left, AT_REST, evaluations, words),
    )
    ended_there = set(itertools.compress(names, at_limit)) - needless
    notes = [*_parameter_notes(fit, ended_there, needless, spread[:, -1]), *_curve_notes(fit, needless)]
    if stated and chi * chi * freedom > chdtri(freedom, 0.01):
        notes.append(
            f"the readings scatter {chi:.2g} times as much as their stated error: the {law} law may not fit them"
        )
    return replace(fit, notes=tuple(notes))


def _parameter_notes(fit: InkFit, at_limit: set[str], needless: set[str], loosest: Floats) -> Iterator[str]:
    """What is not determined, and by what of it: ``loosest`` is the direction of the smallest singular value."""
    for name, value, factor in zip(fit.names, fit.values, fit.upper / fit.values, strict=True):
        if name in needless:
            yield f"{name} is not determined: the readings are met as well without that plateau"
        elif name in at_limit:
            yield f"{name} is not determined: the search ended at a limit, {value:.4g}"
        elif name in fit.undetermined:
            known = f"known within a factor of {factor:.2g} either way" if factor < 1e6 else "its interval has no end"
            yield f"{name} is not determined: {known}"
    shares = np.abs(loosest) / np.linalg.norm(loosest)
    together = [name for name, share in zip(fit.names, shares, strict=True) if share > 0.2 and name in fit.undetermined]
    if len(together) > 1:
        yield f"the readings fix only a combination of {', '.join(together)}"


def _curve_notes(fit: InkFit, needless: set[str]) -> Iterator[str]:
    """Plateaus that were not reached, and how far the nip is away."""
    low, high = float(fit.shear_rate.min()), float(fit.shear_rate.max())
    if LAWS[fit.law].fall is not None:
        first, last = np.exp(LAWS[fit.law].curve(np.log(fit.values), np.array([low, high]))[0])
        zero, infinite = fit.values[:2]
        if last > (1.0 + PLATEAU) * infinite or fit.names[1] in needless:
            yield (
                f"the plateau at high shear is not reached: at {high:.3g} 1/s the law is at {last / infinite:.3g} times its "
                "infinite_shear_viscosity, which is extrapolated"
            )
        if first < (1.0 - PLATEAU) * zero or fit.names[0] in needless:
            yield (
                f"the plateau at low shear is not reached: at {low:.3g} 1/s the law is at {first / zero:.3g} times its "
                "zero_shear_viscosity, which is extrapolated"
            )
        x, y = np.log(fit.shear_rate / low), np.log(fit.viscosity / fit.viscosity.mean())
        if (x - x.mean()) @ y > 0.5 * float(np.linalg.norm(x - x.mean()) * np.linalg.norm(y)):
            yield f"the viscosity rises with the shear rate, which the {fit.law} law cannot follow"
    if high < NIP_RATES[0]:
        yield f"measured up to {high:.3g} 1/s: the nip's {NIP_RATES[0]:.0e} to {NIP_RATES[1]:.0e} 1/s are extrapolated"
