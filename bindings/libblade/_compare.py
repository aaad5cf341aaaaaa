"""Which blade, roll or ink for the job: each at its own best setting, side by side."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._advice import STATEMENT
from libblade._case import Case, require_case
from libblade._errors import InvalidInput, NotSolved, refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._limits import ADDED, output_of
from libblade._point import OUTPUTS, solve
from libblade._units import gather
from libblade._window import ProcessWindow, side_names
from libblade._window_card import Table, _named, limit_words
from libblade._window_job import find_window, life_history

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

TOLD = ("film_on_lands", "excess_ink", "excess_after_step", "mean_pressure")


@dataclass(frozen=True, eq=False)
class Comparison:
    """Variants at their own best settings; prints as markdown, shows as HTML."""

    dataset: xr.Dataset
    """Along ``variant``: the recommended setting by field, outputs there, life by its own history, ``window_share`` of the map,
    ``<dimension>_width`` of the window through the setting, and ``reason`` with remarks or why there is none; SI with units, NaN
    without a window."""
    windows: dict[str, ProcessWindow]
    """By variant."""

    def table(self) -> Table:
        """In shop units."""
        data = self.dataset
        rows = []
        for variant in data["variant"].values:
            one = data.sel(variant=variant)
            cells = [_cell(one[name]) for name in data.data_vars if data[name].dtype.kind == "f"]
            rows.append((str(variant), *cells, str(one["reason"].item())))
        heads = [_named(str(name)) for name in data.data_vars if data[name].dtype.kind == "f"]
        return Table(("variant", *heads, "remarks"), tuple(rows))

    def __str__(self) -> str:
        return self.table().markdown() + f"\n\n{STATEMENT}"

    def _repr_markdown_(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        return self.table().html() + f"<p>{STATEMENT}</p>"


def _cell(value: Any) -> str:
    number, about = float(value), value.attrs
    if math.isnan(number):
        return "-"
    unit = about["display_units"]
    scaled = number * float(about["display_scale"])
    return "never" if math.isinf(scaled) else f"{scaled:.3g} {unit}".removesuffix(" 1")


def compare(
    case: Case, variants: Mapping[str, Any], limits: Mapping[str, Any], fields: Mapping[str, Any], **options: Any
) -> Comparison:
    """Which blade (or roll, or ink) for the job: the process window of each variant over the same fields and limits.

    ``variants`` maps names to changes of the case as ``Case.replace`` takes them, or to whole cases; ``{}`` is the case as it is.
    ``options`` are those of ``find_window`` (``shift``, ``life``, ``scoring``, tolerances). Each variant is told at its own
    recommended setting; where life is asked, its own history is run there, not the interpolated map. Variants without a window
    are kept, with the reason. A setting that keeps less than one holding tolerance says so in ``reason``.

    Raises InvalidInput on bad values, naming the variant.
    """
    require_case(case)
    if not isinstance(variants, Mapping) or not variants:
        raise refuse("variants", variants, "must map names to changes of the case")
    cases: dict[str, Case] = {}
    problems: list[tuple[str, str, str]] = []
    for name, changes in variants.items():
        try:
            cases[str(name)] = changes if isinstance(changes, Case) else case.replace(changes) if changes else case
        except InvalidInput as error:
            problems += [(f"variants.{name}.{p.path}", p.value, p.message) for p in error.problems]
    gather(problems)
    windows = {name: find_window(one, fields, limits, **options) for name, one in cases.items()}
    records = [_record(window) for window in windows.values()]
    first = next(iter(windows.values()))
    variables: dict[str, Any] = {
        name: (("variant",), np.array([float(record.get(name, math.nan)) for record in records]), about)
        for name, about in _columns(first).items()
    }
    variables["reason"] = (
        ("variant",),
        np.array([record["reason"] for record in records], dtype=str),
        {"long_name": "remarks"},
    )
    data = xr.Dataset(variables, {"variant": ("variant", list(windows), {"long_name": "variant"})})
    return Comparison(data, windows)


def _columns(window: ProcessWindow) -> dict[str, dict[str, Any]]:
    """Name and units of every column."""
    assert window.grid is not None
    out: dict[str, dict[str, Any]] = {}
    for dim in map(str, window.contains.dims):
        out[dim] = _about(window, dim)
    for name in dict.fromkeys([*TOLD, *(n for n in window.limits if n in OUTPUTS or n in ADDED)]):
        key = f"{name}_result" if name in out else name
        output = OUTPUTS[name] if name in OUTPUTS else output_of(window.grid, name)
        out[key] = {"units": output.unit, "display_units": output.display_unit, "display_scale": output.display_scale}
        # The map's life is interpolated, this one is not.
        out[key]["long_name"] = output.long_name.partition(", interpolated")[0]
    out["window_share"] = {"units": "1", "display_units": "%", "display_scale": 100.0, "long_name": "share of the map"}
    for dim in map(str, window.contains.dims):
        out[f"{dim}_width"] = {**_about(window, dim), "long_name": f"width of the window in {_named(dim)}"}
    return out


def _about(window: ProcessWindow, dim: str) -> dict[str, Any]:
    about = window.contains[dim].attrs
    # A column has one scale, which degrees Celsius have not.
    unit = about["units"] if about["units"] == "K" else about["display_units"]
    scale = 1.0 if unit == about["units"] else FIELDS[str(about["field"])].display(1.0)
    return {"units": about["units"], "display_units": unit, "display_scale": scale, "long_name": about["long_name"]}


def _record(window: ProcessWindow) -> dict[str, Any]:
    assert window.job is not None
    if window.recommended is None or window.case is None:
        hardest = min(window.passed, key=lambda name: window.passed[name])
        why = "never met" if window.passed[hardest] == 0.0 else f"met on {window.passed[hardest]:.1%} of the map"
        return {"reason": f"no window: {limit_words([hardest])} {why}", "window_share": 0.0}
    out: dict[str, Any] = {
        "reason": "" if window.recommended_with_margin else "less than one holding tolerance of margin"
    }
    try:
        point = solve(window.case)
    except NotSolved as error:
        return {**out, "reason": str(error)}
    for dim in map(str, window.contains.dims):
        out[dim] = window.recommended[dim]
        down, up = side_names(dim, str(window.contains[dim].attrs["field"]))
        out[f"{dim}_width"] = window.last_good[up] - window.last_good[down]
    for name in dict.fromkeys([*TOLD, *window.limits]):
        if name in OUTPUTS:
            out[f"{name}_result" if name in out else name] = getattr(point, name)
        elif name in ADDED:
            out[name] = window.recommended[name]
    out["window_share"] = float(window.contains.mean())
    if any(name.startswith("life") for name in window.limits):
        story = life_history(window.case, **window.job.life)
        lives = {"life_distance": story.life.distance, "life_time": 3600.0 * story.life.hours}
        out |= {n: v if story.convergence.ok else math.nan for n, v in lives.items() if n in window.limits}
        if not story.convergence.ok:
            out["reason"] = f"life: {story.life.ended_by}"
        elif story.life.limit is None:
            out["reason"] = "; ".join(filter(None, [out["reason"], "lasts at least as long as the schedule"]))
    return out
