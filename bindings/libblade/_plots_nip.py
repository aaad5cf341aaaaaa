"""The nip as a drawing: the blade to scale, and its contact magnified, with what carries it and what comes to its mouth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._case import Case
from libblade._errors import refuse
from libblade._lesson import lesson_state
from libblade._plots import (
    BLUE,
    GREY,
    ORANGE,
    STATEMENT,
    _pyplot,
    _unit,
    label_below,
    magnification,
    plot_style,
)
from libblade._point import OperatingPoint
from libblade._units import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes

State = Mapping[str, Any]
CEILING = 12.0  # of the magnified drawing [um]: the same for every state, so that drawings compare
STEEL, ROLL, INK = "#8d98a3", "#c9ccd1", "#fff3cf"
MICRO = _unit("um")


def state_of(nip: Any) -> State:
    """The state of a lesson: as it is, of a case, or of an operating point.

    Raises InvalidInput on anything else, and where a point is not the state of its case that would be drawn.
    """
    if isinstance(nip, Mapping) and {"status", "point", "section"} <= nip.keys():
        return nip
    if isinstance(nip, Case):
        return lesson_state(nip)
    if isinstance(nip, OperatingPoint):
        start = "riding" if nip.branch == "riding" else "resting"
        state = lesson_state(nip.case, start=start)
        film = np.nan if state["point"] is None else state["point"]["film_on_lands"]
        if nip.convergence.ok and not np.isclose(film, nip.film_on_lands, rtol=1e-3):
            raise refuse(
                "nip", f"film {nip.film_on_lands:.4g} m", f"is not the case's state from {start} ({film:.4g} m)"
            )
        return state
    raise refuse("nip", type(nip).__name__, "must be a Case, an OperatingPoint or a state of libblade.lesson_state")


def plot_nip(nip: Case | OperatingPoint | State, axes: Sequence[Axes] | None = None) -> Any:
    """The blade to scale [mm]; pressures [MPa] and the contact [um] magnified, which is stated; particles at the mouth [um].

    ``nip``: a case, an operating point or a state of ``lesson_state``. ``axes``: four, in that order, or None for new ones; they
    are returned. A state that is not solved is drawn as its message alone. Particles are invented kinds and sizes.

    Raises InvalidInput on anything else.
    """
    state = state_of(nip)
    with plot_style():
        if axes is None:
            figure, named = _pyplot().subplot_mosaic(
                [["blade", "pressure"], ["blade", "contact"], ["particles", "contact"]],
                figsize=(11.6, 6.4), layout="constrained", width_ratios=(1.0, 1.25), height_ratios=(1.0, 0.7, 0.9),
            )  # fmt: skip
            axes = [named[name] for name in ("blade", "pressure", "contact", "particles")]
            axes[1].sharex(axes[2])
            axes[1].tick_params(labelbottom=False)
            del figure
        if len(axes) != 4:
            raise refuse("axes", len(axes), "must be 4")
        if state["point"] is None:
            _say_unsolved(state, axes)
            return axes
        blade, pressure, contact, particles = axes
        _blade(state, blade)
        half = half_width(state)
        _pressure(state, pressure)
        draw_contact(state, contact, half)
        for ax in (pressure, contact):
            ax.set_xlim(-half, half)
        along = f"along the roll, ink flows to the right [{MICRO}]"
        label_below([pressure, contact], along)
        _particles(state, particles)
        _state_scales(blade, contact)
    return axes


def half_width(state: State) -> float:
    """Of the magnified drawing [um]."""
    return 0.9e6 * max(state["facet"]["length"] or 0.0, 75e-6)


def _say_unsolved(state: State, axes: Sequence[Axes]) -> None:
    for ax in axes:
        ax.set_axis_off()
    words = f"no drawing: {state['status'].replace('_', ' ')}\n{state['message']}"
    axes[0].text(0.02, 0.5, words, transform=axes[0].transAxes, wrap=True)


def _blade(state: State, ax: Axes) -> None:
    shape, point = state["blade"], state["point"]
    mid, roll_side, away_side, free = (1e3 * np.array(shape[k]) for k in ("mid", "roll_side", "away_side", "free_mid"))
    length, radius = float(np.hypot(*np.diff(mid, axis=0).T).sum()), 1e3 * shape["roll_radius"]
    side = -1.0 if shape["orientation"] == "trailing" else 1.0  # where the body lies
    first, last = sorted((-0.35 * side * length, side * length))
    x = np.linspace(first, last, 200)
    surface = np.sqrt(np.maximum(radius**2 - x**2, 0.0)) - radius
    ax.fill_between(x, surface, surface.min() - 0.2 * length, color=ROLL, lw=0)
    ax.plot(*free.T, color=GREY, ls="--", lw=1.1, label=f"unloaded, set at {_degrees(shape['set_angle'], '.3g')}")
    runs = f"as it runs, {_degrees(point['effective_angle'], '.3g')} at the roll"
    ax.fill(*np.concatenate([roll_side, away_side[::-1]]).T, color=BLUE, lw=0.8, label=runs)
    ax.plot(*mid[0], marker="s", ms=9, color="#33373d", ls="", label="holder (a sketch)")
    low = surface.min() - 0.2 * length
    middle = 0.5 * (first + last)
    ax.annotate("", (middle + 0.1 * length, 0.5 * low - 0.4), (middle - 0.15 * length, 0.5 * low - 0.4),
                arrowprops={"arrowstyle": "->", "lw": 1.4})  # fmt: skip
    speed = 60.0 * state["case"]["setting"]["surface_speed"]
    ax.text(middle, 0.5 * low - 0.9, f"roll surface, {speed:.3g} m/min", ha="center", va="top", fontsize=8)
    ax.set_aspect("equal")
    ax.set(xlim=(first, last), ylim=(low - 0.1 * length, 1.45 * mid[:, 1].max()))
    ax.set(xlabel="along the roll [mm]", ylabel="off the roll [mm]")
    ax.set_title(f"The blade, to scale ({shape['orientation']})")
    ax.legend(loc="upper left" if side > 0 else "upper right", borderaxespad=0.2)


def _pressure(state: State, ax: Axes) -> None:
    section, point = state["section"], state["point"]
    x = 1e6 * np.array(section["x"])
    film, solid = (1e-6 * np.array(section[name]) for name in ("film_pressure", "asperity_pressure"))
    ink = point["film_load_share"] + point["wedge_load_share"]
    ax.fill_between(x, solid, facecolor=ORANGE, alpha=0.25, lw=0, hatch="...", edgecolor=ORANGE)
    ax.plot(x, solid, color=ORANGE, ls="--", label=f"touching lands carry {point['asperity_load_share']:.0%}")
    ax.plot(x, film, color=BLUE, label=f"ink carries {ink:.0%}")
    ax.set_ylim(min(0.0, 1.1 * film.min()), 1.7 * max(film.max(), solid.max(), 1e-3))
    ax.set_ylabel("pressure [MPa]")
    ax.set_title(f"What carries {point['line_load']:.3g} N/m: {point['regime'].replace('_', ' ')}")
    ax.legend(loc="upper center", ncols=2)


def draw_contact(state: State, ax: Axes, half: float, *, told: bool = True) -> None:
    """Facet, film and cells on an axes whose x runs over +-``half`` [um]; heights [um] up to ``CEILING``.

    ``told``: with the words on facet and film.
    """
    section, facet, cells = state["section"], state["facet"], state["cells"]
    x, gap, void = (np.array(section[name]) for name in ("x", "gap", "void_fraction"))
    x, gap = 1e6 * x, 1e6 * gap
    film = 1e6 * state["ink"]["on_lands"]
    deep = 1e6 * (cells["depth"] or 0.0)
    ax.axhspan(-1.4 * max(deep, 2.0), 0.0, color=ROLL, lw=0)
    if cells["pitch"]:
        _cells(cells, ax, half)
    start, end = (float(1e6 * section[k]) if section[k] is not None else 0.0 for k in ("facet_from", "facet_to"))
    supply = state["ink"]["arriving"]
    ahead = x <= start
    outline = _outline(facet, x, gap, start, end)
    if facet["length"] and supply is None:  # up to a face that may lean over
        ax.fill(
            [-2 * half, -2 * half, *outline[:2, 0], start], [0.0, outline[0, 1], *outline[:2, 1], 0.0], color=INK, lw=0
        )
    else:
        ax.fill_between([-2 * half, start], 0.0, CEILING if supply is None else 1e6 * supply, color=INK, lw=0)
    mouth = 1e6 * facet["gap_ink_end"] if facet["length"] else gap[~ahead][0]
    filled = [mouth, *(gap * (1.0 - void))[~ahead]]
    ax.fill_between([start, *x[~ahead]], 0.0, filled, color=INK, lw=0)
    ax.fill_between([end, 2 * half], 0.0, film, color=BLUE, lw=0)
    ax.fill(*outline.T, color=STEEL, lw=0)
    if facet["length"]:
        under = _on_facet(facet, x, gap, start, end)
        ends = [1e6 * facet["gap_ink_end"], 1e6 * facet["gap_far_end"]]
        ax.plot([start, *x[under], end], [ends[0], *gap[under], ends[1]], color="#33373d", lw=2.0)
    ax.axhline(0.0, color=GREY, lw=0.8)
    if told:
        _contact_words(ax, facet, film, half)
    ax.set(xlim=(-half, half), ylim=(-1.4 * max(deep, 2.0), CEILING), ylabel=f"height over the lands [{MICRO}]")


def _contact_words(ax: Axes, facet: State, film: float, half: float) -> None:
    ax.text(0.0, 0.82 * CEILING, _facet_words(facet), ha="center", va="center", fontsize=8, color="#16191d")
    ax.text(0.98 * half, film + 0.4, f"{film:.2f} {MICRO} passes", ha="right", va="bottom", fontsize=8, color=BLUE)
    ax.text(-0.98 * half, 0.96 * CEILING, "ink in \N{RIGHTWARDS ARROW}", va="top", fontsize=8)


def _outline(facet: State, x: Floats, gap: Floats, start: float, end: float) -> Floats:
    """Of the blade's end, (n, 2) [um]; straight faces beyond the facet."""
    reach = 10.0 * CEILING
    if not facet["length"]:
        # The last nodes lie on the faces, which are straight.
        far = [(x[k] + (reach - gap[k]) * (x[k] - x[j]) / (gap[k] - gap[j]), reach) for k, j in ((0, 1), (-1, -2))]
        return np.array([far[0], *zip(x, gap, strict=True), far[1]])
    ends = []
    for at, high, angle, side in (
        (start, facet["gap_ink_end"], facet["face_angle_ink"], -1.0),
        (end, facet["gap_far_end"], facet["face_angle_far"], 1.0),
    ):
        ends.append([(at, 1e6 * high), (at + side * reach * np.cos(angle), 1e6 * high + reach * np.sin(angle))])
    under = _on_facet(facet, x, gap, start, end)
    return np.array([ends[0][1], ends[0][0], *zip(x[under], gap[under], strict=True), ends[1][0], ends[1][1]])


def _on_facet(facet: State, x: Floats, gap: Floats, start: float, end: float) -> Any:
    """Nodes between the ends, without those of their rounding, which the drawing's scale does not show."""
    close = np.minimum(x - start, end - x) < 0.1 * (end - start)
    higher = gap > 1.001e6 * max(facet["gap_ink_end"], facet["gap_far_end"])
    return (x > start) & (x < end) & ~(close & higher)


def _cells(cells: State, ax: Axes, half: float) -> None:
    pitch, opening, depth = (1e6 * cells[name] for name in ("pitch", "opening", "depth"))
    for k in range(-int(half / pitch) - 2, int(half / pitch) + 2):
        left = (k + 0.5) * pitch - 0.5 * opening
        ax.fill_between([left, left + opening], -depth, 0.0, color="white", lw=0)
        ax.fill_between([left, left + opening], -depth, -depth * (1.0 - cells["fill"]), color=INK, lw=0)


def _facet_words(facet: State) -> str:
    if not facet["length"]:
        return "new edge"
    tilt = facet["tilt"]
    turned = "parallel to the roll" if abs(np.degrees(tilt)) < 0.005 else (
        f"{'open' if tilt > 0.0 else 'closed'} to the ink by {_degrees(abs(tilt), '.2g')}"
    )  # fmt: skip
    return f"worn facet {1e6 * facet['length']:.3g} {MICRO}:\n{turned}"


def _particles(state: State, ax: Axes) -> None:
    particles = state["particles"]
    kinds = particles["list"][::-1]
    for row, kind in enumerate(kinds):
        inside = kind["enters"]
        marker = "s" if kind["shape"] == "flake" else "o"
        colour = ORANGE if inside else "white"
        ax.plot([1e6 * kind["size"]], [row], marker=marker, ms=7, color=colour, mec="#33373d", ls="")
    if particles["entry_size"]:
        ax.axvline(1e6 * particles["entry_size"], color=GREY, ls="--", lw=1.2)
    ax.set_xscale("log")
    sizes = [1e6 * kind["size"] for kind in kinds] + [1e6 * (particles["entry_size"] or kinds[0]["size"])]
    ax.set_xlim(0.4 * min(sizes), 2.5 * max(sizes))
    words = [f"{kind['name']}: {'gets in' if kind['enters'] else 'turned away'}" for kind in kinds]
    ax.set_yticks(range(len(kinds)), words, fontsize=8)
    ax.set_ylim(-0.7, len(kinds) - 0.3)
    ax.set_xlabel(f"size; dashed: largest that friction draws in [{MICRO}]")
    ax.set_title("Particles at the mouth (invented)")


def _state_scales(blade: Axes, contact: Axes) -> None:
    """How much the contact is magnified against the blade's picture, in both directions."""
    figure: Any = contact.figure
    figure.draw_without_rendering()

    def pixels(ax: Axes, unit: float, axis: int) -> float:
        box, view = ax.get_window_extent(), (ax.get_xlim(), ax.get_ylim())[axis]
        return float((box.width, box.height)[axis] / ((view[1] - view[0]) * unit))

    wide, tall = (pixels(contact, 1e-6, k) / pixels(blade, 1e-3, 0) for k in (0, 1))
    words = (
        f"against the blade's picture: lengths \N{MULTIPLICATION SIGN} {float(f'{wide:.2g}'):,.3g}, "
        f"heights \N{MULTIPLICATION SIGN} {float(f'{tall:.2g}'):,.0f}; heights stretched {magnification(contact):.2g} times"
    )
    contact.set_title("The contact, magnified", pad=18)
    contact.text(0.0, 1.015, words, transform=contact.transAxes, va="bottom", fontsize=7.5, color=GREY, in_layout=False)


def _degrees(angle: float, form: str) -> str:
    return f"{np.degrees(angle):{form}}\N{DEGREE SIGN}"


def describe_nip(nip: Case | OperatingPoint | State) -> str:
    """Alt text of ``plot_nip``, from its numbers."""
    state = state_of(nip)
    point, facet = state["point"], state["facet"]
    if point is None:
        return f"No drawing: {state['status'].replace('_', ' ')}. {state['message']}"
    ink = point["film_load_share"] + point["wedge_load_share"]
    enter = [kind["name"] for kind in state["particles"]["list"] if kind["enters"]]
    worn = _facet_words(facet).replace("\n", " ").replace(MICRO, "um").replace("\N{DEGREE SIGN}", " deg")
    return (
        f"A {state['blade']['orientation']} blade set at {np.degrees(state['blade']['set_angle']):.3g} deg runs at "
        f"{np.degrees(point['effective_angle']):.3g} deg under {point['line_load']:.3g} N/m; {worn}. "
        f"{1e6 * point['film_on_lands']:.2f} um of ink passes on the lands; touching lands carry "
        f"{point['asperity_load_share']:.0%} of the load, the ink {ink:.0%}: {point['regime'].replace('_', ' ')}. "
        f"Of the invented particles these get in: {', '.join(enter) or 'none'}. {STATEMENT}"
    )
