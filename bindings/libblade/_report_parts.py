"""What a report asks, and its first parts: the job, the setting, the maps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from libblade._actuator import actuator_of
from libblade._advice import ANGLE, LOAD, SIDE_WORDS, Side, TwoMaps, advice, drift, two_maps
from libblade._case import Case
from libblade._fields import FIELDS
from libblade._particles import InkLoop, Particles
from libblade._plots import describe_map, describe_maps, describe_section, plot_map, plot_maps, plot_section
from libblade._point import STATUSES, OperatingPoint, solve, speed_limit
from libblade._report_blocks import Section
from libblade._roll_care import RULES, STOPPED
from libblade._units import Floats, si
from libblade._window_card import WORDS, fixed_words
from libblade._window_job import Job, _stated

ANGLE_HELD, LOAD_HELD = "1 deg", 0.1
SPEED_LIMITS = ("excess_after_step", "excess_ink")


@dataclass(frozen=True)
class Asked:
    """What a report is to say."""

    case: Case
    fields: dict[str, Floats]
    """Set angle and line load of the map by path [SI]."""
    limits: dict[str, Any]
    reasons: dict[str, str]
    life: dict[str, Any]
    particles: tuple[Particles, ...] | None
    """None: the examples, whose numbers are invented."""
    loop: InkLoop | None
    samples: int
    seed: int
    threads: int

    def swept(self, points: Any = slice(None)) -> dict[str, Any]:
        """Its fields, or some of their values, as ``sweep`` takes them."""
        return _stated({path: (path, values[points]) for path, values in self.fields.items()})


@dataclass
class Found:
    """What was solved so far."""

    place: Case
    """The case at the setting that later parts are about: the recommended or nearest one, until then its own."""
    where: str = "the case's own setting"
    results: dict[str, Any] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    unsolved: list[str] = field(default_factory=list)


def job(asked: Asked, _found: Found, section: Section) -> None:
    """What is to be done."""
    case = asked.case
    section.say(
        ". ".join(part.rstrip(".") for part in (case.name, case.note) if part) + "." if case.name else case.note
    )
    stated = " and ".join(f"{word} {FIELDS[path].text(float(value))}" for path, word, value in _loads(case))
    section.say(f"Given: {fixed_words(case, ())}. The case itself states {stated}.")
    ranges = " and ".join(f"{word} {low} to {high}" for word, low, high in _ranges(asked))
    section.say(
        f"Asked: the setting, over {ranges}, that keeps every limit of the table below with least load, how far it may drift, "
        "what fails first, and what it means for blade and roll. All numbers are answers of equations to the inputs listed "
        "below, not measurements on a press."
    )


def _loads(case: Case) -> Iterator[tuple[str, str, Any]]:
    for path, word in (
        (ANGLE, "set angle"),
        (LOAD, "line load"),
        ("setting.interference", "holder advance past touch"),
        ("setting.actuator.air_pressure", "air pressure"),
        ("setting.actuator.advance", "advance of the screw"),
    ):
        if (value := case.get(path)) is not None:
            yield path, word, value


def _ranges(asked: Asked) -> Iterator[tuple[str, str, str]]:
    for path, values in asked.fields.items():
        shop = FIELDS[path]
        low, high = (f"{shop.display(end):.4g} {shop.display_unit}" for end in (values.min(), values.max()))
        yield path.rpartition(".")[2].replace("_", " "), low, high


def setting(asked: Asked, found: Found, section: Section) -> None:
    """The recommended setting and the window's card."""
    held: dict[str, Any] = {"angle_tolerance": ANGLE_HELD, "load_tolerance": LOAD_HELD}
    both = two_maps(asked.case, asked.swept(), asked.limits, threads=asked.threads, **held)
    window = replace(
        both.window,
        grid=both.everywhere,
        job=Job(asked.case.replace({"tip.bedding": "here"}), asked.fields, asked.limits, held, threads=asked.threads),
    )
    both = replace(both, window=window)
    found.place = both.bedded
    found.where = "the recommended setting" if window.exists else "the nearest setting, which is NOT inside every limit"
    found.results |= {"maps": both, "window": window}
    _grids_unsolved(both, section)
    point = solve(both.bedded, on_failure="flag")
    found.results["point"] = point
    if not point.convergence.ok:
        section.unsolved.append(f"the state at {found.where}: {point.convergence}")
    drifts, speed = (_drifts(asked, found, point, section)) if window.exists and point.convergence.ok else (None, None)
    words = advice(both, drifts, speed)
    found.results["advice"] = words
    section.say(words[0], "key" if window.exists else "warning")
    section.say(_reading(both.bedded, point), "key")
    section.say(" ".join(words[1:-1]))
    section.say("" if drifts is None else _touchy(both.bedded, drifts), "warning")
    section.say(f"{STOPPED} {RULES} See Cautions.", "warning")
    card = window.card()
    found.results["card"] = card
    section.say(card.paragraph)
    captions = (
        ("How far each may drift, the blade run in at every place, and what fails first", "There, beside its limits")
        if window.exists
        else ("Where each limit holds on its own", "The nearest changes that open a window")
    )
    for caption, table in zip(captions, card.tables, strict=False):
        section.table(caption, table.head, table.rows)
    if not window.exists:
        section.table(
            "At the nearest setting",
            ("limit", "is", "used there"),
            [(WORDS.get(n, n), window.limits[n], f"{100.0 * r:.3g} %") for n, r in both.nearest.ratios.items()],
        )
    section.table(
        "Limits and why they are there",
        ("limit on", "is", "because"),
        [(WORDS.get(n, n.replace("_", " ")), text, asked.reasons[n]) for n, text in window.limits.items()],
    )


def _drifts(asked: Asked, found: Found, point: OperatingPoint, section: Section) -> tuple[Any, Any]:
    sides = drift(point.case, asked.limits)
    found.results["drift"] = sides
    name = next((n for n in SPEED_LIMITS if n in asked.limits and not isinstance(asked.limits[n], tuple | list)), None)
    if name is None:
        return sides, None
    excess = film_limit(asked.limits[name], name, point)
    speed = speed_limit(point.case, excess, on_failure="flag")
    if not speed.convergence.ok:
        section.unsolved.append(f"the speeds at which the limit is passed: {speed.convergence}")
        return sides, None
    found.results["speed"] = speed
    return sides, speed


def film_limit(limit: Any, name: str, point: OperatingPoint) -> float:
    """A limit on a film at a point [m], where it is stated as a share too."""
    if isinstance(limit, str) and limit.strip().endswith("%"):
        return si(limit, "1", name) * point.ink_carried
    return si(limit, "m", name)


def _touchy(place: Case, drifts: dict[str, Side]) -> str:
    """A setting that is good anywhere within its tolerances once run in, but not on the way there."""
    holding = {"angle": (ANGLE, si(ANGLE_HELD, "rad", "")), "load": (LOAD, LOAD_HELD * float(place[LOAD]))}
    short = []
    for name, side in drifts.items():
        path, held = holding[name.partition("_")[0]]
        if not abs(side.value - float(place[path])) >= held:
            short.append(SIDE_WORDS[name])
    if not short:
        return ""
    return (
        f"Until the blade has run in anew, a drift of less than its holding tolerance ({ANGLE_HELD}, {100 * LOAD_HELD:g} %) passes "
        f"a limit: {', '.join(short)}. The margins in the table below are those of a blade that has run in at every place."
    )


def _reading(case: Case, point: OperatingPoint) -> str:
    """In the pressroom's own units, where the case says how the blade is pressed."""
    actuator = actuator_of(case)
    if actuator is None or not point.convergence.ok:
        return ""
    reading = actuator.reading
    load = point.line_load if reading.load == LOAD else point.interference
    value = float(actuator.readings([load])[0])
    words = reading.text(value) if np.isfinite(value) else "none gives this load"
    return f"For that, {reading.long_name}: {words}."


def _grids_unsolved(both: TwoMaps, section: Section) -> None:
    for grid, words in ((both.everywhere, "run in everywhere"), (both.once, "run in once")):
        status = grid["status"].values
        for code in np.unique(status):
            word = list(STATUSES)[int(code)]
            if word != "converged":
                many = int((status == code).sum())
                section.unsolved.append(f"{many} of {status.size} points, {words}: {word.replace('_', ' ')}")


def maps(_asked: Asked, found: Found, section: Section) -> None:
    """Pictures of the maps and of the nip at the setting."""
    both, point = found.results["maps"], found.results["point"]
    if "excess_after_step" in both.everywhere:
        axes = plot_maps(both.everywhere, both.once, window=both.window, mark=both.mark)
        words = describe_maps(both.everywhere, both.once, both.window)
    else:
        axes = plot_map(both.everywhere, window=both.window, mark=both.mark)
        words = describe_map(both.everywhere, window=both.window)
    section.picture(axes, words, words)
    if point.convergence.ok:
        words = describe_section(point)
        section.picture(plot_section(point), words, words)
    else:
        section.say("No section is drawn, since the state at the setting did not converge.")
