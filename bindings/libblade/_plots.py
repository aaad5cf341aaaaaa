"""Figures of maps, sections and steps, each with a sentence that says the same (alt text).

Every function takes and returns matplotlib axes. Shop units; colours from cividis and the Okabe-Ito set, and never colour
alone: regimes are hatched, limits are lines, states differ in line style. Needs matplotlib: pip install "libblade[plots]".
"""

from __future__ import annotations

import importlib
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._errors import refuse
from libblade._lazy import lazy
from libblade._point import OUTPUTS, REGIMES, STATUSES, OperatingPoint
from libblade._units import Floats
from libblade._window import ProcessWindow

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
else:
    xr = lazy("xarray")

# Words of the pressroom.
LABELS = {
    "excess_ink": "excess ink left on the lands",
    "excess_after_step": "excess ink left on the lands after the load step",
    "film_on_lands": "ink left on the lands",
    "film_after_step": "ink left on the lands after the load step",
    "wear_rate": "blade worn per length of web",
    "set_angle": "set angle",
    "line_load": "line load",
    "interference": "holder advance",
    "surface_speed": "roll surface speed",
}
REGIME_WORDS = {
    "wiping": "wiping: the lands carry the blade",
    "mixed": "mixed: lands and ink share the load",
    "riding": "riding: the ink carries the blade",
    "heel_contact": "heel contact: one end of the facet carries",
    "starved": "starved: too little ink arrives",
}
REGIME_HATCHES = {"wiping": "", "mixed": "...", "riding": "///", "heel_contact": "xx", "starved": "++"}
STATUS_WORDS = {
    "lying_flat": "lying flat on the roll",
    "unstable": "blade digs in or snaps",
    "lifted_off": "lifted off",
    "out_of_range": "outside the equations' range",
}
STEP_FAILED = "no state after the load step"
UNITS = {
    "um": "\N{MICRO SIGN}m",
    "deg": "\N{DEGREE SIGN}",
    "cm3/m2": "cm\N{SUPERSCRIPT THREE}/m\N{SUPERSCRIPT TWO}",
    "1": "-",
}
# Okabe & Ito 2008, told apart with every common colour deficiency.
BLUE, ORANGE, GREEN, GREY = "#0072b2", "#d55e00", "#009e73", "#5f6670"
FAILED_COLOUR = "#d4d6da"
STATEMENT = "Statements about the equations, not about a press."


def _matplotlib(module: str) -> Any:
    """A module of matplotlib, which is an extra: imported where it is needed."""
    try:
        return importlib.import_module(f"matplotlib.{module}")
    except ImportError as error:
        raise ImportError('plots need matplotlib: pip install "libblade[plots]"') from error


def _pyplot() -> Any:
    return _matplotlib("pyplot")


@contextmanager
def plot_style() -> Iterator[None]:
    """The one style of all figures, for a with statement."""
    plt = _pyplot()
    style = {
        "font.size": 9.0,
        "axes.titlesize": 10.0,
        "axes.titlelocation": "left",
        "axes.titleweight": "bold",
        "axes.labelsize": 9.0,
        "axes.spines.top": False,
        "axes.spines.right": False,
        "axes.linewidth": 0.8,
        "legend.fontsize": 8.0,
        "legend.frameon": False,
        "lines.linewidth": 1.8,
        "hatch.linewidth": 0.6,
        "image.cmap": "cividis",
        "figure.dpi": 110,
        "savefig.dpi": 160,
        "savefig.facecolor": "white",
    }
    with plt.rc_context(style):
        yield


def _new_axes(count: int, width: float, height: float, **keywords: Any) -> Any:
    figure, axes = _pyplot().subplots(
        1, count, figsize=(width, height), layout="constrained", squeeze=False, **keywords
    )
    del figure
    return axes[0]


def label_below(axes: Sequence[Axes], words: str) -> None:
    """Label of the x axis of axes above each other: under the last, and under those that do not share its x."""
    for ax in axes:
        if ax is axes[-1] or not ax.get_shared_x_axes().joined(ax, axes[-1]):
            ax.set_xlabel(words)


def label_once(axes: Sequence[Axes]) -> None:
    """Takes the label off every y axis that shares its numbers with the first, of axes beside each other."""
    for ax in axes[1:]:
        if ax.get_shared_y_axes().joined(ax, axes[0]):
            ax.set_ylabel("")


def _unit(unit: str) -> str:
    return UNITS.get(unit, unit)


def _coordinate(data: xr.Dataset, dim: str) -> tuple[Floats, str, str]:
    """Values in shop units, axis label and unit of a swept field."""
    coordinate = data[dim]
    unit = str(coordinate.attrs.get("display_units", "1"))
    path = str(coordinate.attrs["field"])
    values = [_core.field_from_si(float(v), unit, path) if unit != "1" else float(v) for v in coordinate.values]
    word = LABELS.get(dim, dim.replace("_", " "))
    return np.asarray(values), f"{word} [{unit}]", unit


def _map_dims(data: xr.Dataset) -> tuple[str, str]:
    """Horizontal and vertical dimension: the set angle lies across."""
    if not isinstance(data, xr.Dataset) or "status" not in data or data["status"].ndim != 2:
        raise refuse("data", type(data).__name__, "must be a dataset from libblade.sweep over two fields")
    first, second = (str(dim) for dim in data["status"].dims)
    return (second, first) if second == "set_angle" else (first, second)


def _levels(top: float) -> Floats:
    """Round levels from 0 to `top`, closer together where little ink passes: that is where settings differ."""
    top = max(top, 1e-3)
    decade = 10.0 ** np.floor(np.log10(top))
    round_numbers = [k * decade * shift for shift in (0.01, 0.1, 1.0) for k in (1.0, 2.0, 3.0, 4.0, 5.0, 7.0)] + [
        10.0 * decade
    ]
    kept = [level for level in round_numbers if level > 0.04 * top]
    enough = next(k for k, level in enumerate(kept) if level >= top * (1 - 1e-9))
    return np.array([0.0, *kept[: enough + 1]])


def map_levels(maps: Sequence[tuple[xr.Dataset, str]]) -> Floats:
    """Contour levels that maps side by side share, in the display unit of the output."""
    tops = [
        np.nanpercentile(data[name].values, 99) * OUTPUTS[name].display_scale
        for data, name in maps
        if data[name].notnull().any()
    ]
    return _levels(max(tops, default=1.0))


def plot_map(
    data: xr.Dataset,
    name: str = "excess_ink",
    ax: Axes | None = None,
    *,
    window: ProcessWindow | None = None,
    mark: Mapping[str, Any] | None = None,
    levels: Floats | None = None,
    shares: bool = True,
    colorbar: bool = True,
    legend: bool = True,
    title: str | None = None,
) -> Axes:
    """A map of one output over two swept fields, set angle across.

    Filled contours with labelled lines (in shop units and, for excess ink, as share of the ink carried), regimes hatched,
    points that are not solved grey with the reason, the process window outlined, the setting ``mark`` marked: coordinates
    [SI] by dimension, by default what the window recommends. ``levels`` are in the display unit.
    """
    if mark is None and window is not None:
        mark = window.recommended
    across, up = _map_dims(data)
    if name not in data:
        raise refuse("name", name, "is not in this dataset: add it to the sweep's outputs")
    data = data.transpose(up, across)
    with plot_style():
        axes = _new_axes(1, 6.2, 4.8)[0] if ax is None else ax
        x, x_label, _ = _coordinate(data, across)
        y, y_label, _ = _coordinate(data, up)
        output = OUTPUTS[name]
        values = np.ma.masked_invalid(data[name].values * output.display_scale)
        levels = map_levels([(data, name)]) if levels is None else levels
        _grey_failed(axes, data, name, x, y)
        filled = axes.contourf(x, y, values, levels=levels, norm=_norm(levels), cmap="cividis", extend="max")
        _hatch_regimes(axes, data, x, y, values=values, middle=float(levels[len(levels) * 6 // 10]))
        place = None if mark is None else _mark_place(data, mark, across, up)
        _contour_lines(axes, data, name, x, y, values=values, levels=levels, shares=shares, avoid=place)
        if window is not None:
            _outline(axes, window, x, y, dims=(up, across))
        if place is not None:
            axes.plot(
                *place, marker="P", markersize=11, color="white", mec="black", mew=1.4, zorder=7, ls="", clip_on=False
            )
        axes.set(xlabel=x_label, ylabel=y_label, xlim=(x.min(), x.max()), ylim=(y.min(), y.max()))
        axes.set_title(title if title is not None else LABELS.get(name, name.replace("_", " ")))
        if colorbar:
            bar = axes.figure.colorbar(filled, ax=axes, pad=0.02, ticks=levels, format="%g")
            bar.set_label(f"{LABELS.get(name, output.long_name)} [{_unit(output.display_unit)}]")
        if legend:
            plot_map_legend(
                [(data, name)],
                window,
                axes,
                marked=mark is not None,
                loc="upper center",
                bbox_to_anchor=(0.5, -0.14),
                ncols=2,
            )
    return axes


def _norm(levels: Floats) -> Any:
    return _matplotlib("colors").BoundaryNorm(levels, 256, extend="max")


def _converged(data: xr.Dataset) -> Any:
    return data["status"].values == list(STATUSES).index("converged")


def failure_reasons(data: xr.Dataset, name: str) -> dict[str, Any]:
    """Reason in words -> mask of the points that have no value of ``name`` for that reason."""
    out: dict[str, Any] = {}
    solved = _converged(data)
    for code in np.unique(data["status"].values[~solved]):
        word = list(STATUSES)[int(code)]
        out[STATUS_WORDS.get(word, word.replace("_", " "))] = data["status"].values == code
    lost = solved & ~np.isfinite(data[name].values)
    if lost.any():
        out[STEP_FAILED if name.endswith("after_step") else "no value"] = lost
    return out


def _grey_failed(ax: Axes, data: xr.Dataset, name: str, x: Floats, y: Floats) -> None:
    ax.set_facecolor(FAILED_COLOUR)
    for reason, mask in failure_reasons(data, name).items():
        if mask.mean() < 0.01:
            continue
        # The point deepest inside the region is where the word fits; near an edge of the map it starts there.
        row, column = _deepest(mask)
        across = (x[column] - x[0]) / np.ptp(x)
        side = "left" if across < 0.2 else "right" if across > 0.8 else "center"
        place = {"left": x[0] + 0.01 * np.ptp(x), "right": x[-1] - 0.01 * np.ptp(x), "center": x[column]}[side]
        height = (y[row] - y[0]) / np.ptp(y)
        above = "bottom" if height < 0.12 else "top" if height > 0.88 else "center"
        level = y[0] if above == "bottom" else y[-1] if above == "top" else y[row]
        ax.text(
            place,
            level,
            reason.replace(" ", "\n", 2) if side != "center" else reason,
            ha=side,
            va=above,
            multialignment=side,
            fontsize=8,
            color="#33373d",
            zorder=6,
            clip_on=True,
        )


def _deepest(mask: Any) -> tuple[int, int]:
    depth = np.zeros(mask.shape, dtype=int)
    inner = np.asarray(mask, dtype=bool)
    while inner.any():
        depth += inner
        padded = np.pad(inner, 1)
        inner = inner & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    best = np.argwhere(depth == depth.max())
    row, column = best[len(best) // 2]
    return int(row), int(column)


def _hatch_regimes(ax: Axes, data: xr.Dataset, x: Floats, y: Floats, *, values: Any, middle: float) -> None:
    if "regime" not in data:
        return
    solved = _converged(data)
    for regime in _regimes_present(data):
        hatch = REGIME_HATCHES.get(regime, "")
        if not hatch:
            continue
        here = solved & (data["regime"].values == REGIMES.index(regime))
        # Light strokes on dark colours, dark strokes on light ones.
        dark = values.filled(0.0) < middle
        for part, stroke in ((here & dark, "#ffffff90"), (here & ~dark, "#20242ab0")):
            if part.any():
                with _pyplot().rc_context({"hatch.color": stroke}):
                    ax.contourf(x, y, part.astype(float), levels=[0.5, 1.5], colors="none", hatches=[hatch])


def _regimes_present(data: xr.Dataset) -> list[str]:
    if "regime" not in data:
        return []
    codes = np.unique(data["regime"].values[_converged(data)])
    return [REGIMES[int(code)] for code in codes if REGIMES[int(code)] in REGIME_WORDS]


def _contour_lines(
    ax: Axes,
    data: xr.Dataset,
    name: str,
    x: Floats,
    y: Floats,
    *,
    values: Any,
    levels: Floats,
    shares: bool,
    avoid: tuple[float, float] | None,
) -> None:
    lines = ax.contour(x, y, values, levels=levels[1:], colors="white", linewidths=0.9)
    unit = _unit(OUTPUTS[name].display_unit)

    def text(level: float) -> str:
        share = share_of_ink(data, name, level / OUTPUTS[name].display_scale) if shares else None
        return f"{level:.3g} {unit}" if share is None else f"{level:.3g} {unit} = {100.0 * share:.0f} %"

    stroke = _stroke("#20242a", 2.0)
    # Where lines crowd, not every one is labelled: between two labels lies at least a twentieth of the map.
    labelled: list[float] = []
    last = 0.0
    for level in (float(v) for v in levels[1:]):
        between = np.mean((values.filled(-1.0) >= last) & (values.filled(-1.0) < level))
        if between >= 0.05 and (values.filled(-1.0) > level).any():
            labelled.append(level)
            last = level
    if not labelled:
        return
    width, height = np.ptp(x), np.ptp(y)
    taken: list[tuple[float, float]] = [] if avoid is None else [avoid]
    places: list[tuple[float, float]] = []
    trial = ax.clabel(lines, labelled, fmt=text, fontsize=7.5, inline=False)
    for u, v in [label.get_position() for label in trial]:
        if not any(abs(u - a) < 0.04 * width and abs(v - b) < 0.22 * height for a, b in [*taken, *places]):
            places.append((float(u), float(v)))
    for label in trial:
        label.remove()
    if places:
        for label in ax.clabel(lines, labelled, fmt=text, fontsize=7.5, inline=True, inline_spacing=2, manual=places):
            label.set_path_effects(stroke)


def share_of_ink(data: xr.Dataset, name: str, level: float) -> float | None:
    """A level of excess ink [m] as share of the ink carried, as limits count it; None for other outputs.

    After a load step the share is of the ink carried before it, on a map of excess ink of the ink carried with that excess.
    """
    if name not in ("excess_ink", "excess_after_step") or not {"ink_carried", "excess_ink"} <= set(data.data_vars):
        return None
    excess, carried = data["excess_ink"].values, data["ink_carried"].values
    if name == "excess_after_step":
        return float(level / np.nanmedian(carried)) if np.isfinite(carried).any() else None
    # Ink carried = cells + clean wipe + excess; the first two hardly change over a map.
    passing = excess > 0.0
    return float(level / (np.median((carried - excess)[passing]) + level)) if passing.any() else None


def _stroke(colour: str, width: float) -> Any:
    return [_matplotlib("patheffects").withStroke(linewidth=width, foreground=colour)]


def _outline(ax: Axes, window: ProcessWindow, x: Floats, y: Floats, *, dims: tuple[str, str]) -> None:
    inside = window.contains.transpose(*dims).values
    if inside.any() and not inside.all():
        lines = ax.contour(x, y, inside.astype(float), levels=[0.5], colors="white", linewidths=2.4, zorder=4)
        lines.set(path_effects=_stroke("black", 4.4))


def _mark_place(data: xr.Dataset, mark: Mapping[str, Any], across: str, up: str) -> tuple[float, float]:
    def shop(dim: str) -> float:
        attrs = data[dim].attrs
        return float(_core.field_from_si(float(mark[dim]), attrs["display_units"], attrs["field"]))

    return shop(across), shop(up)


def plot_map_legend(
    maps: Sequence[tuple[xr.Dataset, str]],
    window: ProcessWindow | None,
    ax: Any,
    *,
    marked: bool = True,
    **keywords: Any,
) -> Any:
    """Legend of maps on an axes (or on a figure): regimes by hatch, grey, window, recommended setting."""
    Line2D, Patch = _matplotlib("lines").Line2D, _matplotlib("patches").Patch

    present = {regime for data, _ in maps for regime in _regimes_present(data)}
    handles: list[Any] = [
        Patch(facecolor="#7c7b78", edgecolor="white", hatch=REGIME_HATCHES[regime], label=words)
        for regime, words in REGIME_WORDS.items()
        if regime in present
    ]
    reasons = {reason for data, name in maps for reason in failure_reasons(data, name)}
    if reasons:
        handles.append(Patch(facecolor=FAILED_COLOUR, edgecolor=GREY, label="no value: " + ", ".join(sorted(reasons))))
    if window is not None and window.exists:
        edge = Line2D(
            [], [], color="white", lw=2.4, label="process window: every limit holds", path_effects=_stroke("black", 4.4)
        )
        handles.append(edge)
    if marked:
        word = "recommended setting" if window is None or window.exists else "nearest setting: not inside every limit"
        handles.append(Line2D([], [], ls="", marker="P", ms=9, color="white", mec="black", mew=1.3, label=word))
    with plot_style():
        return ax.legend(handles=handles, handlelength=3.2, handleheight=1.6, **keywords)


def plot_maps(
    everywhere: xr.Dataset,
    once: xr.Dataset,
    axes: Sequence[Axes] | None = None,
    *,
    window: ProcessWindow | None = None,
    mark: Mapping[str, Any] | None = None,
) -> Any:
    """Two maps side by side: run in everywhere (after the load step) and run in once (moved without re-bedding).

    ``window`` is outlined on the left; ``mark`` (by default its recommended setting) is marked on both. Same colours, one
    colour bar, one legend. Returns the two axes.
    """
    maps = [(everywhere, "excess_after_step"), (once, "excess_ink")]
    if mark is None and window is not None:
        mark = window.recommended
    with plot_style():
        pair = _new_axes(2, 11.6, 6.2, sharey=True) if axes is None else axes
        levels = map_levels(maps)
        step = _load_step(everywhere)
        titles = (
            f"Run in everywhere: each setting bedded at itself,\nthen the load step of {step}",
            "Run in once: bedded at the mark,\nthen moved without re-bedding",
        )
        for ax, (data, name), title, area in zip(pair, maps, titles, (window, None), strict=True):
            plot_map(data, name, ax, window=area, mark=mark, levels=levels, colorbar=False, legend=False, title=title)
        label_once(pair)
        colours = _matplotlib("cm").ScalarMappable(_norm(levels), "cividis")
        bar = pair[0].figure.colorbar(colours, ax=list(pair), pad=0.015, aspect=30, ticks=levels, format="%g")
        bar.set_label(f"{LABELS['excess_ink']} [{_unit('um')}]")
        plot_map_legend(maps, window, pair[0].figure, marked=mark is not None, loc="outside lower center", ncols=3)
    return pair


def _load_step(data: xr.Dataset) -> str:
    return f"\N{PLUS-MINUS SIGN}{Case.from_json(data.attrs['case'])['setting.load_step']:.0%}"


def plot_blade(point: OperatingPoint, ax: Axes | None = None) -> Axes:
    """The blade as set and as bent, with the roll, all lengths to one scale [mm]."""
    case = point.case
    with plot_style():
        axes = _new_axes(1, 5.0, 3.6)[0] if ax is None else ax
        # The frame of the shape points from body to tip; a doctoring tip points against the motion.
        sign = -1.0 if case["setting.orientation"] == "doctoring" else 1.0
        o, z = sign * point.blade.o * 1e3, point.blade.z * 1e3
        length, angle = float(np.hypot(np.diff(o), np.diff(z)).sum()), float(case["setting.set_angle"])
        radius = float(case["roll.radius"]) * 1e3
        span = np.linspace(-0.35 * length, 1.0 * length, 200) * -sign
        surface = np.sqrt(radius**2 - span**2) - radius
        axes.fill_between(span, surface, surface.min() - 1.0, color="#c9ccd1", lw=0)
        axes.plot(span, surface, color=GREY, lw=1.2)
        set_o = np.array([o[0], o[0] + sign * length * np.cos(angle)])
        set_z = np.array([z[0], z[0] - length * np.sin(angle)])
        axes.plot(set_o, set_z, color=GREY, ls="--", lw=1.2, label=f"as set, {np.degrees(angle):.3g}\N{DEGREE SIGN}")
        bent = f"as pressed, {np.degrees(point.effective_angle):.3g}\N{DEGREE SIGN} at the roll"
        axes.plot(o, z, color=BLUE, lw=2.6, solid_capstyle="butt", label=bent)
        axes.plot(o[:1], z[:1], marker="s", ms=9, color="#33373d", ls="", label="holder")
        start, end = (-0.32 * length, -0.08 * length)
        axes.annotate("", (end, -0.14 * length), (start, -0.14 * length), arrowprops={"arrowstyle": "->", "lw": 1.4})
        axes.text(start, -0.2 * length, "roll surface", fontsize=8, va="top")
        axes.set_aspect("equal")
        axes.set(
            xlabel="along the roll [mm]", ylabel="off the roll [mm]", ylim=(-0.32 * length, z.max() + 0.12 * length)
        )
        axes.set_title("Blade (its mid-plane), to scale")
        axes.legend(loc="upper left" if sign < 0 else "upper right", borderaxespad=0.2)
    return axes


def _facet_view(point: OperatingPoint) -> Any:
    """Nodes of the section on and near the facet."""
    half = 0.5 * (point.facet_length if point.facet_length > 0.0 else point.contact_width)
    return np.abs(point.section.x) <= 1.18 * half


def plot_gap(
    point: OperatingPoint, ax: Axes | None = None, *, label: str = "", colour: str = BLUE, ls: str = "-"
) -> Axes:
    """The gap under the facet [um] along the roll [um]; the vertical magnification is stated in the corner."""
    with plot_style():
        axes = _new_axes(1, 5.0, 3.2)[0] if ax is None else ax
        x = point.section.x[_facet_view(point)] * 1e6
        axes.plot(point.section.x * 1e6, point.section.gap * 1e6, color=colour, ls=ls, label=label or None)
        top = max(3.0 * point.min_film, 1.6 * point.film_on_lands + point.min_film) * 1e6
        _, old_top = axes.get_ylim() if len(axes.lines) > 1 else (0.0, 0.0)
        axes.set(
            xlabel="along the roll, downstream to the right [\N{MICRO SIGN}m]",
            ylabel="gap [\N{MICRO SIGN}m]",
            xlim=(x.min(), x.max()),
            ylim=(0.0, max(top, old_top)),
        )
    return axes


def magnification(ax: Axes) -> float:
    """How much taller than wide a length is drawn on an axes whose two axes carry the same unit."""
    box = ax.get_window_extent()
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    return float((box.height / (high - low)) / (box.width / (right - left)))


def state_magnification(ax: Axes) -> None:
    """Writes the vertical magnification of a gap on its axes; call it when the figure has its final size."""
    figure: Any = ax.figure
    figure.draw_without_rendering()
    value = float(f"{magnification(ax):.2g}")
    ax.text(
        0.995,
        1.02,
        f"heights drawn {value:,.0f} times larger than lengths",
        transform=ax.transAxes,
        ha="right",
        va="bottom",
        fontsize=7.5,
        color=GREY,
        in_layout=False,
    )


def plot_pressure(point: OperatingPoint, ax: Axes | None = None) -> Axes:
    """Pressure of ink and of touching asperities along the facet [MPa]."""
    with plot_style():
        axes = _new_axes(1, 5.0, 3.2)[0] if ax is None else ax
        view = _facet_view(point)
        x = point.section.x[view] * 1e6
        film, solid = point.section.film_pressure[view] * 1e-6, point.section.asperity_pressure[view] * 1e-6
        axes.fill_between(x, solid, color=ORANGE, alpha=0.25, lw=0, hatch="...", edgecolor=ORANGE)
        axes.plot(x, solid, color=ORANGE, ls="--", label=f"lands touching: {point.asperity_load:.3g} N/m")
        axes.plot(x, film, color=BLUE, label=f"ink: {point.hydrodynamic_lift:.3g} N/m")
        axes.set(
            xlabel="along the roll, downstream to the right [\N{MICRO SIGN}m]",
            ylabel="pressure [MPa]",
            xlim=(x.min(), x.max()),
        )
        axes.set_ylim(min(0.0, 1.05 * float(film.min())), 1.55 * float(max(film.max(), solid.max())))
        axes.legend(loc="upper right", title="load carried")
    return axes


def plot_section(point: OperatingPoint, axes: Sequence[Axes] | None = None) -> Any:
    """One nip in three views: blade to scale, magnified gap under the facet, pressures. Returns the three axes."""
    with plot_style():
        if axes is None:
            plt = _pyplot()
            figure, named = plt.subplot_mosaic(
                [["blade", "gap"], ["blade", "pressure"]],
                figsize=(11.0, 5.0),
                layout="constrained",
                width_ratios=(1.0, 1.15),
            )
            axes = [named["blade"], named["gap"], named["pressure"]]
            axes[2].sharex(axes[1])
            del figure
        plot_blade(point, axes[0])
        _draw_facet(point, axes[1])
        plot_pressure(point, axes[2])
        axes[1].set_title("Gap under the facet")
        axes[2].set_title("Who carries the blade")
        state_magnification(axes[1])
    return axes


def _draw_facet(point: OperatingPoint, ax: Axes) -> None:
    plot_gap(point, ax)
    x, gap = point.section.x * 1e6, point.section.gap * 1e6
    top = ax.get_ylim()[1]
    ax.fill_between(x, gap, np.maximum(gap, top * 1.2), color="#b9c7d6", lw=0)
    ax.fill_between(x, 0.0, gap, color="#fff3cf", lw=0)
    ax.text(0.5, 0.86, "blade", transform=ax.transAxes, ha="center", va="top", color="#33373d")
    ax.text(0.02, 0.05, "ink in \N{RIGHTWARDS ARROW}", transform=ax.transAxes, color="#33373d")
    passes = f"passes on the lands: {point.film_on_lands * 1e6:.2f} \N{MICRO SIGN}m"
    ax.text(0.98, 0.05, passes, transform=ax.transAxes, ha="right", color="#33373d")


def plot_step(before: OperatingPoint, after: OperatingPoint, ax: Axes | None = None, *, title: str = "") -> Axes:
    """Gap under one blade before and after a change of setting, with the ink each lets pass."""
    with plot_style():
        axes = _new_axes(1, 5.4, 3.6)[0] if ax is None else ax
        for point, words, colour, ls in ((before, "run in", BLUE, "-"), (after, "pressed harder", ORANGE, "--")):
            plot_gap(point, axes, colour=colour, ls=ls, label=f"{words}: {_film_words(point)}")
        axes.legend(loc="upper center", frameon=True, framealpha=0.85, edgecolor="none")  # lines may pass behind it
        low, high = axes.get_ylim()
        axes.set_ylim(low, 1.3 * high)
        axes.set_title(title)
    return axes


def _signed(value: float) -> str:
    text = f"{value:+.2f}"
    return "0.00" if float(text) == 0.0 else text


def _film_words(point: OperatingPoint) -> str:
    return (
        f"{point.film_on_lands * 1e6:.2f} \N{MICRO SIGN}m passes, facet {_signed(np.degrees(point.facet_tilt))}\N{DEGREE SIGN}, "
        f"{point.line_load:.0f} N/m"
    )


def plot_lesson(pairs: Sequence[tuple[OperatingPoint, OperatingPoint]], axes: Sequence[Axes] | None = None) -> Any:
    """For a trainer: one panel per blade, run in and then pressed harder, with a plain caption. Returns the axes."""
    with plot_style():
        row = _new_axes(len(pairs), 5.6 * len(pairs), 4.4, sharey=True, sharex=True) if axes is None else axes
        for ax, (before, after) in zip(row, pairs, strict=True):
            angle = np.degrees(float(before.case["setting.set_angle"]))
            plot_step(before, after, ax, title=f"Blade set at {angle:.3g}\N{DEGREE SIGN}")
        half = 0.56e6 * max(before.facet_length for before, _ in pairs)
        thickest = max(
            float(point.section.gap[np.abs(point.section.x) < 0.48 * point.facet_length].max())
            for pair in pairs
            for point in pair
        )
        label_once(row)
        for ax in row:
            ax.set(xlim=(-half, half), ylim=(0.0, 1.5e6 * thickest))
            ax.text(
                0.02,
                0.02,
                "ink in \N{RIGHTWARDS ARROW}      roll surface below, blade above the line",
                transform=ax.transAxes,
                fontsize=8,
                color=GREY,
            )
        if axes is None:
            caption = textwrap.fill(_shop_signs(describe_lesson(pairs)), 84 * len(pairs))
            row[0].figure.supxlabel(caption, fontsize=9, ha="left", x=0.02)
        for ax in row:
            ax.set_title(ax.get_title(loc="left"), loc="left", pad=18)
        for ax in row:
            state_magnification(ax)
    return row


def _shop_signs(text: str) -> str:
    return text.replace(" um", f" {UNITS['um']}").replace(" deg", UNITS["deg"])


def _place(point: OperatingPoint) -> str:
    angle, load = np.degrees(float(point.case["setting.set_angle"])), point.line_load
    return f"set angle {angle:.3g} deg, line load {load:.3g} N/m"


def describe_section(point: OperatingPoint) -> str:
    """Alt text of ``plot_section``."""
    if not point.convergence.ok:
        return f"No section: {point.convergence}."
    ink = point.film_load_share + point.wedge_load_share
    return (
        f"Section of the nip at {_place(point)}: the blade meets the roll at {np.degrees(point.effective_angle):.3g} deg, "
        f"{np.degrees(point.tip_rotation):.2g} deg less than set. Under the facet of {point.facet_length * 1e6:.0f} um "
        f"the smallest gap is {point.min_film * 1e6:.2g} um and {point.film_on_lands * 1e6:.2g} um of ink passes on the "
        f"lands, {point.excess_ink * 1e6:.2g} um more than a clean wipe. The lands carry {point.asperity_load_share:.0%} "
        f"of the load, the ink {ink:.0%}: {point.regime.replace('_', ' ')}. {STATEMENT}"
    )


def describe_map(data: xr.Dataset, name: str = "excess_ink", window: ProcessWindow | None = None) -> str:
    """Alt text of ``plot_map``."""
    words = _map_words(data, name)
    if window is not None:
        words += f"Every limit holds on {float(window.contains.mean()):.0%} of the map. "
        if window.recommended is not None:
            words += f"Recommended: {_recommended_words(window.recommended, data)}. "
    return words + STATEMENT


def describe_maps(everywhere: xr.Dataset, once: xr.Dataset, window: ProcessWindow | None = None) -> str:
    """Alt text of ``plot_maps``."""
    text = f"Two maps. Left, each setting run in at itself. {_map_words(everywhere, 'excess_after_step')}"
    if window is not None:
        text += f"Every limit holds on {float(window.contains.mean()):.0%} of the map. "
        if window.recommended is not None:
            text += f"The blade is run in at the recommended {_recommended_words(window.recommended, everywhere)}. "
    text += f"Right, that blade moved to every setting without re-bedding. {_map_words(once, 'excess_ink')}"
    return text + STATEMENT


def _map_words(data: xr.Dataset, name: str) -> str:
    across, up = _map_dims(data)
    output = OUTPUTS[name]
    values = data[name].values * output.display_scale
    ranges = []
    for dim in (across, up):
        numbers, _, unit = _coordinate(data, dim)
        ranges.append(f"{LABELS.get(dim, dim.replace('_', ' '))} {numbers.min():.3g} to {numbers.max():.3g} {unit}")
    text = f"Map of {LABELS.get(name, output.long_name)} over {' and '.join(ranges)}: "
    if np.isfinite(values).any():
        text += f"{np.nanmin(values):.2g} to {np.nanmax(values):.2g} {output.display_unit}. "
    else:
        text += "no point has a value. "
    solved = _converged(data)
    for regime in _regimes_present(data):
        share = float((data["regime"].values[solved] == REGIMES.index(regime)).mean())
        text += f"{regime.replace('_', ' ').capitalize()} on {share:.0%} of the solved points. "
    for reason, mask in failure_reasons(data, name).items():
        text += f"No value on {mask.mean():.0%}: {reason}. "
    return text


def _recommended_words(mark: Mapping[str, Any], data: xr.Dataset) -> str:
    place = []
    for dim in _map_dims(data):
        attrs = data[dim].attrs
        value = _core.field_from_si(float(mark[dim]), attrs["display_units"], attrs["field"])
        place.append(f"{LABELS.get(dim, dim)} {value:.3g} {attrs['display_units']}")
    return " and ".join(place)


def describe_lesson(pairs: Sequence[tuple[OperatingPoint, OperatingPoint]]) -> str:
    """Caption and alt text of ``plot_lesson``."""
    sentences = []
    for before, after in pairs:
        advance = after.interference / before.interference - 1.0
        word = "harder" if advance > 0.0 else "softer"
        change = "opens towards" if after.facet_tilt > before.facet_tilt else "closes against"
        sentences.append(
            f"Set at {np.degrees(float(before.case['setting.set_angle'])):.3g} deg and run in, the blade lets "
            f"{before.film_on_lands * 1e6:.2f} um pass on the lands; pressed {abs(advance):.0%} {word} before it has re-bedded, "
            f"its facet {change} the incoming ink by {np.degrees(abs(after.facet_tilt - before.facet_tilt)):.2f} deg and "
            f"{after.film_on_lands * 1e6:.2f} um passes ({after.regime.replace('_', ' ')})."
        )
    return " ".join([*sentences, STATEMENT])
