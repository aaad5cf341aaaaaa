"""What a pressroom can measure."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from libblade._cup import flow_cup, flow_cups
from libblade._errors import refuse
from libblade._fit_wear import KINDS
from libblade._point import OUTPUTS, _Same
from libblade._print import DensityLaw
from libblade._units import field_value, resolve, si

PRINTED = {"ink_on_print": "m", "density": "1"}


@dataclass(frozen=True, eq=False)
class Reading(_Same):
    """One measured number with the setting it was read at.

    ``lb.Reading("density", 1.32, 0.02, {"setting.surface_speed": "300 m/min"}, times={"setting.line_load": 1.1})``
    """

    kind: str
    """``ink_on_print`` [m, that is m3/m2], ``density`` of a solid relative to the paper [-], ``cup_seconds`` [s],
    ``facet_length`` [m], ``bedded_angle`` [rad] or ``length_lost`` [m] after a ``distance``, or any output of an operating
    point (``ink_carried``, ``effective_angle``, ``interference``; see ``output_table()``)."""
    value: Any = None
    """SI number, text with unit or quantity; None where it is asked for (``Fit.predict``)."""
    error: Any = None
    """Its standard error: likewise, or a share of the value as text (``"5 %"``)."""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """Fields that differ from the case: values by path."""
    times: Mapping[str, float] = field(default_factory=dict)
    """Fields that are so many times those of the case, fitted ones too: a load step of +10 % is 1.1."""
    distance: Any = None
    """Of web since the blade began [m], for worn blades."""
    transfer: Any = 0.3
    """Of ``ink_on_print`` and ``density``: share of the ink carried that reaches the print, or a ``WalkerFetsko``."""
    density_law: DensityLaw | None = None
    """Of ``density``: D = limit (1 - exp(-absorption y)) (Tollenaar & Ernst 1961)."""
    cup: str = ""
    """Of ``cup_seconds``: standard and number, as ``flow_cup`` takes it."""
    high_shear_ratio: Any = None
    """Of ``cup_seconds``: viscosity of the ink's law over that in the cup, at 300 1/s; to be stated for a Newtonian ink, 1 by
    default for the other laws, which thin by themselves."""

    @property
    def unit(self) -> str:
        """SI."""
        units = {**PRINTED, "cup_seconds": "s", "length_lost": "m"}
        return units[self.kind] if self.kind in units else OUTPUTS[self.kind].unit


class Item(NamedTuple):
    """A reading as numbers."""

    reading: Reading
    kind: str
    value: float
    error: float
    settings: tuple[tuple[str, float | str], ...]
    times: tuple[tuple[str, float], ...]
    distance: float

    @property
    def worn(self) -> bool:
        return math.isfinite(self.distance)


def item_of(reading: Any, name: str, *, asked: bool = False) -> Item:
    """Raises InvalidInput, naming the reading, on anything that does not fit. ``asked``: value and error may be missing."""
    if not isinstance(reading, Reading):
        raise refuse(name, reading, "must be a Reading(...); data is a list of them or the dictionary of a record")
    kind, wear_only = reading.kind, reading.kind == "length_lost"
    if kind not in {*OUTPUTS, *PRINTED, "cup_seconds", "length_lost"}:
        raise refuse(f"{name}.kind", kind, f"must be {', '.join(PRINTED)}, cup_seconds, length_lost or an output")
    distance = math.nan if reading.distance is None else si(reading.distance, "m", f"{name}.distance")
    if (wear_only and reading.distance is None) or (reading.distance is not None and kind not in KINDS):
        raise refuse(
            f"{name}.distance", reading.distance, "goes with " + ", ".join(KINDS) + ", and length_lost needs it"
        )
    if reading.distance is not None and not (math.isfinite(distance) and distance >= 0.0):
        raise refuse(f"{name}.distance", reading.distance, "must be at least 0 m")
    if (kind == "cup_seconds") != bool(reading.cup) or (reading.cup and reading.cup not in cups()):
        raise refuse(f"{name}.cup", reading.cup, "must be a cup of flow_cups() with cup_seconds, and with nothing else")
    value = math.nan if asked and reading.value is None else si(reading.value, reading.unit, f"{name}.value")
    error = math.nan if asked and reading.error is None else _error(reading, value, f"{name}.error")
    if reading.cup and reading.value is not None:
        flow_cup(reading.cup, value)
    if reading.value is not None and not (math.isfinite(value) and value >= 0.0):
        raise refuse(f"{name}.value", reading.value, "must be finite and at least 0")
    settings, times = dict[str, float | str](), dict[str, float]()
    for given, number in reading.settings.items():
        about, unit = resolve(given, f"{name}.settings.{given}")
        settings[about.path] = field_value(number, about, unit, given)
    for given, number in reading.times.items():
        about, _ = resolve(given, f"{name}.times.{given}")
        times[about.path] = si(number, "1", f"{name}.times.{given}")
        if about.kind != "number" or about.path in settings or not 0.0 < times[about.path] < math.inf:
            raise refuse(
                f"{name}.times.{given}", number, "must be above 0, for a numeric field that settings do not hold"
            )
    return Item(reading, kind, value, error, tuple(settings.items()), tuple(times.items()), distance)


def _error(reading: Reading, value: float, name: str) -> float:
    given = reading.error
    share = isinstance(given, str) and given.rstrip().endswith("%")
    if share and math.isnan(value):
        return value
    error = abs(value) * si(given, "1", name) if share else si(given, reading.unit, name)
    if not (math.isfinite(error) and error > 0.0):
        raise refuse(name, given, f"must be a standard error above 0 [{reading.unit}]")
    return error


@functools.cache
def cups() -> dict[str, Any]:
    return {cup.name: cup for cup in flow_cups()}
