"""From a line on the print to its cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, NamedTuple

from libblade import _core
from libblade._case import Case, require_case
from libblade._errors import refuse
from libblade._lines import line_context, print_law
from libblade._observation import QUESTIONS, Observation
from libblade._print import PrintLaw
from libblade._roll_care import CareFact, care_for, together
from libblade._tracing_words import CHECK_WORDS, NONE, TO_DO, WORDS, evidence_words, percent, reason_words
from libblade._units import si

USUAL_PRIORS: dict[str, float] = dict(_core.usual_priors())
"""Share of each cause among the twelve before anything is seen: assumed, common practice without a published source."""

STATEMENT = "A trace weighs what was seen against lines computed for this nip; it proves nothing."


class Evidence(NamedTuple):
    """What one answer says of a cause."""

    question: str
    log_ratio: float
    """ln of its likelihood over that of the other hypotheses, weighted by their priors [-]; positive: for it."""
    words: str
    """Empty where it says little."""


@dataclass(frozen=True)
class TracedCause:
    """A cause, or none of these, after the answers."""

    cause: str
    words: str
    """The cause in the trade's words."""
    probability: float
    """After the answers [-]."""
    prior: float
    """Before [-]; 0: this nip cannot show it."""
    evidence: tuple[Evidence, ...]
    """Of every answer, heaviest first."""
    what_to_do: str
    caution: str
    """What can hurt whoever does it."""
    care: tuple[CareFact, ...]
    """Of the engraved roll, where it belongs to this cause."""

    @property
    def evidence_for(self) -> tuple[str, ...]:
        """In words, heaviest first."""
        return tuple(one.words for one in self.evidence if one.words and one.log_ratio > 0.0)

    @property
    def evidence_against(self) -> tuple[str, ...]:
        """In words, heaviest first."""
        return tuple(one.words for one in self.evidence if one.words and one.log_ratio < 0.0)


@dataclass(frozen=True)
class NextCheck:
    """Something that can still be seen or tried."""

    question: str
    words: str
    """What to do."""
    information: float
    """Expected, of the cause [bit]."""
    per_effort: float
    """Information over the effort that was stated for it [bit]."""
    reason: str
    """Which causes it tells apart."""
    caution: str
    """What can hurt whoever does it."""

    @property
    def told(self) -> str:
        """Without its caution."""
        return f"{self.words} Expected {self.information:.2f} bit ({self.reason})."

    def __str__(self) -> str:
        return f"{self.told} {self.caution}".rstrip()


@dataclass(frozen=True, repr=False)
class Tracing:
    """Causes of a line, most probable first, with a share for none of these, and what to check next."""

    observation: Observation
    causes: tuple[TracedCause, ...]
    """The twelve of the list, most probable first."""
    none: TracedCause
    """None of these."""
    checks: tuple[NextCheck, ...]
    """Those left, most information per effort first."""

    @property
    def none_of_these(self) -> float:
        """Probability that it is nothing on the list [-]."""
        return self.none.probability

    @property
    def ranked(self) -> tuple[TracedCause, ...]:
        """All of them, none of these included, most probable first."""
        return tuple(sorted((*self.causes, self.none), key=lambda one: -one.probability))

    @property
    def next_check(self) -> NextCheck | None:
        """The one that is expected to tell most; None when all is known."""
        return self.checks[0] if self.checks else None

    @property
    def ruled_out(self) -> tuple[str, ...]:
        """Causes that this nip cannot show, whatever is seen."""
        return tuple(one.cause for one in self.causes if one.prior == 0.0)

    def probability(self, cause: str) -> float:
        """Of a cause, or of "none_of_these" [-]. Raises InvalidInput on another word."""
        for one in (*self.causes, self.none):
            if one.cause == cause:
                return one.probability
        raise refuse("cause", cause, "must be one of " + ", ".join((*USUAL_PRIORS, NONE)))

    def __repr__(self) -> str:
        return ", ".join(f"{one.words} {percent(one.probability)}" for one in self.ranked[:3])

    def __str__(self) -> str:
        told = [f"seen: {self.observation}"]
        for place, one in enumerate([one for one in self.ranked if one.probability >= 0.03 or one is self.none]):
            told.append(f"{percent(one.probability):>6}  {one.words}")
            if place < 2 and one is not self.none:
                told += [f"        {words}" for words in (*one.evidence_for[:3], *one.evidence_against[:3])]
        first = self.ranked[0]
        if self.ruled_out:
            told.append(f"cannot show at this nip: {', '.join(WORDS[cause] for cause in self.ruled_out)}")
        if self.next_check is not None:
            told.append(f"next: {self.next_check.told}")
        told.append(f"if it is {first.words}: {first.what_to_do}")
        told += [f"        {fact.advice} ({fact.source})" for fact in first.care]
        cautions = [first.caution, *(fact.caution for fact in first.care)]
        if self.next_check is not None:
            cautions.append(self.next_check.caution)
        return "\n".join((*told, f"caution: {together(*cautions)}", STATEMENT))


@dataclass(frozen=True)
class CauseModels:
    """What the twelve causes look like at one nip: built once, for any number of observations.

    Some hundreds of visible lines of random size for each cause. How sure people are when they say so is assumed; common
    practice, no published source. Raises InvalidInput on values out of range, NotSolved when the nip does not solve.
    """

    case: Case
    law: PrintLaw | None = field(default=None, kw_only=True)
    """From the roll to the print."""
    sure: float = field(default=0.95, kw_only=True)
    """Probability that a sure answer is right [-]."""
    doubtful: float = field(default=0.7, kw_only=True)
    """Of a doubtful one [-]."""
    size: float = field(default=0.98, kw_only=True)
    """That a measured size is right within its uncertainty [-]."""
    samples: int = field(default=400, kw_only=True)
    """Visible lines per cause."""
    seed: int = field(default=20240501, kw_only=True)
    seen_share: dict[str, float] = field(init=False, compare=False, repr=False)
    """Of random defects that make a visible line, by cause [-]; 0: this nip shows none of it."""
    _core: Any = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        require_case(self.case)
        for name in ("samples", "seed"):
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 2**63:
                raise refuse(name, value, "must be a whole number of at least 0")
        doubt = {name: si(getattr(self, name), "1", name) for name in ("sure", "doubtful", "size")}
        core = _core.cause_models(
            line_context(self.case), print_law(self.law), **doubt, samples=self.samples, seed=self.seed, most_tries=60
        )
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "seen_share", dict(zip(USUAL_PRIORS, core.seen_shares, strict=True)))

    def __reduce__(self) -> tuple[Any, ...]:
        stated = {name: getattr(self, name) for name in ("law", "sure", "doubtful", "size", "samples", "seed")}
        return partial(CauseModels, self.case, **stated), ()


def trace(
    observation: Observation,
    case: Case | CauseModels,
    *,
    priors: Mapping[str, Any] | None = None,
    none_share: Any = 0.1,
    effort: Mapping[str, Any] | None = None,
) -> Tracing:
    """Ranks what may have made a line, by Bayes' rule over lines computed for this very nip, and names the next check.

    ``case``, or its `CauseModels` (half a second that is spent once). ``priors`` of all twelve causes, sum 1, or of
    some: the others share the rest in their usual proportions. ``none_share`` is the prior of "none of these", which answers
    everything evenly and wins where nothing fits. ``effort`` of checks, relative, 1 where not stated: checks are ranked by
    expected information [bit] over effort (Lindley 1956, Ann. Math. Stat. 27:986; from memory).

    A cause that this nip cannot show is out before anything is asked. Equations and assumptions: `libblade/tracing.hpp`. Raises
    InvalidInput on bad values, NotSolved when the nip does not solve.
    """
    if not isinstance(observation, Observation):
        raise refuse("observation", observation, "must be an Observation")
    models = case if isinstance(case, CauseModels) else CauseModels(case)
    weights = dict.fromkeys(QUESTIONS, 1.0)
    for name, value in (effort or {}).items():
        if name not in QUESTIONS:
            raise refuse(f"effort.{name}", value, "names no question: there are " + ", ".join(QUESTIONS))
        weights[name] = si(value, "1", f"effort.{name}")
    ranked, checks = _core.trace(
        models._core,
        observation._core,
        list(_all_priors(priors or {}).values()),
        si(none_share, "1", "none_share"),
        list(weights.values()),
    )
    hypotheses = [
        TracedCause(
            cause,
            WORDS[cause],
            probability,
            prior,
            tuple(
                Evidence(question, ratio, evidence_words(observation.sentence(question), ratio))
                for question, ratio in evidence
            ),
            *TO_DO[cause],
            care_for(cause),
        )
        for cause, probability, prior, evidence in ranked
    ]
    probability = {one.cause: one.probability for one in hypotheses}
    names = (*USUAL_PRIORS, NONE)
    return Tracing(
        observation,
        tuple(one for one in hypotheses if one.cause != NONE),
        next(one for one in hypotheses if one.cause == NONE),
        tuple(
            NextCheck(
                question,
                CHECK_WORDS[question][0],
                bits,
                per_effort,
                reason_words(
                    question, probability, dict(zip(names, expected, strict=True)), dict(zip(names, sizes, strict=True))
                ),
                CHECK_WORDS[question][1],
            )
            for question, bits, per_effort, expected, sizes in checks
        ),
    )


def _all_priors(given: Mapping[str, Any]) -> dict[str, float]:
    """Of the twelve; those not given share the rest in their usual proportions."""
    for name, value in given.items():
        if name not in USUAL_PRIORS:
            raise refuse(f"priors.{name}", value, "names no cause: there are " + ", ".join(USUAL_PRIORS))
    stated = {name: si(value, "1", f"priors.{name}") for name, value in given.items()}
    rest = 1.0 - sum(stated.values())
    usual = sum(share for name, share in USUAL_PRIORS.items() if name not in stated)
    return {
        name: stated.get(name, share * rest / usual if usual > 0.0 else 0.0) for name, share in USUAL_PRIORS.items()
    }
