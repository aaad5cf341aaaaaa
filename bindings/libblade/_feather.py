"""Strain of the feather edge, and the slivers that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._point import _Same, solve
from libblade._tip import _angle
from libblade._units import positive, si

REFERENCE = ("30 deg", "0.5 MPa")
"""Angle and pressure of the feather that slivers are compared with."""


class FeatherIndex(NamedTuple):
    """Radial stress in an elastic wedge pressed on one face, everywhere along its faces; tension positive."""

    peak: float
    """Larger magnitude of the two faces, the index before it is made relative [Pa]."""
    loaded_face: float
    """On the face that the roll presses on [Pa]."""
    free_face: float
    """On the other [Pa]."""
    leading: float
    """3 p / tan^2 a + 4 tau / tan a, which ``loaded_face`` comes to in a thin wedge [Pa]."""


def feather_index(angle: Any, pressure: Any, shear: Any = 0.0) -> FeatherIndex:
    """Stress of a feather edge of this ``angle`` (with its unit, 0.1 to 90 deg) under uniform ``pressure`` and ``shear`` [Pa] on
    one face: the exact plane wedge (Levy 1898; Timoshenko & Goodier, Theory of Elasticity; from memory, checked by equilibrium).

    ``shear`` counts towards the edge: positive for the drag on a trailing blade, negative on a doctoring one. A relative index
    and no threshold: 0.5 MPa gives 5 MPa at 30 deg and 34 MPa at 12 deg, far below any blade's yield.

    Raises InvalidInput on bad values.
    """
    return FeatherIndex(
        *_core.feather_stress(_angle(angle, "angle"), si(pressure, "Pa", "pressure"), si(shear, "Pa", "shear"))
    )


def feather_peak(angle: float, pressure: float, shear: float) -> float:
    """Peak alone, of SI numbers: the angle in rad."""
    return float(_core.feather_stress(angle, pressure, shear)[0])


@dataclass(frozen=True, eq=False)
class SliverSource(_Same):
    """Slivers of the blade, per length of web and width."""

    relative_index: float
    """Peak stress over the reference's; 0 without a feather [-]."""
    share: float
    """Of the worn volume that leaves as slivers, at most 1 [-]."""
    worn_volume: float
    """Of the blade, k_b N_a [m3/m2]."""
    volume: float
    """Of slivers [m3/m2]."""
    peak: float
    """Index of this feather [Pa]."""
    angle: float
    """Of the feather, the facet's angle to the blade [rad]; NaN on a square edge."""
    worn_share: float
    """Facet over that of a cut face worn away [-]; only at 1 is there a feather."""


def sliver_source(
    case: Case, *, fraction: Any = 0.01, reference_angle: Any = REFERENCE[0], reference_pressure: Any = REFERENCE[1]
) -> SliverSource:
    """Volume of blade slivers: ``fraction`` of the worn volume k_b N_a, times the feather's index over that of a reference
    feather under pressure alone.

    ``fraction`` at the reference is assumed, without any source: read the volume as a comparison between settings and vary it by a
    factor of 10. Pressure and drag on the feather are those of the solved facet. A facet that has not eaten the cut face ends
    in an obtuse corner and gives none.

    Raises InvalidInput on bad values, NotSolved when the case does not solve.
    """
    require_case(case)
    share = si(fraction, "1", "fraction")
    reference = feather_index(reference_angle, positive(reference_pressure, "Pa", "reference_pressure")).peak
    point = solve(case, step_response=False, other_branch=False, run_out=False)
    length, angle = float(point.facet_length), float(point.bedded_angle)
    worn_share = length * np.sin(angle) / _core.tip_thickness(case._core) if length > 0.0 else 0.0
    peak = 0.0
    if worn_share > 0.999:
        towards_edge = 1.0 if case["setting.orientation"] == "trailing" else -1.0
        peak = feather_peak(angle, float(point.mean_pressure), towards_edge * float(point.tangential_load) / length)
    values = _core.sliver_source(float(case["blade.specific_wear"]), float(point.asperity_load), peak, reference, share)
    return SliverSource(*values, peak, angle, worn_share)
