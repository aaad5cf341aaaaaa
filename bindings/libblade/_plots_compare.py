"""Variants side by side: one picture of the windows and what each does at its best setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._compare import Comparison
from libblade._errors import refuse
from libblade._plots import BLUE, GREY, ORANGE, _new_axes, _unit, plot_style
from libblade._window import side_names

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_comparison(
    comparison: Comparison,
    names: Sequence[str] = ("film_on_lands", "excess_after_step", "mean_pressure"),
    axes: Any = None,
) -> list[Axes]:
    """A row a variant: in the first panels the recommended setting of each field (dot) within the window through it (bar), then a
    panel for each named column of ``comparison.dataset``, in shop units; a variant without a window says so.

    ``axes``: one for each field and name, or None for new ones. Raises InvalidInput on names the comparison does not hold.
    """
    data = comparison.dataset
    for name in names:
        if name not in data or data[name].dtype.kind != "f":
            raise refuse("names", name, "must be a column of the comparison")
    windows = list(comparison.windows.values())
    dims = [str(d) for d in windows[0].contains.dims]
    count = len(dims) + len(names)
    rows = np.arange(len(windows))
    with plot_style():
        panels = list(_new_axes(count, 2.2 * count + 1.2, 1.2 + 0.5 * len(windows)) if axes is None else axes)
        if len(panels) != count:
            raise refuse("axes", len(panels), f"must be {count}")
        for ax, dim in zip(panels, dims, strict=False):
            about = data[dim].attrs
            for row, window in zip(rows, windows, strict=True):
                if window.recommended is None:
                    continue
                down, up = side_names(dim, str(window.contains[dim].attrs["field"]))
                ends = np.array([window.last_good[down], window.last_good[up]]) * about["display_scale"]
                ax.plot(ends, [row, row], color=BLUE, lw=7, alpha=0.35, solid_capstyle="butt")
                enough = window.recommended_with_margin
                ax.plot(
                    window.recommended[dim] * about["display_scale"],
                    row,
                    marker="o" if enough else "D",
                    color=BLUE if enough else ORANGE,
                    ms=7,
                    ls="",
                )
            whole = windows[0].contains[dim].values * about["display_scale"]
            ax.set(xlabel=f"{dim.replace('_', ' ')} [{_unit(about['display_units'])}]", xlim=(whole.min(), whole.max()))
        for ax, name in zip(panels[len(dims) :], names, strict=True):
            about = data[name].attrs
            values = data[name].values * about["display_scale"]
            ax.barh(rows, np.where(np.isfinite(values), values, 0.0), height=0.5, color=GREY)
            for row, value in zip(rows, values, strict=True):
                ax.annotate(
                    _number(value),
                    (value if math.isfinite(value) else 0.0, row),
                    (4, 0),
                    textcoords="offset points",
                    va="center",
                    fontsize=8,
                )
            ax.set(xlabel=f"{name.replace('_', ' ')} [{_unit(about['display_units'])}]")
            ax.margins(x=0.35)
            ax.set_xlim(left=0.0)
        for k, ax in enumerate(panels):
            ax.set_yticks(rows, [str(v) for v in data["variant"].values] if k == 0 else [""] * rows.size)
            ax.set_ylim(rows.size - 0.5, -0.5)
        for row, window in zip(rows, windows, strict=True):
            if window.recommended is None:
                panels[0].annotate(
                    "no window", (0.03, row), xycoords=("axes fraction", "data"), va="center", fontsize=8
                )
    return panels


def _number(value: float) -> str:
    return "-" if math.isnan(value) else "never" if math.isinf(value) else f"{value:.3g}"


def describe_comparison(comparison: Comparison) -> str:
    """The picture in sentences."""
    table = comparison.table()
    parts = []
    for variant, *cells in table.rows:
        window = comparison.windows[variant]
        if window.recommended is None:
            parts.append(f"{variant}: {cells[-1]}")
        else:
            told = ", ".join(
                f"{head} {cell}" for head, cell in zip(table.head[1:], cells[:-1], strict=False) if cell != "-"
            )
            parts.append(f"{variant}: {told}" + (f" ({cells[-1]})" if cells[-1] else ""))
    return "Each at its own best setting. " + ". ".join(parts) + "."
