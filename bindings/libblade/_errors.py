"""Exceptions and warnings."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, NamedTuple

_UNSHOWABLE = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff]")
"""Control characters and halves of letters: what a message quotes may steer a terminal, or have no UTF-8."""


class Problem(NamedTuple):
    """One thing wrong with the input."""

    path: str
    """Dotted field path or argument name."""
    value: str
    """The value as given, with its unit."""
    message: str
    """What is wrong and what is allowed."""

    def __str__(self) -> str:
        place = f"{self.path}: " if self.path else ""
        text = f"{place}{self.message}" + (f" (got {self.value})" if self.value else "")
        return _UNSHOWABLE.sub("?", text)


class InvalidInput(ValueError):
    """The caller's mistake, with every problem found at once in ``problems``."""

    def __init__(self, problems: Iterable[tuple[str, str, str]]) -> None:
        self.problems: tuple[Problem, ...] = tuple(Problem(*problem) for problem in problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class NotSolved(RuntimeError):
    """A solve did not converge. ``result`` is what it returned, with its status."""

    def __init__(self, message: str, result: Any = None) -> None:
        self.result = result
        super().__init__(message, result)

    def __str__(self) -> str:
        return str(self.args[0])


class LibbladeWarning(UserWarning):
    """A value outside its usual range, or a law outside its range of validity."""


def refuse(path: str, value: object, message: str) -> InvalidInput:
    """One problem as an exception, ready to raise."""
    text = value if isinstance(value, str) else repr(value)
    return InvalidInput(
        [(path if len(path) <= 200 else path[:197] + "...", text if len(text) <= 300 else text[:297] + "...", message)]
    )


def one_of(name: str, value: object, words: Iterable[str]) -> None:
    """Raises InvalidInput unless ``value`` is one of ``words``."""
    known = tuple(words)
    if value not in known:
        raise refuse(name, value, "must be " + " or ".join(f'"{word}"' for word in known))
