"""What a setting means for blade, roll and answer: the parts of a report on life, scoring and certainty."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from libblade._fields import FIELDS
from libblade._limits import shown, within
from libblade._particles import INVENTED, example_particles
from libblade._plots_scoring import _per_hour
from libblade._plots_uncertainty import _words, describe_tornado, plot_tornado
from libblade._plots_wear import describe_wear, plot_wear
from libblade._point import OUTPUTS
from libblade._report_blocks import Section
from libblade._report_parts import Asked, Found, film_limit
from libblade._scoring import CENTURY, DAMAGE, hours, scoring
from libblade._spread import Distribution, usual_spread
from libblade._uncertainty import uncertainty
from libblade._wear import WearHistory
from libblade._window_card import WORDS
from libblade._window_job import life_history

SURE = ("film_on_lands", "excess_ink", "mean_pressure", "effective_angle", "interference", "wear_rate")
SCORING_SAMPLES = 100


def life(asked: Asked, found: Found, section: Section) -> None:
    """One new blade at the setting."""
    story = life_history(found.place, **asked.life)
    found.results["life"] = story
    if not story.convergence.ok:
        section.unsolved.append(
            f"the history of the blade ends at {1e-3 * story.life.distance:.4g} km: {story.life.ended_by}"
        )
    least = "" if story.life.limit is not None else "At least "
    section.say(f"{least}{story.life} (a new blade at {found.where}).", "key")
    section.say(
        "The wear coefficient of the blade is seldom known to better than a factor of 5; life goes nearly with its inverse."
    )
    if story.dataset.distance.size:
        ends = [story.dataset.isel(distance=k) for k in (0, -1)]
        rows = []
        for name in ("facet_length", "film_on_lands", "excess_ink", "line_load", "length_lost", "land_loss"):
            about = story.dataset[name].attrs
            scale = {"um": 1e6}.get(about["display_units"], 1.0)
            unit = about["display_units"]
            rows.append((about["long_name"], *(f"{float(end[name]) * scale:.3g} {unit}" for end in ends)))
        section.table("First and last", ("", "new", "at the end"), rows)
        section.say(_film_limit(asked, found, story))
        section.list([event.sentence for event in story.events])
        words = describe_wear(story)
        section.picture(plot_wear(story), words, words)


def _film_limit(asked: Asked, found: Found, story: WearHistory) -> str:
    """When the ink left on the lands passes its limit while nobody touches the holder, and why."""
    point, data = found.results.get("point"), story.dataset
    limit = asked.limits.get("film_on_lands")
    if point is None or not point.convergence.ok or limit is None or isinstance(limit, tuple | list):
        return ""
    most = film_limit(limit, "film_on_lands", point)
    words = f"the limit on the ink left on the lands ({1e6 * most:.3g} um)"
    passed = data.distance.values[data.film_on_lands.values > most]
    load = data.line_load.values
    falls = f" The load goes from {load[0]:.3g} to {load[-1]:.3g} N/m on the way, since the holder is not touched."
    if not passed.size:
        return f"On the whole way {words} is kept.{falls}"
    return (
        f"From {1e-3 * float(passed[0]):.3g} km on {words} is passed: before that the holder is to be set anew, which no number "
        f"here counts on.{falls}"
    )


def score(asked: Asked, found: Found, section: Section) -> None:
    """What particles do at the setting."""
    invented = asked.particles is None
    if invented:
        section.say(f"The particles are examples. {INVENTED} Compare settings by it; do not promise a rate.", "warning")
    risk = scoring(
        found.place,
        example_particles() if asked.particles is None else asked.particles,
        asked.loop,
        samples=SCORING_SAMPLES,
        rng=asked.seed,
        threads=asked.threads,
        on_failure="flag",
    )
    found.results["scoring"] = risk
    if not risk.convergence.ok:
        section.unsolved.append(str(risk.convergence))
        return
    many = " (invented numbers)" if invented else ""
    section.say(f"{str(risk.first_score).capitalize()}{many}, at {found.where}.", "plain" if invented else "key")
    if (u := risk.uncertain) is not None:
        first, scores = u.first_score, u.rates["scores"]
        section.say(
            f"With what is not known drawn {u.samples} times: the first score after {hours(first.p10)} (P10), {hours(first.p50)} "
            f"(P50), {hours(first.p90)} (P90); scores {', '.join(_per_hour(3600.0 * v) for v in vars(scores).values())} "
            "(P10, P50, P90)."
        )
        if u.unsolved > 0.0:
            section.unsolved.append(f"{u.unsolved:.1%} of the draws, which are left out")
    rows = [
        (one.name, f"{1e6 * one.entry_size:.3g} um", *(_rate(one.per_hour[name]) for name in DAMAGE))
        for one in risk.classes
    ]
    rows.append(("all", "", *(_rate(risk.per_hour[name]) for name in DAMAGE)))
    section.table(
        f"Marks per hour{many}, by kind; a dash: less than one in a century",
        ("particles", "largest drawn in", *(_damage(name) for name in DAMAGE)),
        rows,
    )


def _rate(per_hour: float) -> str:
    """Per hour."""
    if not per_hour >= 3600.0 / CENTURY:
        return "-" if per_hour >= 0.0 else "not known"
    return f"{per_hour:.0f}" if per_hour >= 100.0 else f"{per_hour:.2g}"


def _damage(name: str) -> str:
    return {
        "smeared": "smeared",
        "props": "prop the blade: streak",
        "nicks": "notch the blade",
        "stays": "stay in the blade",
        "dents": "dent the roll",
        "scores": "score the roll",
        "chips": "chip a wall",
    }.get(name, name)


def sure(asked: Asked, found: Found, section: Section) -> None:
    """P10, P50 and P90 at the setting."""
    spread = usual_spread(found.place)
    names = list(dict.fromkeys([*SURE, "ink_carried", *(n for n in asked.limits if n in OUTPUTS)]))
    result = uncertainty(found.place, spread, names, samples=asked.samples, rng=asked.seed, threads=asked.threads)
    found.results["uncertainty"] = result
    if result.not_solved > 0.0:
        section.unsolved.append(f"{result.not_solved:.1%} of the samples: numbers are of the others")
    section.say(
        f"At {found.where}, with inputs as uncertain as they usually are (listed below, {asked.samples} samples, seed "
        f"{asked.seed}). One in ten lies below P10, half below P50, one in ten above P90. What the equations leave out is not in "
        "it."
    )
    rows = []
    for name in names:
        q, output = result.quantiles[name], OUTPUTS[name]
        most = result.dominant.get(name)
        rows.append(
            (
                WORDS.get(name, output.long_name),
                *(shown(output, v) for v in (q.p10, q.p50, q.p90)),
                _meets(result.dataset, name, asked.limits),
                f"{_words(most.field)} ({most.strength:.2f})" if most is not None else "nothing",
            )
        )
    section.table(
        "How far the answer may be off",
        ("", "P10", "P50", "P90", "meets its limit", "hangs most on (rank correlation)"),
        rows,
    )
    if names[0] in result.dominant:
        words = describe_tornado(result)
        section.picture(plot_tornado(result), words, words)
    section.table(
        "Spread of the inputs (one standard deviation or factor)",
        ("input", "spread", "source"),
        [(_words(path), _spread(path, one), one.source or "given") for path, one in spread.items()],
    )


def _meets(data: Any, name: str, limits: Mapping[str, Any]) -> str:
    if name not in limits:
        return "none set"
    return f"{100.0 * float(within(data, name, limits[name]).holds.mean()):.3g} % of the samples"


def _spread(path: str, one: Distribution) -> str:
    """ "normal, sd 1.5 deg"."""
    words = [type(one).__name__.lower()]
    for name, value in vars(one).items():
        if value is None or name == "source":
            continue
        if name == "relative" and isinstance(value, float):
            text = f"{100.0 * value:.3g} %"
        elif name in ("low", "high", "centre") and isinstance(value, float):
            text = FIELDS[path].text(value)
        else:
            text = str(value)
        words.append(f"{name} {text}")
    return ", ".join(words)
