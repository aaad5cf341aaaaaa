"""Lines on the print: what each cause leaves behind at this nip."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import InvalidInput, NotSolved, one_of, refuse
from libblade._lazy import lazy
from libblade._plots import STATEMENT
from libblade._point import Convergence, _Same
from libblade._print import PrintLaw
from libblade._units import Floats, si

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

_SIZES: dict[str, dict[str, str]] = {cause: dict(sizes) for cause, sizes in _core.line_sizes().items()}

CAUSE_WORDS = {
    "blade_nick": "nick in the blade's edge",
    "scored_roll": "score round the roll",
    "worn_band": "worn band of the roll",
    "plugged_cells": "plugged cells",
    "handling_mark": "handling mark on the roll",
    "propped_blade": "particle embedded in the edge",
    "riding": "blade riding on the ink",
    "run_out": "run-out of the roll",
    "lodged_particle": "loose particle or dried ink at the edge",
    "blocked_supply": "blocked supply",
    "leaking_end_seal": "leaking end seal",
    "not_this_nip": "not this nip",
}
DIRECTION_WORDS = {
    "along_web": "line along the web",
    "across_web": "band across the web",
    "whole_width": "change over the whole width",
    "spots": "spot",
}
ONSET_WORDS = {
    "sudden": "suddenly",
    "gradual": "gradually",
    "at_blade_change": "at a blade change",
    "at_roll_change": "at a roll change",
    "after_standstill": "after a standstill",
}
_ROWS, _COLUMNS = 480, 160


@dataclass(frozen=True)
class LineSignature:
    """What somebody beside the press can see and try."""

    tone: str
    """"darker" or "lighter"."""
    direction: str
    """"along_web", "across_web", "whole_width" or "spots"."""
    width: float
    """Of one line, spot or band, across its direction, at half its contrast [m]; NaN over the whole width."""
    repeat: float
    """Along the web [m]; 0: continuous or irregular."""
    moves_with_blade: bool
    """With the blade's traverse."""
    goes_when_wiped: bool
    """When the edge is wiped."""
    survives_blade_change: bool
    survives_cleaning: bool
    """Ordinary cleaning of the roll."""
    patchy: bool
    """Comes and goes along its way."""
    began: str
    """"sudden", "gradual", "at_blade_change", "at_roll_change" or "after_standstill"."""


@dataclass(frozen=True, eq=False, repr=False)
class Line(_Same):
    """One cause at one size, as ink and as it looks. SI numbers."""

    cause: str
    sizes: dict[str, Any]
    """Of the defect at its middle, SI."""
    ink: float
    """On the roll where it differs most [m]."""
    nominal_ink: float
    """Beside [m]."""
    film: float
    """On the print where it differs most [m]."""
    nominal_film: float
    """Beside [m]."""
    density: float
    """Where it differs most [-]."""
    nominal_density: float
    """Beside [-]."""
    density_contrast: float
    """density - nominal_density: positive is darker [-]."""
    excess_area: float
    """Ink on the roll beyond the nominal, over the profile [m2]; over the whole width: per length [m]."""
    visibility: float
    """Contrast over the one that an eye needs: seen from 1 on [-]."""
    place: Floats
    """Across the line from its middle, of a band along the web [m], (n,)."""
    profile: Floats
    """Ink on the roll there [m], (n,)."""
    signature: LineSignature
    roll_turn: float
    """Circumference of the roll [m]."""
    strip_across: Floats = field(repr=False)
    """Middles of the strip's pixels from the line's middle [m], (nx,)."""
    strip_along: Floats = field(repr=False)
    """From the strip's start [m], (ny,)."""
    strip_density: Floats = field(repr=False)
    """Of the mean reflectance of each pixel [-], (ny, nx)."""

    @property
    def width(self) -> float:
        """At half the contrast [m]; NaN over the whole width."""
        return self.signature.width

    @property
    def repeat(self) -> float:
        """Along the web [m]; 0: continuous or irregular."""
        return self.signature.repeat

    @property
    def visible(self) -> bool:
        """Whether an eye sees it."""
        return self.visibility >= 1.0

    @property
    def strip(self) -> xr.DataArray:
        """Density of a piece of the print to scale, 1.5 turns of the roll long, against ``along`` and ``across`` [m]."""
        metres = {"units": "m", "display_units": "mm"}
        return xr.DataArray(
            self.strip_density,
            {
                "along": ("along", self.strip_along, {**metres, "long_name": "along the web"}),
                "across": ("across", self.strip_across, {**metres, "long_name": "across the web"}),
            },
            ("along", "across"),
            "density",
            {"units": "1", "long_name": "print density", "roll_turn": self.roll_turn, "cause": self.cause},
        )

    def describe(self) -> str:
        """The line in a sentence, from its numbers."""
        s = self.signature
        told = [_size_words(name, value) for name, value in self.sizes.items() if value is not False and value != 0.0]
        words = f"{CAUSE_WORDS[self.cause].capitalize()} ({', '.join(told)}): a {s.tone} {DIRECTION_WORDS[s.direction]}"
        if math.isfinite(s.width):
            words += f", {length_words(s.width)} wide"
        words += f", every {length_words(s.repeat)}" if s.repeat > 0.0 else ""
        words += ", patchy" if s.patchy else ""
        words += f"; density {self.density:.2f} beside {self.nominal_density:.2f}, "
        if self.ink != self.nominal_ink:
            words += f"{1e6 * self.ink:.3g} against {1e6 * self.nominal_ink:.3g} \N{MICRO SIGN}m of ink on the roll, "
        words += (
            f"{times_words(self.visibility)} the contrast that an eye needs"
            if self.visible
            else "too little to be seen"
        )
        facts = [
            "moves with the blade's traverse" if s.moves_with_blade else "stays where it is when the blade traverses",
            "goes when the edge is wiped" if s.goes_when_wiped else "stays when the edge is wiped",
            f"{'outlasts' if s.survives_blade_change else 'goes with'} a blade change",
            f"{'outlasts' if s.survives_cleaning else 'goes with'} a cleaning of the roll",
        ]
        return f"{words}. It {', '.join(facts[:-1])} and {facts[-1]}. {STATEMENT}"

    def __repr__(self) -> str:
        s = self.signature
        return (
            f"{CAUSE_WORDS[self.cause]}: {s.tone} {DIRECTION_WORDS[s.direction]}, density {self.density_contrast:+.3f}, "
            f"{times_words(self.visibility)} what an eye needs"
        )


def length_words(value: float) -> str:
    """Metres in the unit that a pressroom would use."""
    if value >= 1e-4 or value == 0.0:
        return f"{1e3 * value:.3g} mm"
    return f"{1e6 * value:.3g} \N{MICRO SIGN}m"


def times_words(value: float) -> str:
    """ "9.4 times", "102 times"."""
    return f"{value:.2g} times" if value < 10.0 else f"{value:.0f} times"


def _size_words(name: str, value: Any) -> str:
    words = name.replace("_", " ")
    if value is True:
        return words
    if isinstance(value, str):
        return value.replace("_", " ")
    if any(sizes.get(name) == "m" for sizes in _SIZES.values()):
        return f"{words} {length_words(value)}"
    return f"{words} {value:.3g}"


def line_causes() -> tuple[str, ...]:
    """Every cause that ``lines`` knows."""
    return tuple(_SIZES)


def line_context(case: Case) -> Any:
    """The solved nip that lines are made of. Raises NotSolved where it does not solve."""
    require_case(case)
    context = _core.line_context(case._core, _core.NipOptions())
    record = Convergence(*context.convergence)
    if not record.ok:
        raise NotSolved(str(record), record)
    return context


def print_law(law: PrintLaw | None) -> Any:
    """As the core takes it."""
    if law is None:
        law = PrintLaw()
    if not isinstance(law, PrintLaw):
        raise refuse("law", law, "must be a PrintLaw")
    return law._core


def lines(
    case: Case,
    causes: str | Iterable[str] | None = None,
    *,
    sizes: Mapping[str, Mapping[str, Any]] | None = None,
    law: PrintLaw | None = None,
) -> dict[str, Line]:
    """What each of these ``causes`` (all by default) leaves on the print of this case, by cause.

    ``sizes`` of defects by cause and name, e.g. ``{"blade_nick": {"depth": "5 um", "width": "50 um"}}``; numbers are SI. Left out,
    a usual size is taken (common practice, no published source); riding: the riding state's film where there is one, else that
    after the case's load step; run_out: the case's own where it states one. ``law`` leads from the roll to the print.

    Statements about the equations of `libblade/lines.hpp`, not about a press. Raises InvalidInput on unknown causes and sizes out
    of range, NotSolved when the nip does not solve.
    """
    wanted = tuple(_SIZES) if causes is None else (causes,) if isinstance(causes, str) else tuple(causes)
    given = dict(sizes or {})
    for cause in (*wanted, *given):
        one_of("cause", cause, _SIZES)
    core_law, context = print_law(law), line_context(case)
    return {cause: _line(case, context, core_law, cause, given.get(cause, {})) for cause in wanted}


def _line(case: Case, context: Any, law: Any, cause: str, given: Mapping[str, Any]) -> Line:
    if not isinstance(given, Mapping):
        raise refuse(f"sizes.{cause}", given, "must be sizes by name")
    sizes: dict[str, Any] = {}
    for name, value in given.items():
        unit = _SIZES[cause].get(name, "")
        sizes[name] = si(value, unit, f"sizes.{cause}.{name}") if unit else value
    if cause == "riding" and "film" not in sizes:
        sizes["film"] = context.film_riding if math.isfinite(context.film_riding) else context.film_after_step
    own_run_out = float(case["roll.run_out"])
    if cause == "run_out" and "run_out" not in sizes and own_run_out > 0.0:
        sizes["run_out"] = own_run_out
    try:
        record = _core.line_print(cause, sizes, context, law)
    except InvalidInput as error:
        own = _SIZES[cause]
        raise InvalidInput(
            (f"sizes.{cause}.{p.path}" if p.path in own else p.path, p.value, p.message) for p in error.problems
        ) from None
    across, along, density, _ = _core.print_strip(
        cause, sizes, context, law, width=0.0, length=0.0, columns=_COLUMNS, rows=_ROWS
    )
    return Line(
        **{
            **record,
            "signature": LineSignature(**record["signature"]),
            "roll_turn": context.roll_turn,
            "strip_across": across,
            "strip_along": along,
            "strip_density": density,
        }
    )
