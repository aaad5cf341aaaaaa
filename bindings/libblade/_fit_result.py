"""What a fit found, and what it says of further readings."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from libblade._case import Case
from libblade._errors import LibbladeWarning, refuse
from libblade._fit_model import Model, first_failure, parameter
from libblade._fit_notes import Unknown, outside
from libblade._fit_record import _column
from libblade._ink import _quantile
from libblade._physics import _number
from libblade._point import Convergence, _Same
from libblade._reading import Item, Reading, item_of
from libblade._units import Floats

REACH = 4.0  # a history goes so many times as far as the record


@dataclass(frozen=True, eq=False)
class FitBand(_Same):
    """What a fit says readings would be, 90 % each; every number has the shape of the input."""

    distance: Any
    """[m]; NaN for readings without."""
    value: Any
    """Of the measured kind, SI."""
    lower: Any
    """Of the curve."""
    upper: Any
    """Of the curve."""
    lower_reading: Any
    """Of one more reading, as uncertain as it states, else as the ones fitted."""
    upper_reading: Any
    """Of one more reading."""
    inside: Any
    """Whether it lies within the range of the fitted readings of its kind."""
    note: str
    """What lies outside it; empty where nothing does."""


@dataclass(frozen=True, eq=False)
class Fit(_Same):
    """Fields fitted to readings; p fields, n readings."""

    fields: tuple[str, ...]
    values: Floats
    """SI, (p,)."""
    covariance: Floats
    """(p, p), of the logarithms of the values [-]; of the values themselves, SI, for angles, temperatures and what may be negative
    (``in_log``)."""
    standard_error: Floats
    """Relative [-], or SI where not ``in_log``, (p,)."""
    lower: Floats
    """90 % interval by Student's t on the degrees of freedom, SI, (p,)."""
    upper: Floats
    """Same, (p,)."""
    undetermined: tuple[str, ...]
    """Fields that the readings do not determine: interval wider than a factor of 3 either way (not ``in_log``: than the usual
    range), or the search ended at a limit."""
    unknown: tuple[Unknown, ...]
    """Directions among the fields that the readings cannot tell, least known first; without the priors."""
    notes: tuple[str, ...]
    """What the readings can and cannot say, in sentences."""
    readings: tuple[Reading, ...]
    measured: Floats
    """SI, (n,)."""
    reading_error: Floats
    """Standard error of the readings that the covariance stands on, SI, (n,)."""
    residuals: Floats
    """Model less reading, SI, (n,)."""
    scatter: float
    """sqrt(sum of squares of the residuals / degrees of freedom); in stated errors where they were stated, else SI."""
    degrees_of_freedom: int
    """n and the priors, less p."""
    in_log: tuple[bool, ...]
    """Whether a field was fitted in its logarithm."""
    convergence: Convergence
    case: Case
    """With the fitted values."""

    @property
    def distance(self) -> Floats:
        """Of the readings [m], NaN for those without, (n,)."""
        return np.array([item.distance for item in _items(self.readings)])

    @property
    def predicted(self) -> Floats:
        """What the model says of the readings, SI, (n,)."""
        return self.measured + self.residuals

    def predict(self, at: Reading | Sequence[Reading] | npt.ArrayLike) -> FitBand:
        """What readings would be, with 90 % intervals of the model and of one more reading: linear propagation.

        ``at``: a ``Reading`` without value or several; or, where worn blades of one kind were fitted, distances [m]. A reading that
        states no error is taken to be as uncertain as those of its kind (beside it in distance). Beyond the range of the fitted
        readings it is marked in ``inside`` and warned of with LibbladeWarning: there it holds only if the model does.
        Raises InvalidInput on what is no reading and on a distance below 0, NotSolved where the model has no solution.
        """
        asked, shape = self._asked(at)
        fitted = _items(self.readings)
        parameters = [parameter(self.case, path) for path in self.fields]
        far = max([1.0, *(item.distance for item in fitted if item.worn)])
        model = Model(self.case, parameters, [_within(item, fitted, far) for item in asked], REACH)
        value, slopes = model.at(np.zeros(len(parameters)))
        first_failure(model, np.zeros(len(parameters)))
        to_own = np.array([1.0 if p.log else 1.0 / p.scale for p in parameters])
        quantile = _quantile(self.degrees_of_freedom)
        half = quantile * np.linalg.norm((slopes * to_own) @ _root(self.covariance), axis=1)
        noise = np.array([self._noise(item, fitted, v) for item, v in zip(asked, value, strict=True)])
        wide = np.hypot(half, quantile * noise)
        beyond = [tuple(outside(self.case, item, fitted)) for item in asked]
        note = "; ".join(dict.fromkeys(word for words in beyond for word in words))
        if note:
            told = f"asked beyond the readings, where it holds only if the model does: {note}"
            warnings.warn(told, LibbladeWarning, stacklevel=2)
        s = np.array([item.distance for item in asked])
        columns = (s, value, value - half, value + half, value - wide, value + wide)
        distance, middle, lower, upper, low, high = (_number(column.reshape(shape)) for column in columns)
        inside = np.array([not words for words in beyond]).reshape(shape)
        return FitBand(distance, middle, lower, upper, low, high, bool(inside) if shape == () else inside, note)

    def _asked(self, at: Any) -> tuple[list[Item], tuple[int, ...]]:
        if isinstance(at, Reading):
            return [item_of(at, "at", asked=True)], ()
        if isinstance(at, list | tuple) and any(isinstance(reading, Reading) for reading in at):
            return [item_of(reading, f"at[{k}]", asked=True) for k, reading in enumerate(at)], (len(at),)
        one = {(r.kind, repr(r.settings), repr(r.times)) for r in self.readings}
        if len(one) != 1 or self.readings[0].distance is None:
            raise refuse(
                "at", at, "must be a Reading or several: distances go with worn blades of one kind and setting"
            )
        s = _column(at, "m", "distance")
        if not np.all(s >= 0.0):
            raise refuse("distance", float(s.min()), "must be at least 0 m")
        first = self.readings[0]
        asked = [replace(first, value=None, error=None, distance=float(x)) for x in s.ravel()]
        return [item_of(reading, "at", asked=True) for reading in asked], s.shape

    def _noise(self, item: Item, fitted: list[Item], value: float) -> float:
        if math.isfinite(item.error):
            return item.error
        rows = [k for k, other in enumerate(fitted) if other.kind == item.kind]
        if not rows:
            return math.nan
        s, errors = np.array([fitted[k].distance for k in rows]), self.reading_error[rows]
        if item.worn and np.isfinite(s).all():
            order = np.argsort(s)
            return float(np.interp(item.distance, s[order], errors[order]))
        return float(np.median(errors / np.maximum(self.predicted[rows], 1e-300))) * value

    def __repr__(self) -> str:
        kinds = ", ".join(dict.fromkeys(reading.kind for reading in self.readings))
        lines = [f"{self.convergence}, {self.measured.size} readings of {kinds}, scatter {self.scatter:.2g}"]
        for name, value, low, high in zip(self.fields, self.values, self.lower, self.upper, strict=True):
            lines.append(f"  {name:<26}{value:.5g}  90 %: {low:.4g} to {high:.4g}")
        return "\n".join([*lines, *(f"  {note}" for note in self.notes)])


def _items(readings: Sequence[Reading]) -> list[Item]:
    return [item_of(reading, "data", asked=True) for reading in readings]


def _within(item: Item, fitted: list[Item], far: float) -> Item:
    """With the largest reading of its kind, grown with the distance: how far its history has to go."""
    largest = max([0.0, *(other.value for other in fitted if other.kind == item.kind)])
    return item._replace(value=largest * max(1.0, item.distance / far)) if item.worn and largest else item


def _root(covariance: Floats) -> Floats:
    values, vectors = np.linalg.eigh(covariance)
    root: Floats = vectors * np.sqrt(np.maximum(values, 0.0))
    return root
