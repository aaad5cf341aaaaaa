"""The setting in the pressroom's own terms: air pressure or screw travel."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._errors import InvalidInput, refuse
from libblade._units import Floats, is_quantity, si


class Reading(NamedTuple):
    """What the operator reads, for a swept load: name, text and how to show it."""

    name: str
    load: str
    """Field that it sets."""
    field: str
    """Field of the case that states it."""
    long_name: str
    units: str
    display_units: str
    display_scale: float
    """Display value = SI value x scale."""

    def text(self, value: float) -> str:
        """ "1.5 bar"."""
        return f"{value * self.display_scale:.3g} {self.display_units}"


class Actuator:
    """Pistons that press the blade against the roll: N = (air_pressure x piston_area x lever_ratio + dead_load) / blade_width.

    Statics of a lever, normal to the roll at the blade; friction of seals, hinges and guides is neglected, and the load is taken
    as even across the width. SI numbers or texts with unit. Raises InvalidInput on every bad value at once.
    """

    reading = Reading(
        "air_pressure",
        "setting.line_load",
        "setting.actuator.air_pressure",
        "gauge air pressure at the actuator",
        "Pa",
        "bar",
        1e-5,
    )

    def __init__(
        self,
        *,
        piston_area: Any,
        blade_width: Any,
        air_pressure: Any = 0.0,
        lever_ratio: Any = 1.0,
        dead_load: Any = 0.0,
    ) -> None:
        given = {
            "air_pressure": (air_pressure, "Pa"),
            "piston_area": (piston_area, "m2"),
            "lever_ratio": (lever_ratio, "1"),
            "blade_width": (blade_width, "m"),
            "dead_load": (dead_load, "N"),
        }
        values = _si_all(given)
        self.air_pressure: float = values["air_pressure"]
        """Gauge [Pa]."""
        self.piston_area: float = values["piston_area"]
        """Of all pistons together [m2]."""
        self.lever_ratio: float = values["lever_ratio"]
        """Force at the blade over force at the pistons [-]."""
        self.blade_width: float = values["blade_width"]
        """Across the web [m]."""
        self.dead_load: float = values["dead_load"]
        """Weight or springs at the blade without air; negative lifts it off [N]."""
        self.line_load: float = _core.line_load_of(**values)
        """At this air pressure [N/m]."""

    def fields(self) -> dict[str, Any]:
        """The fields of ``setting.actuator``; the air pressure only where one is stated."""
        return {
            "kind": "air",
            "air_pressure": self.air_pressure or None,
            "piston_area": self.piston_area,
            "lever_ratio": self.lever_ratio,
            "blade_width": self.blade_width,
            "dead_load": self.dead_load,
        }

    def air_pressure_for(self, line_load: Any) -> float:
        """Gauge air pressure [Pa] for a line load. Raises InvalidInput when the dead load alone exceeds it, or 20 bar do not
        suffice."""
        return float(
            _core.air_pressure_for(
                si(line_load, "N/m", "line_load"),
                piston_area=self.piston_area,
                lever_ratio=self.lever_ratio,
                blade_width=self.blade_width,
                dead_load=self.dead_load,
            )
        )

    def readings(self, loads: Any) -> Floats:
        """Air pressures [Pa] for line loads [N/m], (n,); NaN where none gives the load."""
        return _where_possible(self.air_pressure_for, loads)

    def __repr__(self) -> str:
        return (
            f"Actuator({self.reading.text(self.air_pressure)}: {self.line_load:.4g} N/m; {self.piston_area * 1e4:.4g} cm2, "
            f"lever {self.lever_ratio:.4g}, blade {self.blade_width:.4g} m, dead load {self.dead_load:.4g} N)"
        )


class Screw:
    """A screw that advances the holder: interference = advance x cos(slope).

    ``advance`` [m] past first touch, along the screw; ``slope`` is the angle of the screw to the roll's normal, with its unit.
    What the screw moves along the roll is neglected. Raises InvalidInput on bad values.
    """

    reading = Reading(
        "screw_advance",
        "setting.interference",
        "setting.actuator.advance",
        "advance of the screw past first touch",
        "m",
        "mm",
        1e3,
    )

    def __init__(self, *, advance: Any = 0.0, slope: Any = "0 deg") -> None:
        if not isinstance(slope, str) and not is_quantity(slope):
            raise refuse("slope", slope, 'must carry its unit, e.g. "10 deg"')
        values = _si_all({"advance": (advance, "m"), "slope": (slope, "rad")})
        self.advance: float = values["advance"]
        """Along the screw [m]."""
        self.slope: float = values["slope"]
        """Screw to the roll's normal [rad]."""
        self.interference: float = _core.interference_of(**values)
        """At this advance [m]."""

    def fields(self) -> dict[str, Any]:
        """The fields of ``setting.actuator``; the advance only where one is stated."""
        return {"kind": "screw", "advance": self.advance or None, "slope": f"{self.slope!r} rad"}

    def advance_for(self, interference: Any) -> float:
        """Advance along the screw [m] for an interference. Raises InvalidInput on a bad one."""
        return float(_core.advance_for(si(interference, "m", "interference"), self.slope))

    def readings(self, loads: Any) -> Floats:
        """Advances [m] for interferences [m], (n,); NaN where none gives it."""
        return _where_possible(self.advance_for, loads)

    def __repr__(self) -> str:
        return (
            f"Screw({self.reading.text(self.advance)} at {np.degrees(self.slope):.4g} deg: interference "
            f"{self.interference * 1e3:.4g} mm)"
        )


def actuator_of(case: Any) -> Actuator | Screw | None:
    """The actuator that a case states; None without one."""
    kind = case.get("setting.actuator.kind", "none")
    if kind == "none":
        return None
    if kind == "screw":
        return Screw(advance=case.get("setting.actuator.advance", 0.0), slope=f"{case['setting.actuator.slope']!r} rad")
    names = ("piston_area", "lever_ratio", "blade_width", "dead_load")
    stated = {name: case[f"setting.actuator.{name}"] for name in names}
    return Actuator(
        air_pressure=case.get("setting.actuator.air_pressure", max(0.0, -stated["dead_load"] * 2.0)), **stated
    )


def _si_all(given: dict[str, tuple[Any, str]]) -> dict[str, float]:
    values: dict[str, float] = {}
    problems: list[tuple[str, str, str]] = []
    for name, (value, unit) in given.items():
        try:
            values[name] = si(value, unit, name)
        except InvalidInput as error:
            problems += error.problems
    if problems:
        raise InvalidInput(problems)
    return values


def _where_possible(reading: Any, loads: Any) -> Floats:
    out = np.full(len(loads), np.nan)
    for k, load in enumerate(loads):
        try:
            out[k] = reading(float(load))
        except InvalidInput:
            continue
    return out
