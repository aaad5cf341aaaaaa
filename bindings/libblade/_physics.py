"""Single physics: the laws and solvers behind an operating point, one at a time. SI numbers; arrays where named."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case, Component, Ink, assign
from libblade._errors import NotSolved, one_of, refuse
from libblade._point import Convergence, _Same
from libblade._units import Floats, gather, numbers, positive, si

Number = float | Floats


def _number(values: Floats) -> Any:
    """A float for scalar input, an array otherwise."""
    array = np.asarray(values)
    return float(array) if array.ndim == 0 else array


def _core_with(component: Component | None, prefix: str) -> _core.Case:
    """A core case of defaults with one component's fields written into it."""
    core = _core.Case()
    problems: list[tuple[str, str, str]] = []
    if component is not None:
        fields = {f"{prefix}.{name}": value for name, value in component}
        if getattr(component, "_read_from_case", False):
            fields = {
                path: value for path, value in fields.items() if path != "ink.rheology.law" or value != "newtonian"
            }
        assign(core, fields, problems)
    gather(problems)
    return core


def _ink_core(ink: Any) -> _core.Case:
    if isinstance(ink, Case):
        return ink._core
    if isinstance(ink, Ink):
        return _core_with(ink, "ink")
    raise refuse("ink", ink, "must be an Ink(...) or a Case")


@dataclass(frozen=True, eq=False)
class Film(_Same):
    """Solution of the film equation. Pressures are above the cavitation pressure."""

    load: float
    """Integral of the pressure [N/m]."""
    drag: float
    """Shear force on the moving surface, against its motion [N/m]."""
    flow: float
    """Volume flow per width [m2/s]."""
    centre_of_pressure: float
    """[m]."""
    min_gap: float
    """[m]."""
    pressure: Floats
    """[Pa], (n,)."""
    void_fraction: Floats
    """[-], (n,)."""
    convergence: Convergence

    def __repr__(self) -> str:
        return (
            f"{self.convergence}\n  load {self.load:.6g} N/m at {self.centre_of_pressure:.6g} m, drag {self.drag:.6g} N/m, "
            f"flow {self.flow:.6g} m2/s"
        )


def film(
    x: npt.ArrayLike,
    gap: npt.ArrayLike,
    *,
    speed: Any,
    viscosity: Any = None,
    ink: Ink | Case | None = None,
    pressure_in: Any = 0.0,
    pressure_out: Any = 0.0,
    flow_factor: npt.ArrayLike = 1.0,
    film_supply: Any = None,
    on_failure: str = "raise",
) -> Film:
    """Pressure of a film with mass-conserving cavitation under a given gap.

    ``x`` [m], (n,) increases downstream; the surface at the bottom of the ``gap`` [m], (n,) moves with ``speed`` [m/s]. Either
    ``viscosity`` [Pa s] (one number or (n-1,), one a cell) or an ``ink``, whose law is then taken at the shear rate speed / gap
    of each cell. ``flow_factor`` [-] is one number or (n-1,). ``film_supply`` [m] is the layer that arrives; None: flooded.
    Pressures [Pa] are above the cavitation pressure.

    Raises InvalidInput on bad arrays, NotSolved when it does not converge (``on_failure="flag"`` returns it).
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    nodes, height = numbers(x, "m", "x"), numbers(gap, "m", "gap")
    if nodes.ndim != 1 or nodes.size < 3 or height.shape != nodes.shape:
        raise refuse(
            "gap",
            f"{height.shape}",
            f"must have the shape of x, one dimension and at least 3 nodes; x has {nodes.shape}",
        )
    U = positive(speed, "m/s", "speed")
    cells = nodes.size - 1
    if (viscosity is None) == (ink is None):
        raise refuse("viscosity", viscosity, "must be given, or an ink instead: one of the two")
    if ink is not None:
        core = _ink_core(ink)
        middle = 0.5 * (height[1:] + height[:-1])
        if not np.all(middle > 0.0):
            raise refuse("gap", height.min(), "must be above 0 everywhere")
        rate = U / middle
        shear, pressure = (
            _core.shear_viscosity(core, rate, core.get_number("ink.temperature")),
            _core.tangent_viscosity(core, rate),
        )
        pressure = pressure * shear / _core.shear_viscosity(core, rate, core.get_number("ink.reference_temperature"))
    else:
        shear = pressure = _per_cell(viscosity, "Pa s", "viscosity", cells)
    solved = _core.solve_film(
        nodes,
        height,
        pressure,
        shear,
        _per_cell(flow_factor, "1", "flow_factor", cells),
        speed=U,
        pressure_in=si(pressure_in, "Pa", "pressure_in"),
        pressure_out=si(pressure_out, "Pa", "pressure_out"),
        film_supply=None if film_supply is None else positive(film_supply, "m", "film_supply"),
    )
    result = Film(*solved[:-1], Convergence(*solved[-1]))
    if not result.convergence.ok and on_failure == "raise":
        raise NotSolved(str(result.convergence), result)
    return result


def _per_cell(values: Any, unit: str, name: str, cells: int) -> Floats:
    array = numbers(values, unit, name)
    if array.ndim and array.shape != (cells,):
        raise refuse(name, f"{array.shape}", f"must be one number or have the shape ({cells},), one a cell")
    if not np.all(array > 0.0):
        raise refuse(name, array.min(), f"must be above 0 [{unit}]")
    return np.broadcast_to(array, (cells,)).copy()


def asperity_pressure(
    gap: npt.ArrayLike,
    *,
    roughness: Any,
    asperity_product: Any = 0.05,
    asperity_ratio: Any = 0.01,
    modulus: Any = None,
    hardness: Any = None,
    land_fraction: Any = 1.0,
) -> Any:
    """Mean pressure of touching asperities (Greenwood & Tripp 1970-71) [Pa], with the shape of ``gap``.

    ``gap`` [m] between mean planes; ``roughness`` combined Ra [m] (rms height 1.25 Ra); ``asperity_product`` and
    ``asperity_ratio`` [-]; ``modulus`` contact modulus E* [Pa] and ``hardness`` of the softer body [Pa], by default those of a
    steel blade on chromium oxide; ``land_fraction`` [-]. The hardness caps the pressure smoothly.

    Raises InvalidInput on values that are not above 0.
    """
    names = {
        "roughness": (roughness, "m"),
        "asperity_product": (asperity_product, "1"),
        "asperity_ratio": (asperity_ratio, "1"),
    }
    rough, product, ratio = (positive(value, unit, name) for name, (value, unit) in names.items())
    return _number(
        _core.asperity_pressure(
            numbers(gap, "m", "gap"),
            rough,
            product,
            ratio,
            None if modulus is None else positive(modulus, "Pa", "modulus"),
            None if hardness is None else positive(hardness, "Pa", "hardness"),
            positive(land_fraction, "1", "land_fraction"),
        )
    )


def greenwood_tripp_integral(order: npt.ArrayLike, separation: npt.ArrayLike) -> Any:
    """F_n(H) = integral from H of (s - H)^n exp(-s^2/2)/sqrt(2 pi) ds [-], arrays broadcast (Greenwood & Tripp 1970-71).

    ``order`` n >= 0, ``separation`` H = gap / rms height. Raises InvalidInput on a negative order or a value not finite.
    """
    n, H = numbers(order, "1", "order"), numbers(separation, "1", "separation")
    if np.any(n < 0.0):
        raise refuse("order", order, "must not be below 0")
    return _number(_core.greenwood_tripp_integral(n, H))


@dataclass(frozen=True, eq=False)
class TaylorWedge(_Same):
    """Stresses at a distance from the corner of a scraper."""

    pressure_on_blade: Any
    """[Pa]."""
    shear_on_blade: Any
    """[Pa]."""
    pressure_on_roll: Any
    """[Pa]."""
    shear_on_roll: Any
    """[Pa]."""


def taylor_wedge(angle: npt.ArrayLike, r: npt.ArrayLike, *, viscosity: Any, speed: Any) -> TaylorWedge:
    """Stokes flow at the corner of a scraper (Taylor 1962); arrays broadcast.

    ``angle`` [rad] between scraper and plane, on the side of the liquid, in (0, pi); ``r`` [m] from the corner; ``viscosity``
    [Pa s]; ``speed`` of the plane into the corner [m/s]. Raises InvalidInput outside these ranges.
    """
    a, distance = numbers(angle, "rad", "angle"), numbers(r, "m", "r")
    if not np.all((a > 0.0) & (a < np.pi)):
        raise refuse("angle", angle, "must be between 0 and pi rad")
    if not np.all(distance > 0.0):
        raise refuse("r", r, "must be above 0 m")
    eta, U = positive(viscosity, "Pa s", "viscosity"), positive(speed, "m/s", "speed")
    return TaylorWedge(*(_number(_core.taylor_wedge(a, distance, eta, U, which)) for which in range(4)))


@dataclass(frozen=True, eq=False)
class HertzLine(_Same):
    """Elastic line contact of two bodies."""

    half_width: Any
    """[m]."""
    peak_pressure: Any
    """[Pa]."""


def hertz_line(load: npt.ArrayLike, *, radius: npt.ArrayLike, modulus: npt.ArrayLike) -> HertzLine:
    """Hertz line contact (Johnson 1985, ch. 4); arrays broadcast.

    ``load`` per width [N/m]; relative ``radius`` 1/R = 1/R1 + 1/R2 [m]; contact ``modulus`` 1/E* = sum (1 - nu^2)/E [Pa].
    Raises InvalidInput on a negative load, or a radius or modulus not above 0.
    """
    N, R, E = numbers(load, "N/m", "load"), numbers(radius, "m", "radius"), numbers(modulus, "Pa", "modulus")
    if np.any(N < 0.0):
        raise refuse("load", load, "must not be below 0 N/m")
    for name, values in (("radius", R), ("modulus", E)):
        if not np.all(values > 0.0):
            raise refuse(name, values, "must be above 0")
    return HertzLine(_number(_core.hertz_half_width(N, R, E)), _number(_core.hertz_peak_pressure(N, R, E)))


def shear_viscosity(ink: Ink | Case, shear_rate: npt.ArrayLike, temperature: npt.ArrayLike | None = None) -> Any:
    """Apparent viscosity of an ink [Pa s] at a shear rate [1/s] and a temperature [K] (default: the ink's own).

    Raises InvalidInput on a negative shear rate or a temperature not above 0 K.
    """
    core = _ink_core(ink)
    rate = numbers(shear_rate, "1", "shear_rate")
    if np.any(rate < 0.0):
        raise refuse("shear_rate", shear_rate, "must not be below 0")
    T = numbers(core.get_number("ink.temperature") if temperature is None else temperature, "K", "temperature")
    if not np.all(T > 0.0):
        raise refuse("temperature", temperature, "must be above 0 K")
    return _number(_core.shear_viscosity(core, rate, T))


def facet_from_retreat(retreat: npt.ArrayLike, angle: npt.ArrayLike, *, thickness: Any) -> Any:
    """Facet length [m] of a square corner worn by ``retreat`` [m] normal to the roll, at ``angle`` [rad], up to the full
    ``thickness`` [m] / sin(angle) (plane geometry). Raises InvalidInput outside these ranges."""
    z, a = numbers(retreat, "m", "retreat"), numbers(angle, "rad", "angle")
    if np.any(z < 0.0):
        raise refuse("retreat", retreat, "must not be below 0 m")
    if not np.all((a > 0.0) & (a < 0.5 * np.pi)):
        raise refuse("angle", angle, "must be between 0 and pi/2 rad")
    return _number(_core.facet_from_retreat(z, a, positive(thickness, "m", "thickness")))
