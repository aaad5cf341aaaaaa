"""A report of a case for whoever is to run it: one HTML file, which prints too."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from libblade._advice import ANGLE, LOAD
from libblade._case import Case, require_case
from libblade._errors import refuse
from libblade._fields import FIELDS
from libblade._particles import InkLoop, particles_of
from libblade._plots import _pyplot
from libblade._point import OUTPUTS, solve
from libblade._progress import Progress, reporting
from libblade._report_blocks import Section, page, templates
from libblade._report_inputs import cautions, inputs, left_out, made_with, unsolved, validity
from libblade._report_outlook import life as life_part
from libblade._report_outlook import score, sure
from libblade._report_parts import Asked, Found, job, maps, setting
from libblade._samples import check_samples, generator
from libblade._schema import path_of, write_whole
from libblade._sweep import FLAGS, sweep
from libblade._units import Floats, field_values, resolve
from libblade._window import process_window

LIMITS: dict[str, Any] = {
    "film_on_lands": "6 %",
    "excess_after_step": "12 %",
    "mean_pressure": "0.5 MPa",
    "stress_ratio": "50 %",
    "regime": ("wiping", "mixed", "riding"),
}
REASONS = {
    "film_on_lands": "lands wiped clean once the blade has run in: an assumption, state your own",
    "excess_after_step": "the drift changes a solid by no more than about 0.07 of density: an assumption, state your own",
    "mean_pressure": "spares the edge and narrow walls: an assumption, state your own",
    "stress_ratio": "bending far from yield",
    "regime": "the whole facet carries, not its heel alone: riding is judged by the ink it leaves",
}
REACH = np.radians(6.0)
LOADS = (0.4, 2.2)  # times the case's load
LIFE: dict[str, Any] = {"schedule": "2000 km", "length_limit": "0.5 mm", "max_steps": 150}
PARTS: dict[str, tuple[str, Callable[[Asked, Found, Section], None]]] = {
    "maps": ("Maps and section", maps),
    "life": ("Life of the blade", life_part),
    "scoring": ("Scoring of the roll", score),
    "uncertainty": ("How sure this is", sure),
}
_CLOSING: dict[str, tuple[str, Callable[[Asked, Found, Section], None]]] = {
    "inputs": ("Inputs", inputs),
    "validity": ("Validity", validity),
    "left_out": ("What was not modelled", left_out),
    "unsolved": ("What did not converge", unsolved),
    "cautions": ("Cautions", cautions),
    "made_with": ("How this was made", made_with),
}


@dataclass(frozen=True)
class Report:
    """A report: its page, and the results whose numbers stand there."""

    title: str
    html: str = field(repr=False)
    """One HTML file that needs nothing else."""
    results: dict[str, Any] = field(repr=False)
    """By name, as far as solved: "maps" TwoMaps, "window" ProcessWindow, "card" Card, "point" OperatingPoint (at the setting),
    "advice" sentences, "drift", "speed", "life" WearHistory, "scoring" ScoringRisk, "uncertainty" Uncertainty."""
    failed: dict[str, str]
    """What could not be made, by section, and why."""
    unsolved: tuple[str, ...]
    """What did not converge, in words."""

    @property
    def answer(self) -> str:
        """The setting in a sentence; without a window the nearest one and why it is not inside."""
        return str(self.results.get("advice", ["No setting was found."])[0])

    @property
    def complete(self) -> bool:
        """Whether all of it was made and solved."""
        return not self.failed and not self.unsolved

    def save(self, path: str | os.PathLike[str]) -> None:
        """Writes the page wholly or not at all. Raises InvalidInput when it cannot."""
        write_whole(path_of(path, "path"), self.html.encode("utf-8"), "path")


def report(
    case: Case,
    *,
    limits: Mapping[str, Any] | None = None,
    reasons: Mapping[str, str] | None = None,
    fields: Mapping[str, Any] | None = None,
    side: int = 25,
    parts: Sequence[str] = tuple(PARTS),
    life: Mapping[str, Any] | None = None,
    particles: Any = None,
    loop: InkLoop | None = None,
    samples: int = 128,
    seed: int = 0,
    title: str | None = None,
    date: str | None = None,
    threads: int = 0,
    progress: Progress = False,
) -> Report:
    """Recommended setting, window, maps, life, scoring and certainty of a case, with its inputs, limits and cautions, as a page.

    ``limits`` are as for ``two_maps`` (largest values; by default those of the demonstration, each an assumption), ``reasons``
    map them to why. ``fields`` maps set angle, line load or both to their values, by default ``side`` values each (3 to 200) over
    6 deg down and up and 0.4 to 2.2 times the load. ``parts`` of "maps", "life", "scoring", "uncertainty". ``life`` are the
    arguments of ``add_life`` (by default half a millimetre of blade, 2000 km at most); ``particles`` and ``loop`` those of
    ``scoring`` (by default the examples, whose numbers are invented: the page says so). ``samples`` (a power of two) of
    ``usual_spread``, drawn with ``seed``. ``title`` and ``date`` stand on every printed page (by default the case's name and
    today). ``progress`` is True or a function of (parts done, parts in all).

    A part that fails or does not converge says so on the page and leaves the others as they are. The page is UTF-8, holds its
    figures (SVG) and fetches nothing.

    Needs Jinja2 and matplotlib, and SciPy for "uncertainty": pip install "libblade[report]". Raises InvalidInput on bad values,
    before anything is solved at length.
    """
    require_case(case)
    templates()
    _pyplot()
    asked = Asked(
        case=case,
        fields=_axes(case, fields, side),
        limits=dict(LIMITS if limits is None else limits),
        reasons=_reasons(limits, reasons),
        life=dict(LIFE if life is None else life),
        particles=None if particles is None else particles_of(particles),
        loop=loop,
        samples=samples,
        seed=seed,
        threads=threads,
    )
    chosen = _chosen(parts)
    _check(asked)
    found = Found(case)
    steps = {"job": ("The job", job), "setting": ("Setting", setting)}
    steps |= {name: PARTS[name] for name in chosen} | _CLOSING
    sections = []
    with reporting(progress, "parts") as told:
        for done, (name, (heading, write)) in enumerate(steps.items()):
            if told is not None:
                told(done, len(steps))
            section = Section(name, heading)
            _write(write, asked, found, section)
            sections.append(section)
        if told is not None:
            told(len(steps), len(steps))
    words = title if title is not None else f"{case.name or 'Doctor blade'}: blade setting"
    day = date if date is not None else dt.date.today().isoformat()
    html = page(words, day, sections)
    return Report(words, html, found.results, found.failed, tuple(found.unsolved))


def _write(write: Callable[[Asked, Found, Section], None], asked: Asked, found: Found, section: Section) -> None:
    """Whatever goes wrong in one part, the others are still worth having."""
    try:
        write(asked, found, section)
    except Exception as error:
        words = f"{error}".strip() or type(error).__name__
        found.failed[section.name] = words
        section.say(f"This part could not be made: {words}", "warning")
    found.unsolved += [f"{section.title}: {words}" for words in section.unsolved]
    for words in section.unsolved:
        section.say(f"Not converged: {words}", "warning")


def _axes(case: Case, fields: Mapping[str, Any] | None, side: int) -> dict[str, Floats]:
    """Set angle and line load of the map [SI]."""
    if isinstance(side, bool) or not isinstance(side, int) or not 3 <= side <= 200:
        raise refuse("side", side, "must be a whole number from 3 to 200")
    out: dict[str, Floats] = {}
    for given, numbers in ({} if fields is None else dict(fields)).items():
        found, unit = resolve(given)
        if found.path not in (ANGLE, LOAD) or found.path in out:
            raise refuse("fields", given, f"must be {ANGLE} or {LOAD}, each once")
        out[found.path] = np.unique(field_values(numbers, found, unit, given))
        if out[found.path].size < 2:
            raise refuse(given, numbers, "must hold two values or more")
    if ANGLE not in out:
        angle, (low, high) = float(case[ANGLE]), FIELDS[ANGLE].usual_range
        ends = max(angle - REACH, min(low, angle)), min(angle + REACH, max(high, angle))
        out[ANGLE] = np.linspace(*ends, side)
    if LOAD not in out:
        load = case.get(LOAD)
        if load is None:
            load = solve(case, step_response=False, other_branch=False).line_load
        out[LOAD] = np.linspace(LOADS[0] * load, LOADS[1] * load, side)
    return {path: out[path] for path in (ANGLE, LOAD)}


def _reasons(limits: Mapping[str, Any] | None, reasons: Mapping[str, str] | None) -> dict[str, str]:
    names = LIMITS if limits is None else limits
    if not isinstance(names, Mapping) or not names:
        raise refuse("limits", names, "must map at least one output to its limit")
    for name in reasons or {}:
        if name not in names:
            raise refuse("reasons", name, "must name one of the limits: " + ", ".join(map(str, names)))
    given = {} if limits is not None else REASONS
    return dict.fromkeys(names, "no reason was given") | given | dict(reasons or {})


def _chosen(parts: Sequence[str]) -> list[str]:
    if isinstance(parts, str) or any(name not in PARTS for name in parts):
        raise refuse("parts", parts, "must be several of " + ", ".join(PARTS))
    return [name for name in PARTS if name in parts]


def _check(asked: Asked) -> None:
    """Names and limits, on the corners of the map: later a part would only say that it failed."""
    names = [*dict.fromkeys(["ink_carried", *(n for n in asked.limits if n in OUTPUTS or n in FLAGS)])]
    here = asked.case.replace({"tip.bedding": "here"})
    process_window(sweep(here, asked.swept([0, -1]), outputs=names, threads=asked.threads), asked.limits)
    check_samples(asked.samples, power=True)
    generator(asked.seed)
