"""A doctor blade pressed on a rigid roll, as plain numbers: what every checker of bending is asked and what it answers.

No physics here. Frame (o, z): o along the roll tangent at first touch from blade body to tip, z away from the roll.
SI units, angles in radians, loads per metre of width.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians


@dataclass(frozen=True)
class StripSpec:
    """Give `line_load` or `advance`, not both."""

    sections: tuple[tuple[float, float], ...] = ((12e-3, 0.2e-3),)  # (length, thickness) from clamp to tip [m]
    flush: str = "roll"  # side on which the sections are level: "roll" or "away"
    youngs_modulus: float = 205e9  # [Pa]
    poissons_ratio: float = 0.29
    set_angle: float = radians(30.0)  # [rad]
    roll_radius: float = 70e-3  # [m]; inf: a plane
    orientation: str = "doctoring"  # or "trailing"
    friction: float = 0.0  # tangential over normal load, sliding
    line_load: float | None = None  # normal to the roll surface at the contact [N/m]
    advance: float | None = None  # of the holder past first touch, along -z without turning [m]
    plate_length: float | None = None  # clamp to the plate's edge along the unbent strip [m]
    plate_gap: float = 0.0  # between unbent strip and plate [m]
    pressure: float = 0.0  # on the face away from the roll, towards the roll [Pa]

    def __post_init__(self) -> None:
        if (self.line_load is None) == (self.advance is None):
            raise ValueError("give line_load or advance")
        if self.flush not in ("roll", "away") or self.orientation not in ("doctoring", "trailing"):
            raise ValueError("flush is roll or away, orientation doctoring or trailing")

    @property
    def length(self) -> float:
        """Clamp to tip [m]."""
        return sum(length for length, _ in self.sections)

    @property
    def tangential_ratio(self) -> float:
        """Force on the blade along the surface from body to tip over the normal load."""
        return -self.friction if self.orientation == "doctoring" else self.friction

    def stiffness(self, thickness: float) -> float:
        """Plane-strain bending stiffness per width [N m] (Timoshenko & Woinowsky-Krieger 1959)."""
        return self.youngs_modulus * thickness**3 / (12.0 * (1.0 - self.poissons_ratio**2))


@dataclass(frozen=True)
class StripResult:
    """The same figures from the library, the elastica and the finite elements."""

    line_load: float  # normal to the roll surface [N/m]
    tangential_load: float  # friction, positive [N/m]
    advance: float  # holder past first touch [m]
    tip_rotation: float  # set angle minus slope of the tip [rad]
    effective_angle: float  # blade to roll tangent at the contact [rad]; 0 lying flat
    travel: float  # contact point along the roll from first touch, body to tip [m]
    contact_place: float  # arc length from clamp to contact [m]
    max_bending_stress: float  # 6 |M| / t^2, largest over the strip [Pa]
    max_stress_place: float  # arc length from the clamp [m]
    plate_force: float = 0.0  # [N/m]
    mode: str = "tip"  # or "flat"

    def errors_against(self, other: StripResult, advance_given: bool) -> dict[str, float]:
        """Relative differences of the quantities that are compared; load where the advance is given and vice versa. Of the
        effective angle: its difference over the tip's rotation."""
        names = ["tip_rotation", "max_bending_stress", "line_load" if advance_given else "advance"]
        if other.mode == "flat":
            names.append("contact_place")
        if other.plate_force > 0.0:
            names.append("plate_force")
        errors = {name: getattr(self, name) / getattr(other, name) - 1.0 for name in names}
        errors["effective_angle"] = (self.effective_angle - other.effective_angle) / other.tip_rotation
        return errors
