"""The process window: where every limit holds, and the setting to recommend."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple, overload

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._actuator import Actuator, Screw, actuator_of
from libblade._case import LOADS, Case, _restore, require_case
from libblade._errors import InvalidInput, refuse
from libblade._lazy import lazy
from libblade._point import BRANCHES, OUTPUTS, REGIMES, STATUSES
from libblade._units import gather, is_quantity, positive, si

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


# A limit on these may be a share of the ink carried.
_FILMS = {"film_on_lands", "excess_ink", "film_after_step", "excess_after_step", "clean_wipe_film"}
_SIDES = ("angle_down", "angle_up", "load_down", "load_up")
_SIDE_WORDS = {
    "angle_down": "lower angle",
    "angle_up": "higher angle",
    "load_down": "less load",
    "load_up": "more load",
}
EDGE = "edge of the map"

Mask = npt.NDArray[np.bool_]


class Margins(NamedTuple):
    """Distance from the recommended setting to the last good point each way, in units of the holding tolerance."""

    angle_down: float
    angle_up: float
    load_down: float
    load_up: float

    @property
    def smallest(self) -> float:
        """The least of the four."""
        return min(self)


class Recommended(dict[str, Any]):
    """The recommended setting: its coordinates and every output there, by key or attribute."""

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except KeyError:
            raise AttributeError(f"the recommended setting has no {name}") from None


@dataclass(frozen=True, repr=False)
class ProcessWindow:
    """Where every limit holds on a map of set angle and load."""

    exists: bool
    """Whether any point meets every limit."""
    contains: xr.DataArray
    """True where every limit holds."""
    recommended: Recommended | None
    """The lowest load that keeps one holding tolerance on every side; without such a point the one with the most margin."""
    recommended_with_margin: bool
    """Whether the recommendation keeps one holding tolerance on every side."""
    margins: Margins | None
    """Of the recommended setting, in units of the holding tolerance."""
    margin_map: xr.DataArray
    """Smallest margin of every point; 0 outside the window."""
    limiting: dict[str, tuple[str, ...]]
    """What fails first on each side of the recommended setting, by ``angle_down`` ``angle_up`` ``load_down`` ``load_up``."""
    passed: dict[str, float]
    """Share of the map's points that meets each limit on its own."""
    limits: dict[str, str]
    """The limits as given."""
    case: Case | None = field(default=None, repr=False)
    """The case at the recommended setting, when the map's case is known."""

    def summary(self) -> str:
        """The recommendation in a few lines."""
        limits = ", ".join(f"{name} {text}" for name, text in self.limits.items())
        if self.recommended is None or self.margins is None:
            worst = min(self.passed, key=lambda name: self.passed[name])
            lines = ["no setting on this map meets every limit", f"  limits: {limits}"]
            lines += [f"  {name}: met on {share:.0%} of the map" for name, share in self.passed.items()]
            return "\n".join([*lines, f"  the hardest to meet is {worst}"])
        angle, load = (dim for dim in self.contains.dims)
        places = [_display(self.contains[dim], self.recommended[str(dim)]) for dim in (angle, load)]
        state = (
            "one holding tolerance on every side"
            if self.recommended_with_margin
            else "LESS than one holding tolerance of margin"
        )
        lines = [f"recommended: {angle} {places[0]}, {load} {places[1]} ({state})"]
        lines += [
            f"  {coordinate.attrs['long_name']}: {_display(coordinate, self.recommended[str(name)])}"
            for name, coordinate in self.contains.coords.items()
            if name not in self.contains.dims and name in self.recommended
        ]
        lines += [f"  limits: {limits}"]
        lines += [
            f"  {_SIDE_WORDS[side]:<13}{getattr(self.margins, side):5.1f} tolerances, then {', '.join(self.limiting[side])}"
            for side in _SIDES
        ]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return self.summary()


def _display(coordinate: xr.DataArray, value: float) -> str:
    unit = coordinate.attrs.get("display_units", coordinate.attrs.get("units", ""))
    path = coordinate.attrs.get("field")
    if "display_scale" in coordinate.attrs:
        scaled = value * coordinate.attrs["display_scale"]
        return f"{scaled:.4g} {unit}" if math.isfinite(scaled) else "none gives this load"
    return f"{_core.field_from_si(value, unit, path):.4g} {unit}" if path and unit != "1" else f"{value:.4g}"


def process_window(
    grid: xr.Dataset,
    limits: Mapping[str, Any],
    *,
    angle_tolerance: Any = "1 deg",
    load_tolerance: Any = 0.1,
    case: Case | None = None,
    actuator: Actuator | Screw | None = None,
) -> ProcessWindow:
    """Where every limit holds on a sweep over set angle and load, and the setting to recommend.

    ``limits`` maps outputs to their largest value: SI number, text with unit (``{"excess_ink": "0.3 um"}``), or for films a
    share of the ink carried (``"5 %"``). A pair is a smallest and a largest value, either may be None. For regime and branch a
    word or several; for true-or-false outputs True or False. A point that is not solved is outside.

    The recommendation is the lowest load that keeps at least one holding tolerance on every side (least load that still
    wipes: common practice, no published source); margin breaks ties. ``angle_tolerance`` is absolute, ``load_tolerance``
    relative. The edge of the map counts as failing, since nothing is known beyond it. With an ``actuator``, given here or
    stated by the case, the recommendation also names the air pressure or the screw's advance (see ``with_actuator``). The
    actuator's own reading may be the swept load.

    Raises InvalidInput when the grid, a limit or a tolerance is bad.
    """
    if not isinstance(grid, xr.Dataset) or "status" not in grid:
        raise refuse("grid", type(grid).__name__, "must be a dataset from libblade.sweep")
    angle, load = _dimensions(grid)
    grid = grid.transpose(angle, load).sortby([angle, load])
    if not isinstance(limits, Mapping) or not limits:
        raise refuse("limits", limits, "must map at least one output to its limit")
    tolerance = _angle(angle_tolerance)
    share = positive(load_tolerance, "1", "load_tolerance")

    good: dict[str, Mask] = {"solved": grid["status"].values == list(STATUSES).index("converged")}
    texts: dict[str, str] = {}
    problems: list[tuple[str, str, str]] = []
    for name, limit in limits.items():
        try:
            good[name], texts[name] = _within(grid, name, limit)
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    inside = np.logical_and.reduce(list(good.values()))
    angles, loads = grid[angle].values.astype(float), grid[load].values.astype(float)
    exists, with_margin, i, j, sides, smallest = _core.process_window(
        angles, loads, inside.astype(np.uint8), tolerance, share
    )

    coords = {angle: grid[angle], load: grid[load]}
    contains = xr.DataArray(inside, coords, (angle, load), "contains", {"long_name": "every limit holds"})
    margin_map = xr.DataArray(
        smallest, coords, (angle, load), "margin", {"long_name": "smallest margin in holding tolerances", "units": "1"}
    )
    base = case if case is not None else _case_of(grid)
    if base is not None:
        require_case(base)
    recommended: Recommended | None = None
    limiting: dict[str, tuple[str, ...]] = {}
    if exists:
        recommended = Recommended({angle: float(angles[i]), load: float(loads[j])})
        for key, variable in grid.data_vars.items():
            recommended.setdefault(str(key), _plain(variable.attrs.get("output", key), variable.values[i, j]))
        limiting = _limiting(good, i, j)
        if base is not None:
            base = base.replace(
                {grid[dim].attrs["field"]: _with_unit(grid[dim], recommended[dim]) for dim in (angle, load)}
            )
    window = ProcessWindow(
        exists=exists,
        contains=contains,
        recommended=recommended,
        recommended_with_margin=with_margin,
        margins=Margins(*sides) if exists else None,
        margin_map=margin_map,
        limiting=limiting,
        passed={name: float(mask.mean()) for name, mask in good.items()},
        limits=texts,
        case=base if exists else None,
    )
    if actuator is None and (base := case if case is not None else _case_of(grid)) is not None:
        stated = actuator_of(base)
        actuator = stated if stated is not None and grid[load].attrs["field"] == stated.reading.load else None
    return window if actuator is None else with_actuator(window, actuator)


@overload
def with_actuator(grid: xr.Dataset, actuator: Actuator | Screw) -> xr.Dataset: ...
@overload
def with_actuator(grid: ProcessWindow, actuator: Actuator | Screw) -> ProcessWindow: ...
def with_actuator(grid: xr.Dataset | ProcessWindow, actuator: Actuator | Screw) -> xr.Dataset | ProcessWindow:
    """A sweep or a window that also says what the operator reads: ``air_pressure`` along the line loads for an ``Actuator``,
    ``screw_advance`` along the interferences for a ``Screw``.

    The new coordinate is SI with ``display_units``, NaN where the actuator cannot give the load. A window's recommendation gets
    it too. Raises InvalidInput when the map is not over the quantity that the actuator sets.
    """
    if not isinstance(actuator, Actuator | Screw):
        raise refuse("actuator", actuator, "must be a libblade.Actuator or a libblade.Screw")
    if isinstance(grid, xr.Dataset):
        return grid.assign_coords(_reading_of(grid, actuator))
    if not isinstance(grid, ProcessWindow):
        raise refuse("grid", type(grid).__name__, "must be a dataset from libblade.sweep, or a ProcessWindow")
    coords = _reading_of(grid.contains, actuator)
    recommended = grid.recommended
    if recommended is not None:
        ((name, (dims, _, _)),) = coords.items()
        recommended = Recommended({**recommended, name: float(actuator.readings([recommended[dims[0]]])[0])})
    return replace(
        grid,
        contains=grid.contains.assign_coords(coords),
        margin_map=grid.margin_map.assign_coords(coords),
        recommended=recommended,
    )


def _reading_of(
    grid: xr.Dataset | xr.DataArray, actuator: Actuator | Screw
) -> dict[str, tuple[tuple[str, ...], npt.NDArray[np.float64], dict[str, Any]]]:
    """The coordinate that an actuator adds."""
    reading = actuator.reading
    loads = [coordinate for coordinate in grid.coords.values() if coordinate.attrs.get("field") == reading.load]
    if len(loads) != 1:
        raise refuse("grid", ", ".join(map(str, grid.dims)), f"must be over {reading.load}, which the actuator sets")
    values = actuator.readings(loads[0].values.ravel()).reshape(loads[0].shape)
    about = {
        "units": reading.units,
        "long_name": reading.long_name,
        "display_units": reading.display_units,
        "display_scale": reading.display_scale,
    }
    return {reading.name: (tuple(map(str, loads[0].dims)), values, about)}


def _dimensions(grid: xr.Dataset) -> tuple[str, str]:
    fields = {str(dim): str(grid[dim].attrs.get("field", "")) for dim in grid["status"].dims}
    angle = [dim for dim, path in fields.items() if path == "setting.set_angle"]
    load = [dim for dim, path in fields.items() if path in LOADS]
    if len(angle) != 1 or len(load) != 1 or len(fields) != 2:
        raise refuse(
            "grid",
            ", ".join(fields) or "no dimensions",
            "must be swept over setting.set_angle and setting.line_load, setting.interference or the reading of the "
            "actuator, and nothing else: select one value of every other dimension first",
        )
    return angle[0], load[0]


def _angle(value: Any) -> float:
    if not isinstance(value, str) and not is_quantity(value):
        raise refuse("angle_tolerance", value, 'must carry its unit, e.g. "1 deg"')
    return positive(value, "rad", "angle_tolerance")


def _variable(grid: xr.Dataset, name: str) -> xr.DataArray:
    for key in (name, f"{name}_result"):
        if key in grid.data_vars:
            return grid[key]
    known = name in OUTPUTS or name in ("regime", "branch", "bedded_stable", "other_branch_exists")
    what = "was not computed on this grid: add it to outputs" if known else "is no output; see output_table()"
    raise refuse(name, "", what)


def _within(grid: xr.Dataset, name: str, limit: Any) -> tuple[Mask, str]:
    values = _variable(grid, name).values
    if name in ("regime", "branch"):
        words = REGIMES if name == "regime" else BRANCHES
        wanted = [limit] if isinstance(limit, str) else list(limit)
        if not wanted or any(word not in words for word in wanted):
            raise refuse(name, limit, "must be one or several of " + ", ".join(words))
        return np.isin(values, [words.index(word) for word in wanted]), " or ".join(wanted)
    if values.dtype == bool:
        if not isinstance(limit, bool | np.bool_):
            raise refuse(name, limit, "must be True or False")
        return values == limit, str(limit)
    if name not in OUTPUTS:
        raise refuse(name, limit, "cannot be limited")
    if isinstance(limit, tuple | list):
        if len(limit) != 2 or all(end is None for end in limit):
            raise refuse(name, limit, "must be a largest value, or a pair of smallest and largest")
        low, high = limit
    else:
        low, high = None, limit
    inside = np.isfinite(values)
    texts = []
    for end, above in ((low, True), (high, False)):
        if end is None:
            continue
        bound, text = _bound(grid, name, end)
        inside &= values >= bound if above else values <= bound
        texts.append(f"{'>=' if above else '<='} {text}")
    return inside, " and ".join(texts)


def _bound(grid: xr.Dataset, name: str, limit: Any) -> tuple[Any, str]:
    """A limit as SI values on the grid, and as text."""
    unit = OUTPUTS[name].unit
    if isinstance(limit, str) and limit.strip().endswith("%") and name in _FILMS:
        share = si(limit, "1", name)
        _finite(name, share)
        return share * _variable(grid, "ink_carried").values, f"{limit} of the ink carried"
    if name == "ink_carried" and isinstance(limit, str):
        try:
            return si(limit, "m3/m2", name), limit
        except InvalidInput:
            pass
    number = si(limit, unit, name)
    _finite(name, number)
    output = OUTPUTS[name]
    text = limit if isinstance(limit, str) else f"{number * output.display_scale:.4g} {output.display_unit}"
    return number, text.removesuffix(" 1")


def _finite(name: str, number: float) -> None:
    if not math.isfinite(number):
        raise refuse(name, str(number), "must be finite")


def _limiting(good: dict[str, Mask], i: int, j: int) -> dict[str, tuple[str, ...]]:
    """Walks from a good point each way; names what holds no longer at the first bad one."""
    n, m = next(iter(good.values())).shape
    walks = {
        "angle_down": [(k, j) for k in range(i - 1, -1, -1)],
        "angle_up": [(k, j) for k in range(i + 1, n)],
        "load_down": [(i, k) for k in range(j - 1, -1, -1)],
        "load_up": [(i, k) for k in range(j + 1, m)],
    }
    out: dict[str, tuple[str, ...]] = {}
    for side, places in walks.items():
        out[side] = (EDGE,)
        for place in places:
            broken = tuple(name for name, mask in good.items() if not mask[place])
            if broken:
                # Where nothing is solved every number fails too: the reason is that nothing is solved.
                out[side] = ("not solved",) if "solved" in broken else broken
                break
    return out


def _plain(name: Any, value: Any) -> Any:
    words = {"regime": REGIMES, "branch": BRANCHES, "status": tuple(STATUSES)}.get(str(name))
    return words[int(value)] if words else value.item() if hasattr(value, "item") else value


def _case_of(grid: xr.Dataset) -> Case | None:
    text = grid.attrs.get("case")
    return _restore(text) if text else None


def _with_unit(coordinate: xr.DataArray, value: float) -> str:
    return f"{value!r} {coordinate.attrs['units']}"
