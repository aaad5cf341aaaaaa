"""Words of a trace: why a cause is believed, what to check next, and what to do about it, with the cautions that belong to each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from libblade._lines import CAUSE_WORDS, length_words
from libblade._observation import ANSWER_WORDS, QUESTIONS
from libblade._roll_care import CHEMICALS, LOOKING, STOPPED, together

NONE = "none_of_these"
WORDS = {**CAUSE_WORDS, NONE: "none of these"}

CHECK_WORDS: dict[str, tuple[str, str]] = {
    "tone": ("See whether the line is darker or lighter than beside.", together(LOOKING)),
    "direction": (
        "See which way it runs: along the web, across it, over the whole width, or in spots.",
        together(LOOKING),
    ),
    "width": ("Measure its width on a sheet, with a scale under a magnifier.", together(LOOKING)),
    "repeat": ("Measure on a long sheet at which distance it comes back, or see that it does not.", together(LOOKING)),
    "moves_with_blade": ("Let the blade traverse and see whether the line goes with it.", together(LOOKING)),
    "goes_when_wiped": ("Wipe the blade's edge and see whether the line is gone afterwards.", together(STOPPED)),
    "survives_blade_change": ("Change the blade and see whether the line comes back.", together(STOPPED)),
    "survives_cleaning": ("Clean the roll as usual and see whether the line comes back.", together(STOPPED, CHEMICALS)),
    "patchy": ("Follow it along the web: does it come and go?", together(LOOKING)),
    "began": (
        "Ask, and look at kept sheets, how it began: suddenly, gradually, at a change of blade or roll, after a standstill.",
        "",
    ),
}

TO_DO: dict[str, tuple[str, str]] = {
    "blade_nick": (
        "Fit a new blade. If new ones nick the same way, look for what hits them: grains in the ink, a hook on its way.",
        together(STOPPED),
    ),
    "scored_roll": (
        "Nothing done at the blade takes a groove out of ceramic. Find what scores before the next roll meets it, and have the "
        "roll's maker say whether this one can stay.",
        together(STOPPED),
    ),
    "worn_band": (
        "Measure the cells' volume across the face. A new blade beds to the same band: the roll wants new engraving, or jobs that "
        "do with less ink.",
        together(STOPPED),
    ),
    "plugged_cells": (
        "Look at the cells under a microscope; a deep clean by a method that the roll's maker allows brings dried ink out.",
        together(STOPPED, CHEMICALS),
    ),
    "handling_mark": (
        "Mark the place on the roll's end and run jobs that miss it: lost ceramic does not come back. See how rolls are lifted, "
        "covered and stored.",
        together(STOPPED),
    ),
    "propped_blade": (
        "Fit a new blade, and look at the old edge under a magnifier for the grain in it. Filter and magnet next.",
        together(STOPPED),
    ),
    "riding": (
        "Compare load, angle and facet with the solved nip and its process window: a doctoring blade pressed harder may ride more. "
        "A new blade, bedded where it will run.",
        together(STOPPED),
    ),
    "run_out": (
        "Measure the roll's run-out with a dial indicator, turned by hand, then its journals and bearings. A holder that follows "
        "the roll bears more of it.",
        together(STOPPED),
    ),
    "lodged_particle": (
        "Wipe the edge; if the line comes back, filter the ink and keep the edge wet.",
        together(STOPPED),
    ),
    "blocked_supply": (
        "Empty the chamber and look ahead of the edge for fibres and dried ink; pump and filter next.",
        together(STOPPED, CHEMICALS),
    ),
    "leaking_end_seal": (
        "Look at the seals and the blade's ends, set or change them; see that the chamber is not overfull.",
        together(STOPPED),
    ),
    "not_this_nip": (
        "Compare the repeat with the plate's; look at plate, web and impression, and at another station on the same web.",
        together(STOPPED),
    ),
    NONE: (
        "Nothing on the list explains it well. Keep sheets with time and speed written on them, make the checks that are left, and "
        "ask whoever knows the press.",
        together(LOOKING),
    ),
}
"""What to do about each, and its cautions."""

_LEADING = 0.03  # of probability, to be worth a word
_SAYS_LITTLE = math.log(1.25)


def percent(share: float) -> str:
    """ "62 %", "0.4 %"."""
    return f"{100 * share:.0f} %" if share >= 0.0095 else f"{100 * share:.1g} %" if share > 0.0 else "0 %"


def evidence_words(sentence: str, log_ratio: float) -> str:
    """One answer for a cause ("fits: ...") or against it; empty where it says little."""
    if abs(log_ratio) < _SAYS_LITTLE:
        return ""
    factor = math.exp(min(abs(log_ratio), 16.0))
    times = f"{factor:.0f}" if factor >= 10.0 else f"{factor:.2g}"
    if log_ratio > 0.0:
        return f"fits: {sentence} ({times} times as likely as with the others)"
    return f"speaks against it: {sentence} ({times} times less likely than with the others)"


def reason_words(
    question: str, probability: Mapping[str, float], expected: Mapping[str, Sequence[float]], size: Mapping[str, float]
) -> str:
    """Which of the leading hypotheses a check tells apart."""
    leading = [name for name in probability if probability[name] >= _LEADING and name != NONE][:5]
    groups: dict[str, list[str]] = {}
    for name in leading:
        groups.setdefault(_answer(question, expected[name], size[name]), []).append(
            f"{WORDS[name]} ({percent(probability[name])})"
        )
    if not groups:
        return "no cause on the list is left with a share worth a word"
    told = "; ".join(f"{answer}: {_joined(names)}" for answer, names in groups.items())
    return told if len(groups) > 1 else f"{told}: all alike, it tells little"


def _answer(question: str, expected: Sequence[float], size: float) -> str:
    words = QUESTIONS[question]
    if words:
        best = max(range(len(words)), key=lambda k: expected[k])
        word = words[best]
        told = ANSWER_WORDS[question][word].removeprefix("the line ").removeprefix("it ")
        return f"mostly {told}" if expected[best] < 0.8 else told
    if size == 0.0:
        return "none"
    return f"about {length_words(_rounded(size))}"


def _rounded(size: float) -> float:
    """To one digit, so that what looks alike reads alike."""
    unit = 10.0 ** math.floor(math.log10(size))
    return round(size / unit) * unit


def _joined(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
