"""Pictures of lines on the print: one strip to scale, and a gallery of causes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._errors import refuse
from libblade._lines import CAUSE_WORDS, DIRECTION_WORDS, Line, length_words
from libblade._plots import BLUE, GREY, STATEMENT, _matplotlib, _new_axes, _pyplot, plot_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Densities that grey runs over; the same in every picture, so that pictures compare.
_PALE, _DARK = 0.8, 1.8
_WIDE = 3  # strips beside each other in the gallery


def plot_strip(line: Line, ax: Axes | None = None, *, colorbar: bool = True, title: str | None = None) -> Axes:
    """A piece of the print: density as grey, along the web to the right, each direction to its own scale, which is stated.

    A bracket marks one turn of the roll, and a second one the line's repeat where that is another. A change over the whole width
    has the approved print beside it.
    """
    _check(line)
    x, y = line.strip_along * 1e3, line.strip_across * 1e3
    half = 0.5 * (x[1] - x[0]), 0.5 * (y[1] - y[0])
    density = np.array(line.strip_density.T)
    whole = line.signature.direction == "whole_width"
    if whole:
        density[: y.size // 2] = line.nominal_density
    with plot_style():
        axes = _new_axes(1, 7.4, 2.9)[0] if ax is None else ax
        extent = (x[0] - half[0], x[-1] + half[0], y[0] - half[1], y[-1] + half[1])
        picture = axes.imshow(
            density, extent=extent, origin="lower", aspect="auto", cmap="Greys", vmin=_PALE, vmax=_DARK,
            interpolation="nearest",
        )  # fmt: skip
        axes.set(xlabel="along the web [mm]", ylabel="across the web [mm]")
        if whole:
            axes.axhline(0.0, color="white", lw=1.0, ls="--")
            for height, word in ((0.25, "as approved"), (0.75, "now")):
                axes.text(
                    0.02, height, word, transform=axes.transAxes, va="center", fontsize=8,
                    bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none"},
                )  # fmt: skip
        _brackets(axes, line, extent)
        axes.set_title(CAUSE_WORDS[line.cause].capitalize() if title is None else title, pad=26)
        if colorbar:
            bar = axes.figure.colorbar(picture, ax=axes, pad=0.02, extend="both")
            bar.set_label("print density [-]")
        if ax is None:
            axes.text(
                1.0, -0.27, _scale_words(axes, extent), transform=axes.transAxes, ha="right", va="top", fontsize=8,
                color=GREY,
            )  # fmt: skip
    return axes


def _scale_words(axes: Axes, extent: tuple[float, float, float, float]) -> str:
    """How much larger across is drawn than along."""
    axes.figure.canvas.draw()
    box = axes.get_window_extent()
    ratio = (box.height / (extent[3] - extent[2])) / (box.width / (extent[1] - extent[0]))
    return f"across drawn {ratio:.2g} times as large as along"


def _brackets(axes: Axes, line: Line, extent: tuple[float, float, float, float]) -> None:
    """Above the strip: one turn of the roll, and the line's own repeat."""
    turn = 1e3 * line.roll_turn
    repeat = 1e3 * line.repeat
    own = repeat > 0.0 and not math.isclose(repeat, turn, rel_tol=1e-3)
    spans = [(turn, f"one turn of the roll {turn:.3g} mm", BLUE, 1.07)]
    if own:
        spans.append((repeat, f"repeat {repeat:.3g} mm", "#33373d", 1.19))
    for length, words, colour, height in spans:
        if length >= extent[1] - extent[0]:
            continue
        start = _first_mark(line, length) if not own or length == repeat else 0.0
        ends: dict[str, Any] = {"xycoords": ("data", "axes fraction"), "annotation_clip": False}
        axes.annotate(
            "", (start, height), (start + length, height), textcoords=("data", "axes fraction"),
            arrowprops={"arrowstyle": "|-|,widthA=0.25,widthB=0.25", "color": colour, "lw": 1.1, "shrinkA": 0, "shrinkB": 0},
            **ends,
        )  # fmt: skip
        axes.annotate(
            words, (start + 0.5 * length, height), ha="center", va="center", fontsize=7.5, color=colour,
            bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"}, **ends,
        )  # fmt: skip


def _first_mark(line: Line, length: float) -> float:
    """Where the line is strongest along the web, so that a bracket of this length [mm] still fits [mm]."""
    x = line.strip_along * 1e3
    strength = np.abs(line.strip_density - line.nominal_density).max(axis=1)
    fits = x <= x[-1] - length
    if line.repeat == 0.0 or not fits.any():
        return 0.0
    return float(x[np.argmax(np.where(fits, strength, -1.0))])


def plot_lines(lines: Mapping[str, Line], axes: Sequence[Axes] | None = None) -> Any:
    """A gallery of ``lines`` (from `libblade.lines`): a strip of each cause with its tone and repeat; returns the axes, (n,).

    Strips share their grey; across, each has a scale of its own. ``axes``: one for each line, or None for new ones.
    Raises InvalidInput on another number of axes.
    """
    _check_all(lines)
    columns = min(_WIDE, len(lines))
    rows = -(-len(lines) // columns)
    if axes is not None and len(axes) != len(lines):
        raise refuse("axes", len(axes), f"must be {len(lines)}")
    with plot_style():
        if axes is None:
            figure, grid = _pyplot().subplots(
                rows, columns, figsize=(3.9 * columns + 0.6, 2.15 * rows + 0.5), layout="constrained", squeeze=False
            )
            axes = list(grid.ravel())
            for axis in axes[len(lines) :]:
                axis.set_axis_off()
            long = 1.5e3 * max(line.roll_turn for line in lines.values())
            words = f"each strip {long:.3g} mm long; across, each has a scale of its own"
            figure.supxlabel(words, fontsize=8, color=GREY)
        for axis, line in zip(axes, lines.values(), strict=False):
            plot_strip(line, axis, colorbar=False, title=f"{CAUSE_WORDS[line.cause].capitalize()}\n{_short(line)}")
            axis.set_title(axis.get_title(loc="left"), fontsize=8.5, pad=28 if _has_own_repeat(line) else 17)
            axis.set_xlabel(axis.get_xlabel(), fontsize=8)
            axis.set_ylabel("across [mm]", fontsize=8)
            axis.tick_params(labelsize=7.5)
        scale = _matplotlib("cm").ScalarMappable(_matplotlib("colors").Normalize(_PALE, _DARK), "Greys")
        bar = axes[0].figure.colorbar(scale, ax=list(axes), pad=0.01, shrink=0.5, extend="both")
        bar.set_label("print density [-]")
    return axes[: len(lines)]


def _has_own_repeat(line: Line) -> bool:
    return line.repeat > 0.0 and not math.isclose(line.repeat, line.roll_turn, rel_tol=1e-3)


def _short(line: Line) -> str:
    s = line.signature
    repeat = "continuous" if s.repeat == 0.0 else f"every {length_words(s.repeat)}"
    if not line.visible:
        return f"not seen: density {line.density_contrast:+.3f}"
    width = f", {length_words(s.width)} wide" if math.isfinite(s.width) else ""
    return f"{s.tone}{width}, {repeat}"


def describe_strip(line: Line) -> str:
    """What the picture of a strip shows, from its numbers."""
    _check(line)
    long, wide = (1e3 * (v[-1] - v[0] + v[1] - v[0]) for v in (line.strip_along, line.strip_across))
    return (
        f"A piece of the print, {long:.3g} mm along the web by {wide:.3g} mm across, density as grey. {line.describe()}"
    )


def describe_lines(lines: Mapping[str, Line]) -> str:
    """What the gallery shows, from its numbers."""
    _check_all(lines)
    told = [f"{CAUSE_WORDS[k.cause]}: {DIRECTION_WORDS[k.signature.direction]}, {_short(k)}" for k in lines.values()]
    return f"{len(lines)} pieces of print side by side, density as grey. {'; '.join(told)}. {STATEMENT}"


def _check(line: object) -> None:
    if not isinstance(line, Line):
        raise refuse("line", repr(line), "must be one of what libblade.lines returns")


def _check_all(lines: object) -> None:
    if not isinstance(lines, Mapping) or not lines:
        raise refuse("lines", repr(lines), "must be what libblade.lines returns, at least one")
    for line in lines.values():
        _check(line)
