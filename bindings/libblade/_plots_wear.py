"""Pictures of a blade's life: ink and facet against the distance, and the worn surface at its end."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._errors import refuse
from libblade._plots import BLUE, GREEN, GREY, ORANGE, STATEMENT, _new_axes, _pyplot, _unit, label_below, plot_style
from libblade._schedule import step_words
from libblade._units import Floats
from libblade._wear import WearHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_EVENTS = {  # words, line style, marker
    "fully_worn": ("facet has eaten the cut face", "--", "v"),
    "branch_jump": ("the nip jumps to another state", ":", "D"),
    "facet_limit": ("facet limit", "-.", "X"),
    "length_limit": ("limit of length lost", "-.", "X"),
    "excess_limit": ("limit of excess ink", "-.", "X"),
    "thin_tip_used_up": ("thin tip used up", "-.", "X"),
}
_LABELLED = 0.12  # share of the axis from which a step's words have room
_TOLD = 3  # events in a sentence


def plot_wear(story: WearHistory, ax: Axes | Sequence[Axes] | None = None, *, log: bool = False) -> Any:
    """Ink on the lands and facet length against kilometres: two axes over one x, which are returned.

    ``ax``: two axes, or one for the ink alone. Events are marked, steps of the schedule shaded lightly. ``log``: distance on a
    logarithmic axis, which shows the bedding.
    """
    _check(story)
    data = story.dataset
    x = data.distance.values * 1e-3
    with plot_style():
        if ax is None:
            figure, pair = _pyplot().subplots(
                2, 1, figsize=(7.4, 5.4), layout="constrained", sharex=True, height_ratios=(1.3, 1.0)
            )
            axes = list(pair)
            del figure
        else:
            axes = list(ax) if isinstance(ax, Sequence | np.ndarray) else [ax]
        ink = axes[0]
        ink.plot(x, data.film_on_lands.values * 1e6, color=BLUE, label="ink on the lands, mean over a turn")
        if np.any(data.film_over_turn.values > 1.001 * data.film_on_lands.values):
            ink.plot(x, data.film_over_turn.values * 1e6, color=BLUE, lw=1.0, ls=":", label="most over a turn")
        ink.plot(x, data.excess_ink.values * 1e6, color=ORANGE, ls="--", label="of it beyond a clean wipe")
        ink.set_ylabel(f"film [{_unit('um')}]")
        ink.set_ylim(0.0, 1.3 * 1e6 * float(np.nanmax(data.film_over_turn.values)))
        ink.set_title("Ink and facet over the life of a blade" if len(axes) > 1 else "Ink over the life of a blade")
        if len(axes) > 1:
            axes[1].plot(x, data.facet_length.values * 1e6, color=GREEN, label="facet length")
            axes[1].set_ylabel(f"facet [{_unit('um')}]")
        positive = x[x > 0.0]
        for axis in axes:
            if log and positive.size:
                axis.set_xscale("log")
                axis.set_xlim(positive[0], x[-1])
            else:
                axis.set_xlim(x[0], max(x[-1], x[0] + 1e-9))
            _shade_steps(axis, story, x, words=axis is ink)
            _mark_events(axis, story, x, data["film_on_lands" if axis is ink else "facet_length"].values * 1e6)
        label_below(axes, "web run [km]")
        ink.legend(loc="upper left", bbox_to_anchor=(0.0, 0.93) if len(story.schedule) > 1 else None, ncols=2)
    return axes if len(axes) > 1 else ink


def _shade_steps(axis: Axes, story: WearHistory, x: Floats, *, words: bool) -> None:
    """Every other step of the schedule grey, with its words where there is room."""
    if len(story.schedule) < 2:
        return
    step = story.dataset.schedule_step.values
    to_share = axis.transAxes.inverted()
    for k in np.unique(step):
        (rows,) = np.nonzero(step == k)
        low, high = x[rows[0]], x[rows[-1]]
        if k % 2:
            axis.axvspan(low, high, color="#eceef1", lw=0, zorder=0)
        shares = to_share.transform(axis.transData.transform([(max(v, axis.get_xlim()[0]), 0.0) for v in (low, high)]))
        share = float(shares[1, 0] - shares[0, 0])
        if words and share > _LABELLED:
            text = textwrap.shorten(step_words(story.schedule[int(k)]), int(95 * share), placeholder=" ...")
            middle = 0.5 * float(shares[0, 0] + shares[1, 0])
            axis.text(
                middle, 0.985, text, transform=axis.transAxes, ha="center", va="top", fontsize=7.5, color="#33373d"
            )


def _mark_events(axis: Axes, story: WearHistory, x: Floats, y: Floats) -> None:
    known = set[str]()
    for event in story.events:
        words, style, marker = _EVENTS[event.kind]
        at = 1e-3 * event.distance
        axis.axvline(at, color=GREY, lw=0.8, ls=style)
        (rows,) = np.nonzero(story.dataset.distance.values == event.distance)
        height = y[rows[0]] if rows.size else np.interp(at, x, y)
        axis.plot(
            [at], [height], ls="", marker=marker, ms=6, color="#33373d", mec="white", zorder=5, clip_on=False,
            label=None if event.kind in known else words,
        )  # fmt: skip
        known.add(event.kind)


def plot_profile(story: WearHistory, ax: Axes | None = None) -> Axes:
    """The worn surface at the end of a history in the profile tier; the roll is below."""
    _check_profile(story)
    place, height = story.profile.place * 1e6, (story.profile.height - story.profile.height.min()) * 1e9
    with plot_style():
        axes = _new_axes(1, 6.6, 3.6)[0] if ax is None else ax
        top = 1.6 * max(float(height.max()), 1.0)
        axes.fill_between(place, height, top, color="#d4d6da", lw=0)
        axes.plot(place, height, color="#33373d")
        axes.text(0.5, 0.9, "blade", transform=axes.transAxes, ha="center")
        axes.set(xlim=(place[0], place[-1]), ylim=(-0.25 * top, top))
        axes.set_xlabel(f"along the facet, ink flows to the right [{_unit('um')}]")
        axes.set_ylabel("height over its lowest place [nm]")
        axes.set_title(f"Worn surface after {1e-3 * story.life.distance:.4g} km")
    return axes


def describe_profile(story: WearHistory) -> str:
    """What the picture of the worn surface shows, from its numbers."""
    _check_profile(story)
    place, height = story.profile.place, story.profile.height
    return (
        f"Worn surface after {1e-3 * story.life.distance:.4g} km over a facet of {(place[-1] - place[0]) * 1e6:.3g} "
        f"\N{MICRO SIGN}m: its heights lie within {np.ptp(height) * 1e9:.2g} nm, the lowest place "
        f"{(place[np.argmin(height)] - place[0]) * 1e6:.3g} \N{MICRO SIGN}m from the end that meets the ink. {STATEMENT}"
    )


def describe_wear(story: WearHistory) -> str:
    """What the picture of a blade's life shows, from its numbers."""
    _check(story)
    data, micro = story.dataset, "\N{MICRO SIGN}m"
    first, last = data.isel(distance=0), data.isel(distance=-1)

    def both(name: str, scale: float, unit: str) -> str:
        return f"from {float(first[name]) * scale:.3g} to {float(last[name]) * scale:.3g} {unit}"

    turns = "s" if len(story.schedule) != 1 else ""
    words = (
        f"A blade's life over {1e-3 * story.life.distance:.4g} km of web ({story.life.hours:.3g} h), "
        f"{len(story.schedule)} step{turns}: the ink on the lands goes {both('film_on_lands', 1e6, micro)}, of it beyond a clean "
        f"wipe {both('excess_ink', 1e6, micro)}; the facet {both('facet_length', 1e6, micro)}; the touching lands carry "
        f"{both('asperity_load', 1.0, 'N/m')}. It ends with {story.life.ended_by}."
    )
    told = [event.sentence for event in story.events[:_TOLD]]
    if len(story.events) > _TOLD:
        told.append(f"And {len(story.events) - _TOLD} more events.")
    return " ".join([words, *told, STATEMENT])


def _check(story: object) -> None:
    if not isinstance(story, WearHistory) or story.dataset.distance.size == 0:
        raise refuse("story", repr(story), "must be a history from libblade.wear with at least one entry")


def _check_profile(story: WearHistory) -> None:
    _check(story)
    if story.profile.place.size == 0:
        raise refuse("story", repr(story), 'has no worn surface: use lb.wear(..., tier="profile")')
