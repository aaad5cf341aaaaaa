"""The blade on a dry roll: bending at a setting, and the whole load-deflection curve with its limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._point import Convergence, _Same
from libblade._units import Floats, positive, si


@dataclass(frozen=True, eq=False, repr=False)
class Bending(_Same):
    """A blade pressed on a dry roll. NaN where it is not solved."""

    line_load: float
    """Normal load [N/m]."""
    tangential_load: float
    """Friction times line_load [N/m]."""
    effective_angle: float
    """Blade to roll tangent at the contact; 0 where it lies flat [rad]."""
    tip_rotation: float
    """Slope at the clamp minus slope at the contact [rad]."""
    tip_deflection: float
    """Of the contact, normal to the undeformed blade, away from the roll [m]."""
    interference: float
    """Holder advance past first touch [m]."""
    contact_travel: float
    """Contact point along the roll from first touch, from body to tip [m]."""
    holder_moment: float
    """Bending moment at the clamp [N]."""
    holder_force: tuple[float, float]
    """Reaction on the blade along the roll tangent and away from the roll [N/m]."""
    max_bending_stress: float
    """6 M / t^2 where it is largest [Pa]."""
    max_stress_place: float
    """Arc length from the clamp [m]."""
    plate_force: float
    """Of the backing plate's edge on the blade [N/m]; 0: not touched."""
    contact_arc_length: float
    """Arc length from the clamp to the contact [m]."""
    overhang: float
    """Free end beyond the contact of a blade that lies flat [m]."""
    wrapped_arc: float
    """Length that lies on the roll [m]; 0: the contact is a line."""
    mode: str
    """ "tip": the edge touches; "flat": the blade lies on the roll; "none": not solved."""
    tangent_stiffness: float
    """d line_load / d interference [N/m2]."""
    buckling_ratio: float
    """Axial load over the buckling load of the blade held by the roll; negative in tension [-]."""
    frequency_free: float
    """First natural frequency off the roll [Hz]."""
    frequency_pinned: float
    """First natural frequency with the tip held by the roll [Hz]."""
    shape: Floats
    """Mid-plane from clamp to tip, along the roll tangent and away from the roll, origin at first touch [m], (n, 2)."""
    slope: Floats
    """[rad], (n,)."""
    convergence: Convergence

    @property
    def contact_mode(self) -> str:
        """ "tip", "flat" or "none"."""
        return self.mode

    def __repr__(self) -> str:
        lies = f", lies flat {self.overhang * 1e3:.3g} mm short of its end" if self.mode == "flat" else ""
        return (
            f"{self.convergence}\n  line load {self.line_load:.6g} N/m at interference {self.interference * 1e3:.4g} mm, effective "
            f"angle {np.degrees(self.effective_angle):.4g} deg, largest stress {self.max_bending_stress * 1e-6:.4g} MPa{lies}"
        )


def _friction(case: Case, friction: Any) -> float:
    mu = float(case["setting.friction"]) if friction is None else si(friction, "1", "friction")
    if not 0.0 <= mu <= 2.0:
        raise refuse("friction", friction, "must be between 0 and 2")
    return mu


def bending(case: Case, *, friction: Any = None, points: int = 65, on_failure: str = "raise") -> Bending:
    """Bending of the case's blade pressed on a dry roll by its line load or interference (planar elastica; sections, backing
    plate and holder as the case states them).

    The contact force acts at the roll-side corner; at high load the contact leaves it and the blade lies flat. ``friction`` [-]
    is by default the case's.

    Raises InvalidInput on bad values, NotSolved when the blade does not carry it: it digs in, snaps or does not touch
    (``on_failure="flag"`` returns it with NaN and its status).
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    mu = _friction(case, friction)
    if isinstance(points, bool) or not isinstance(points, int) or not 2 <= points <= 100_000:
        raise refuse("points", points, "must be a whole number from 2 to 100000")
    values = _core.bend_dry(case._core, mu, points)
    o, z, slope = values.pop("shape")
    record = Convergence(*values.pop("convergence"))
    result = Bending(**values, shape=np.column_stack([o, z]), slope=slope, convergence=record)
    if not record.ok and on_failure == "raise":
        raise NotSolved(str(record), result)
    return result


class CurveLimit(NamedTuple):
    """Where something ends along a load curve."""

    event: str
    """ "interference_limit" (a fixed holder snaps), "load_limit" (a floating one does), "dig_in", "lying_flat",
    "plate_contact" or "yield"."""
    interference: float
    """[m]."""
    line_load: float
    """[N/m]."""
    effective_angle: float
    """[rad]."""


@dataclass(frozen=True, eq=False, repr=False)
class LoadCurve(_Same):
    """Equilibria of the dry blade from first touch on, through folds. Arrays (n,)."""

    interference: Floats
    """Holder advance past first touch [m]."""
    line_load: Floats
    """[N/m]."""
    effective_angle: Floats
    """0 where the blade lies flat [rad]."""
    contact_arc_length: Floats
    """Clamp to contact along the blade [m]."""
    plate_force: Floats
    """[N/m]."""
    max_bending_stress: Floats
    """[Pa]."""
    contact_mode: tuple[str, ...]
    """ "tip" or "flat"."""
    limits: tuple[CurveLimit, ...]
    """What happens along the curve, in order."""
    convergence: Convergence
    """Whether the curve was followed to a bound, to lift-off or to digging in."""

    def __repr__(self) -> str:
        told = "".join(
            f"\n  {limit.event.replace('_', ' ')} at {limit.line_load:.4g} N/m, advance {limit.interference * 1e3:.4g} mm"
            for limit in self.limits
        )
        return f"{self.convergence}\n  {self.line_load.size} points up to {self.line_load.max():.4g} N/m{told}"


def load_curve(
    case: Case,
    *,
    friction: Any = None,
    max_interference: Any = None,
    max_load: Any = None,
    flat: bool = True,
    on_failure: str = "raise",
) -> LoadCurve:
    """Load against holder advance of the case's blade on a dry roll, followed from first touch through every fold
    (pseudo-arc-length continuation), with the limits met on the way.

    It ends at ``max_interference`` [m] or ``max_load`` [N/m] (by default the height of the clamp and 50 D / L^2), at lift-off,
    where friction digs in, or with ``flat=False`` where the blade lies flat. ``friction`` [-] is by default the case's.

    Raises InvalidInput on bad values, NotSolved when the curve could not be followed (``on_failure="flag"`` returns what there is).
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    values = _core.load_curve(
        case._core,
        _friction(case, friction),
        0.0 if max_interference is None else positive(max_interference, "m", "max_interference"),
        0.0 if max_load is None else positive(max_load, "N/m", "max_load"),
        bool(flat),
    )
    record = Convergence(*values.pop("convergence"))
    events = values.pop("event")
    limits = tuple(
        CurveLimit(event, *(float(values[name][k]) for name in ("interference", "line_load", "effective_angle")))
        for k, event in enumerate(events)
        if event and (event != "yield" or event not in events[:k])  # yielding begins once
    )
    values["contact_mode"] = tuple(values["contact_mode"])
    result = LoadCurve(**values, limits=limits, convergence=record)
    if not record.ok and on_failure == "raise":
        raise NotSolved(str(record), result)
    return result
