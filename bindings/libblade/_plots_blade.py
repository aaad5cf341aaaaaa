"""Pictures of the dry blade: under rising load, and its load against holder advance with the limits."""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._blade import Bending, LoadCurve, bending
from libblade._case import Case, require_case
from libblade._errors import LibbladeWarning, NotSolved
from libblade._plots import BLUE, FAILED_COLOUR, GREEN, GREY, ORANGE, STATEMENT, _matplotlib, _new_axes, plot_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

EVENTS = {
    "interference_limit": ("snaps in a fixed holder", "v", ORANGE),
    "load_limit": ("snaps under a kept load", "^", ORANGE),
    "dig_in": ("digs in: tan(angle) = 1 / friction", "X", ORANGE),
    "lying_flat": ("lies flat from here on", "s", GREEN),
    "plate_contact": ("touches the backing plate", "D", GREY),
    "yield": ("begins to yield", "P", "#33373d"),
}


def plot_load_curve(curve: LoadCurve, ax: Axes | None = None, *, label: str = "", colour: str = BLUE) -> Axes:
    """Line load [N/m] against holder advance [mm] of a dry blade: solid on its edge, dashed lying flat, limits marked."""
    with plot_style():
        axes = _new_axes(1, 6.4, 4.2)[0] if ax is None else ax
        x, y = curve.interference * 1e3, curve.line_load
        flat = np.array([mode == "flat" for mode in curve.contact_mode])
        axes.plot(x, np.where(flat, np.nan, y), color=colour, label=label or "on its edge")
        if flat.any():
            joined = flat | np.roll(flat, -1)  # from the last point on the edge
            axes.plot(x, np.where(joined, y, np.nan), color=colour, ls="--", label=f"{label} lying flat".strip())
        known = {text.get_label() for text in axes.collections}
        for limit in curve.limits:
            words, marker, fill = EVENTS[limit.event]
            place = ([limit.interference * 1e3], [limit.line_load])
            told = None if words in known else words
            axes.scatter(*place, s=60, marker=marker, color=fill, edgecolors="white", zorder=5, label=told)
            known.add(words)
        axes.set(xlabel="holder advance past first touch [mm]", ylabel="line load [N/m]")
        axes.autoscale()  # an earlier curve's limits would cut this one
        axes.set_xlim(left=0.0)
        axes.set_ylim(bottom=0.0)
        axes.set_title("Load against holder advance, dry roll")
        axes.legend(loc="best")
    return axes


def describe_load_curve(curve: LoadCurve) -> str:
    """What the picture of a load curve shows, from its numbers."""
    told = [
        f"{EVENTS[limit.event][0]} at {limit.line_load:.3g} N/m and {limit.interference * 1e3:.3g} mm"
        for limit in curve.limits
    ]
    ends = f"Line load rises from 0 to {curve.line_load.max():.3g} N/m over {curve.interference.max() * 1e3:.3g} mm of advance"
    return f"{ends}; the blade {'; '.join(told) if told else 'stays on its edge'}. {STATEMENT}"


def plot_rising_load(case: Case, loads: Sequence[float], ax: Axes | None = None, *, friction: Any = None) -> Axes:
    """The blade of a case on a dry roll under rising line loads [N/m], to scale [mm]; loads it does not carry are left out."""
    bent = _bent(case, loads, friction)
    with plot_style():
        axes = _new_axes(1, 6.4, 4.2)[0] if ax is None else ax
        sign = -1.0 if case["setting.orientation"] == "doctoring" else 1.0
        _roll(axes, case, bent, sign)
        colours = _matplotlib("cm").cividis(np.linspace(0.0, 0.85, len(bent)))
        for state, shade, ls in zip(bent, colours, itertools.cycle(("-", "--", "-.", ":"))):
            lies = (
                ", flat"
                if state.contact_mode == "flat"
                else f", {np.degrees(state.effective_angle):.3g}\N{DEGREE SIGN}"
            )
            o, z = sign * state.shape[:, 0] * 1e3, state.shape[:, 1] * 1e3
            axes.plot(o, z, color=shade, ls=ls, lw=2.0, solid_capstyle="butt", label=f"{state.line_load:.3g} N/m{lies}")
            axes.plot(o[:1], z[:1], marker="s", ms=6, color="#33373d", ls="")
        axes.set_aspect("equal")
        axes.set(xlabel="along the roll, its motion to the right [mm]", ylabel="off the roll [mm]")
        axes.set_title("Blade (its mid-plane) under rising load, to scale")
        axes.legend(loc="upper left" if sign < 0 else "upper right", title="load, angle at the roll")
    return axes


def describe_rising_load(case: Case, loads: Sequence[float], *, friction: Any = None) -> str:
    """What ``plot_rising_load`` shows, from the same numbers."""
    bent = _bent(case, loads, friction)
    told = "; ".join(
        f"{state.line_load:.3g} N/m: {np.degrees(state.effective_angle):.3g} deg{' lying flat' * (state.contact_mode == 'flat')}"
        for state in bent
    )
    lost = len(loads) - len(bent)
    words = f" {lost} of the loads it does not carry." if lost else ""
    angle = np.degrees(float(case["setting.set_angle"]))
    return f"The blade set at {angle:.3g} deg under rising load, with its angle at the roll. {told}.{words} {STATEMENT}"


def _bent(case: Case, loads: Sequence[float], friction: Any) -> list[Bending]:
    require_case(case)
    bent = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", LibbladeWarning)  # loads far beyond the usual ones are the point
        for load in loads:
            try:
                bent.append(bending(case.replace({"setting.line_load": float(load)}), friction=friction))
            except NotSolved:
                continue
    if not bent:
        raise NotSolved("the blade carries none of these loads", None)
    return bent


def _roll(axes: Axes, case: Case, bent: Sequence[Bending], sign: float) -> None:
    radius = float(case["roll.radius"]) * 1e3
    places = np.concatenate([state.shape[:, 0] for state in bent]) * sign * 1e3
    low, high = places.min() - 1.0, places.max() + 2.0
    span = np.linspace(max(low, -radius), min(high, radius), 300)
    surface = np.sqrt(radius**2 - span**2) - radius
    floor = surface.min() - 0.6
    axes.fill_between(span, surface, floor, facecolor=FAILED_COLOUR, edgecolor=GREY, lw=1.0)
    axes.annotate("", (0.6 * low, floor + 0.3), (0.9 * low, floor + 0.3), arrowprops={"arrowstyle": "->", "lw": 1.4})
    top = max(state.shape[:, 1].max() for state in bent) * 1e3
    axes.set(xlim=(low, high), ylim=(floor, top + 0.5))
