"""The library's answer to a `StripSpec`: the one place where the checks of bending touch it."""

from __future__ import annotations

import warnings
from math import isfinite

from strip_model import StripResult, StripSpec

import libblade as lb


def library_strip(spec: StripSpec) -> StripResult | None:
    """None for a plane, which is no roll of the library's."""
    if not isfinite(spec.roll_radius):
        return None
    held = {"setting.line_load": spec.line_load} if spec.advance is None else {"setting.interference": spec.advance}
    sections = [{"length": length, "thickness": thickness, "flush": spec.flush} for length, thickness in spec.sections]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", lb.LibbladeWarning)  # values outside the usual ranges are meant
        case = lb.example_case("folding_carton_water").replace(
            {
                "blade.sections": sections,
                "blade.backing_length": spec.plate_length or 0.0,
                "blade.backing_gap": spec.plate_gap if spec.plate_length else 0.0,
                "blade.material.youngs_modulus": spec.youngs_modulus,
                "blade.material.poissons_ratio": spec.poissons_ratio,
                "roll.radius": spec.roll_radius,
                "setting.set_angle": f"{spec.set_angle!r} rad",
                "setting.orientation": spec.orientation,
                "setting.chamber_pressure": spec.pressure,
                "setting.pressure_side": "away_from_roll",
                **held,
            }
        )
        bent = lb.bending(case, friction=spec.friction)
    return StripResult(
        line_load=bent.line_load,
        tangential_load=bent.tangential_load,
        advance=bent.interference,
        tip_rotation=bent.tip_rotation,
        effective_angle=bent.effective_angle,
        travel=bent.contact_travel,
        contact_place=bent.contact_arc_length,
        max_bending_stress=bent.max_bending_stress,
        max_stress_place=bent.max_stress_place,
        plate_force=bent.plate_force,
        mode=bent.contact_mode,
    )
