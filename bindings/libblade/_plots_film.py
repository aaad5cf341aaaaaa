"""Pictures of the film: gap, pressure and void along the nip, and the branches over one field."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._branches import BranchCurve, BranchDiagram
from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._plots import (
    BLUE,
    GREEN,
    GREY,
    LABELS,
    ORANGE,
    STATEMENT,
    _new_axes,
    _pyplot,
    _unit,
    label_below,
    plot_style,
)
from libblade._point import OUTPUTS, OperatingPoint

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_BRANCH_OUTPUTS = (
    "film_on_lands",
    "excess_ink",
    "line_load",
    "friction_coefficient",
    "asperity_load_share",
    "effective_angle",
    "facet_tilt",
)


def plot_film(point: OperatingPoint, axes: Sequence[Axes] | None = None) -> Any:
    """Gap, pressures and void along the whole nip: three axes over one x. Returns the axes."""
    with plot_style():
        if axes is None:
            figure, stacked = _pyplot().subplots(
                3, 1, figsize=(7.4, 6.2), layout="constrained", sharex=True, height_ratios=(1.2, 1.2, 0.7)
            )
            axes = list(stacked)
            del figure
        upper, middle, lower = axes
        s = point.section
        x, gap = s.x * 1e6, s.gap * 1e6
        floor = 0.5 * float(gap.min())
        # What a torn film still fills lies on the moving roll.
        filled = np.maximum(gap * (1.0 - s.void_fraction), floor)
        upper.fill_between(x, floor, filled, color="#fff3cf", lw=0, label="ink")
        upper.plot(x, gap, color="#33373d", label="blade")
        upper.set(yscale="log", ylim=(floor, 1.4 * float(gap.max())))
        upper.set_ylabel(f"gap [{_unit('um')}]")
        upper.legend(loc="upper center", ncols=2)
        upper.set_title("Film under the tip")
        middle.plot(x, s.film_pressure * 1e-6, color=BLUE, label="ink film")
        middle.plot(x, s.asperity_pressure * 1e-6, color=ORANGE, ls="--", label="touching lands")
        middle.set_ylabel("pressure [MPa]")
        middle.set_ylim(bottom=0.0)
        middle.legend(loc="best")
        lower.fill_between(x, 0.0, s.void_fraction, color="#b9c7d6", lw=0)
        lower.plot(x, s.void_fraction, color=GREY)
        lower.set(ylim=(0.0, 1.0), ylabel="void [-]")
        label_below(axes, f"along the nip, ink flows to the right [{_unit('um')}]")
        for axis in axes:
            for end in (-0.5e6, 0.5e6):
                axis.axvline(end * point.facet_length, color=GREY, lw=0.8, ls=":")
    return axes


def describe_film(point: OperatingPoint) -> str:
    """What the picture of the film shows, from its numbers."""
    s = point.section
    peak = int(np.argmax(s.film_pressure))
    torn = s.x[(s.void_fraction > 0.0) & (s.x > s.x[peak])]
    words = (
        f"The gap falls to {point.min_film * 1e6:.2f} \N{MICRO SIGN}m; the film's pressure peaks at "
        f"{s.film_pressure[peak] * 1e-6:.2g} MPa, {s.x[peak] * 1e6:.0f} \N{MICRO SIGN}m from the facet's middle; "
        f"touching lands carry {100.0 * point.asperity_load_share:.0f} % of {point.line_load:.0f} N/m."
    )
    if torn.size:
        words += f" The film tears {torn[0] * 1e6:.0f} \N{MICRO SIGN}m from the middle."
    return f"{words} {STATEMENT}"


def plot_branches(diagram: BranchDiagram, output: str = "film_on_lands", ax: Axes | None = None) -> Axes:
    """A number of every state over the field: solid where a blade stays, dashed where it does not, folds marked."""
    if output not in _BRANCH_OUTPUTS:
        raise refuse("output", output, "must be one of " + ", ".join(_BRANCH_OUTPUTS))
    field, row = FIELDS[diagram.field], OUTPUTS[output]
    with plot_style():
        axes = _new_axes(1, 6.6, 4.4)[0] if ax is None else ax
        known: set[str] = set()

        def label(words: str) -> str | None:
            told = None if words in known else words
            known.add(words)
            return told

        for curve in diagram.curves:
            x = np.array([field.display(float(v)) for v in curve.value])
            y = np.asarray(getattr(curve, output)) * row.display_scale
            for stays, ls, words in ((True, "-", "a blade stays here"), (False, "--", "a blade leaves here")):
                for first, last in _stretches(curve, stays):
                    colour = BLUE if stays else GREY
                    axes.plot(x[first:last], y[first:last], ls=ls, color=colour, label=label(words))
            if curve.folds.size:
                places = curve.folds.astype(int)
                axes.scatter(
                    x[places],
                    y[places],
                    s=55,
                    marker="D",
                    color=ORANGE,
                    edgecolors="white",
                    zorder=5,
                    label=label("jumps"),
                )
            if curve.onsets.size:
                places = curve.onsets.astype(int)
                axes.scatter(
                    x[places], y[places], s=60, marker="^", color=GREEN, edgecolors="white", zorder=5,
                    label=label("excess ink passes the limit"),
                )  # fmt: skip
        now = field.display(float(diagram.case._core.get_number(diagram.field)))
        axes.axvline(now, color=GREY, lw=0.8, ls=":", label="as set")
        last_word = diagram.field.rsplit(".", 1)[-1]
        name = LABELS.get(last_word, last_word.replace("_", " "))
        axes.set_xlabel(f"{name} [{_unit(field.display_unit or '1')}]")
        axes.set_ylabel(f"{LABELS.get(output, row.long_name)} [{_unit(row.display_unit)}]")
        axes.set_ylim(bottom=min(0.0, axes.get_ylim()[0]))
        axes.set_title("States of a bedded blade")
        axes.legend(loc="best")
    return axes


def _stretches(curve: BranchCurve, stays: bool) -> list[tuple[int, int]]:
    """Runs of the curve whose states are (or are not) stable, each with the neighbour it meets."""
    mask = np.asarray(curve.stable) == stays
    out, first = [], None
    for k, inside in enumerate([*mask, False]):
        if inside and first is None:
            first = k
        elif not inside and first is not None:
            out.append((max(first - 1, 0), min(k + 1, mask.size) if not stays else k))
            first = None
    return out


def describe_branches(diagram: BranchDiagram) -> str:
    """What the picture of the branches shows, from its numbers."""
    field = FIELDS[diagram.field]
    low, high = (field.text(end) for end in diagram.searched)
    words = f"States of the bedded blade for {field.meaning} from {low} to {high}."
    folds = sorted(float(v) for v in diagram.folds)
    if folds:
        words += (
            " The blade jumps at " + " and ".join(field.text(v) for v in folds) + ": between them two states exist."
        )
    else:
        words += " One state at every value, no jump."
    films = np.concatenate([curve.film_on_lands[curve.stable] for curve in diagram.curves]) * 1e6
    if films.size:
        words += f" Ink left on the lands runs from {films.min():.2f} to {films.max():.2f} \N{MICRO SIGN}m."
    return f"{words} {STATEMENT}"
