"""What a check of the validation is: rows of a published value beside ours, and the list of all checks."""

import csv
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import libblade as lb

TESTS = Path(__file__).parents[1]
REFERENCE = TESTS / "reference"

CLASSES = ("read", "recomputed", "common practice", "statement")
"""read: somebody read the number in the source. recomputed: from the published equation. statement: a published sign or order.
common practice: no published source."""


@dataclass(frozen=True)
class Row:
    """A number beside ours, or a statement beside what is found."""

    quantity: str
    published: float | str
    ours: float | str
    tolerance: float | str = ""  # relative; of an interval and of a statement: none
    unit: str = ""
    low: float | None = None  # of an interval
    high: float | None = None

    @property
    def difference(self) -> float | str:
        if isinstance(self.published, str) or isinstance(self.ours, str):
            return ""
        return abs(self.ours - self.published) / abs(self.published) if self.published else abs(self.ours)

    @property
    def holds(self) -> bool:
        if self.low is not None and self.high is not None:
            return isinstance(self.ours, float) and self.low <= self.ours <= self.high
        if isinstance(self.difference, float):
            assert isinstance(self.tolerance, float)
            return isfinite(self.difference) and self.difference <= self.tolerance
        return self.published == self.ours


def within(quantity: str, low: float, high: float, ours: float, unit: str = "") -> Row:
    """A number in a published interval."""
    return Row(quantity, f"{low:.4g} to {high:.4g}", float(ours), "inside", unit, float(low), float(high))


def stated(quantity: str, published: str, found: bool, otherwise: str) -> Row:
    """A published sign or order; `otherwise`: what is found where it is not so."""
    return Row(quantity, published, published if found else otherwise)


Rows = Iterator[Row]


@dataclass(frozen=True)
class Check:
    name: str
    title: str
    source: str  # MyST, with {cite:t} of docs/references.bib
    kind: str
    note: str
    holds: bool  # what is known of it: the test asks for exactly that
    function: Callable[[], Rows]

    def rows(self) -> list[Row]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", lb.LibbladeWarning)
            return list(self.function())


CHECKS: list[Check] = []


def check(title: str, source: str, kind: str, note: str = "", *, holds: bool = True):
    """Lists the decorated generator of rows. `holds=False`: some row is known not to agree, and the page says so."""
    assert kind in CLASSES

    def enlist(function: Callable[[], Rows]) -> Callable[[], Rows]:
        CHECKS.append(Check(function.__name__, title, source, kind, note, holds, function))
        return function

    return enlist


def table(path: str) -> list[dict[str, str]]:
    """Rows of tests/reference/<path>."""
    with (REFERENCE / path).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def values(path: str, case: str = "case", quantity: str = "quantity") -> dict[tuple[str, str], float]:
    """{(case, quantity): value} of a table with those columns."""
    return {(row.get(case, ""), row[quantity]): float(row["value"]) for row in table(path)}
