"""The process window: where every limit holds, and the setting to recommend."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, overload

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._actuator import Actuator, Screw, actuator_of
from libblade._case import LOADS, Case, _restore, require_case
from libblade._errors import InvalidInput, refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._limits import STEP_OUTPUTS, Mask, moved_limits, within
from libblade._point import BRANCHES, REGIMES, STATUSES
from libblade._units import Floats, gather
from libblade._window_rule import choose, failing, holding

if TYPE_CHECKING:
    import xarray as xr

    from libblade._window_card import Card
else:
    xr = lazy("xarray")


_WORDS = {"angle": ("lower angle", "higher angle"), "load": ("less load", "more load")}


class _Named(dict[str, Any]):
    """A dict whose entries are attributes too."""

    _what = "this"

    def __getattr__(self, name: str) -> Any:
        try:
            return self[name]
        except KeyError:
            raise AttributeError(f"{self._what} has no {name}") from None


class Margins(_Named):
    """Distance from the recommended setting to the last good point each way, in units of the holding tolerance.

    ``angle_down`` ``angle_up`` ``load_down`` ``load_up``, and ``<dimension>_down`` and ``_up`` of every other field; by key or
    attribute.
    """

    _what = "the margins"

    @property
    def smallest(self) -> float:
        """The least of them."""
        return float(min(self.values()))


class Recommended(_Named):
    """The recommended setting: its coordinates and every output there, by key or attribute."""

    _what = "the recommended setting"


@dataclass(frozen=True, repr=False)
class ProcessWindow:
    """Where every limit holds on a map of two or more fields."""

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
    """What fails first on each side of the recommended setting, by the keys of ``margins``."""
    passed: dict[str, float]
    """Share of the map's points that meets each limit on its own."""
    limits: dict[str, str]
    """The limits as given."""
    tolerances: dict[str, str]
    """How well each field is held, by dimension."""
    used: xr.Dataset
    """Share of each limit that is used [-], the most before and after the steps of a shift; above 1 it is passed."""
    last_good: dict[str, float]
    """Last good value on each side of the recommended setting [SI of the field], by the keys of ``margins``."""
    holds: dict[str, Mask] = field(repr=False)
    """Where each condition holds: "solved", each limit, each limit after each step of a shift."""
    case: Case | None = field(default=None, repr=False)
    """The case at the recommended setting, when the map's case is known."""
    grid: xr.Dataset | None = field(default=None, repr=False)
    """What it was judged on, of ``find_window``."""
    job: Any = field(default=None, repr=False)
    """What was asked, of ``find_window``."""

    def card(self, levers: Mapping[str, Any] | None = None) -> Card:
        """The setting for the pressroom: what to set, how far it may drift, what fails first, what stays fixed and what was not
        modelled; without a window why, and the nearest single change that would open one (see ``openings``).

        Solves the recommended point, and one history where life was asked. Raises InvalidInput when the window knows no case.
        """
        from libblade._window_card import card_of  # noqa: PLC0415

        return card_of(self, levers)

    def summary(self) -> str:
        """The recommendation in a few lines."""
        limits = ", ".join(f"{name} {text}" for name, text in self.limits.items())
        if self.recommended is None or self.margins is None:
            worst = min(self.passed, key=lambda name: self.passed[name])
            lines = ["no setting on this map meets every limit", f"  limits: {limits}"]
            lines += [f"  {name}: met on {share:.0%} of the map" for name, share in self.passed.items()]
            return "\n".join([*lines, f"  the hardest to meet is {worst}"])
        places = [f"{dim} {_display(self.contains[dim], self.recommended[str(dim)])}" for dim in self.contains.dims]
        state = (
            "one holding tolerance on every side"
            if self.recommended_with_margin
            else "LESS than one holding tolerance of margin"
        )
        lines = [f"recommended: {', '.join(places)} ({state})"]
        lines += [
            f"  {coordinate.attrs['long_name']}: {_display(coordinate, self.recommended[str(name)])}"
            for name, coordinate in self.contains.coords.items()
            if name not in self.contains.dims and name in self.recommended
        ]
        lines += [f"  limits: {limits}"]
        lines += [
            f"  {side_words(side):<13}{margin:5.1f} tolerances, then {', '.join(self.limiting[side])}"
            for side, margin in self.margins.items()
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
    tolerances: Mapping[str, Any] | None = None,
    after: Mapping[str, xr.Dataset] | None = None,
    case: Case | None = None,
    actuator: Actuator | Screw | None = None,
) -> ProcessWindow:
    """Where every limit holds on a sweep over two or more fields, and the setting to recommend.

    ``limits`` maps outputs to their largest value: SI number, text with unit (``{"excess_ink": "0.3 um"}``), or for films a
    share of the ink carried (``"5 %"``). A pair is a smallest and a largest value, either may be None. For regime and branch a
    word or several; for true-or-false outputs True or False. What ``add_life`` and ``add_scoring`` put on the grid takes limits
    too. A point that is not solved is outside. ``after`` maps names to grids of the same points after steps of a shift (see
    ``after_shift``): the limits hold there too, as ``moved_limits`` has them, as far as a grid holds their variables.

    The recommendation is the lowest load that keeps at least one holding tolerance on every side (least load that still
    wipes: common practice, no published source); margin breaks ties, and decides alone where no load is swept.
    ``angle_tolerance`` is an amount, ``load_tolerance`` a share or an amount with unit, ``tolerances`` maps any swept field to its
    own (by default 1 deg, 2 K, 10 %). The edge of the map counts as failing, since nothing is known beyond it. With an
    ``actuator``, given here or stated by the case, the recommendation also names the air pressure or the screw's advance (see
    ``with_actuator``). The actuator's own reading may be the swept load.

    Raises InvalidInput when the grid, a limit or a tolerance is bad.
    """
    if not isinstance(grid, xr.Dataset) or "status" not in grid:
        raise refuse("grid", type(grid).__name__, "must be a dataset from libblade.sweep")
    fields = _dimensions(grid)
    dims = tuple(fields)
    grid = grid.transpose(*dims, ...).sortby(list(dims))
    if not isinstance(limits, Mapping) or not limits:
        raise refuse("limits", limits, "must map at least one output to its limit")
    axes = [grid[dim].values.astype(float) for dim in dims]
    held = holding(list(fields.values()), angle_tolerance, load_tolerance, tolerances, axes)

    good: dict[str, Mask] = {"solved": _solved(grid)}
    texts: dict[str, str] = {}
    used: dict[str, Floats] = {}
    problems: list[tuple[str, str, str]] = []
    for name, limit in limits.items():
        try:
            good[name], texts[name], share = within(grid, name, limit)
        except InvalidInput as error:
            problems += error.problems
            continue
        if share is not None:
            used[name] = share
    gather(problems)
    for words, moved in (after or {}).items():
        _judge_moved(_at_points_of(grid, moved, words), words, limits, (good, used))
    inside = np.logical_and.reduce(list(good.values()))
    load_axis = next((k for k, path in enumerate(fields.values()) if path in LOADS), None)
    choice = choose(axes, inside, held, load_axis)

    coords = {dim: grid[dim] for dim in dims}
    contains = xr.DataArray(inside, coords, dims, "contains", {"long_name": "every limit holds"})
    margin_map = xr.DataArray(
        choice.margins.min(axis=(-1, -2)),
        coords,
        dims,
        "margin",
        {"long_name": "smallest margin in holding tolerances", "units": "1"},
    )
    base = case if case is not None else _case_of(grid)
    if base is not None:
        require_case(base)
    recommended: Recommended | None = None
    margins: Margins | None = None
    limiting: dict[str, tuple[str, ...]] = {}
    sides = [side_names(dim, path) for dim, path in fields.items()]
    if choice.place is not None:
        place = dict(zip(dims, choice.place, strict=True))
        recommended = Recommended({dim: float(grid[dim][k]) for dim, k in place.items()})
        for key, column in grid.data_vars.items():
            if column.dims == dims:
                recommended.setdefault(str(key), _plain(column.attrs.get("output", key), column.values[choice.place]))
        margins = Margins(
            zip((name for pair in sides for name in pair), choice.margins[choice.place].ravel().tolist(), strict=True)
        )
        limiting = failing(good, choice.place, sides)
        if base is not None:
            base = base.replace({path: _with_unit(grid[dim], recommended[dim]) for dim, path in fields.items()})
    window = ProcessWindow(
        exists=choice.place is not None,
        contains=contains,
        recommended=recommended,
        recommended_with_margin=choice.with_margin,
        margins=margins,
        margin_map=margin_map,
        limiting=limiting,
        passed={name: float(mask.mean()) for name, mask in good.items()},
        limits=texts,
        tolerances={dim: tolerance.text for dim, tolerance in zip(dims, held, strict=True)},
        used=_used_dataset(used, good, coords, dims),
        last_good=_last_good(margins, recommended, zip(dims, sides, held, strict=True)),
        holds=good,
        case=base if choice.place is not None else None,
    )
    if (
        actuator is None
        and load_axis is not None
        and (base := case if case is not None else _case_of(grid)) is not None
    ):
        stated = actuator_of(base)
        on_load = stated is not None and list(fields.values())[load_axis] == stated.reading.load
        actuator = stated if on_load else None
    return window if actuator is None else with_actuator(window, actuator)


def _solved(grid: xr.Dataset) -> Mask:
    solved: Mask = grid["status"].values == list(STATUSES).index("converged")
    return solved


def _at_points_of(grid: xr.Dataset, moved: xr.Dataset, words: str) -> xr.Dataset:
    dims = grid["status"].dims
    if not isinstance(moved, xr.Dataset) or "status" not in moved or set(moved["status"].dims) != set(dims):
        raise refuse(f"after.{words}", type(moved).__name__, f"must be a grid over {', '.join(map(str, dims))}")
    moved = moved.transpose(*dims, ...).sortby(list(dims))
    if any(not np.array_equal(moved[dim], grid[dim]) for dim in dims):
        raise refuse(f"after.{words}", "other points", "must be over the same points as the grid")
    return moved


def _judge_moved(
    moved: xr.Dataset, words: str, limits: Mapping[str, Any], judged: tuple[dict[str, Mask], dict[str, Floats]]
) -> None:
    """Adds what holds after one step of a shift; what is used of a limit is the most before and after."""
    good, used = judged
    good[f"a state {words}"] = _solved(moved)
    back = {state: stepped for stepped, state in STEP_OUTPUTS.items() if stepped in limits}
    for name, limit in moved_limits(limits).items():
        if name in moved or f"{name}_result" in moved:
            good[f"{name} {words}"], _, share = within(moved, name, limit)
            if share is not None:
                key = back.get(name, name)
                used[key] = np.maximum(used.get(key, np.zeros_like(share)), share)


def _used_dataset(used: dict[str, Floats], good: dict[str, Mask], coords: Any, dims: tuple[str, ...]) -> xr.Dataset:
    about = {"long_name": "share of the limit used; above 1 it is passed", "units": "1"}
    solved = np.logical_and.reduce(
        [mask for name, mask in good.items() if name == "solved" or name.startswith("a state")]
    )
    return xr.Dataset({name: (dims, np.where(solved, share, np.inf), about) for name, share in used.items()}, coords)


def _last_good(margins: Margins | None, recommended: Recommended | None, axes: Any) -> dict[str, float]:
    if margins is None or recommended is None:
        return {}
    out: dict[str, float] = {}
    for dim, (down, up), tolerance in axes:
        centre = recommended[dim]
        unit = float(tolerance.at(np.array([centre]))[0])
        out |= {down: centre - margins[down] * unit, up: centre + margins[up] * unit}
    return out


def side_names(dim: str, path: str) -> tuple[str, str]:
    """What the two sides of a field are called."""
    stem = "angle" if path == "setting.set_angle" else "load" if path in LOADS else dim
    return f"{stem}_down", f"{stem}_up"


def side_words(side: str) -> str:
    """A side for people."""
    stem, _, way = side.rpartition("_")
    word = stem.replace("_", " ")
    return _WORDS.get(stem, (f"lower {word}", f"higher {word}"))[way == "up"]


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


def _dimensions(grid: xr.Dataset) -> dict[str, str]:
    """Path of every swept field by dimension: set angle first, then the load, the others by name."""
    fields = {str(dim): str(grid[dim].attrs.get("field", "")) for dim in grid["status"].dims}
    loads = [path for path in fields.values() if path in LOADS]
    if len(fields) < 2 or any(path not in FIELDS for path in fields.values()) or len(loads) > 1:
        raise refuse(
            "grid",
            ", ".join(fields) or "no dimensions",
            "must be swept over two or more fields of a case, one at most of them a load (setting.line_load, "
            "setting.interference or the reading of the actuator)",
        )
    rank = {"setting.set_angle": 0, **dict.fromkeys(LOADS, 1)}
    return dict(sorted(fields.items(), key=lambda item: (rank.get(item[1], 2), item[1])))


def _plain(name: Any, value: Any) -> Any:
    words = {"regime": REGIMES, "branch": BRANCHES, "status": tuple(STATUSES)}.get(str(name))
    return words[int(value)] if words else value.item() if hasattr(value, "item") else value


def _case_of(grid: xr.Dataset) -> Case | None:
    text = grid.attrs.get("case")
    return _restore(text) if text else None


def _with_unit(coordinate: xr.DataArray, value: float) -> str:
    return f"{value!r} {coordinate.attrs['units']}"
