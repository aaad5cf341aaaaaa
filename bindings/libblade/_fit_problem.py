"""What a fit minimises: readings in their errors, priors, and limits of the search."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from libblade._errors import refuse
from libblade._fit_model import WEAR, Parameter
from libblade._reading import Item
from libblade._units import Floats, resolve, si

RANGE = 100.0  # the search: the case's own value over and times this
PULL = (
    0.03  # towards the case's own values, of 1: decides where readings say nothing; one known to 20 % it moves by 1e-5
)


def priors_of(parameters: list[Parameter], priors: Mapping[str, Any] | None) -> list[tuple[float, ...]]:
    """Place and spread in u of every field; empty where nothing is known."""
    known: list[tuple[float, ...]] = [()] * len(parameters)
    for given, prior in (priors or {}).items():
        path = resolve(given)[0].path
        place = next((j for j, p in enumerate(parameters) if p.field.path == path), None)
        if place is None:
            raise refuse(f"priors.{given}", "", "is not among the fields")
        p = parameters[place]
        if not isinstance(prior, tuple | list) or len(prior) != 2:
            raise refuse(f"priors.{given}", prior, "must be (value, factor)")
        value, spread = si(prior[0], p.field.unit, f"priors.{given}"), si(prior[1], "1", f"priors.{given}")
        if p.log and not (0.0 < value < math.inf and 1.0 < spread < math.inf):
            raise refuse(f"priors.{given}", prior, "must be a value above 0 and a factor above 1")
        if not p.log and not (math.isfinite(value) and 0.0 < spread < math.inf):
            raise refuse(f"priors.{given}", prior, "must be a value and a standard error above 0")
        known[place] = (p.place(value), math.log(spread) if p.log else spread / p.scale)
    return known


def limits_of(p: Parameter, reach: float) -> tuple[float, float]:
    """Of u."""
    low, high = p.field.hard_range
    if not p.log:
        return p.place(low), p.place(high)
    ends = -math.log(RANGE), math.log(reach if p.field.path == WEAR else RANGE)
    return max(ends[0], p.place(low) if low > 0.0 else ends[0]), min(ends[1], p.place(high))


class Problem(NamedTuple):
    """What is minimised: readings in their errors, priors, and a pull that decides where both say nothing."""

    parameters: list[Parameter]
    items: list[Item]
    known: list[tuple[float, ...]]
    stated: bool

    @property
    def measured(self) -> Floats:
        return np.array([item.value for item in self.items])

    @property
    def error(self) -> Floats:
        return np.array([item.error for item in self.items])

    @property
    def wear(self) -> int | None:
        """Place of k_b among the fields, where worn blades tell it."""
        worn = any(item.worn for item in self.items)
        return next((j for j, q in enumerate(self.parameters) if q.field.path == WEAR and worn), None)

    @property
    def besides(self) -> tuple[Floats, Floats]:
        """Rows on u beside those of the readings, and what they should give."""
        p = len(self.parameters)
        held = [j for j in range(p) if self.known[j]]
        spreads = np.array([self.known[j][1] for j in held]).reshape(-1, 1)
        rows = np.eye(p)[held] / spreads
        aims = np.array([self.known[j][0] for j in held]) / spreads[:, 0]
        pull = PULL * np.eye(p) if p > 1 else np.zeros((0, p))
        return np.concatenate([rows, pull]), np.concatenate([aims, np.zeros(len(pull))])

    @property
    def freedom(self) -> int:
        return len(self.items) + sum(bool(row) for row in self.known) - len(self.parameters)
