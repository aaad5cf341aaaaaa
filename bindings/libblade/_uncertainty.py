"""How sure an output is when inputs carry a spread, and which input that hangs on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from libblade._case import Case
from libblade._evaluate import _CONVERGED, _names
from libblade._lazy import lazy
from libblade._point import OUTPUTS, STATUSES, _Same
from libblade._progress import Progress
from libblade._samples import (
    Dominant,
    Rng,
    about_case,
    about_field,
    about_output,
    around,
    by_path,
    moves,
    solve_rows,
    strongest,
    unit_samples,
)
from libblade._spread import Distribution, Spread, UncertainInput, statistics, uncertain_inputs
from libblade._sweep import _dimension_names
from libblade._units import Floats

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

QUANTILES = (0.1, 0.5, 0.9)


class Quantiles(NamedTuple):
    """Of one output over the samples, SI."""

    p10: float
    p50: float
    p90: float
    share: float
    """Of the samples that have a value: the quantiles are of these alone."""
    between: tuple[tuple[float, float], ...]
    """Where P10, P50 and P90 of all samples lie, whatever the missing ones would be; infinite where they leave it open."""


@dataclass(frozen=True, eq=False, repr=False)
class Uncertainty(_Same):
    """Outputs over samples of the uncertain inputs, which are taken to be independent."""

    case: Case
    spread: dict[str, Distribution]
    """By field path."""
    quantiles: dict[str, Quantiles]
    """By output."""
    rank_correlation: dict[str, dict[str, float]]
    """Spearman's, by output and field path, over the samples with a value; sees what rises or falls, not what does both. NaN
    where nothing moves."""
    not_solved: float
    """Share of the samples whose nip has no solution. They stay in the dataset as NaN with their status."""
    dataset: xr.Dataset
    """Outputs and inputs against ``sample``, SI with ``units``; status as integer flag."""

    @property
    def dominant(self) -> dict[str, Dominant]:
        """By output; none for an output that does not move."""
        return {
            name: Dominant(path, by[path], "rank correlation")
            for name, by in self.rank_correlation.items()
            if (path := strongest({key: abs(value) for key, value in by.items()})) is not None
        }

    def __repr__(self) -> str:
        lines = [
            f"{self.dataset.sizes['sample']} samples of {len(self.spread)} inputs, {self.not_solved:.1%} not solved"
        ]
        for name, q in self.quantiles.items():
            output = OUTPUTS[name]
            three = " / ".join(f"{v * output.display_scale:.4g}" for v in q[:3])
            line = f"  {name}: P10/P50/P90 {three} {output.display_unit}"
            line += f" of the {q.share:.1%} that have a value" if q.share < 1.0 else ""
            lines.append(line + (f", most by {self.dominant[name]}" if name in self.dominant else ", does not move"))
        return "\n".join(lines)


def uncertainty(
    case: Case,
    spread: Spread,
    outputs: str | Sequence[str],
    *,
    samples: int = 1024,
    method: str = "sobol",
    rng: Rng = None,
    threads: int = 0,
    progress: Progress = False,
    start: str = "resting",
    mesh: int = 1,
) -> Uncertainty:
    """P10, P50 and P90 of outputs when the fields in ``spread`` are uncertain, each on its own.

    ``spread`` maps fields to distributions (``{"setting.set_angle": lb.Normal(sd="1.5 deg")}``; see ``usual_spread``).
    ``method``: scrambled Sobol' points (``samples`` a power of two; Owen 1998), a Latin hypercube (McKay, Beckman & Conover
    1979) or independent draws. The same ``rng`` gives the same numbers, to the bit, with any number of threads. Samples that
    are not solved stay in the dataset and are counted; quantiles say of how many samples they are, and between what those of
    all lie. What the equations themselves leave out is not in it.

    Needs SciPy: pip install "libblade[statistics]". Raises InvalidInput on bad names, distributions and options.
    """
    inputs, names = uncertain_inputs(case, spread), _names(outputs)
    shares = unit_samples(len(inputs), samples, method, rng)
    values = np.stack([one.marginal().ppf(shares[:, k]) for k, one in enumerate(inputs)], axis=-1)
    run = {"threads": threads, "progress": progress}
    numbers, status = solve_rows(case, inputs, names, values, start=start, mesh=mesh, **run)
    quantiles = {name: _quantiles(numbers[:, k]) for k, name in enumerate(names)}
    correlation = {name: _rank_correlation(inputs, values, numbers[:, k]) for k, name in enumerate(names)}
    data = _samples_dataset(case, inputs, names, (values, numbers, status))
    failed = float(np.mean(status != _CONVERGED))
    return Uncertainty(case, by_path(inputs), quantiles, correlation, failed, data)


def _quantiles(values: Floats) -> Quantiles:
    known = values[np.isfinite(values)]
    missing = 1.0 - known.size / values.size
    if not known.size:
        return Quantiles(np.nan, np.nan, np.nan, 0.0, ((-np.inf, np.inf),) * 3)

    def at(share: float) -> float:
        return float(np.quantile(known, share)) if 0.0 <= share <= 1.0 else float(np.copysign(np.inf, share))

    # The missing ones all below everything known, or all above it.
    between = tuple((at((q - missing) / (1.0 - missing)), at(q / (1.0 - missing))) for q in QUANTILES)
    p10, p50, p90 = (at(q) for q in QUANTILES)
    return Quantiles(p10, p50, p90, 1.0 - missing, between)


def _rank_correlation(inputs: Sequence[UncertainInput], values: Floats, output: Floats) -> dict[str, float]:
    known = np.isfinite(output)
    moved = known.sum() > 2 and moves(output[known])
    spearman = statistics("scipy.stats").spearmanr
    return {
        one.field.path: float(spearman(values[known, k], output[known]).statistic) if moved else np.nan
        for k, one in enumerate(inputs)
    }


def _samples_dataset(
    case: Case, inputs: Sequence[UncertainInput], names: tuple[str, ...], columns: tuple[Floats, Floats, Any]
) -> xr.Dataset:
    values, numbers, status = columns
    leaves = _dimension_names([(one.field, values[:, k]) for k, one in enumerate(inputs)])
    coords = {leaf: ("sample", values[:, k], about_field(inputs[k].field)) for k, leaf in enumerate(leaves)}
    variables: dict[str, Any] = {
        f"{name}_result" if name in leaves else name: ("sample", numbers[:, k], about_output(name))
        for k, name in enumerate(names)
    }
    words = tuple(STATUSES)
    flags = {"flag_values": np.arange(len(words), dtype=np.int8), "flag_meanings": " ".join(words), "units": "1"}
    variables["status"] = ("sample", status, {"long_name": "how the solve ended", **flags})
    return xr.Dataset(variables, coords, about_case(case, "samples", by_path(inputs)))


def uncertainty_along(
    case: Case,
    fields: Mapping[str, Any],
    spread: Spread,
    outputs: str | Sequence[str],
    *,
    samples: int = 128,
    method: str = "sobol",
    rng: Rng = None,
    threads: int = 0,
    progress: Progress = False,
    start: str = "resting",
    mesh: int = 1,
) -> xr.Dataset:
    """P10, P50 and P90 of outputs at every point of a grid over ``fields``, which are given as for ``sweep``.

    The same samples stand at every point. What is uncertain is added to what is set: a spread of a grid's own field stands
    about each of its values. Returns the outputs against ``quantile`` (0.1, 0.5, 0.9) and the fields, of the samples that have
    a value, whose share is ``<output>_share``. Other arguments and errors: as of ``uncertainty``.
    """
    names = _names(outputs)
    run = {"threads": threads, "progress": progress, "start": start, "mesh": mesh}
    found = around(case, fields, spread, names, samples=samples, method=method, rng=rng, **run)
    coords, dims = found.coordinates()
    shape = found.solved.shape[1:]
    variables: dict[str, Any] = {}
    for k, name in enumerate(names):
        columns = found.numbers[..., k].reshape(samples, -1).T
        all_of_it = [_quantiles(column) for column in columns]
        key = f"{name}_result" if name in dims else name
        three = np.reshape([q[:3] for q in all_of_it], (*shape, 3))
        variables[key] = (("quantile", *dims), np.moveaxis(three, -1, 0), about_output(name))
        share = {"units": "1", "long_name": f"share of the samples with a value of {name}"}
        variables[f"{key}_share"] = (dims, np.reshape([q.share for q in all_of_it], shape), share)
    about = about_case(case, "quantiles", by_path(found.inputs)) | {"samples": str(samples)}
    return xr.Dataset(variables, {"quantile": list(QUANTILES), **coords}, about)
