"""One operating point."""

from __future__ import annotations

import html
import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._units import Floats, positive


class Output(NamedTuple):
    """A number that every operating point and every sweep gives."""

    name: str
    unit: str
    """SI unit."""
    display_unit: str
    display_scale: float
    """Display value = SI value times this."""
    long_name: str


OUTPUTS: dict[str, Output] = {row[0]: Output(*row) for row in _core.output_table()}
REGIMES: tuple[str, ...] = tuple(_core.regimes())
BRANCHES: tuple[str, ...] = tuple(_core.branches())
STATUSES: dict[str, str] = _core.describe_status()
# Every flag the core can raise. The place is the bit in a dataset: never move one, add new ones at the end.
VALIDITY: tuple[str, ...] = (
    "corner_reynolds",
    "air_in_cells",
    "cells_per_facet",
    "outer_wedge",
    "nahme",
    "friction_ratio",
    "stress_ratio",
    "tip_rotation",
    "load_step",
    "run_out",
    "soft_surface",
    "feather",
    "shallow_cells",
    "clean_wipe",
)


def output_table() -> tuple[Output, ...]:
    """Every number of an operating point: name, SI unit, display unit and meaning."""
    return tuple(OUTPUTS.values())


@dataclass(frozen=True)
class Convergence:
    """How a solve ended."""

    status: str
    """"converged" or why not, in a word."""
    residual: float
    """Scaled [-]."""
    tolerance: float
    iterations: int
    message: str
    """Why, in a sentence; empty when converged."""

    @property
    def ok(self) -> bool:
        """Whether the solve converged."""
        return self.status == "converged"

    def __str__(self) -> str:
        if self.ok:
            return "converged"
        return f"not solved: {self.status}: {self.message or STATUSES.get(self.status, '')}"


class ValidityFlag(NamedTuple):
    """A law left its range."""

    name: str
    value: float
    limit: float
    message: str


class _Same:
    """Equality that holds for arrays and for NaN, so that a pickled result equals its original."""

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return all(_same(value, getattr(other, name)) for name, value in vars(self).items())

    __hash__ = None  # type: ignore[assignment]


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        return np.array_equal(a, b, equal_nan=True)
    if isinstance(a, float) and isinstance(b, float) and math.isnan(a):
        return math.isnan(b)
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(_same(a[key], b[key]) for key in a)
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(map(_same, a, b))
    if hasattr(a, "identical"):  # of xarray
        return type(a) is type(b) and bool(a.identical(b))
    return bool(a == b)


@dataclass(frozen=True, eq=False)
class Section(_Same):
    """Gap and pressure along the nip, (n,) each."""

    x: Floats
    """Downstream from the facet centre [m], (n,)."""
    gap: Floats
    """Between mean surfaces [m], (n,)."""
    film_pressure: Floats
    """Gauge [Pa], (n,)."""
    asperity_pressure: Floats
    """Mean over land and cells [Pa], (n,)."""
    void_fraction: Floats
    """[-], (n,)."""

    @property
    def pressure(self) -> Floats:
        """Film plus asperities [Pa], (n,)."""
        return self.film_pressure + self.asperity_pressure


@dataclass(frozen=True, eq=False)
class BladeShape(_Same):
    """Deflected mid-plane from clamp to tip, origin at first touch, (n,) each."""

    o: Floats
    """Along the roll tangent, from body to tip [m], (n,)."""
    z: Floats
    """Away from the roll [m], (n,)."""
    slope: Floats
    """[rad], (n,)."""


@dataclass(frozen=True, eq=False, repr=False)
class OperatingPoint(_Same):
    """The state of one nip. Numbers are SI; NaN where a solve was not made or failed."""

    film_on_lands: float
    """Ink that passes between blade and lands, per area of roll [m]."""
    excess_ink: float
    """film_on_lands beyond that of a clean wipe [m]."""
    film_after_step: float
    """Largest film_on_lands after the load step, without re-bedding [m]."""
    excess_after_step: float
    """Largest excess_ink after the load step [m]."""
    ink_carried: float
    """film_on_lands plus the ink in the cells [m] (m3/m2)."""
    min_film: float
    """Smallest gap between mean surfaces [m]."""
    leading_gap: float
    """The same at the ink-side end of what is flat, where its rounding begins [m]."""
    ink_wedge_angle: float
    """Between the roll and the face of the tip that meets the ink [rad]."""
    clean_wipe_film: float
    """Film of a parallel facet whose asperities alone carry the load [m]."""
    tip_deflection: float
    """Normal to the undeformed blade, away from the roll [m]."""
    interference: float
    """Holder advance past first touch [m]."""
    effective_angle: float
    """Blade to roll tangent at the contact [rad]."""
    tip_rotation: float
    """Set angle minus tip slope [rad]."""
    facet_tilt: float
    """Positive: opens towards the incoming ink [rad]."""
    bedded_angle: float
    """Effective angle at which the facet is parallel to the roll [rad]."""
    line_load: float
    """Normal load [N/m]."""
    tangential_load: float
    """Along the roll motion [N/m]."""
    hydrodynamic_lift: float
    """Film and wedge [N/m]."""
    asperity_load: float
    """[N/m]."""
    friction_coefficient: float
    """tangential_load / line_load [-]."""
    facet_length: float
    """[m]."""
    contact_width: float
    """Shortest stretch that carries 95 % of the load [m]."""
    elastic_width: float
    """Of the unworn edge: Hertz line contact, capped by hardness [m]."""
    mean_pressure: float
    """line_load over the facet length [Pa]."""
    bearing_pressure: float
    """Mean over contact_width [Pa]."""
    elastic_pressure: float
    """line_load over elastic_width [Pa]."""
    peak_pressure: float
    """Film plus asperities [Pa]."""
    film_load_share: float
    """Film under the facet over line_load [-]."""
    asperity_load_share: float
    """[-]."""
    wedge_load_share: float
    """Wedge of ink in front over line_load [-]."""
    lambda_ratio: float
    """min_film over rms roughness [-]."""
    power_per_width: float
    """Friction power [W/m]."""
    film_temperature: float
    """[K]."""
    max_bending_stress: float
    """[Pa]."""
    stress_ratio: float
    """max_bending_stress over the yield strength [-]."""
    wear_rate: float
    """Blade length worn per length of web [-]."""
    tangent_stiffness: float
    """Of the blade against holder advance [N/m2]."""
    run_out_load: float
    """Amplitude of line_load over a turn of the roll, from its run-out [N/m]."""
    run_out_angle: float
    """Amplitude of effective_angle over a turn [rad]."""
    run_out_tilt: float
    """Amplitude of facet_tilt over a turn [rad]."""
    film_over_turn: float
    """Largest film_on_lands over a turn [m]."""
    regime: str
    """"wiping", "mixed", "riding", "heel_contact", "starved" or "none"."""
    branch: str
    """"bedded", "wiping", "riding" or "none"."""
    bedded_stable: bool
    """Whether the parallel bedded state is where the blade stays."""
    other_branch_exists: bool
    """Whether a second state exists at the same setting."""
    validity: tuple[ValidityFlag, ...]
    """Laws that left their range."""
    section: Section
    """Gap and pressure along the nip."""
    blade: BladeShape
    """Deflected shape of the blade."""
    convergence: Convergence
    """How the solve ended."""
    case: Case = field(repr=False)
    """The case that was solved."""

    @property
    def status(self) -> str:
        """ "converged" or why not, in a word."""
        return self.convergence.status

    @property
    def reason(self) -> str:
        """Why it is not solved, in a sentence; empty when converged."""
        return self.convergence.message

    def to_dict(self) -> dict[str, Any]:
        """Numbers, flags and validity as plain values, SI; without section and shape."""
        out: dict[str, Any] = {name: getattr(self, name) for name in OUTPUTS}
        for name in ("regime", "branch", "bedded_stable", "other_branch_exists", "status", "reason"):
            out[name] = getattr(self, name)
        out["validity"] = [flag._asdict() for flag in self.validity]
        return out

    def _headline(self) -> str:
        if not self.convergence.ok:
            return str(self.convergence)
        words = f"converged: {self.regime.replace('_', ' ')}, on the {self.branch} branch"
        if not self.bedded_stable and self.branch == "wiping":
            words += " (the parallel bedded state is not where it stays)"
        if self.other_branch_exists:
            words += "; another state exists"
        return words

    def _rows(self) -> list[tuple[str, str, str]]:
        return [
            (
                name,
                f"{getattr(self, name) * o.display_scale:.4g} {o.display_unit if o.display_unit != '1' else ''}",
                o.long_name,
            )
            for name, o in OUTPUTS.items()
            if not math.isnan(getattr(self, name))
        ]

    def __repr__(self) -> str:
        lines = [self._headline()]
        lines += [f"  {name:<22}{value:<18}{meaning}" for name, value, meaning in self._rows()]
        lines += [f"  note: {flag.message} ({flag.name} = {flag.value:.3g})" for flag in self.validity]
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th style='text-align:left'>{name}</th><td>{value}</td><td style='text-align:left'>{meaning}</td></tr>"
            for name, value, meaning in self._rows()
        )
        notes = "".join(
            f"<p>Note: {html.escape(flag.message)} ({flag.name} = {flag.value:.3g})</p>" for flag in self.validity
        )
        return f"<p><b>{html.escape(self._headline())}</b></p><table>{rows}</table>{notes}"


def _point(case: Case, values: dict[str, Any]) -> OperatingPoint:
    return OperatingPoint(
        **{
            **values,
            "validity": tuple(ValidityFlag(*flag) for flag in values["validity"]),
            "section": Section(*values["section"]),
            "blade": BladeShape(*values["blade"]),
            "convergence": Convergence(*values["convergence"]),
            "case": case,
        }
    )


def after_step(case: Case, stepped: Case, step: float) -> OperatingPoint:
    """The blade of ``case`` after a step of what its holder keeps [-], which ``stepped`` states. Raises NotSolved."""
    options = _core.NipOptions(riding=False, step_response=True, other_branch=True, run_out=True, section=True, mesh=1)
    point = _point(stepped, _core.solve_after_step(case._core, step, options))
    if not point.convergence.ok:
        raise NotSolved(str(point.convergence), point)
    return point


def solve(
    case: Case,
    start: str = "resting",
    *,
    on_failure: str = "raise",
    step_response: bool = True,
    other_branch: bool = True,
    run_out: bool = True,
    mesh: int = 1,
) -> OperatingPoint:
    """Solves one operating point.

    ``start="resting"`` ramps the speed up from rest with the load on; ``"riding"`` relaxes from the thickest film, which
    finds the other branch where there is one. ``step_response``, ``other_branch`` and ``run_out`` can be left out to save
    time. ``mesh``: 1 the usual number of nodes, 2 double, 0 half.

    Raises InvalidInput on a bad case, NotSolved when the point has no solution or was not found (its message says why);
    with ``on_failure="flag"`` such a point is returned with NaN and its status.
    """
    require_case(case)
    one_of("start", start, ("resting", "riding"))
    one_of("on_failure", on_failure, ("raise", "flag"))
    if mesh not in (0, 1, 2):
        raise refuse("mesh", mesh, "must be 0, 1 or 2")
    options = _core.NipOptions(
        riding=start == "riding",
        step_response=step_response,
        other_branch=other_branch,
        run_out=run_out,
        section=True,
        mesh=mesh,
    )
    point = _point(case, _core.solve(case._core, options))
    if not point.convergence.ok and on_failure == "raise":
        raise NotSolved(str(point.convergence), point)
    return point


@dataclass(frozen=True)
class SpeedLimit:
    """Surface speeds between which the excess ink stays below a limit, for a blade bedded at the case's setting."""

    lower: float
    """[m/s]; NaN: not reached down to the end of the search."""
    upper: float
    """[m/s]; NaN: not reached up to the end of the search."""
    searched: tuple[float, float]
    """Range of the search [m/s]."""
    convergence: Convergence

    def __repr__(self) -> str:
        def side(value: float, end: float, word: str) -> str:
            return f"not reached {word} to {end:.3g} m/s" if math.isnan(value) else f"{value:.4g} m/s"

        first = str(self.convergence)
        return (
            f"{first}: excess ink reaches the limit\n"
            f"  slower: {side(self.lower, self.searched[0], 'down')}\n"
            f"  faster: {side(self.upper, self.searched[1], 'up')}"
        )


def speed_limit(case: Case, excess: Any, *, factor: float = 3.0, on_failure: str = "raise") -> SpeedLimit:
    """Speeds at which the excess ink passes a limit [m] when the bedded blade is run slower or faster without re-bedding.

    ``excess`` is a length (``"0.3 um"``, SI number or quantity); the search covers the case's speed over and times ``factor``.
    Raises InvalidInput on bad values, NotSolved when the case or a speed on the way has no solution.
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    lower, upper, low, high, record = _core.speed_limit(
        case._core, positive(excess, "m", "excess"), positive(factor, "1", "factor")
    )
    limit = SpeedLimit(lower, upper, (low, high), Convergence(*record))
    if not limit.convergence.ok and on_failure == "raise":
        raise NotSolved(str(limit.convergence), limit)
    return limit
