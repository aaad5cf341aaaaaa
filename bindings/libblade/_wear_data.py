"""A wear history as a dataset: its columns, and what follows from them for feather and ceramic."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._feather import REFERENCE, feather_index, feather_peak
from libblade._lazy import lazy
from libblade._point import REGIMES
from libblade._schedule import Along, Schedule, StepCases
from libblade._units import Floats

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

# Name: SI unit, display unit, meaning.
COLUMNS = {
    "time": ("s", "h", "running and standing"),
    "schedule_step": ("1", "1", "step of the schedule, from 0"),
    "facet_length": ("m", "um", "length of the worn facet along the roll"),
    "bedded_angle": ("rad", "deg", "effective angle at which the facet is parallel to the roll"),
    "effective_angle": ("rad", "deg", "blade to roll tangent at the contact"),
    "length_lost": ("m", "um", "blade length lost along the roll-facing side, from the square end"),
    "removed_area": ("m2", "mm2", "metal worn off this blade per width, by its geometry"),
    "worn_area": ("m2", "mm2", "metal worn off this blade per width, integral of k_b N_a"),
    "film_on_lands": ("m", "um", "ink that passes between blade and lands, mean over a turn"),
    "film_over_turn": ("m", "um", "largest film on the lands over a turn"),
    "excess_ink": ("m", "um", "film on the lands beyond that of a clean wipe, mean over a turn"),
    "asperity_load": ("N/m", "N/m", "load carried by asperities, mean over a turn"),
    "line_load": ("N/m", "N/m", "normal load per width"),
    "tangential_load": ("N/m", "N/m", "friction load per width along the roll motion"),
    "interference": ("m", "mm", "holder advance past first touch"),
    "regime": ("1", "1", "what carries the load"),
    "sliver_index": ("1", "1", "stress of the feather edge over that of the reference; 0 without a feather"),
    "sliver_volume": ("m2", "mm2", "slivers so far per width, by the assumed fraction"),
    "land_loss": ("m", "um", "land height of the roll lost so far"),
}


@dataclass(frozen=True)
class Job:
    """What a history is made from."""

    case: Case
    plan: Schedule
    steps: StepCases
    options: dict[str, Any]
    """As the core takes them."""
    fraction: float
    """Of slivers [-]."""


def story_dataset(job: Job, columns: dict[str, Any], about: dict[str, str]) -> xr.Dataset:
    """The columns of the core and those that follow from them."""
    follow = _Following(job, columns)
    index = follow.sliver_index()
    values = {
        **columns,
        "sliver_index": index,
        "sliver_volume": follow.sliver_volume(index, job.fraction),
        "land_loss": follow.land_loss(),
    }
    flags = {"flag_values": np.arange(len(REGIMES), dtype=np.int8), "flag_meanings": " ".join(REGIMES)}
    variables = {
        name: (
            ("distance",),
            values[name],
            {"units": unit, "long_name": meaning, "display_units": shown} | (flags if name == "regime" else {}),
        )
        for name, (unit, shown, meaning) in COLUMNS.items()
    }
    way = {"units": "m", "long_name": "roll surface past the blade, length of web", "display_units": "km"}
    return xr.Dataset(
        variables,
        {"distance": (("distance",), columns["distance"], way)},
        {
            "Conventions": "CF-1.11",
            "title": f"libblade wear history of {job.case.name or 'a case'}",
            "case": job.case.to_json(),
            "schedule": job.plan.to_json(),
            "options": json.dumps({**job.options, "sliver_fraction": job.fraction}),
            **about,
            "libblade_version": str(_core.version),
            "numpy_version": np.__version__,
            "xarray_version": xr.__version__,
        },
    )


class _Following:
    """Feather and ceramic along a history."""

    def __init__(self, job: Job, columns: dict[str, Any]) -> None:
        self._c, self._steps = columns, job.steps
        self._towards_edge = 1.0 if job.case["setting.orientation"] == "trailing" else -1.0
        self._run = np.diff(columns["distance"], prepend=columns["distance"][:1])
        # Of the metal, exactly as it was integrated; a new blade begins where nothing has slid.
        worn = np.diff(columns["worn_area"], prepend=columns["worn_area"][:1])
        self._worn = np.where(self._run > 0.0, worn, 0.0)

    def along(self, value: Along) -> Floats:
        """A number of the case at every entry, in proportion to the way between both ends of a step."""
        step, s = self._c["schedule_step"], self._c["distance"]
        out = np.empty(s.size)
        for k, (begin, end) in enumerate(self._steps.cases):
            (rows,) = np.nonzero(step == k)
            if rows.size == 0:
                continue
            share = np.clip((s[rows] - s[rows[0]]) / (self._steps.lengths[k] or 1.0), 0.0, 1.0)
            low, high = value(begin), value(end)
            out[rows] = low + share * (high - low)
        return out

    def sliver_index(self) -> Floats:
        """Of the feather where there is one: its angle the facet's, pressure and drag those of the facet's whole load."""
        c = self._c
        thickness = self.along(_core.tip_thickness)
        full = c["facet_length"] * np.sin(c["bedded_angle"]) > 0.999 * thickness
        reference = feather_index(*REFERENCE).peak
        out = np.zeros(full.size)
        for i in np.flatnonzero(full & np.isfinite(c["line_load"])):
            b = c["facet_length"][i]
            peak = feather_peak(
                c["bedded_angle"][i], c["line_load"][i] / b, self._towards_edge * c["tangential_load"][i] / b
            )
            out[i] = peak / reference
        return out

    def sliver_volume(self, index: Floats, fraction: float) -> Floats:
        """Cumulated share of the worn metal, at most all of it."""
        share = np.minimum(fraction * index, 1.0)
        volume: Floats = np.cumsum(_between(share) * self._worn)
        return volume

    def land_loss(self) -> Floats:
        """Integral of k_c N_a / (land fraction) over the revolutions."""

        def per_load(core: _core.Case) -> float:
            return float(_core.land_loss_per_pass(core, 1.0)) / (2.0 * math.pi * core.get_number("roll.radius"))

        k_b = _between(self.along(lambda core: core.get_number("blade.specific_wear")))
        # Integral of N_a: exact from the worn metal where k_b stays, trapezoids for a blade that does not wear.
        by_metal = np.divide(self._worn, k_b, out=np.zeros(k_b.size), where=k_b > 0.0)
        load = np.where(k_b > 0.0, by_metal, _between(self._c["asperity_load"]) * self._run)
        lost: Floats = np.cumsum(_between(self.along(per_load)) * load)
        return lost


def _between(column: Floats) -> Floats:
    """Mean of every entry and the one before."""
    out: Floats = 0.5 * (column + np.concatenate([column[:1], column[:-1]]))
    return out
