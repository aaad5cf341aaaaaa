"""Samples of uncertain inputs, alone or at every point of a grid, and what the nip makes of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case
from libblade._errors import InvalidInput, one_of, refuse
from libblade._evaluate import _CONVERGED, _rows
from libblade._fields import Field
from libblade._point import OUTPUTS
from libblade._spread import Distribution, Spread, UncertainInput, statistics, uncertain_inputs
from libblade._sweep import _axes, _dimension_names
from libblade._units import Floats

METHODS = ("sobol", "latin_hypercube", "random")
_NOISE = 1e-6  # relative
Rng = int | np.random.Generator | None


class Dominant(NamedTuple):
    """The input on which an output hangs most."""

    field: str
    strength: float
    by: str
    """What the strength is: "rank correlation" or "total Sobol' index"."""

    def __str__(self) -> str:
        return f"{self.field} ({self.by} {self.strength:.2f})"


def strongest(by: dict[str, float]) -> str | None:
    """The key of the largest finite value."""
    finite = {path: value for path, value in by.items() if np.isfinite(value)}
    return max(finite, key=lambda path: finite[path]) if finite else None


def moves(values: Floats) -> bool:
    """Whether finite values differ by more than a solver's tolerance."""
    return bool(np.ptp(values) > _NOISE * np.max(np.abs(values)))


def unit_samples(dimensions: int, samples: int, method: str, rng: Rng) -> Floats:
    """Points in the unit cube, (samples, dimensions)."""
    one_of("method", method, METHODS)
    check_samples(samples, power=method == "sobol")
    random = generator(rng)
    if method == "random":
        return random.random((samples, dimensions))
    qmc = statistics("scipy.stats.qmc")
    kind = qmc.Sobol if method == "sobol" else qmc.LatinHypercube
    points: Floats = kind(dimensions, seed=random).random(samples)
    return points


def check_samples(samples: object, *, power: bool) -> None:
    """Raises InvalidInput."""
    if isinstance(samples, bool) or not isinstance(samples, int | np.integer) or samples < 2:
        raise refuse("samples", samples, "must be a whole number from 2")
    if power and samples & (samples - 1):
        below = 1 << (int(samples).bit_length() - 1)
        raise refuse("samples", samples, f"must be a power of two for Sobol' points, such as {below} or {2 * below}")


def generator(rng: Rng) -> np.random.Generator:
    """Raises InvalidInput."""
    whole = isinstance(rng, int | np.integer) and not isinstance(rng, bool) and rng >= 0
    if rng is not None and not whole and not isinstance(rng, np.random.Generator):
        raise refuse("rng", rng, "must be None, a whole number from 0 or a numpy Generator")
    return np.random.default_rng(rng)


def solve_rows(
    case: Case, inputs: Sequence[UncertainInput | Field], names: tuple[str, ...], values: Floats, **options: Any
) -> tuple[Floats, npt.NDArray[np.int8]]:
    """Outputs (n, m) and status (n,) at rows of SI values (n, k)."""
    one_of("start", options["start"], ("resting", "riding"))
    paths = [one.path if isinstance(one, Field) else one.field.path for one in inputs]
    numbers, status, _, _ = _rows(case, paths, names, values, slopes=False, **options)
    return numbers, status


def by_path(inputs: Sequence[UncertainInput]) -> dict[str, Distribution]:
    """Distributions by field path."""
    return {one.field.path: one.distribution for one in inputs}


def about_output(name: str) -> dict[str, Any]:
    """Attributes of an output's variable."""
    output = OUTPUTS[name]
    return {
        "units": output.unit,
        "long_name": output.long_name,
        "display_units": output.display_unit,
        "display_scale": output.display_scale,
        "output": name,
    }


def about_field(field: Field) -> dict[str, Any]:
    """Attributes of a field's coordinate."""
    unit = field.display_unit or "1"
    return {"units": field.unit, "long_name": field.meaning, "display_units": unit, "field": field.path}


def about_case(case: Case, what: str, spread: Mapping[str, Distribution]) -> dict[str, str]:
    """Attributes of a dataset."""
    return {
        "Conventions": "CF-1.11",
        "title": f"libblade {what} of {case.name or 'a case'}",
        "case": case.to_json(),
        "spread": "; ".join(f"{path}: {one!r}" for path, one in spread.items()),
        "libblade_version": str(_core.version),
    }


class Around(NamedTuple):
    """Outputs at every point of a grid, for the same samples of what is uncertain everywhere."""

    axes: list[tuple[Field, Floats]]
    inputs: list[UncertainInput]
    names: tuple[str, ...]
    numbers: Floats
    """(samples, grid..., outputs)."""
    solved: npt.NDArray[np.bool_]
    """(samples, grid...)."""

    def coordinates(self) -> tuple[dict[str, Any], tuple[str, ...]]:
        """Of the grid, for a dataset, and its dimensions."""
        dims = tuple(_dimension_names(self.axes))
        return {
            dim: ((dim,), values, about_field(field)) for dim, (field, values) in zip(dims, self.axes, strict=True)
        }, dims


def around(
    case: Case,
    fields: Mapping[str, Any],
    spread: Spread,
    names: tuple[str, ...],
    *,
    samples: int,
    method: str,
    rng: Rng,
    **options: Any,
) -> Around:
    """What is uncertain is added to what is set: a distribution of a grid's field stands about the value of the grid."""
    axes, inputs = _axes(fields), uncertain_inputs(case, spread)
    paths = [field.path for field, _ in axes]
    still = [one.item.given for one in inputs if one.field.path in paths and not one.distribution.moves]
    if still:
        raise InvalidInput(
            [(name, "", "is set on the grid: its distribution must stand about the case's value") for name in still]
        )
    shares = unit_samples(len(inputs), samples, method, rng)
    shape = (samples, *(values.size for _, values in axes))
    columns: dict[str, Floats] = {}
    for d, (field, values) in enumerate(axes):
        column = np.broadcast_to(values, (samples, values.size))
        for k, one in enumerate(inputs):
            if one.field is field:
                column = np.stack([one.marginal(float(value)).ppf(shares[:, k]) for value in values], axis=-1)
        columns[field.path] = column.reshape([samples, *(values.size if e == d else 1 for e in range(len(axes)))])
    for k, one in enumerate(inputs):
        if one.field.path not in columns:
            columns[one.field.path] = one.marginal().ppf(shares[:, k]).reshape([samples] + [1] * len(axes))
    everything = {field.path: field for field in [*(f for f, _ in axes), *(one.field for one in inputs)]}
    # Sample by sample: points that share an ink and an engraving come one after the other and share its tables.
    rows = np.stack([np.broadcast_to(columns[path], shape).ravel() for path in everything], axis=-1)
    numbers, status = solve_rows(case, list(everything.values()), names, rows, **options)
    return Around(axes, inputs, names, numbers.reshape(*shape, len(names)), (status == _CONVERGED).reshape(shape))
