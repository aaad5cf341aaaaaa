"""On which inputs the variance of an output hangs: Sobol' indices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from libblade._case import Case
from libblade._errors import NotSolved, refuse
from libblade._evaluate import _names
from libblade._point import OUTPUTS, _Same
from libblade._progress import Progress
from libblade._samples import Dominant, Rng, by_path, check_samples, generator, moves, solve_rows, strongest
from libblade._spread import Distribution, Spread, statistics, uncertain_inputs
from libblade._units import Floats


@dataclass(frozen=True, eq=False, repr=False)
class Sensitivity(_Same):
    """Sobol' indices of one output: shares of its variance; k inputs."""

    case: Case
    spread: dict[str, Distribution]
    output: str
    fields: tuple[str, ...]
    """Paths."""
    first: Floats
    """What the variance would lose on average if this input alone were known, over the variance [-], (k,)."""
    first_error: Floats
    """Half of the 95 % interval, by resampling [-], (k,)."""
    total: Floats
    """What would be left of it if all other inputs were known [-], (k,)."""
    total_error: Floats
    """Same, (k,)."""
    standard_deviation: float
    """Of the output, SI."""
    samples: int
    """Blocks of k + 2 points."""
    used: int
    """Blocks in which every point has a value: the indices are of these alone. Where inputs are such that the nip has no
    solution nothing is said."""
    not_solved: float
    """Share of all points without a value."""

    @property
    def dominant(self) -> Dominant | None:
        """None for an output that does not move."""
        path = strongest(dict(zip(self.fields, self.total.tolist(), strict=True)))
        return (
            None if path is None else Dominant(path, float(self.total[self.fields.index(path)]), "total Sobol' index")
        )

    def __repr__(self) -> str:
        output = OUTPUTS[self.output]
        sd = self.standard_deviation * output.display_scale
        lines = [f"{self.output}: standard deviation {sd:.3g} {output.display_unit}, {self.samples} blocks of samples"]
        if self.used < self.samples:
            lines[0] += (
                f", {self.used} of them solved throughout and used ({self.not_solved:.1%} of the points without a value)"
            )
        rows = zip(self.fields, self.first, self.first_error, self.total, self.total_error, strict=True)
        lines += [f"  {f}: first {a:.3f} +- {da:.3f}, total {b:.3f} +- {db:.3f}" for f, a, da, b, db in rows]
        return "\n".join(lines)


class _Law(Protocol):
    def ppf(self, share: Floats, /) -> Floats: ...


class Indices(NamedTuple):
    """Sobol' indices and half widths of their 95 % intervals, (k,) each; blocks used, share without value, deviation."""

    first: Floats
    first_error: Floats
    total: Floats
    total_error: Floats
    used: int
    missing: float
    deviation: float


def sobol_indices(function: Callable[[Floats], Floats], laws: Sequence[_Law], samples: int, rng: Rng = None) -> Indices:
    """Of a function of rows (n, k) -> (n,), NaN where it has no value: a block of k + 2 rows with one is left out whole."""
    check_samples(samples, power=True)
    random = generator(rng)
    k = len(laws)
    problem = {"num_vars": k, "names": [str(i) for i in range(k)], "bounds": [[0.0, 1.0]] * k}
    draw, analyze = statistics("SALib.sample.sobol").sample, statistics("SALib.analyze.sobol").analyze
    shares = draw(problem, samples, calc_second_order=False, seed=random)
    rows = np.stack([law.ppf(shares[:, i]) for i, law in enumerate(laws)], axis=-1)
    values = np.asarray(function(rows), dtype=float).reshape(samples, k + 2)
    known = np.isfinite(values)
    whole = values[known.all(axis=1)]
    missing = 1.0 - float(known.mean())
    if len(whole) < 2:
        raise NotSolved(f"{len(whole)} of {samples} blocks of samples are solved throughout: no indices")
    # The points of a block differ in one input at a time: first and last are independent draws.
    deviation = float(np.std(whole[:, [0, -1]]))
    nothing = np.full(k, np.nan)
    if not moves(whole):
        return Indices(nothing, nothing, nothing, nothing, len(whole), missing, deviation)
    seed = int(random.integers(1, 2**31))  # SALib takes 0 for none
    found = analyze(problem, whole.ravel(), calc_second_order=False, num_resamples=200, seed=seed)
    s1, s1_conf, st, st_conf = (np.asarray(found[name], dtype=float) for name in ("S1", "S1_conf", "ST", "ST_conf"))
    return Indices(s1, s1_conf, st, st_conf, len(whole), missing, deviation)


def sensitivity(
    case: Case,
    spread: Spread,
    output: str,
    *,
    samples: int = 256,
    rng: Rng = None,
    threads: int = 0,
    progress: Progress = False,
    start: str = "resting",
    mesh: int = 1,
) -> Sensitivity:
    """First and total Sobol' indices of an output: on which of the inputs in ``spread`` its variance hangs.

    Saltelli's estimators (Saltelli et al. 2010, Comput. Phys. Commun. 181:259) by SALib, on ``samples`` blocks of k + 2 points,
    a power of two. A block with a point that has no value is left out whole: the indices then hold for the part of the inputs'
    ranges that is solved, where the inputs are no longer quite independent. ``used`` and ``not_solved`` say how much is left
    out. Estimates near 0 may be a little negative.

    Needs SciPy and SALib: pip install "libblade[statistics]". Raises InvalidInput on bad names, distributions and options,
    NotSolved where no two blocks are left.
    """
    if not isinstance(output, str):
        raise refuse("output", output, "must be the name of one output")
    inputs, names = uncertain_inputs(case, spread), _names(output)
    run = {"threads": threads, "progress": progress, "start": start, "mesh": mesh}
    found = sobol_indices(
        lambda rows: solve_rows(case, inputs, names, rows, **run)[0][:, 0],
        [one.marginal() for one in inputs], samples, rng,
    )  # fmt: skip
    paths = tuple(one.field.path for one in inputs)
    return Sensitivity(
        case, by_path(inputs), output, paths, *found[:4], found.deviation, samples, found.used, found.missing
    )
