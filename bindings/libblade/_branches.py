"""All states of a bedded nip over one field, the onset of riding, and gradients of an operating point."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._fields import FIELDS, Field
from libblade._lazy import lazy
from libblade._point import OUTPUTS, Convergence, Section, _Same
from libblade._units import Floats, field_value, positive, resolve, si

if TYPE_CHECKING:
    import numpy.typing as npt
    import xarray as xr
else:
    xr = lazy("xarray")

_WITHOUT_GRADIENT = frozenset(
    {"film_after_step", "excess_after_step", "run_out_load", "run_out_angle", "run_out_tilt", "film_over_turn"}
)


def _number_field(name: str) -> tuple[Field, str]:
    field, unit = resolve(name)
    if field.kind != "number":
        raise refuse(name, "", "is a choice, not a number")
    return field, unit


def _bound(value: Any, field: Field, unit: str, name: str) -> float:
    number = field_value(value, field, unit, name)
    if isinstance(number, str):
        raise refuse(name, number, "must be a number")
    return number


def _one_range(fields: Mapping[str, Any]) -> tuple[Field, float, float]:
    """The one field of ``{"path": (low, high)}`` with its range, SI."""
    if len(fields) != 1:
        raise refuse("fields", len(fields), "must name one field")
    ((name, ends),) = fields.items()
    field, unit = _number_field(name)
    if isinstance(ends, str) or not isinstance(ends, Sequence | np.ndarray) or len(ends) != 2:
        raise refuse(name, ends, "must be (low, high)")
    low, high = (_bound(end, field, unit, name) for end in ends)
    return field, low, high


def _limit(excess: Any) -> float:
    return -1.0 if excess is None else positive(excess, "m", "excess")


@dataclass(frozen=True, eq=False)
class BranchCurve(_Same):
    """States of the nip in order along one curve, SI; arrays of shape (n,)."""

    value: Floats
    """Of the field."""
    facet_tilt: Floats
    """[rad]; positive: opens towards the incoming ink."""
    film_on_lands: Floats
    """[m]"""
    excess_ink: Floats
    """[m]"""
    line_load: Floats
    """[N/m]"""
    friction_coefficient: Floats
    """T / N [-]"""
    asperity_load_share: Floats
    """[-]"""
    effective_angle: Floats
    """[rad]"""
    stable: npt.NDArray[np.bool_]
    """Whether a blade stays there; between two folds it does not."""
    folds: npt.NDArray[np.uint64]
    """Places in the arrays where the field turns back: a blade that comes there jumps to another state."""
    onsets: npt.NDArray[np.uint64]
    """Places where the excess ink passes the limit."""
    convergence: Convergence
    """Not converged: the curve ends early."""


@dataclass(frozen=True)
class BranchDiagram:
    """Every state of a bedded nip over one field."""

    case: Case
    field: str
    searched: tuple[float, float]
    """Range of the field, SI."""
    curves: tuple[BranchCurve, ...]
    """The one through the case's operating point first; another only where the riding state is not on it."""
    convergence: Convergence

    @property
    def folds(self) -> Floats:
        """Values of the field, SI, at which a blade that comes along a branch jumps."""
        return np.array([float(curve.value[k]) for curve in self.curves for k in curve.folds])

    @property
    def onsets(self) -> Floats:
        """Values of the field, SI, at which the excess ink passes the limit, on any branch."""
        return np.array([float(curve.value[k]) for curve in self.curves for k in curve.onsets])

    def dataset(self) -> xr.Dataset:
        """All states as a dataset over ``state``, with the number of their ``curve``; SI with units as attributes."""
        columns = [name for name in BranchCurve.__dataclass_fields__ if name not in ("folds", "onsets", "convergence")]
        data = xr.Dataset()
        field = FIELDS[self.field]
        for name in columns:
            parts = [np.asarray(getattr(curve, name)) for curve in self.curves]
            whole = np.concatenate(parts) if parts else np.array([])
            output = OUTPUTS.get(name)
            units = field.unit if name == "value" else output.unit if output else "1"
            meaning = (
                field.meaning if name == "value" else output.long_name if output else "whether a blade stays there"
            )
            data[name] = ("state", whole, {"units": units, "long_name": meaning})
        numbers = [np.full(curve.value.size, k) for k, curve in enumerate(self.curves)]
        data["curve"] = ("state", np.concatenate(numbers) if numbers else np.array([], int))
        data.attrs.update(field=self.field, folds=self.folds, onsets=self.onsets)
        return data

    def __repr__(self) -> str:
        field = FIELDS[self.field]
        told = [f"{self.convergence}: states over {self.field}"]
        for curve in self.curves:
            ends = f"{field.text(curve.value.min())} to {field.text(curve.value.max())}" if curve.value.size else "none"
            folds = ", ".join(field.text(float(curve.value[k])) for k in curve.folds) or "none"
            told.append(f"  {curve.value.size} states, {ends}; folds: {folds}")
        return "\n".join(told)


def branches(
    case: Case, fields: Mapping[str, Any], *, excess: Any = None, mesh: int = 1, on_failure: str = "raise"
) -> BranchDiagram:
    """Both branches of a bedded nip over one field, the unstable stretch between them and their folds.

    ``fields`` maps one dotted path (a unit may end it) to ``(low, high)``, a range that holds the case's own value. The blade is
    bedded at the case's setting; then the field moves, while facet and holder stay. A load, interference, set angle or blade
    field sets the holder anew: under ``holding="fixed"`` to where a blade with this facet, bedded parallel there, would carry
    the load. ``excess`` is a limit of the excess ink (``"0.3 um"``) whose crossings are located on the curves.

    Pseudo-arc-length continuation (Keller 1977), quasi-static. Raises InvalidInput on a bad field or range, NotSolved when
    the case itself has no solution; a curve that ends early says so in its own ``convergence``.
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    field, low, high = _one_range(fields)
    curves, record = _core.trace_branches(case._core, field.path, low, high, _limit(excess), mesh)
    diagram = BranchDiagram(
        case,
        field.path,
        (low, high),
        tuple(BranchCurve(**{**curve, "convergence": Convergence(*curve["convergence"])}) for curve in curves),
        Convergence(*record),
    )
    if not diagram.convergence.ok and on_failure == "raise":
        raise NotSolved(str(diagram.convergence), diagram)
    return diagram


@dataclass(frozen=True)
class RidingOnset:
    """How far a field may move either way before the excess ink passes a limit or the blade jumps, SI."""

    field: str
    lower: float
    """NaN: not reached down to the end of the search."""
    upper: float
    """NaN: not reached up to the end of the search."""
    lower_jumps: bool
    """At ``lower`` the branch folds: the blade jumps before the limit is passed."""
    upper_jumps: bool
    searched: tuple[float, float]
    convergence: Convergence

    def __repr__(self) -> str:
        field = FIELDS[self.field]

        def side(value: float, jumps: bool, end: float) -> str:
            if math.isnan(value):
                return f"not reached at {field.text(end)}"
            return field.text(value) + (" (the blade jumps)" if jumps else "")

        return (
            f"{self.convergence}: {self.field} at which excess ink reaches the limit\n"
            f"  lower: {side(self.lower, self.lower_jumps, self.searched[0])}\n"
            f"  upper: {side(self.upper, self.upper_jumps, self.searched[1])}"
        )


def riding_onset(
    case: Case, fields: Mapping[str, Any], excess: Any, *, mesh: int = 1, on_failure: str = "raise"
) -> RidingOnset:
    """Values of a field at which the excess ink passes a limit, or the blade jumps, when the bedded blade is taken there.

    ``fields`` as in :func:`branches`: speed, angle, load, viscosity or any other number. Located on the followed branch to
    1e-9 of the range, not read off a grid. Raises InvalidInput and NotSolved likewise.
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    field, low, high = _one_range(fields)
    lower, upper, down, up, start, end, record = _core.riding_onset(
        case._core, field.path, positive(excess, "m", "excess"), low, high, mesh
    )
    onset = RidingOnset(field.path, lower, upper, down, up, (start, end), Convergence(*record))
    if not onset.convergence.ok and on_failure == "raise":
        raise NotSolved(str(onset.convergence), onset)
    return onset


@dataclass(frozen=True)
class Gradient:
    """Slopes of an operating point's numbers by some of its fields, SI."""

    case: Case
    fields: tuple[str, ...]
    values: dict[str, float]
    """Output -> value at the point."""
    slopes: dict[str, Floats]
    """Output -> d(output)/d(field), in the order of ``fields``, (n,)."""
    convergence: Convergence

    def __getitem__(self, key: tuple[str, str]) -> float:
        """``gradient["film_on_lands", "setting.line_load"]``"""
        output, field = key
        return float(self.slopes[output][self.fields.index(_number_field(field)[0].path)])

    def dataset(self) -> xr.Dataset:
        """Slopes over the dimension ``field``; attributes carry units, e.g. "m/(N/m)"."""
        data = xr.Dataset(coords={"field": list(self.fields)})
        for name, slope in self.slopes.items():
            data[name] = ("field", slope, {"units_of_output": OUTPUTS[name].unit, "value": self.values[name]})
        data.attrs["units_of_fields"] = [FIELDS[f].unit for f in self.fields]
        return data

    def __repr__(self) -> str:
        told = [f"{self.convergence}: change of the film on the lands for 1 % more of a field"]
        for field, slope in zip(self.fields, self.slopes["film_on_lands"], strict=True):
            told.append(
                f"  {field:<36}{100.0 * slope * 0.01 * self._now(field) / self.values['film_on_lands']:+8.2f} %"
            )
        return "\n".join(told)

    def _now(self, field: str) -> float:
        return float(self.case._core.get_number(field))


def gradient(case: Case, fields: Sequence[str], *, mesh: int = 1, on_failure: str = "raise") -> Gradient:
    """Derivatives of every number of the operating point by fields, by implicit differentiation; nothing is solved again.

    ``fields`` are dotted paths of numbers that the case has. Relative accuracy about 1e-7 away from switches (a facet that
    is just worn through, the end of a table). Step response and run-out have no slope here. Raises InvalidInput on a bad
    field, NotSolved when the case has no solution.
    """
    require_case(case)
    one_of("on_failure", on_failure, ("raise", "flag"))
    if isinstance(fields, str):
        raise refuse("fields", fields, f'must be a list of field paths, such as ["{fields}"]')
    paths = [_number_field(name)[0].path for name in fields]
    options = _core.NipOptions(step_response=False, other_branch=False, run_out=False, mesh=mesh)
    values, slopes, record = _core.gradient(case._core, paths, options)
    kept = [name for name in OUTPUTS if name not in _WITHOUT_GRADIENT]
    found = Gradient(
        case,
        tuple(paths),
        {name: values[name] for name in kept},
        {name: slopes[name] for name in kept},
        Convergence(*record),
    )
    if not found.convergence.ok and on_failure == "raise":
        raise NotSolved(str(found.convergence), found)
    return found


@dataclass(frozen=True)
class TipFilm:
    """Forces on a tip at a stated place, without a balance with the blade; per width."""

    film_load: float
    """Of the Reynolds film [N/m]."""
    outer_load: float
    """Of the wedge ahead of it, where inertia rules [N/m]; an order of magnitude."""
    asperity_load: float
    """[N/m]"""
    moment: float
    """Of all normal pressure about the facet's centre, positive: pressure downstream [N]."""
    tangential_load: float
    """T [N/m]"""
    flow: float
    """Between blade and lands [m2/s]."""
    temperature_rise: float
    """[K]"""
    section: Section
    convergence: Convergence


def tip_film(
    case: Case, effective_angle: Any, facet_length: Any, low_gap: Any, *, tilt: Any = "0 rad", mesh: int = 1
) -> TipFilm:
    """Film and contact under a case's tip at a place: ``effective_angle`` of the blade when the facet is parallel, ``tilt`` of the
    facet (positive: opens towards the incoming ink), ``low_gap`` between mean planes at the facet's lower end.

    Under a soft tip ``low_gap`` is that of the loaded tip by and large, not to the nanometre; ``section.gap`` tells the gap.
    Angles and lengths as text with units, quantities or SI numbers. ``facet_length`` 0 is an unworn edge; a facet that has
    eaten the whole end face is taken so. ``low_gap`` may be negative down to -1 um: mean planes that overlap, on crushed
    asperities. Nothing is iterated but the flow of a thinning ink and a soft tip. Raises InvalidInput on values out of range.
    """
    require_case(case)
    values = _core.tip_film(
        case._core,
        positive(effective_angle, "rad", "effective_angle"),
        si(facet_length, "m", "facet_length"),
        si(tilt, "rad", "tilt"),
        si(low_gap, "m", "low_gap"),
        mesh,
    )
    return TipFilm(
        **{
            **values,
            "section": Section(*values["section"]),
            "convergence": Convergence(*values["convergence"]),
        }
    )
