"""What would score less: each lever pulled on its own and solved anew, with what it costs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from libblade import _core
from libblade._case import LOADS, Case
from libblade._errors import InvalidInput, NotSolved, one_of, refuse
from libblade._fields import FIELDS
from libblade._particles import Filter, InkLoop, Magnet, Particles
from libblade._point import _Same
from libblade._progress import Progress, reporting
from libblade._scoring import CENTURY, Job, ScoringRisk, check_threads, job_of, nip_options, risk_at
from libblade._scoring_fields import by_name, changed
from libblade._units import gather

SOFT = 1e9  # [Pa]: no mineral is as soft


@dataclass(frozen=True, eq=False, repr=False)
class Lever(_Same):
    """One change, alone, with the nip solved anew. Ratios are NaN where it did not solve or nothing scored before."""

    name: str
    words: str
    """What was changed."""
    changes: dict[str, Any]
    score_ratio: float
    """Score rate over that without the change [-]."""
    chip_ratio: float
    """Likewise of chipped walls [-]."""
    risk: ScoringRisk
    before: ScoringRisk

    def __repr__(self) -> str:
        def ratio(value: float) -> str:
            return "        -" if math.isnan(value) else f"x {value:7.3g}"

        a, b = self.before, self.risk
        if not b.convergence.ok:
            return f"{self.words}: {b.convergence}"
        costs = [
            f"ink on the lands {1e6 * a.film_on_lands:.2g} to {1e6 * b.film_on_lands:.2g} um",
            f"excess {1e6 * a.excess_ink:.2g} to {1e6 * b.excess_ink:.2g} um",
            f"wear {1e9 * a.wear_rate:.2g} to {1e9 * b.wear_rate:.2g} mm/1000 km",
        ]
        if a.regime != b.regime:
            costs.append(f"{a.regime} to {b.regime}".replace("_", " "))
        same = (a.film_on_lands, a.excess_ink, a.wear_rate) == (b.film_on_lands, b.excess_ink, b.wear_rate)
        told = "the nip stays as it is" if same else ", ".join(costs)
        return f"scores {ratio(self.score_ratio)}, chips {ratio(self.chip_ratio)}  {self.words}; {told}"


@dataclass(frozen=True, eq=False, repr=False)
class ScoringLevers(_Same):
    """Levers, the one that scores least first; those that do not solve come last."""

    before: ScoringRisk
    levers: tuple[Lever, ...]

    def __iter__(self) -> Iterator[Lever]:
        return iter(self.levers)

    def __len__(self) -> int:
        return len(self.levers)

    def __getitem__(self, name: str) -> Lever:
        for lever in self.levers:
            if lever.name == name:
                return lever
        raise KeyError(name)

    def to_dict(self) -> dict[str, Any]:
        """Plain values, SI."""
        return {
            "before": self.before.to_dict(),
            "levers": [
                {
                    "name": lever.name,
                    "words": lever.words,
                    "score_ratio": lever.score_ratio,
                    "chip_ratio": lever.chip_ratio,
                    **{
                        name: getattr(lever.risk, name)
                        for name in ("film_on_lands", "excess_ink", "wear_rate", "regime")
                    },
                    "status": lever.risk.convergence.status,
                    "rates": dict(lever.risk.total),
                }
                for lever in self.levers
            ],
        }

    def __repr__(self) -> str:
        now = repr(self.before.total) if self.before.convergence.ok else str(self.before.convergence)
        return "\n".join([f"as it is: {now}", *(f"  {lever!r}" for lever in self.levers)])


def scoring_levers(
    case: Case,
    particles: Any,
    loop: InkLoop | None = None,
    levers: Mapping[str, Mapping[str, Any]] | None = None,
    *,
    threads: int = 0,
    progress: Progress = False,
    on_failure: str = "raise",
    start: str = "resting",
    mesh: int = 1,
    **options: Any,
) -> ScoringLevers:
    """What each of some changes would do to the scores, ranked by solving every one anew; the numbers decide the order.

    ``levers`` maps names to changes, ``{"calmer": {"setting.surface_speed": "200 m/min", "loop.filter.size": "25 um"}}``:
    fields of the case as ``Case.replace`` takes them, ``particles.NAME.FIELD``, ``loop.FIELD``, ``loop.filter`` and
    ``loop.magnet`` (a Filter or Magnet, or None) and options of ``scoring``. By default: set angle 2 deg lower and higher, 20 %
    more and less load (or interference or actuator), 20 % slower, half the facet, the blade run in at this setting where it was
    bedded elsewhere and pressed 20 % harder before it has run in where it is bedded here, a filter of half the size (or a first
    one of 50 um), no bypass, a magnet fitted or removed, a tenth of each class. ``options`` are those of ``scoring``.

    Raises InvalidInput on bad changes, naming the lever; NotSolved when the case itself does not solve (a lever that does not
    is told with its status).
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    job = job_of(case, particles, loop, options)
    check_threads(threads)
    nip = nip_options(start, mesh)
    first = _solved([job], nip, 1, None)[0]
    if not first.convergence.ok and on_failure == "raise":
        raise NotSolved(str(first.convergence), first)
    pulled = _default_levers(job, first) if levers is None else _own_levers(levers)
    jobs: list[Job] = []
    problems: list[tuple[str, str, str]] = []
    for name, (_, changes) in pulled.items():
        try:
            jobs.append(changed(job, changes))
        except InvalidInput as error:
            problems += [(f"levers.{name}.{p.path}", p.value, p.message) for p in error.problems]
    gather(problems)
    with reporting(progress, "lever") as report:
        risks = _solved(jobs, nip, threads, report)
    out = [
        Lever(
            name,
            words,
            dict(changes),
            _ratio(risk.total["scores"], first.total["scores"]),
            _ratio(risk.total["chips"], first.total["chips"]),
            risk,
            first,
        )
        for (name, (words, changes)), risk in zip(pulled.items(), risks, strict=True)
    ]
    return ScoringLevers(first, tuple(sorted(out, key=_rank)))


def _solved(jobs: list[Job], nip: _core.NipOptions, threads: int, report: Any) -> list[ScoringRisk]:
    try:
        columns, error = _core.scoring([job.core() for job in jobs], nip, threads, report)
    except InvalidInput as bad:
        raise by_name(bad, jobs[0].particles) from None
    if error is not None:
        raise error
    return [risk_at(columns, i, job) for i, job in enumerate(jobs)]


def _ratio(after: float, before: float) -> float:
    return after / before if before * CENTURY * 1e6 > 1.0 else math.nan


def _rank(lever: Lever) -> tuple[float, float]:
    """By scores, then by chips; what is not solved last."""

    def value(rate: float) -> float:
        return math.inf if math.isnan(rate) else rate

    total = lever.risk.total
    return value(total["scores"]), value(total["chips"])


def _own_levers(levers: Any) -> dict[str, tuple[str, Mapping[str, Any]]]:
    if not isinstance(levers, Mapping) or not levers:
        raise refuse("levers", levers, "must map names to changes")
    for name, changes in levers.items():
        if not isinstance(changes, Mapping) or not changes:
            raise refuse(f"levers.{name}", changes, "must map paths to values")
    return {str(name): (str(name), changes) for name, changes in levers.items()}


def _default_levers(job: Job, now: ScoringRisk) -> dict[str, tuple[str, Mapping[str, Any]]]:
    return {**_setting_levers(job, now), **_loop_levers(job.loop), **_class_levers(job.particles)}


def _setting_levers(job: Job, now: ScoringRisk) -> dict[str, tuple[str, Mapping[str, Any]]]:
    case = job.case
    here = case.get("tip.bedding") == "here"
    facet = case["tip.kind"] == "facet"
    how = (", and run in there" if here else ", without re-bedding") if facet else ""
    angle, limit = float(case["setting.set_angle"]), FIELDS["setting.set_angle"].hard_range
    out: dict[str, tuple[str, Mapping[str, Any]]] = {}
    for name, step in (("angle down", -2.0), ("angle up", 2.0)):
        to = angle + float(np.radians(step))
        if limit[0] <= to <= limit[1]:
            out[name] = (f"set angle {step:+.0f} deg{how}", {"setting.set_angle": f"{to!r} rad"})
    path = next((p for p in (*LOADS[2:], *LOADS[:2]) if case.get(p)), None)
    if path is not None:
        value = float(case[path])
        word = (
            FIELDS[path].meaning.partition(";")[0]
            if path not in LOADS[:2]
            else path.rpartition(".")[2].replace("_", " ")
        )
        for name, factor in (("load down", 0.8), ("load up", 1.2)):
            out[name] = (f"{word} {100 * (factor - 1):+.0f} %{how}", {path: value * factor})
    speed = float(case["setting.surface_speed"])
    out["slower"] = ("20 % slower" + (how if here else ""), {"setting.surface_speed": 0.8 * speed})
    if not facet or not now.convergence.ok:
        return out
    length = case.get("tip.facet_length")
    half = 0.5 * (float(length) if isinstance(length, float) else _worn_length(case))
    out["fresh blade"] = (
        "half the facet: a fresher blade, run in",
        {"tip.facet_length": half, "tip.bedding": "here"},
    )
    if not here:
        out["run in"] = ("the blade run in at this setting", {"tip.bedding": "here"})
    elif path is not None:
        there = {
            "tip.bedding": "elsewhere",
            "tip.bedded_set_angle": f"{angle!r} rad",
            "tip.bedded_line_load": now.mouth.line_load,
        }
        out["pressed harder"] = (f"{word} +20 %, before it has run in", {**there, path: 1.2 * value})
    return out


def _worn_length(case: Case) -> float:
    from libblade._point import solve  # noqa: PLC0415

    return float(solve(case, step_response=False, other_branch=False, run_out=False, on_failure="flag").facet_length)


def _loop_levers(loop: InkLoop) -> dict[str, tuple[str, Mapping[str, Any]]]:
    out: dict[str, tuple[str, Mapping[str, Any]]] = {}
    if loop.filter is None:
        out["filter"] = ("a first filter, 50 um", {"loop.filter": Filter("50 um")})
    else:
        half = 0.5 * loop.filter.size
        out["finer filter"] = (f"a filter of half the size, {1e6 * half:.3g} um", {"loop.filter.size": half})
        if loop.filter.bypass > 0.0:
            out["no bypass"] = ("nothing goes round the filter", {"loop.filter.bypass": 0.0})
    if loop.magnet is None:
        out["magnet"] = ("a magnet fitted", {"loop.magnet": Magnet()})
    else:
        out["no magnet"] = ("the magnet removed", {"loop.magnet": None})
    return out


def _class_levers(particles: tuple[Particles, ...]) -> dict[str, tuple[str, Mapping[str, Any]]]:
    out: dict[str, tuple[str, Mapping[str, Any]]] = {}
    for p in particles:
        sources = {
            f"particles.{p.name}.{word}": 0.1 * getattr(p, word)
            for word in ("fresh_number", "tank_rate", "chamber_rate", "worn_blade_share")
            if getattr(p, word) > 0.0
        }
        if sources:
            dries = p.ductile and p.hardness < SOFT
            hint = " (covered, nothing dries on)" if dries else ""
            out[f"fewer {p.name}"] = (f"a tenth of the {p.name}{hint}", sources)
    return out
