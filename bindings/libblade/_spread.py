"""How far an input may be off: distributions about the case's own value, cut at the field's hard range."""

from __future__ import annotations

import importlib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from libblade._case import Case, require_case
from libblade._errors import InvalidInput, refuse
from libblade._evaluate import _Input, _input
from libblade._fields import Field
from libblade._units import Floats, field_value, gather, is_quantity, si


def statistics(module: str) -> Any:
    """A module of SciPy or SALib, which are an extra."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise ImportError('uncertainty needs SciPy and SALib: pip install "libblade[statistics]"') from error


@dataclass(frozen=True)
class Marginal:
    """A distribution of one field in SI numbers, between its ends."""

    law: Any
    """Frozen, of scipy.stats."""
    low: float
    high: float

    def ppf(self, share: Floats) -> Floats:
        """The values below which the shares of the cut distribution lie; same shape."""
        below, above = self.law.cdf([self.low, self.high])
        values: Floats = np.clip(self.law.ppf(below + share * (above - below)), self.low, self.high)
        return values


@dataclass(frozen=True, kw_only=True, repr=False)
class Distribution:
    """What all have: ends at which the bell is cut (the field's hard range does so anyway), and the source of the spread.

    Values are in the field's unit: SI numbers, in the unit that ends the field's name, texts with unit, or quantities. An angle
    without unit is refused.
    """

    low: Any = None
    high: Any = None
    source: str = ""

    def __repr__(self) -> str:
        parts = sorted(vars(self).items(), key=lambda part: part[0] in {"low", "high", "source"})
        given = [f"{name}={value!r}" for name, value in parts if value is not None and value != ""]
        return f"{type(self).__name__}({', '.join(given)})"

    @property
    def moves(self) -> bool:
        """Whether it stands about the case's own value and moves with it."""
        raise NotImplementedError

    def _law(self, item: _Input, own: float) -> Any:
        raise NotImplementedError

    def at(self, item: _Input, own: float) -> Marginal:
        """About the value ``own`` (SI, NaN for none). Raises InvalidInput on values that are no distribution of the field."""
        law = self._law(item, own)
        low, high = item.field.hard_range
        low = low if self.low is None else max(low, _value(self.low, item))
        high = high if self.high is None else min(high, _value(self.high, item))
        below, above = law.cdf([low, high])
        if not above > below:
            raise refuse(item.given, repr(self), f"has nothing from {item.field.text(low)} to {item.field.text(high)}")
        return Marginal(law, low, high)


@dataclass(frozen=True, repr=False)
class Normal(Distribution):
    """A bell curve about the case's value, or about ``centre``: ``sd`` in the field's unit, or ``relative`` to the centre."""

    sd: Any = None
    relative: Any = None
    centre: Any = None

    def __post_init__(self) -> None:
        _one_of_two("Normal", sd=self.sd, relative=self.relative)

    @property
    def moves(self) -> bool:
        return self.centre is None

    def _law(self, item: _Input, own: float) -> Any:
        centre = _centre(self.centre, item, own)
        width = _difference(self.sd, item) if self.relative is None else _share(self.relative, item) * abs(centre)
        return statistics("scipy.stats").norm(centre, _wide(width, item, self))


@dataclass(frozen=True, repr=False)
class Lognormal(Distribution):
    """A bell curve of the logarithm, with its median at the case's value or at ``centre``: one sigma is ``factor`` up or down,
    or the standard deviation is ``relative`` times the mean."""

    factor: float | None = None
    relative: Any = None
    centre: Any = None

    def __post_init__(self) -> None:
        _one_of_two("Lognormal", factor=self.factor, relative=self.relative)

    @property
    def moves(self) -> bool:
        return self.centre is None

    def _law(self, item: _Input, own: float) -> Any:
        centre = _centre(self.centre, item, own)
        if not centre > 0.0:
            raise refuse(item.given, item.field.text(centre), "must be above 0 at the centre of a Lognormal")
        if self.factor is not None and not (math.isfinite(self.factor) and self.factor > 1.0):
            raise refuse(item.given, self.factor, "must have a factor above 1")
        share = None if self.factor is not None else _share(self.relative, item)
        width = math.log(self.factor) if self.factor else math.sqrt(math.log1p((share or 0.0) ** 2))
        return statistics("scipy.stats").lognorm(_wide(width, item, self), scale=centre)


@dataclass(frozen=True, repr=False)
class Uniform(Distribution):
    """Any value from ``low`` to ``high`` alike, or within ``half_width`` of the case's value."""

    low: Any = None
    high: Any = None
    half_width: Any = None

    def __post_init__(self) -> None:
        _ends_or_half("Uniform", self)

    @property
    def moves(self) -> bool:
        return self.half_width is not None

    def _law(self, item: _Input, own: float) -> Any:
        low, high, _ = _three(self, item, own)
        return statistics("scipy.stats").uniform(low, high - low)


@dataclass(frozen=True, repr=False)
class Triangular(Distribution):
    """From ``low`` to ``high`` with the most at the case's value or at ``centre``, or within ``half_width`` of it."""

    low: Any = None
    high: Any = None
    half_width: Any = None
    centre: Any = None

    def __post_init__(self) -> None:
        _ends_or_half("Triangular", self)

    @property
    def moves(self) -> bool:
        return self.half_width is not None and self.centre is None

    def _law(self, item: _Input, own: float) -> Any:
        low, high, middle = _three(self, item, _centre(self.centre, item, own))
        if not low <= middle <= high:
            told = f"must have its centre {item.field.text(middle)} between low and high"
            raise refuse(item.given, repr(self), told)
        return statistics("scipy.stats").triang((middle - low) / (high - low), low, high - low)


Spread = Mapping[str, Distribution]


def _one_of_two(kind: str, **given: Any) -> None:
    if sum(value is not None for value in given.values()) != 1:
        names = " or ".join(given)
        raise refuse(kind, ", ".join(f"{k}={v!r}" for k, v in given.items()), f"must be given {names}, one of the two")


def _ends_or_half(kind: str, self: Uniform | Triangular) -> None:
    ends = self.low is not None and self.high is not None
    if ends == (self.half_width is not None) or (self.low is None) != (self.high is None):
        raise refuse(kind, repr(self), "must be given low and high, or half_width")


def _three(self: Uniform | Triangular, item: _Input, own: float) -> tuple[float, float, float]:
    if self.half_width is None:
        low, high = _value(self.low, item), _value(self.high, item)
    else:
        half = _difference(self.half_width, item)
        low, high = (_centre(None, item, own) + sign * half for sign in (-1.0, 1.0))
    _wide(high - low, item, self)
    return low, high, own


def _value(value: Any, item: _Input) -> float:
    return float(field_value(value, item.field, item.unit, item.given))


def _centre(value: Any, item: _Input, own: float) -> float:
    centre = own if value is None else _value(value, item)
    if not math.isfinite(centre):
        raise refuse(item.given, "", "has no number in this case: state the distribution's centre or its ends")
    return centre


def _difference(value: Any, item: _Input) -> float:
    """A width: "2 degC" are 2 K."""
    if isinstance(value, str):
        zero = re.sub(r"^[-+]?[\d.]+(e[-+]?\d+)?", "0", value.strip(), flags=re.IGNORECASE)
        return si(value, item.field.unit, item.given) - si(zero, item.field.unit, item.given)
    if is_quantity(value):
        return si(value, item.field.unit, item.given)
    return item.scale * si(value, item.unit or item.field.unit, item.given)


def _share(value: Any, item: _Input) -> float:
    return si(value, "1", item.given)


def _wide(width: float, item: _Input, told: object) -> float:
    if not (math.isfinite(width) and width > 0.0):
        raise refuse(item.given, repr(told), "must have a finite width above 0")
    return width


@dataclass(frozen=True)
class UncertainInput:
    """One input with its distribution."""

    item: _Input
    distribution: Distribution
    own: float
    """In the case, SI; NaN where it states no number."""

    @property
    def field(self) -> Field:
        return self.item.field

    def marginal(self, own: float | None = None) -> Marginal:
        """About the case's value or another one."""
        return self.distribution.at(self.item, self.own if own is None else own)


def uncertain_inputs(case: Case, spread: Spread) -> list[UncertainInput]:
    """Raises InvalidInput on fields that are unknown, choices or given twice, and on what is no distribution of them."""
    require_case(case)
    if not isinstance(spread, Mapping) or not spread:
        raise refuse("spread", spread, "must map at least one field to a distribution; see usual_spread()")
    found: list[UncertainInput] = []
    problems: list[tuple[str, str, str]] = []
    for name, distribution in spread.items():
        try:
            if not isinstance(distribution, Distribution):
                raise refuse(name, distribution, "must be a Normal, Lognormal, Uniform or Triangular")
            item = _input(name)
            if any(item.field is other.field for other in found):
                raise refuse(name, "", "is given twice")
            own = case.get(item.field.path)
            one = UncertainInput(item, distribution, own if isinstance(own, float) else math.nan)
            one.marginal()
            found.append(one)
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    return found


_PRACTICE, _MEMORY = "common practice, no published source", "from memory, no published source"
_ASSUMED = "assumed"


def usual_spread(case: Case) -> dict[str, Distribution]:
    """How far the inputs of a case usually are from the truth (one sigma), for the fields that it states.

    Line load (or what presses the blade) 40 %, since it is seldom measured; set angle 1.5 deg; extension 0.5 mm; viscosity at
    high shear a factor of 2.5, not above that at rest; land roughness and wall width 30 %; friction 0.075; cell volume or depth
    7.5 %, which is what methods differ by; run-out 10 um; specific wear of blade and roll factors of 5 and 10; a factor of 10
    on the asperities' ratio, which stands for product and ratio together. Every distribution names its ``source``; none is
    published. Inputs are taken to be independent. Change, drop or add what is known better: the result is a dict by field path.
    """
    require_case(case)
    viscosity: dict[str, Any] = {"factor": 2.5, "source": _MEMORY}
    rest = case.get("ink.rheology.zero_shear_viscosity")
    usual: dict[str, Distribution] = {
        "setting.line_load": Lognormal(relative=0.4, source=_PRACTICE),
        "setting.interference": Lognormal(relative=0.4, source=_PRACTICE),
        "setting.actuator.air_pressure": Lognormal(relative=0.4, source=_PRACTICE),
        "setting.actuator.advance": Lognormal(relative=0.4, source=_PRACTICE),
        "setting.set_angle": Normal(sd="1.5 deg", source=_PRACTICE),
        "blade.free_length": Normal(sd="0.5 mm", source=_PRACTICE),
        "blade.sections.0.length": Normal(sd="0.5 mm", source=_PRACTICE),
        "ink.rheology.viscosity": Lognormal(**viscosity),
        "ink.rheology.consistency": Lognormal(**viscosity),
        "ink.rheology.infinite_shear_viscosity": Lognormal(**viscosity, high=rest),
        "roll.land_roughness": Lognormal(relative=0.3, source=_MEMORY),
        "roll.asperity_ratio": Lognormal(factor=10.0, source=_MEMORY),
        "roll.engraving.wall_width": Lognormal(relative=0.3, source=_MEMORY),
        "roll.engraving.cell_volume": Lognormal(relative=0.075, source=_PRACTICE),
        "roll.engraving.cell_depth": Lognormal(relative=0.075, source=_PRACTICE),
        "roll.run_out": Normal(sd="10 um", source=_PRACTICE),
        "setting.friction": Normal(sd=0.075, source=_MEMORY),
        "blade.specific_wear": Lognormal(factor=5.0, source=_ASSUMED),
        "roll.specific_wear": Lognormal(factor=10.0, source=_ASSUMED),
    }
    stated = {path: value for path in usual if isinstance(value := case.get(path), float)}
    if "roll.asperity_ratio" in stated and case.get("roll.bearing_curve.0.gap") is not None:  # measured instead
        del stated["roll.asperity_ratio"]
    return {path: one for path, one in usual.items() if path in stated and (stated[path] > 0.0 or _stands_at_0(one))}


def _stands_at_0(distribution: Distribution) -> bool:
    return isinstance(distribution, Normal) and distribution.relative is None
