"""The process window when inputs are uncertain: how probable it is that a setting keeps every limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._case import LOADS, Case, require_case
from libblade._errors import InvalidInput, refuse
from libblade._lazy import lazy
from libblade._limits import within
from libblade._point import OUTPUTS, _Same
from libblade._progress import Progress
from libblade._samples import Rng, about_case, about_output, around, by_path
from libblade._spread import Distribution, Spread, statistics
from libblade._units import Floats, gather, si
from libblade._window import _dimensions, _display, _with_unit

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


@dataclass(frozen=True, eq=False, repr=False)
class WindowProbability(_Same):
    """Probability that a setting keeps every limit, over set angle and load."""

    dataset: xr.Dataset
    """``probability`` of all limits, ``<output>_holds`` of each alone and ``solved``, shares of the samples [-], over the grid."""
    samples: int
    confidence: float
    """What was asked of the recommended setting."""
    limits: dict[str, str]
    spread: dict[str, Distribution]
    """By field path."""
    recommended: dict[str, float]
    """The least load whose probability is at least ``confidence``; without such a setting the most probable one. SI, by
    dimension."""
    probability: float
    """There: a share of the samples, see ``at_least``. It was chosen for being high: fresh samples say a little less
    on average."""
    robust: bool
    """Whether ``probability`` is at least ``confidence``."""
    case: Case
    """At the recommended setting."""

    @property
    def at_least(self) -> float:
        """What the true probability there exceeds with 95 % confidence, were the samples independent (Clopper & Pearson 1934,
        Biometrika 26:404); Sobol' points do better."""
        kept = round(self.probability * self.samples)
        law = statistics("scipy.stats").beta
        return float(law.ppf(0.05, kept, self.samples - kept + 1)) if kept else 0.0

    @property
    def at_edge(self) -> tuple[str, ...]:
        """Dimensions in which the recommended setting is the first or last of the map: a better one may lie outside."""
        ends = {dim: self.dataset[dim].values[[0, -1]] for dim in self.recommended}
        return tuple(dim for dim, value in self.recommended.items() if value in ends[dim])

    def summary(self) -> str:
        """The recommendation in a few lines."""
        place = ", ".join(f"{dim} {_display(self.dataset[dim], value)}" for dim, value in self.recommended.items())
        chance = f"{self.probability:.0%} of {self.samples} samples keep every limit there: at least {self.at_least:.0%} is sure"
        if self.robust:
            lines = [f"recommended: {place}, the least load with at least {self.confidence:.0%}", f"  {chance}"]
        else:
            lines = [
                f"NO setting on this map keeps every limit with {self.confidence:.0%}",
                f"  most probable: {place}; {chance}",
            ]
        lines += [f"  at the edge of the map in {dim}: a better one may lie outside" for dim in self.at_edge]
        here = self.dataset.sel(self.recommended)
        lines += [f"  {name} {text}: {float(here[f'{name}_holds']):.0%}" for name, text in self.limits.items()]
        return "\n".join([*lines, f"  solved: {float(here['solved']):.0%}"])

    def __repr__(self) -> str:
        return self.summary()


def window_probability(
    case: Case,
    fields: Mapping[str, Any],
    limits: Mapping[str, Any],
    spread: Spread,
    *,
    samples: int = 128,
    confidence: Any = 0.95,
    method: str = "sobol",
    rng: Rng = None,
    threads: int = 0,
    progress: Progress = False,
    start: str = "resting",
    mesh: int = 1,
) -> WindowProbability:
    """The probability that every limit holds at each point of a grid over set angle and load.

    ``fields`` is given as for ``sweep``, ``limits`` as for ``process_window`` (numeric outputs), ``spread`` as for
    ``uncertainty``. What is uncertain is added to what is set: the spread of the set angle and of the load stands about each
    value of the grid; the same samples stand at every point. A sample that is not solved keeps no limit.

    The recommended setting is the least load whose probability is at least ``confidence`` (least load that still wipes: common
    practice, no published source), at the most probable angle there; where there is no such load, the most probable setting,
    and ``robust`` is False.

    Needs SciPy: pip install "libblade[statistics]". Raises InvalidInput on bad names, limits, distributions and options.
    """
    require_case(case)
    wanted = si(confidence, "1", "confidence")
    if not 0.0 < wanted <= 1.0:
        raise refuse("confidence", confidence, "must be above 0 and at most 1")
    if not isinstance(limits, Mapping) or not limits:
        raise refuse("limits", limits, "must map at least one output to its limit")
    gather(
        [("limits", str(name), "is no numeric output; see output_table()") for name in limits if name not in OUTPUTS]
    )
    names = tuple(dict.fromkeys([*limits, "ink_carried"]))
    _check_limits(limits)
    run = {"threads": threads, "progress": progress, "start": start, "mesh": mesh}
    found = around(case, fields, spread, names, samples=samples, method=method, rng=rng, **run)
    coords, dims = found.coordinates()
    nips = {
        f"{name}_result" if name in dims else name: (("sample", *dims), found.numbers[..., k], about_output(name))
        for k, name in enumerate(names)
    }
    nips["status"] = (dims, np.zeros(found.solved.shape[1:]), {})
    grid = xr.Dataset(nips, coords)
    angle, load = _angle_and_load(grid)
    inside = found.solved.copy()
    shares: dict[str, Any] = {"solved": (dims, found.solved.mean(axis=0), {"long_name": "share of the samples solved"})}
    texts: dict[str, str] = {}
    for name, limit in limits.items():
        good, texts[name], _ = within(grid, name, limit)
        inside &= good
        shares[f"{name}_holds"] = (dims, good.mean(axis=0), {"long_name": f"probability that {name} {texts[name]}"})
    shares["probability"] = (dims, inside.mean(axis=0), {"long_name": "probability that every limit holds"})
    data = xr.Dataset(shares, coords, about_case(case, "window probability", by_path(found.inputs)))
    data = data.transpose(angle, load).sortby([angle, load])
    i, j = recommended_place(data["probability"].values, wanted)
    place = {angle: float(data[angle][i]), load: float(data[load][j])}
    chance = float(data["probability"][i, j])
    at = {str(data[dim].attrs["field"]): _with_unit(data[dim], value) for dim, value in place.items()}
    return WindowProbability(
        data, samples, wanted, texts, by_path(found.inputs), place, chance, chance >= wanted, case.replace(at)
    )


def _angle_and_load(grid: xr.Dataset) -> tuple[str, str]:
    swept = {str(grid[dim].attrs.get("field")) for dim in grid["status"].dims}
    if len(swept) != 2 or "setting.set_angle" not in swept or not set(LOADS) & swept:
        raise refuse("grid", ", ".join(sorted(swept)), "must be over setting.set_angle and a load, and nothing else")
    angle, load = _dimensions(grid)
    return angle, load


def recommended_place(probability: Floats, confidence: float) -> tuple[int, int]:
    """Of (angles, loads), loads rising: the first load that reaches the confidence, else the one of the most probable point;
    there the most probable angle, the middle one of equals."""
    best = probability.max(axis=0)
    enough = np.flatnonzero(best >= confidence)
    j = int(enough[0]) if enough.size else int(np.argmax(best))
    equals = np.flatnonzero(probability[:, j] == best[j])
    return int(equals[(equals.size - 1) // 2]), j


def _check_limits(limits: Mapping[str, Any]) -> None:
    """Before anything is solved: on one made-up point."""
    point = xr.Dataset({name: (("sample",), np.ones(1)) for name in {*limits, "ink_carried"}})
    problems: list[tuple[str, str, str]] = []
    for name, limit in limits.items():
        try:
            within(point, name, limit)
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
