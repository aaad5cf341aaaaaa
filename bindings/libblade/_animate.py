"""Moving pictures of the contact: a new blade beds in, and a step of load comes before it has bedded again."""

from __future__ import annotations

import os
import tempfile
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from libblade._case import Case, require_case
from libblade._errors import LibbladeWarning, refuse
from libblade._lesson import lesson_state
from libblade._plots import BLUE, GREY, ORANGE, STATEMENT, _matplotlib, _pyplot, _unit, magnification, plot_style
from libblade._plots_nip import State, draw_contact
from libblade._point import _Same
from libblade._schema import path_of, write_whole
from libblade._units import Floats, positive, si
from libblade._wear import WearHistory, wear

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_FRAMES = 500


class Frame(NamedTuple):
    """One frame, with the numbers it shows."""

    distance: float
    """Of web since the blade was new (bedding), 0 in a step of load [m]."""
    time: float
    """Running and standing [s]."""
    step: float
    """Of load or holder advance, relative [-]."""
    line_load: float
    """[N/m]; NaN when not solved."""
    film_on_lands: float
    """Mean over a turn in bedding [m]; NaN when not solved."""
    facet_length: float
    """[m]."""
    facet_tilt: float
    """Positive: open to the ink [rad]."""
    magnification: float
    """How much more heights are stretched than lengths [-]."""
    status: str
    """"converged", or why the contact is not drawn."""
    words: tuple[str, ...]
    """As printed in the frame."""


@dataclass(frozen=True, eq=False)
class MovingPicture(_Same):
    """What was written."""

    path: Path
    frames: tuple[Frame, ...]
    description: str = field(repr=False)
    """Alt text, from the numbers."""

    @property
    def not_solved(self) -> int:
        """Frames whose state was not found; they say so and draw no contact."""
        return sum(frame.status != "converged" for frame in self.frames)


class _Shot(NamedTuple):
    """What a frame is drawn from."""

    frame: Frame
    state: State


def animate_bedding(
    story: WearHistory | Case,
    path: str | os.PathLike[str],
    *,
    distance: Any = "20 km",
    frames: int = 40,
    rate: Any = 10,
) -> MovingPicture:
    """A new blade beds in: facet and film under it against the kilometres, as .gif or .mp4 (which needs ffmpeg).

    ``story`` is a history from ``wear``, or a case, whose new square edge is then worn over ``distance`` [m]. The frames are the
    history's first and last entries and those between that lie evenly in facet length; their numbers are the history's. The contact
    drawn is that of the same facet without the roll's run-out. ``rate``: frames per second. ``frames``: 2 to 500, at most one an
    entry.

    Written whole or not at all. Raises InvalidInput on bad values; NotSolved when the history of a case cannot go on.
    """
    _check(frames)
    if isinstance(story, Case):
        story = wear(story.replace({"tip.kind": "square_edge"}), positive(distance, "m", "distance"))
    if not isinstance(story, WearHistory) or story.dataset.distance.size == 0:
        raise refuse("story", type(story).__name__, "must be a Case or a history from libblade.wear with entries")
    shots = [_worn(story, int(k)) for k in _entries(story.dataset.facet_length.values, frames)]
    way = story.dataset.distance.values * 1e-3
    curve = (way, story.dataset.film_on_lands.values * 1e6, "web run [km]")
    told = [_bedding_numbers, curve, [1e-3 * shot.frame.distance for shot in shots]]
    out = _write(path, shots, told, "A new blade beds in", positive(rate, "1", "rate"))
    a, b = out[0], out[-1]
    words = (
        f"{len(out)} frames of a new blade that beds in over {1e-3 * b.distance:.4g} km ({b.time / 3600.0:.3g} h): its facet grows "
        f"from {1e6 * a.facet_length:.3g} to {1e6 * b.facet_length:.3g} um, the ink it lets pass goes from "
        f"{1e6 * a.film_on_lands:.3g} to {1e6 * b.film_on_lands:.3g} um.{_lost(out)} {STATEMENT}"
    )
    return MovingPicture(Path(path), out, words)


def animate_step(
    case: Case, path: str | os.PathLike[str], *, step: Any = "10 %", frames: int = 30, rate: Any = 10
) -> MovingPicture:
    """A step of load after the blade was run in: nothing re-beds while the step is taken in parts, as .gif or .mp4.

    ``step`` is relative, -0.9 to 1: of the load of a floating blade, of the holder's advance of a fixed one. Each part is followed
    from the running blade. ``rate``: frames per second; ``frames``: 2 to 500. Written whole or not at all. Raises InvalidInput on
    bad values.
    """
    require_case(case)
    _check(frames)
    relative = si(step, "1", "step")
    if not -0.9 <= relative <= 1.0 or relative == 0.0:
        raise refuse("step", step, "must lie between -0.9 and 1 and not be 0")
    steps = np.linspace(0.0, relative, frames)
    shots = [_stepped(case, float(part)) for part in steps]
    of = "load" if case["setting.holding"] == "floating" else "holder advance"
    films = np.array([shot.frame.film_on_lands for shot in shots]) * 1e6
    told = [_step_numbers, (100.0 * steps, films, f"more {of} [%]"), list(100.0 * steps)]
    out = _write(path, shots, told, f"A step of the {of} before the blade beds again", positive(rate, "1", "rate"))
    a, b = out[0], out[-1]
    words = (
        f"{len(out)} frames of a run-in blade whose {of} is changed by {relative:+.3g} of itself before it beds again: the "
        f"load goes from {a.line_load:.4g} to {b.line_load:.4g} N/m, the facet turns from {np.degrees(a.facet_tilt):+.2f} to "
        f"{np.degrees(b.facet_tilt):+.2f} deg, the ink it lets pass goes from {1e6 * a.film_on_lands:.3g} to "
        f"{1e6 * b.film_on_lands:.3g} um.{_lost(out)} {STATEMENT}"
    )
    return MovingPicture(Path(path), out, words)


def _check(frames: Any) -> None:
    if isinstance(frames, bool) or not isinstance(frames, int) or not 2 <= frames <= MOST_FRAMES:
        raise refuse("frames", frames, f"must be a whole number from 2 to {MOST_FRAMES}")


def _lost(frames: Sequence[Frame]) -> str:
    count = sum(frame.status != "converged" for frame in frames)
    return f" {count} frames are not solved and say so." if count else ""


def _entries(facet: Floats, frames: int) -> Floats:
    """Entries that lie evenly in facet length, first and last among them."""
    grown = np.maximum.accumulate(facet)
    if grown[-1] == grown[0]:
        places = np.linspace(0, facet.size - 1, frames).round()
    else:
        places = np.abs(grown[:, None] - np.linspace(grown[0], grown[-1], frames)).argmin(axis=0)
        places[-1] = facet.size - 1
    return np.unique(places).astype(int)


def _worn(story: WearHistory, entry: int) -> _Shot:
    at = story.dataset.isel(distance=entry)
    facet, bedded, angle = (float(at[name]) for name in ("facet_length", "bedded_angle", "effective_angle"))
    sign = 1.0 if story.case["setting.orientation"] == "doctoring" else -1.0
    begin = story.case
    for step in list(story.schedule)[: int(at.schedule_step) + 1]:
        begin = begin.replace(step.set) if step.set else begin
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", LibbladeWarning)  # a facet that begins is shorter than the usual ones
        worn = begin.replace({
            "tip.kind": "facet", "tip.bedding": "angle", "tip.bedded_angle": f"{bedded!r} rad", "tip.facet_length": facet,
            "setting.holding": "floating", "setting.line_load": float(at.line_load), "roll.run_out": 0.0,
            **_shortened(story, begin, at),
        })  # fmt: skip
        state = lesson_state(worn)
    frame = Frame(
        float(at.distance), float(at.time), 0.0, float(at.line_load), float(at.film_on_lands), facet, sign * (bedded - angle),
        np.nan, state["status"], (),
    )  # fmt: skip
    return _Shot(frame, state)


def _shortened(story: WearHistory, case: Case, at: Any) -> dict[str, float]:
    """The blade as long as wear has left it, clamp to the facet's centre; one of several sections is taken as new."""
    try:
        length = float(case["blade.free_length"])
    except KeyError:
        return {}

    def centre(entry: Any) -> float:
        """From the square end [m]."""
        return float(entry.length_lost - 0.5 * entry.facet_length * np.cos(entry.bedded_angle))

    return {"blade.free_length": length - centre(at) + centre(story.dataset.isel(distance=0))}


def _stepped(case: Case, step: float) -> _Shot:
    state = lesson_state(case, step=step)
    point = state["point"] or dict.fromkeys(("line_load", "film_on_lands", "facet_length", "facet_tilt"), np.nan)
    load, film, facet, tilt = (float(point[k]) for k in ("line_load", "film_on_lands", "facet_length", "facet_tilt"))
    return _Shot(Frame(0.0, 0.0, step, load, film, facet, tilt, np.nan, state["status"], ()), state)


def _bedding_numbers(frame: Frame) -> tuple[str, ...]:
    micro = _unit("um")
    return (
        f"{1e-3 * frame.distance:.4g} km of web, {frame.time / 3600.0:.3g} h",
        f"facet {1e6 * frame.facet_length:.3g} {micro}, {1e6 * frame.film_on_lands:.3g} {micro} passes (mean over a turn)",
    )


def _step_numbers(frame: Frame) -> tuple[str, ...]:
    if frame.status != "converged":
        return (f"step {100.0 * frame.step:+.3g} %",)
    return (
        f"step {100.0 * frame.step:+.3g} %: {frame.line_load:.4g} N/m",
        f"facet {np.degrees(frame.facet_tilt):+.2f}\N{DEGREE SIGN}, {1e6 * frame.film_on_lands:.3g} {_unit('um')} passes",
    )


def _write(path: Any, shots: list[_Shot], told: Any, title: str, rate: float) -> tuple[Frame, ...]:
    target = path_of(path, "path")
    suffix = target.suffix.lower()
    if suffix not in (".gif", ".mp4"):
        raise refuse("path", str(path), "must end in .gif or .mp4")
    animation = _matplotlib("animation")
    if suffix == ".mp4" and not animation.FFMpegWriter.isAvailable():
        raise refuse("path", str(path), "needs ffmpeg, which is not installed; .gif needs nothing more")
    writer = (animation.PillowWriter if suffix == ".gif" else animation.FFMpegWriter)(fps=rate)
    with tempfile.TemporaryDirectory() as folder, plot_style():
        beside = Path(folder) / f"moving{suffix}"
        plt = _pyplot()
        figure, _ = plt.subplots(1, 2, figsize=(9.6, 4.6), width_ratios=(1.0, 1.7))
        try:
            figure.subplots_adjust(left=0.07, right=0.985, top=0.80, bottom=0.20, wspace=0.22)
            writer.setup(figure, str(beside), dpi=100)
            frames = tuple(_frames(figure, writer, shots, told, title))
            writer.finish()
        finally:
            plt.close(figure)
        write_whole(target, beside.read_bytes(), "path")
    return frames


def _frames(figure: Any, writer: Any, shots: list[_Shot], told: Any, title: str) -> Iterator[Frame]:
    numbers, (x, y, label), places = told
    longest = max(shot.frame.facet_length for shot in shots if np.isfinite(shot.frame.facet_length))
    for shot, place in zip(shots, places, strict=True):
        left, right = figure.axes
        for ax in (left, right):
            ax.clear()
        figure.texts.clear()
        left.plot(x, y, color=BLUE)
        _mark(left, place, shot.frame.film_on_lands * 1e6)
        left.set(xlabel=label, ylabel=f"ink left on the lands [{_unit('um')}]")
        left.set_ylim(0.0, 1.15 * float(np.nanmax(y)) if np.isfinite(y).any() else 1.0)
        _contact(right, shot, 0.9e6 * max(longest, 75e-6))
        words = numbers(shot.frame)
        stretched = magnification(right)
        drawn = "; run-out of the roll not drawn" if shot.frame.distance > 0.0 else ""
        printed = (*words, f"heights drawn {stretched:.3g} times larger than lengths{drawn}")
        figure.text(0.07, 0.955, title, fontsize=11, weight="bold", va="center")
        figure.text(0.07, 0.885, ";  ".join(words), fontsize=10, va="center")
        figure.text(0.985, 0.03, printed[-1], fontsize=8, color=GREY, ha="right")
        writer.grab_frame()
        yield shot.frame._replace(magnification=stretched, words=printed)


def _mark(ax: Axes, place: float, film: float) -> None:
    ax.axvline(place, color=GREY, lw=0.8, ls=":")
    if np.isfinite(film):
        ax.plot([place], [film], marker="o", ms=8, color=ORANGE, mec="white", zorder=5, clip_on=False)


def _contact(ax: Axes, shot: _Shot, half: float) -> None:
    if shot.state["point"] is None:
        ax.set(xlim=(-half, half), ylim=(-1.0, 12.0))
        words = f"no state found: {shot.frame.status.replace('_', ' ')}\n{shot.state['message']}"
        ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", wrap=True)
    else:
        draw_contact(shot.state, ax, half, told=False)
    ax.set_xlabel(f"along the roll, ink flows to the right [{_unit('um')}]")
