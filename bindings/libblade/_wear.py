"""Wear of the blade along the sliding distance: facet, film and load from its first metre to the end of its life."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import NotSolved, one_of, refuse
from libblade._lazy import lazy
from libblade._point import STATUSES, Convergence, _Same
from libblade._progress import Progress, reporting
from libblade._schedule import Schedule, StepCases, schedule_of
from libblade._schema import path_of
from libblade._units import Floats, gather, positive, si
from libblade._wear_data import Job, story_dataset
from libblade._wear_file import Run, check_target, description, read_run, write_run

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

SAVE_STEPS, SAVE_SECONDS = 500, 5.0  # of the integrator, of the clock: what a crash can cost

ENDS = {
    "facet_limit": "the facet limit",
    "length_limit": "the limit of length lost",
    "excess_limit": "the limit of excess ink",
    "thin_tip_used_up": "the thin tip is used up",
}


class WearEvent(NamedTuple):
    """Something happened to the blade."""

    kind: str
    """"fully_worn", "branch_jump"; these end the history: "facet_limit", "length_limit", "excess_limit", "thin_tip_used_up"."""
    distance: float
    """[m]."""
    time: float
    """[s]."""
    step: int
    """Of the schedule, from 0."""
    sentence: str
    """In words."""


@dataclass(frozen=True, eq=False)
class BladeLife(_Same):
    """How long the blade lasted."""

    distance: float
    """Of roll surface past the blade, which is the web's length [m]; NaN when it never began."""
    hours: float
    """[h]; NaN when it never began."""
    ended_by: str
    """In words: a limit, the end of the schedule, or why there is no answer beyond."""
    limit: str | None
    """Kind of the event that ended it; None: none did, and the blade may last longer."""

    def __str__(self) -> str:
        return f"{1e-3 * self.distance:.4g} km of web, {self.hours:.3g} h: {self.ended_by}"


@dataclass(frozen=True, eq=False)
class WornProfile(_Same):
    """The worn surface at the end, (n,) each; empty in the facet tier."""

    place: Floats
    """Along the facet from its upstream end [m]."""
    height: Floats
    """Over its chord, into the metal; 0 at the lowest place [m]."""


@dataclass(frozen=True, eq=False, repr=False)
class WearHistory(_Same):
    """A blade's life: ``dataset`` against the sliding distance, ``events``, ``life``."""

    dataset: xr.Dataset
    """One entry for each accepted step of the integrator, against ``distance`` [m]; the first of a step of the schedule repeats
    the distance. SI with ``units``, ``long_name`` and ``display_units``."""
    events: tuple[WearEvent, ...]
    """In order."""
    life: BladeLife
    profile: WornProfile
    """Of the profile tier, at the end."""
    convergence: Convergence
    """Not converged: the history ends where it could not go on. ``residual``: largest error of a step over the tolerance."""
    case: Case
    schedule: Schedule
    steps_rejected: int = 0
    nip_solves: int = field(default=0, compare=False)
    """More when the history was stored or resumed on its way."""

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, WearHistory):
            return NotImplemented
        mine, others = vars(self) | {"nip_solves": 0}, vars(other) | {"nip_solves": 0}
        same = mine.pop("dataset").identical(others.pop("dataset"))
        return bool(same) and mine == others

    __hash__ = None

    def __repr__(self) -> str:
        events = f"{len(self.events)} event{'' if len(self.events) == 1 else 's'}"
        return f"{self.convergence}: {self.life}; {self.dataset.distance.size} entries, {events}"


def wear(
    case: Case,
    schedule: Any,
    *,
    tier: str = "facet",
    facet_limit: Any = None,
    length_limit: Any = None,
    excess_limit: Any = None,
    first_facet: Any = 5e-6,
    tolerance: float = 1e-6,
    longest_step: Any = 0.0,
    start: str = "resting",
    mesh: int = 1,
    max_steps: int = 20000,
    constant_friction: bool = False,
    sliver_fraction: Any = 0.01,
    progress: Progress = False,
    save: str | os.PathLike[str] | None = None,
    resume: str | os.PathLike[str] | None = None,
    on_failure: str = "raise",
) -> WearHistory:
    """Wears a case's blade through a schedule, from its facet as bedded or from a square edge.

    Archard, point by point on the facet and on touching lands only: the surface recedes by k_b p_a per sliding distance (1953, J.
    Appl. Phys. 24:981), k_b = ``blade.specific_wear``. The blade remembers where it stands: it stays on its branch while there is
    one and jumps where that folds; under ``roll.run_out`` or a ripple it is followed round a turn, and films are means over it.
    ``schedule`` is a ``Schedule``, a list of steps or one distance (``"300 km"``).

    ``tier`` "facet" keeps the facet straight, "profile" wears its surface point by point (two or three times slower).
    ``facet_limit``, ``length_limit`` (blade length lost) and ``excess_limit`` (mean over a turn) are lengths that end the life;
    ``first_facet`` is where a square edge begins [m]; ``tolerance`` of a step, 1e-8 to 0.1; ``longest_step`` [m], 0: free;
    ``max_steps`` tried. ``start`` and ``mesh`` as in ``solve``. ``constant_friction`` holds T = friction x N whatever carries N.

    The dataset's ``sliver_volume`` is ``sliver_fraction`` (assumed) of the worn volume times the feather's relative index, as in
    ``sliver_source``; ``land_loss`` that of the ceramic under this blade, k_c N_a / (land fraction) per revolution, its engraving
    taken to stay as it is.

    ``save`` is a file that gets what there is at the end of each step of the schedule and every few seconds, whole or not at all;
    ``resume`` goes on from such a file of the same case, schedule and options to the same bits. ``progress`` is True or a function
    of (metres done, metres in all). Ctrl-C ends it between two steps.

    Raises InvalidInput naming step, field, value and what is allowed; NotSolved when the history cannot go on (its ``result`` is
    what there is; ``on_failure="flag"`` returns it).
    """
    require_case(case)
    one_of("tier", tier, ("facet", "profile"))
    one_of("start", start, ("resting", "riding"))
    one_of("on_failure", on_failure, ("raise", "flag"))
    plan = schedule_of(schedule)
    limits = {"facet_limit": facet_limit, "length_limit": length_limit, "excess_limit": excess_limit}
    options: dict[str, Any] = {
        "profile": tier == "profile",
        **{name: None if value is None else positive(value, "m", name) for name, value in limits.items()},
        "first_facet": positive(first_facet, "m", "first_facet"),
        "tolerance": si(tolerance, "1", "tolerance"),
        "longest_step": si(longest_step, "m", "longest_step"),
        "riding": start == "riding",
        "mesh": mesh,
        "constant_friction": constant_friction,
        "max_steps": max_steps,
    }
    _check_options(options)
    fraction = si(sliver_fraction, "1", "sliver_fraction")
    if not 0.0 <= fraction <= 1.0:
        raise refuse("sliver_fraction", sliver_fraction, "must be between 0 and 1")
    job = Job(case, plan, StepCases.of(case, plan, 2), options, fraction)
    run = _run(job, progress, save, resume)
    story = _story(job, run)
    if not story.convergence.ok and on_failure == "raise":
        raise NotSolved(str(story.convergence), story)
    return story


def _check_options(options: dict[str, Any]) -> None:
    problems = []
    if options["mesh"] not in (0, 1, 2) or isinstance(options["mesh"], bool):
        problems.append(("mesh", repr(options["mesh"]), "must be 0, 1 or 2"))
    steps = options["max_steps"]
    if isinstance(steps, bool) or not isinstance(steps, int) or steps < 1:
        problems.append(("max_steps", repr(steps), "must be a whole number of at least 1"))
    if not isinstance(options["constant_friction"], bool):
        problems.append(("constant_friction", repr(options["constant_friction"]), "must be True or False"))
    gather(problems)


def _run(job: Job, progress: Progress, save: Any, resume: Any) -> Run:
    """The core's work, in one stretch or, to be stored, in several with the same bits."""
    told = description(job.case, job.plan, job.options)
    target = None if save is None else path_of(save, "save")
    run = Run() if resume is None else read_run(path_of(resume, "resume"), told)
    if target is not None:
        check_target(target)
    if run.convergence[0] == "max_iterations" and run.tried < job.options["max_steps"]:
        run.paused = True  # as many steps more as are now allowed
    most = (0, 0.0) if target is None else (SAVE_STEPS, SAVE_SECONDS)
    with reporting(progress, "m") as report:
        while run.paused:
            options = _core.WearOptions(**{**job.options, "max_steps": job.options["max_steps"] - run.tried})
            part, error = _core.wear(job.case._core, job.plan._core(), options, run.state, report, *most)
            run.add(part)
            if target is not None:
                write_run(target, run, told)
            if error is not None:
                raise error
    return run


def _story(job: Job, run: Run) -> WearHistory:
    convergence = Convergence(*run.convergence)
    events = tuple(
        WearEvent(kind, distance, time, step, _sentence(job, run, kind, distance, time))
        for kind, distance, time, step, _ in run.events
    )
    ended = next((kind for kind, *_, ends in run.events[::-1] if ends), None)
    if not convergence.ok:
        words = f"no answer beyond: {convergence.message or STATUSES.get(convergence.status, '')}"
    else:
        words = ENDS[ended] if ended else "the end of the schedule"
    last = [float(run.columns[name][-1]) if run.columns[name].size else math.nan for name in ("distance", "time")]
    life = BladeLife(last[0], last[1] / 3600.0, words, ended)
    about = {"status": convergence.status, "reason": convergence.message, "ended_by": words}
    data = story_dataset(job, run.columns, about)
    profile = WornProfile(*run.profile)
    return WearHistory(data, events, life, profile, convergence, job.case, job.plan, run.steps_rejected, run.nip_solves)


def _sentence(job: Job, run: Run, kind: str, distance: float, time: float) -> str:
    columns, options = run.columns, job.options
    place = f"After {1e-3 * distance:.4g} km ({time / 3600.0:.3g} h)"
    if kind == "branch_jump":
        at = int(np.searchsorted(columns["distance"], distance))
        film = columns["film_on_lands"] * 1e6
        jump = f"{film[max(at - 1, 0)]:.2g} to {film[at]:.2g} \N{MICRO SIGN}m"
        return f"{place} the nip has no state left near where it stood: the ink on the lands jumps from {jump}."
    words = {
        "fully_worn": "the facet has eaten the whole cut face: from here on the blade gets shorter",
        "facet_limit": f"the facet is {1e3 * (options['facet_limit'] or 0.0):.4g} mm long, its limit",
        "length_limit": f"the blade is {1e3 * (options['length_limit'] or 0.0):.4g} mm shorter, its limit",
        "excess_limit": f"the excess ink is {1e6 * (options['excess_limit'] or 0.0):.3g} \N{MICRO SIGN}m, its limit",
        "thin_tip_used_up": "the step behind the thin tip has come down to the roll",
    }
    return f"{place} {words[kind]}."
