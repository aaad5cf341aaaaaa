"""How a facet grows on the outline of a blade's end, and what blades are made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case
from libblade._errors import one_of, refuse
from libblade._point import _Same
from libblade._units import Floats, is_quantity, numbers, positive, si


class OutlineEvent(NamedTuple):
    """A corner of the outline reaches the roll."""

    retreat: float
    """Normal to the roll [m]."""
    length_lost: float
    """Of the blade along its sides [m]."""
    area: float
    """Worn away until then, per width [m2]."""
    length_before: float
    """Facet just before [m]."""
    length_after: float
    """Facet just after [m]."""


@dataclass(frozen=True, eq=False)
class FacetGrowth(_Same):
    """The facet that a retreat leaves. Arrays (n,), one entry a retreat."""

    retreat: Floats
    """Normal to the roll [m]."""
    length: Floats
    """What touches [m]."""
    span: Floats
    """From the first to the last place that touches; longer than ``length`` where the shoulder of a step touches apart [m]."""
    area: Floats
    """Worn away, per width [m2]."""
    front_angle: Floats
    """Face beyond the facet's end away from the body, to the roll [rad]."""
    body_angle: Floats
    """Face beyond its body end, to the roll [rad]."""
    length_lost: Floats
    """Blade length lost along its sides [m]."""
    events: tuple[OutlineEvent, ...]
    """Corners that reach the roll, in order."""


def facet_growth(
    blade: Any,
    retreat: npt.ArrayLike,
    *,
    angle: Any,
    edge_radius: Any = 0.0,
    bevel_angle: Any = None,
    bevel_depth: Any = None,
    bevel_side: str = "away",
) -> FacetGrowth:
    """Facet length, worn area and events against the retreat normal to the roll [m], at an effective angle with its unit
    (plane geometry, exact for straight sides; the roll is taken as a line).

    ``blade``: the thickness of a square cut [m], or a Case, whose sections give the outline. ``bevel_angle`` (with its unit)
    grinds one corner of a plain thickness, over ``bevel_depth`` [m] (all of it by default), from ``bevel_side`` "roll" or "away".

    Raises InvalidInput on bad values.
    """
    z = np.atleast_1d(numbers(retreat, "m", "retreat"))
    if np.any(z < 0.0):
        raise refuse("retreat", retreat, "must not be below 0 m")
    a, radius = _angle(angle, "angle"), si(edge_radius, "m", "edge_radius")
    if isinstance(blade, Case):
        if bevel_angle is not None:
            raise refuse("bevel_angle", bevel_angle, "goes with a plain thickness, not with a case")
        values = _core.facet_growth_blade(blade._core, radius, a, z)
    elif bevel_angle is None:
        values = _core.facet_growth_square(positive(blade, "m", "blade"), radius, a, z)
    else:
        one_of("bevel_side", bevel_side, ("roll", "away"))
        thickness = positive(blade, "m", "blade")
        depth = thickness if bevel_depth is None else positive(bevel_depth, "m", "bevel_depth")
        values = _core.facet_growth_bevel(
            thickness, radius, a, z, _angle(bevel_angle, "bevel_angle"), depth, bevel_side
        )
    events = tuple(OutlineEvent(*event) for event in values.pop("events"))
    return FacetGrowth(retreat=z, events=events, **values)


class EdgeContact(NamedTuple):
    """Contact of an unworn edge."""

    width: float
    """[m]."""
    mean_pressure: float
    """[Pa]."""
    arc_share: float
    """Half-width over the half-chord of the rounding; line contact holds well below 1."""
    plastic: bool
    """The mean pressure is the hardness."""


def edge_contact(case: Case, load: Any, *, angle: Any, front_angle: Any = None, edge_radius: Any = None) -> EdgeContact:
    """Width and mean pressure of the case's blade while its edge is new: line contact of the rounding (Hertz), capped by the
    hardness of the wedge and of the roll.

    ``load`` [N/m]; ``angle`` of the blade to the roll and ``front_angle`` of the face on the other side (``facet_growth`` gives it
    for any end; by default that of a square cut), both with their unit; ``edge_radius`` [m] is by default the case's.

    Raises InvalidInput on bad values.
    """
    body = _angle(angle, "angle")
    front = 0.5 * np.pi - body if front_angle is None else _angle(front_angle, "front_angle")
    radius = float(case["tip.edge_radius"]) if edge_radius is None else si(edge_radius, "m", "edge_radius")
    solids = {part: {name: float(case[f"{part}.material.{name}"]) for name in _ELASTIC} for part in ("blade", "roll")}
    give = sum((1.0 - s["poissons_ratio"] ** 2) / s["youngs_modulus"] for s in solids.values())
    values = _core.edge_contact(
        positive(load, "N/m", "load"),
        radius,
        1.0 / give,
        solids["blade"]["hardness"],
        solids["roll"]["hardness"],
        front,
        body,
    )
    if not np.isfinite(values[0]):
        raise refuse("edge_radius", radius, "must not be below 0, and both faces must rise from the roll")
    return EdgeContact(*values)


_ELASTIC = ("youngs_modulus", "poissons_ratio", "hardness")


def _angle(value: Any, name: str) -> float:
    if not isinstance(value, str) and not is_quantity(value):
        raise refuse(name, value, 'must carry its unit, e.g. "28 deg"')
    return si(value, "rad", name)


class SolidEntry(NamedTuple):
    """A material by name: nominal value and range of a grade, SI."""

    name: str
    youngs_modulus: tuple[float, tuple[float, float]]
    """[Pa]."""
    poissons_ratio: tuple[float, tuple[float, float]]
    """[-]."""
    hardness: tuple[float, tuple[float, float]]
    """[Pa]."""
    yield_strength: tuple[float, tuple[float, float]]
    """[Pa]."""
    density: tuple[float, tuple[float, float]]
    """[kg/m3]."""
    note: str
    """What it stands for, and where the numbers come from."""


def solids_table() -> tuple[SolidEntry, ...]:
    """Materials of blades; the words of ``blade.material.grade`` with blanks. A user's own is stated number by number."""
    return tuple(SolidEntry(**row) for row in _core.solids_table())
