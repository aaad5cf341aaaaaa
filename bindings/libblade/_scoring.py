"""What particles do to blade and roll at one operating point: rates, sizes, the first score, and what is not known."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import InvalidInput, NotSolved, one_of, refuse
from libblade._particles import DEFAULTS, InkLoop, Particles, _Stated, particles_of
from libblade._point import REGIMES, STATUSES, Convergence, _Same
from libblade._progress import Progress, reporting
from libblade._units import Floats, gather, positive, si

NAMES: dict[str, list[str]] = _core.scoring_names()
OUTCOMES: tuple[str, ...] = tuple(NAMES["outcomes"])
OUTCOME_WORDS = {
    "offered": "arrive where the wedge is as high as they are",
    "passed": "pass in the film",
    "in_cell": "pass in a cell",
    "rejected": "go back with the ink",
    "held": "are held in front of the blade",
    "crumbled": "crumble",
    "smeared": "smear",
    "props": "prop the blade up: a streak of ink",
    "nicks": "notch the blade",
    "stays": "stay in the blade",
    "dents": "dent the roll",
    "scores": "score the roll",
    "chips": "chip a wall of the engraving",
}
DAMAGE = ("smeared", "props", "nicks", "stays", "dents", "scores", "chips")
CENTURY = 36525.0 * 86400.0  # [s]
OPTION_UNITS = {
    "face_width": "m",
    "run_time": "s",
    "hardness_ratio": "1",
    "edge_toughness": "N/m",
    "scratch_friction": "1",
    "narrowness": "1",
}
OPTIONS, R = DEFAULTS["options"], DEFAULTS["spread"]


@dataclass(frozen=True)
class RiskSpread(_Stated):
    """What is not known, one standard deviation each: SI numbers or texts with unit. 0, and 1 where it is a factor: known exactly.

    Assumed; state what is known of the press. A gauge that reads wrong did so when the blade was bedded elsewhere: that load and
    angle move along. Raises InvalidInput with every problem at once.
    """

    line_load: Any = R["line_load"]
    """Relative, a lognormal factor of the load; of the interference where that is set [-]."""
    set_angle: Any = f"{R['set_angle']!r} rad"
    """With its unit [rad]."""
    viscosity: Any = R["viscosity"]
    """A factor of all the ink's viscosities [-]."""
    number: Any = R["number"]
    """A factor of the particles that come, for each class on its own [-]."""
    friction: Any = R["friction"]
    """A factor of the classes' median frictions together [-]."""
    hardness: Any = R["hardness"]
    """A factor, for each class on its own [-]."""
    edge_toughness: Any = R["edge_toughness"]
    """A factor [-]."""
    hardness_ratio: Any = R["hardness_ratio"]
    """[-]."""

    _units: ClassVar[dict[str, str]] = {
        "line_load": "1",
        "set_angle": "rad",
        "viscosity": "1",
        "number": "1",
        "friction": "1",
        "hardness": "1",
        "edge_toughness": "1",
        "hardness_ratio": "1",
    }

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        self._read(problems)
        gather(problems)

    @classmethod
    def none(cls) -> RiskSpread:
        """Everything known exactly."""
        return cls(0.0, "0 rad", 1.0, 1.0, 1.0, 1.0, 1.0, 0.0)


class Rates(Mapping[str, float]):
    """How many particles a second, by what becomes of them: ``rates["scores"]`` [1/s]. Means over the run and the face."""

    def __init__(self, values: Floats, speed: float) -> None:
        self._values = dict(zip(OUTCOMES, (float(v) for v in values), strict=True))
        self._speed = speed

    def __getitem__(self, outcome: str) -> float:
        return self._values[outcome]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Rates) and repr(self._values) == repr(other._values) and self._speed == other._speed

    __hash__ = None  # type: ignore[assignment]

    @property
    def per_hour(self) -> dict[str, float]:
        """[1/h]."""
        return {name: 3600.0 * value for name, value in self._values.items()}

    @property
    def per_million_metres(self) -> dict[str, float]:
        """Per million metres of web (1000 km) [1e-6/m]."""
        return {name: 1e6 * value / self._speed for name, value in self._values.items()}

    def __repr__(self) -> str:
        """What leaves a mark, per hour, down to one in a century."""
        if math.isnan(self["offered"]):
            return "not known"
        told = [f"{name} {3600.0 * self[name]:.3g}" for name in DAMAGE if self[name] > 1.0 / CENTURY]
        return f"per hour: {', '.join(told) or 'no mark in a century'}"


@dataclass(frozen=True, eq=False, repr=False)
class ClassRisk(_Same):
    """What one class of particles does. NaN where none does it."""

    name: str
    rates: Rates
    """Means over the run [1/s]."""
    last: Rates
    """At its end [1/s]."""
    chamber_number: float
    """In the chamber's ink, mean over the run [1/m3]."""
    entry_size: float
    """Largest sphere that its median friction draws in; infinite where the face itself does [m]."""
    scoring_size: float
    """Median of those that score [m]."""
    groove_depth: float
    """Of a score, mean [m]."""
    groove_width: float
    """Of a score, mean [m]."""
    nick_width: float
    """Of a notch in the blade, mean [m]."""
    streak_width: float
    """Over which the blade stands off where a particle props it, mean [m]."""
    smeared_volume: float
    """Left on the roll by what smears [m3/s]."""

    @property
    def per_hour(self) -> dict[str, float]:
        """Rates by outcome [1/h]."""
        return self.rates.per_hour

    @property
    def per_million_metres(self) -> dict[str, float]:
        """Rates by outcome, per million metres of web."""
        return self.rates.per_million_metres

    def __repr__(self) -> str:
        text = f"{self.name}: entry to {1e6 * self.entry_size:.3g} um; {self.rates!r}"
        if math.isfinite(self.groove_depth):
            text += f"; scores {1e6 * self.groove_depth:.2g} um deep and {1e6 * self.groove_width:.2g} um wide"
        return text


@dataclass(frozen=True, eq=False)
class FirstScore(_Same):
    """Running time until the first score, by chance alone; infinite where none comes."""

    mean: float
    """[s]."""
    p10: float
    """By which it has come in one run of ten [s]."""
    p50: float
    """[s]."""
    p90: float
    """[s]."""

    def __str__(self) -> str:
        if not math.isfinite(self.p10):
            return "no score is to be expected" if self.p10 > 0.0 else "not known"
        return (
            f"first score after {hours(self.p50)} (half the runs; {hours(self.p10)} to {hours(self.p90)}: chance alone)"
        )


def hours(seconds: float) -> str:
    """ "3.2 h", "14 s": a time for people."""
    if not math.isfinite(seconds):
        return "never"
    for unit, length in (("years", 3600.0 * 8766.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= length:
            return f"{seconds / length:.3g} {unit}"
    return f"{seconds:.3g} s"


@dataclass(frozen=True, eq=False)
class Mouth(_Same):
    """The mouth of the nip and what closes it, of the operating point."""

    gap: float
    """Smallest [m]."""
    leading_gap: float
    """At the ink-side end of the facet [m]."""
    edge_radius: float
    """[m]."""
    facet_tilt: float
    """Positive: opens towards the incoming ink [rad]."""
    wedge_angle: float
    """Between the roll and the face of the tip that meets the ink [rad]."""
    film: float
    """h* = 2 q / U, twice the film on the lands [m]."""
    viscosity: float
    """In the film [Pa s]."""
    speed: float
    """Of the roll's surface [m/s]."""
    line_load: float
    """[N/m]."""
    stiffness: float
    """Of the blade as a plate [N m]."""
    blade_hardness: float
    """[Pa]."""
    roll_hardness: float
    """[Pa]."""
    wall_width: float
    """Of the engraving; infinite on a smooth roll [m]."""
    opening: float
    """Side of a square as large as a cell's [m]."""
    cell_depth: float
    """[m]."""
    open_fraction: float
    """[-]."""


@dataclass(frozen=True, eq=False)
class Band(_Same):
    """Values that a tenth, a half and nine tenths of the draws do not exceed."""

    p10: float
    p50: float
    p90: float

    @classmethod
    def of(cls, values: Floats) -> Band:
        """Smallest values that many draws do not exceed, so that infinite ones need no arithmetic."""
        ordered = np.sort(values[~np.isnan(values)])
        if not ordered.size:
            return cls(math.nan, math.nan, math.nan)
        return cls(*(float(ordered[math.ceil(share * ordered.size) - 1]) for share in (0.1, 0.5, 0.9)))


@dataclass(frozen=True, eq=False, repr=False)
class Uncertain(_Same):
    """Many draws of what is not known, each solved anew."""

    rates: dict[str, Band]
    """Of all particles, by outcome [1/s]."""
    first_score: Band
    """Inputs and chance together [s]; infinite: none."""
    expected_first: Band
    """Mean time to the first score: inputs alone [s]."""
    samples: int
    unsolved: float
    """Share of the draws whose nip did not solve; they are left out [-]."""
    seed: int
    spread: RiskSpread
    draws: Floats
    """Rates of every draw [1/s], (samples, outcomes); NaN: not solved."""
    first: Floats
    """First score of every draw [s], (samples,)."""

    def __repr__(self) -> str:
        s = self.rates["scores"]
        scores = " to ".join(f"{3600.0 * v:.2g}" for v in (s.p10, s.p90))
        lost = f"; {self.unsolved:.0%} did not solve" if self.unsolved > 0.0 else ""
        f = self.first_score
        return (
            f"{self.samples} draws (seed {self.seed}): scores {scores} per hour, middle {3600.0 * s.p50:.2g}; first score "
            f"after {hours(f.p10)} to {hours(f.p90)}, middle {hours(f.p50)}: inputs and chance{lost}"
        )


@dataclass(frozen=True, eq=False, repr=False)
class ScoringRisk(_Same):
    """What the particles do at one operating point. NaN when it is not solved."""

    classes: tuple[ClassRisk, ...]
    total: Rates
    """Of all classes, means over the run [1/s]."""
    first_score: FirstScore
    mouth: Mouth
    film_on_lands: float
    """[m]."""
    excess_ink: float
    """[m]."""
    wear_rate: float
    """Blade length worn per length of web [-]."""
    regime: str
    convergence: Convergence
    case: Case
    particles: tuple[Particles, ...]
    loop: InkLoop
    options: dict[str, Any]
    """Face width, run time, hardness ratio, edge toughness and the like, SI."""
    uncertain: Uncertain | None = None

    @property
    def per_hour(self) -> dict[str, float]:
        """Total rates by outcome [1/h]."""
        return self.total.per_hour

    @property
    def per_million_metres(self) -> dict[str, float]:
        """Total rates by outcome, per million metres of web."""
        return self.total.per_million_metres

    def __getitem__(self, name: str) -> ClassRisk:
        for one in self.classes:
            if one.name == name:
                return one
        raise KeyError(name)

    def to_dict(self) -> dict[str, Any]:
        """Plain values, SI."""
        out: dict[str, Any] = {
            "status": self.convergence.status,
            "reason": self.convergence.message,
            "rates": dict(self.total),
            "first_score": vars(self.first_score),
            "mouth": vars(self.mouth),
            "film_on_lands": self.film_on_lands,
            "excess_ink": self.excess_ink,
            "wear_rate": self.wear_rate,
            "regime": self.regime,
            "classes": [
                {k: dict(v) if isinstance(v, Rates) else v for k, v in vars(one).items()} for one in self.classes
            ],
            "options": self.options,
        }
        if self.uncertain is not None:
            u = self.uncertain
            out["uncertain"] = {
                "rates": {name: vars(band) for name, band in u.rates.items()},
                "first_score": vars(u.first_score),
                "expected_first": vars(u.expected_first),
                "samples": u.samples,
                "unsolved": u.unsolved,
                "seed": u.seed,
            }
        return out

    def __repr__(self) -> str:
        if not self.convergence.ok:
            return str(self.convergence)
        lines = [f"{self.first_score}; all particles {self.total!r}"]
        lines += [f"  {one!r}" for one in self.classes]
        return "\n".join(lines + ([f"  {self.uncertain!r}"] if self.uncertain else []))


def scoring(
    case: Case,
    particles: Any,
    loop: InkLoop | None = None,
    *,
    face_width: Any = OPTIONS["face_width"],
    run_time: Any = OPTIONS["run_time"],
    hardness_ratio: Any = OPTIONS["hardness_ratio"],
    edge_toughness: Any = OPTIONS["edge_toughness"],
    scratch_friction: Any = OPTIONS["scratch_friction"],
    narrowness: Any = OPTIONS["narrowness"],
    sizes: int = OPTIONS["sizes"],
    samples: int = 0,
    rng: Any = None,
    spread: RiskSpread | None = None,
    threads: int = 0,
    progress: Progress = False,
    on_failure: str = "raise",
    start: str = "resting",
    mesh: int = 1,
) -> ScoringRisk:
    """What the particles in the ink do to blade and roll: which get under the blade, what becomes of them, how often they score.

    ENTRY by friction between roll and tip (rolls and a lump: Coulson & Richardson, vol. 2) at the mouth of the solved nip; small
    and weak ones by the drag of the ink too (own). FATE by the force that presses them into blade and roll (fully plastic: Tabor
    1951) or lifts the blade; one that stays in the blade scores the roll (Rabinowicz 1965) when it is ``hardness_ratio`` times
    harder (1.2; 0.7 to 1.2 polishes: Pintaude 2010). A wall of the engraving chips above ``edge_toughness`` x its width (Quinn
    2014). Rates take the flow that carries a size to the blade, uncertain by a factor of 2, and the numbers of ``particles`` in the
    chamber of ``loop`` (one without filter and magnet by default): compare settings; trust no rate that was not counted.

    ``face_width`` [m] of roll and blade, ``run_time`` [s] from fresh ink, ``edge_toughness`` [N/m] uncertain by a factor of 3,
    ``scratch_friction`` of an embedded particle on the roll [-], ``narrowness`` of the drag (1 to 5, assumed) [-], ``sizes`` of a
    class (16 to 100000). ``start`` and ``mesh`` as in ``solve``.

    With ``samples`` the result's ``uncertain`` holds P10, P50, P90 over that many draws of ``spread``, each solved anew; ``rng`` is
    a seed (kept in the result), a NumPy generator or None for a fresh seed. Any number of ``threads`` (0: one per core) gives the
    same bits. ``progress`` is True or a function of (draws done, draws in all); Ctrl-C ends the draws.

    Raises InvalidInput naming field, value and what is allowed; NotSolved when the nip has no solution (``on_failure="flag"``
    returns NaN and its status).
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    job = job_of(
        case,
        particles,
        loop,
        {
            "face_width": face_width,
            "run_time": run_time,
            "hardness_ratio": hardness_ratio,
            "edge_toughness": edge_toughness,
            "scratch_friction": scratch_friction,
            "narrowness": narrowness,
            "sizes": sizes,
        },
    )
    if isinstance(samples, bool) or not isinstance(samples, int) or samples < 0:
        raise refuse("samples", samples, "must be a whole number of at least 0")
    if spread is not None and not isinstance(spread, RiskSpread):
        raise refuse("spread", spread, "must be a RiskSpread(...)")
    check_threads(threads)
    nip = nip_options(start, mesh)
    columns, error = _core.scoring([job.core()], nip, 1, None)
    if error is not None:
        raise error
    risk = risk_at(columns, 0, job)
    if not risk.convergence.ok:
        if on_failure == "raise":
            raise NotSolved(str(risk.convergence), risk)
        return risk
    if not samples:
        return risk
    drawn = _uncertain(
        job,
        nip,
        samples=samples,
        seed=_seed(rng),
        spread=spread or RiskSpread(),
        threads=threads,
        progress=progress,
    )
    return replace(risk, uncertain=drawn)


@dataclass(frozen=True)
class Job:
    """One case with its particles, loop and options, SI."""

    case: Case
    particles: tuple[Particles, ...]
    loop: InkLoop
    options: dict[str, Any]

    def core(self) -> tuple[Any, ...]:
        return self.case._core, [p._core() for p in self.particles], self.loop._core(), self.options


def job_of(case: Case, particles: Any, loop: InkLoop | None, options: Mapping[str, Any]) -> Job:
    """Read and checked as far as this can be done without the core."""
    require_case(case)
    classes = particles_of(particles)
    if loop is not None and not isinstance(loop, InkLoop):
        raise refuse("loop", loop, "must be an InkLoop(...)")
    return Job(case, classes, loop or InkLoop(), read_options(options))


def read_options(given: Mapping[str, Any]) -> dict[str, Any]:
    """Options in SI; those not given as they are by default. Raises InvalidInput on unknown ones."""
    values: dict[str, Any] = dict(OPTIONS)
    problems: list[tuple[str, str, str]] = []
    for name, value in given.items():
        try:
            if name == "sizes":
                if isinstance(value, bool) or not isinstance(value, int) or not 16 <= value <= 100_000:
                    raise refuse(name, value, "must be a whole number from 16 to 100000")
                values[name] = value
            elif name in OPTION_UNITS:
                values[name] = si(value, OPTION_UNITS[name], name)
            else:
                raise refuse(name, value, f"is no option of scoring: there are {', '.join(OPTIONS)}")
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    return values


def check_threads(threads: object) -> None:
    if isinstance(threads, bool) or not isinstance(threads, int) or threads < 0:
        raise refuse("threads", threads, "must be a whole number, 0 for one thread per core")


def nip_options(start: str, mesh: int) -> _core.NipOptions:
    one_of("start", start, ("resting", "riding"))
    if mesh not in (0, 1, 2):
        raise refuse("mesh", mesh, "must be 0, 1 or 2")
    return _core.NipOptions(riding=start == "riding", step_response=False, other_branch=False, run_out=False, mesh=mesh)


def risk_at(columns: dict[str, Any], i: int, job: Job) -> ScoringRisk:
    """One job's risk from the columns of the core."""
    convergence = Convergence(*columns["convergence"][i])
    mouth = Mouth(**dict(zip(NAMES["mouth"], columns["mouth"][i].tolist(), strict=True)))
    classes = tuple(
        ClassRisk(
            p.name,
            Rates(columns["class_rate"][i, k], mouth.speed),
            Rates(columns["class_last"][i, k], mouth.speed),
            **dict(zip(NAMES["class_numbers"], columns["class_numbers"][i, k].tolist(), strict=True)),
        )
        for k, p in enumerate(job.particles)
    )
    return ScoringRisk(
        classes,
        Rates(columns["rate"][i], mouth.speed),
        FirstScore(*columns["first_score"][i].tolist()),
        mouth,
        **dict(zip(NAMES["nip"], columns["nip"][i].tolist(), strict=True)),
        regime=REGIMES[int(columns["regime"][i])],
        convergence=convergence,
        case=job.case,
        particles=job.particles,
        loop=job.loop,
        options=job.options,
    )


def _seed(rng: Any) -> int:
    if rng is None or isinstance(rng, np.random.Generator):
        return int((rng or np.random.default_rng()).integers(2**63))
    if isinstance(rng, bool) or not isinstance(rng, int | np.integer) or not 0 <= rng < 2**64:
        raise refuse("rng", rng, "must be a seed from 0 to 2^64 - 1, a NumPy generator or None")
    return int(rng)


def _uncertain(
    job: Job, nip: _core.NipOptions, *, samples: int, seed: int, spread: RiskSpread, threads: int, progress: Progress
) -> Uncertain:
    with reporting(progress, "draw") as report:
        draws, first, expected, status, error = _core.sample_risk(
            job.core(), spread._core(), samples, seed, nip, threads, report
        )
        if error is not None:
            raise error
    solved = status == list(STATUSES).index("converged")
    return Uncertain(
        {name: Band.of(draws[solved, k]) for k, name in enumerate(OUTCOMES)},
        Band.of(first[solved]),
        Band.of(expected[solved]),
        samples,
        float(np.mean(~solved)),
        seed,
        spread,
        draws,
        first,
    )


def slivers(
    source: Any,
    name: str = "blade slivers",
    *,
    face_width: Any = OPTIONS["face_width"],
    fraction: Any = 0.01,
    **fields: Any,
) -> Particles:
    """Slivers of the blade as a class of particles that are shed into the chamber.

    ``source`` is a case: what its solved nip wears now, by ``sliver_source`` with ``fraction``; or a history from ``wear``: the
    mean over its distance (with the ``sliver_fraction`` of that call), at the speed of its case. The volume over that of one
    mean sliver gives ``chamber_rate``. ``fields`` are those of ``Particles``; by default ferrous flakes 40 um long and 3 um
    thick of the hardness and density of the case's blade. The share is assumed, without any source.

    Raises InvalidInput on bad values, NotSolved when the case does not solve.
    """
    from libblade._feather import sliver_source  # noqa: PLC0415 -- needed for a case alone
    from libblade._wear import WearHistory  # noqa: PLC0415

    width = positive(face_width, "m", "face_width")
    if isinstance(source, WearHistory):
        case, data = source.case, source.dataset
        run = float(data.distance.values[-1]) if data.distance.size else 0.0
        if not run > 0.0:
            raise refuse("source", repr(source), "must be a history that has gone some way")
        volume = float(data.sliver_volume.values[-1]) / run
    else:
        case = require_case(source, "source")
        volume = float(sliver_source(case, fraction=fraction).volume)
    start: dict[str, Any] = {
        "shape": "flake",
        "median_size": 40e-6,
        "size_spread": 2.2,
        "thickness": 3e-6,
        "breadth": 0.3,
        "hardness": float(case["blade.material.hardness"]),
        "density": float(case["blade.material.density"]),
        "ferrous_share": 1.0,
    }
    for word in ("chamber_rate", "worn_blade_share"):
        if word in fields:
            raise refuse(word, fields[word], "is what slivers works out")
    one = Particles(name, **{**start, **fields})
    per_second = volume * float(case["setting.surface_speed"]) * width
    return one.replace(chamber_rate=per_second / one.mean_volume)
