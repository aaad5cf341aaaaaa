"""What somebody beside the press has seen of a line, and tried."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from libblade import _core
from libblade._errors import InvalidInput, refuse
from libblade._json_text import json_of
from libblade._lines import Line, LineSignature, length_words
from libblade._units import gather, si

QUESTIONS: dict[str, tuple[str, ...]] = {name: tuple(words) for name, words in _core.line_questions().items()}
"""Every question and the words that answer it; sizes have none."""
SIZES = tuple(name for name, words in QUESTIONS.items() if not words)
_NO_SIZE = {"width": ("none", "whole width"), "repeat": ("continuous", "irregular")}
_PROBABLY = "probably "
# Ways in which people say the same.
_SAME = {
    "along_the_web": "along_web",
    "across_the_web": "across_web",
    "over_the_whole_width": "whole_width",
    "the_whole_width": "whole_width",
    "spot": "spots",
    "suddenly": "sudden",
    "gradually": "gradual",
    "at_a_blade_change": "at_blade_change",
    "at_a_roll_change": "at_roll_change",
    "after_a_standstill": "after_standstill",
    "dark": "darker",
    "light": "lighter",
    "true": "yes",
    "false": "no",
}


@dataclass(frozen=True)
class Observation:
    """A line on the print as somebody beside the press knows it; None: unknown.

    Words may begin with "probably": then they are taken for doubtful. Sizes are numbers [m] or texts with unit.
    Raises InvalidInput on other words, naming the ones there are.
    """

    tone: str | None = None
    """"darker" or "lighter" than beside."""
    direction: str | None = None
    """"along the web", "across the web", "whole width" or "spots"."""
    width: Any = None
    """Of one line, spot or band, across its direction [m]; "none": it covers the whole width."""
    repeat: Any = None
    """Distance along the web at which it comes back [m]; "continuous" or "irregular": it has none."""
    moves_with_blade: bool | str | None = None
    """With the blade's traverse: True, False, "probably yes", "probably no"."""
    goes_when_wiped: bool | str | None = None
    """When the blade's edge has been wiped."""
    survives_blade_change: bool | str | None = None
    survives_cleaning: bool | str | None = None
    """Ordinary cleaning of the roll."""
    patchy: bool | str | None = None
    """Whether it comes and goes along its way."""
    began: str | None = None
    """"suddenly", "gradually", "at a blade change", "at a roll change" or "after a standstill"."""
    width_uncertainty: float = 0.15
    """Relative, one standard deviation [-]."""
    repeat_uncertainty: float = 0.15

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        for name in QUESTIONS:
            try:
                value = getattr(self, name)
                object.__setattr__(self, name, _size(name, value) if name in SIZES else _word(name, value))
                if name in SIZES:
                    _in_range(name, getattr(self, name), getattr(self, f"{name}_uncertainty"))
            except InvalidInput as error:
                problems += error.problems
        gather(problems)

    @classmethod
    def of(cls, line: Line | LineSignature, *questions: str) -> Observation:
        """What is to be seen of a computed line: the answers to these ``questions``, or to all."""
        signature = line.signature if isinstance(line, Line) else line
        if not isinstance(signature, LineSignature):
            raise refuse("line", line, "must be a Line or its signature")
        for question in questions:
            if question not in QUESTIONS:
                raise refuse("question", question, "must be one of " + ", ".join(QUESTIONS))
        answers = {name: getattr(signature, name) for name in questions or QUESTIONS}
        if math.isnan(answers.get("width", 0.0)):
            answers["width"] = 0.0
        return cls(**answers)

    @classmethod
    def from_json(cls, text: str) -> Observation:
        """From a JSON object with these names. Raises InvalidInput on anything else."""
        given = json_of(text, "observation")
        if not isinstance(given, dict):
            raise refuse("observation", text, "must be a JSON object")
        known = [field.name for field in fields(cls)]
        for name in given:
            if name not in known:
                raise refuse(name, "", "is no part of an observation, which has " + ", ".join(known))
        return cls(**given)

    @property
    def answered(self) -> tuple[str, ...]:
        """Questions that have an answer."""
        return tuple(name for name in QUESTIONS if getattr(self, name) is not None)

    def sentence(self, question: str) -> str:
        """One answer in words; empty where it is unknown."""
        value = getattr(self, question)
        if value is None:
            return ""
        if question in SIZES:
            if value == 0.0:
                return _NONE_WORDS[question]
            return _SIZE_WORDS[question].format(length_words(value))
        word, sure = _split(value)
        told = ANSWER_WORDS[question][word]
        return told if sure else f"probably, {told}"

    def __str__(self) -> str:
        told = [self.sentence(question) for question in self.answered]
        return "; ".join(told) if told else "nothing known"

    @property
    def _core(self) -> dict[str, tuple[Any, Any]]:
        out: dict[str, tuple[Any, Any]] = {}
        for name in self.answered:
            value = getattr(self, name)
            out[name] = (value, getattr(self, f"{name}_uncertainty")) if name in SIZES else _split(value)
        return out


ANSWER_WORDS: dict[str, Mapping[str, str]] = {
    "tone": {"darker": "the line is darker", "lighter": "the line is lighter"},
    "direction": {
        "along_web": "it runs along the web",
        "across_web": "it lies across the web",
        "whole_width": "it covers the whole width",
        "spots": "it comes in spots",
    },
    "moves_with_blade": {
        "yes": "the line moved with the blade's traverse",
        "no": "the line stayed where it was when the blade traversed",
    },
    "goes_when_wiped": {
        "yes": "the line went when the edge was wiped",
        "no": "the line stayed when the edge was wiped",
    },
    "survives_blade_change": {
        "yes": "the line came back with a new blade",
        "no": "the line went with the old blade",
    },
    "survives_cleaning": {
        "yes": "the line outlasted a cleaning of the roll",
        "no": "the line went when the roll was cleaned",
    },
    "patchy": {"yes": "it comes and goes along its way", "no": "it goes on without a break"},
    "began": {
        "sudden": "it began suddenly",
        "gradual": "it came gradually",
        "at_blade_change": "it began at a blade change",
        "at_roll_change": "it began at a roll change",
        "after_standstill": "it began after a standstill",
    },
}
_SIZE_WORDS = {"width": "it is {} wide", "repeat": "it comes back every {}"}
_NONE_WORDS = {"width": "it has no width of its own", "repeat": "it has no repeat along the web"}


def _split(value: bool | str) -> tuple[str, bool]:
    """The core's word, and whether it is sure."""
    if isinstance(value, bool):
        return ("yes" if value else "no"), True
    return value.removeprefix(_PROBABLY), not value.startswith(_PROBABLY)


def _word(name: str, value: Any) -> bool | str | None:
    if value is None or (isinstance(value, str) and value.strip().lower() in ("", "unknown")):
        return None
    if isinstance(value, bool) or (hasattr(value, "dtype") and value.dtype == bool):
        value = "yes" if value else "no"
    known = QUESTIONS[name]
    if isinstance(value, str):
        text = value.strip().lower()
        doubt = _PROBABLY if text.startswith(_PROBABLY) else ""
        word = text.removeprefix(_PROBABLY).strip().replace(" ", "_")
        word = _SAME.get(word, word)
        if word in known:
            return doubt + word if doubt or word not in ("yes", "no") else word == "yes"
    if known == ("no", "yes"):
        raise refuse(name, value, 'must be True, False, "probably yes", "probably no" or None')
    words = ", ".join(f'"{word.replace("_", " ")}"' for word in known)
    raise refuse(name, value, f'must be one of {words}, with "probably" before it where in doubt, or None')


def _size(name: str, value: Any) -> float | None:
    if value is None or (isinstance(value, str) and value.strip().lower() in ("", "unknown")):
        return None
    if isinstance(value, str) and value.strip().lower() in _NO_SIZE[name]:
        return 0.0
    return si(value, "m", name)


def _in_range(name: str, value: float | None, uncertainty: Any) -> None:
    low, high = _core.size_range(name)
    if value is not None and not (value == 0.0 or low <= value <= high):
        words = " or ".join(f'"{word}"' for word in _NO_SIZE[name])
        raise refuse(name, value, f"must be from {low:g} to {high:g} m, or {words}")
    if not (isinstance(uncertainty, int | float) and not isinstance(uncertainty, bool) and 0.001 <= uncertainty <= 2.0):
        raise refuse(f"{name}_uncertainty", uncertainty, "must be from 0.001 to 2")
