"""Uneven load across the web: the nip as independent strips side by side."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from libblade import _core
from libblade._blade import bending
from libblade._case import Case, require_case
from libblade._errors import LibbladeWarning, NotSolved, refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._point import OUTPUTS, Convergence, _Same, solve
from libblade._sweep import sweep
from libblade._units import positive, si

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


class Place(NamedTuple):
    """A place across the web and what a result is there."""

    y: float
    """From the left edge, seen along the web's motion [m]."""
    line_load: float
    """[N/m]."""
    value: float
    """SI."""


@dataclass(frozen=True, eq=False, repr=False)
class AcrossWidth(_Same):
    """Loads and results across the web."""

    dataset: xr.Dataset
    """Against ``y`` [m]: ``interference`` (negative: lifted off), ``line_load`` and the outputs asked for, NaN where the blade
    does not touch or is not solved."""
    mean_load: float
    """[N/m]."""
    lifted_share: float
    """Share of the width without contact."""
    wave_stiffening: float
    """How much stiffer than its strips the blade is against the waviness; the strips then understate what is uneven."""
    convergence: Convergence

    def largest(self, name: str) -> Place:
        """Where an output is largest, e.g. the worst side for ``excess_ink``."""
        return self._side(name, np.nanargmax)

    def smallest(self, name: str) -> Place:
        """Where an output is smallest."""
        return self._side(name, np.nanargmin)

    def _side(self, name: str, pick: Any) -> Place:
        if name not in self.dataset or self.dataset[name].dtype.kind != "f":
            raise refuse("name", name, "is no number that was computed: " + ", ".join(map(str, self.dataset.data_vars)))
        values = self.dataset[name].values
        if np.all(np.isnan(values)):
            raise NotSolved(f"{name} is not known anywhere across the web", self)
        k = int(pick(values))
        return Place(float(self.dataset["y"][k]), float(self.dataset["line_load"][k]), float(values[k]))

    def __repr__(self) -> str:
        low, high = self.smallest("line_load"), self.largest("line_load")
        lifted = f", {self.lifted_share:.0%} of the width lifted off" if self.lifted_share > 0.0 else ""
        return (
            f"{self.convergence}\n  mean {self.mean_load:.4g} N/m: {low.value:.4g} N/m at {low.y:.3g} m to {high.value:.4g} N/m at "
            f"{high.y:.3g} m{lifted}"
        )


def across_width(
    case: Case,
    *,
    width: Any,
    misalignment: Any = 0.0,
    holder_bow: Any = 0.0,
    holder_sag: Any = 0.0,
    roll_sag: Any = 0.0,
    waviness_amplitude: Any = 0.0,
    waviness_length: Any = "0.1 m",
    places: int = 33,
    outputs: Sequence[str] = ("film_on_lands", "excess_ink", "mean_pressure"),
) -> AcrossWidth:
    """The line load across the web, and results at each place.

    ``width`` of the web; ``misalignment``: holder advance at the right end less that at the left; ``holder_bow``: the holder's
    middle back from the roll against its ends (a parabola); ``holder_sag`` and ``roll_sag``: the same for the line of a beam under
    uniform load; ``waviness_amplitude`` and ``waviness_length`` of the blade's edge. Lengths [m] or texts with unit. Strips do not
    hold each other (they do in a wavy blade, see ``wave_stiffening``).

    With ``setting.holding`` "fixed" the holder stands where an even nip would carry the set load; "floating" keeps the mean
    load. Each place is then solved at its own load, bedded as the case says.

    Raises InvalidInput on bad values, NotSolved when the even nip or the loads are not found.
    """
    require_case(case)
    if isinstance(places, bool) or not isinstance(places, int) or not 3 <= places <= 2001:
        raise refuse("places", places, "must be a whole number from 3 to 2001")
    even = solve(case, step_response=False, other_branch=False, run_out=False)
    lengths = {
        "misalignment": misalignment,
        "holder_bow": holder_bow,
        "holder_sag": holder_sag,
        "roll_sag": roll_sag,
        "waviness_amplitude": waviness_amplitude,
    }
    friction = float(even.friction_coefficient)
    dry = bending(case.replace({"setting.line_load": even.line_load}), friction=friction)
    values = _core.width_loads(
        case._core,
        friction=friction,
        fixed=case["setting.holding"] == "fixed",
        advance=dry.interference,
        mean_load=float(even.line_load),
        places=places,
        width=positive(width, "m", "width"),
        waviness_length=positive(waviness_length, "m", "waviness_length"),
        **{name: si(value, "m", name) for name, value in lengths.items()},
    )
    record = Convergence(*values["convergence"])
    if not record.ok:
        raise NotSolved(str(record), values)
    y, loads = values["y"], values["load"]
    touching = np.isfinite(loads) & (loads > 0.0)
    about = {"units": "N/m", "long_name": "normal load per width", "display_units": "N/m"}
    data = xr.Dataset(
        {
            "interference": ("y", values["interference"], {"units": "m", "display_units": "mm"}),
            "line_load": ("y", np.where(touching, loads, 0.0), about),
        },
        {"y": ("y", y, {"units": "m", "long_name": "across the web from its left edge"})},
    )
    low, high = FIELDS["setting.line_load"].hard_range  # outside, a place has a load but no results
    solved = touching & (loads >= low) & (loads <= high)
    distinct, place = np.unique(loads[solved], return_inverse=True)
    if distinct.size:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", LibbladeWarning)  # loads far from the usual ones are the finding
            grid = sweep(case, {"setting.line_load": distinct}, outputs=list(outputs), on_failure="flag")
        for name in outputs:
            column = np.full(y.size, np.nan)
            key = name if name in grid.data_vars else f"{name}_result"
            column[solved] = grid[key].values.astype(float)[place]
            data[name] = ("y", column, dict(grid[key].attrs) if name in OUTPUTS else {"units": "1"})
    return AcrossWidth(data, values["mean_load"], values["lifted_share"], values["wave_stiffening"], record)
