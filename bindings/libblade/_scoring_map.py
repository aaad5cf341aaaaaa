"""Scoring risk over one or more fields, as one xarray dataset."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._errors import InvalidInput, refuse
from libblade._fields import FIELDS
from libblade._lazy import lazy
from libblade._particles import InkLoop, Particles
from libblade._point import OUTPUTS, REGIMES, STATUSES
from libblade._progress import Progress, reporting
from libblade._scoring import NAMES, OUTCOME_WORDS, OUTCOMES, Job, check_threads, job_of, nip_options
from libblade._scoring_fields import Target, by_name, core_of, target_of
from libblade._sweep import _warn_unusual
from libblade._units import Floats, gather

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


def scoring_map(
    case: Case,
    particles: Any,
    fields: Mapping[str, Any],
    *,
    loop: InkLoop | None = None,
    entry_of: str | None = None,
    threads: int = 0,
    progress: Progress = False,
    start: str = "resting",
    mesh: int = 1,
    **options: Any,
) -> xr.Dataset:
    """What the particles do over the full grid of some fields, each point solved as by ``scoring``.

    ``fields`` maps paths to values: of the case as for ``sweep`` (``"setting.set_angle_deg"``), ``"loop.flow"``,
    ``"loop.filter.size"``, ``"particles.NAME.fresh_number"`` (blanks of a name may be underscores), or an option of
    ``scoring``; numbers are SI, texts carry their unit. ``options`` are those of ``scoring``. ``entry_of`` names the class
    whose median friction gives ``entry_size``, by default the one with the largest.

    Returns a dataset with a rate for each outcome [1/s] (all particles, mean over the run and the face), ``scores_by_class``,
    ``entry_size``, ``first_score`` (its mean, chance alone), ``film_on_lands``, ``excess_ink``, ``wear_rate``, ``facet_tilt``,
    ``leading_gap``, ``regime``, ``status`` and ``reason``; a point that is not solved is NaN. Any number of ``threads`` gives
    the same bits. Ctrl-C stops them.

    Raises InvalidInput before any solve when a path, a value or an option is bad.
    """
    job = job_of(case, particles, loop, options)
    check_threads(threads)
    nip = nip_options(start, mesh)
    entry = _entry_class(job.particles, entry_of)
    axes = _axes(fields, job)
    _warn_unusual(case, [(FIELDS[target.path], values) for target, values in axes if target.path in FIELDS])
    shape = tuple(values.size for _, values in axes)
    jobs = []
    for place in np.ndindex(*shape):
        core = core_of(job)
        for (target, values), k in zip(axes, place, strict=True):
            target.put(core, float(values[k]))
        jobs.append(tuple(core))
    try:
        with reporting(progress) as report:
            columns, error = _core.scoring(jobs, nip, threads, report)
    except InvalidInput as bad:
        raise by_name(bad, job.particles) from None
    if error is not None:
        raise error
    return _dataset(job, axes, columns, entry)


def _entry_class(particles: tuple[Particles, ...], name: str | None) -> int:
    if name is None:
        return max(range(len(particles)), key=lambda k: particles[k].friction)
    names = [p.name for p in particles]
    if name not in names:
        raise refuse("entry_of", name, f"must be one of {', '.join(names)}")
    return names.index(name)


def _axes(fields: Any, job: Job) -> list[tuple[Target, Floats]]:
    if not isinstance(fields, Mapping) or not fields:
        raise refuse("fields", fields, "must map at least one path to its values")
    axes: list[tuple[Target, Floats]] = []
    problems: list[tuple[str, str, str]] = []
    for given, values in fields.items():
        try:
            target, numbers = target_of(given, job, values)
            if any(target.path == other.path for other, _ in axes):
                raise refuse(given, "", "is given twice")
            if numbers.size == 0:
                raise refuse(given, "no values", "at least one value is needed")
            if np.unique(numbers).size != numbers.size:
                raise refuse(given, values, "holds a value twice")
            axes.append((target, numbers))
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    return axes


def display_scale(target: Target) -> float:
    """Display value over SI value, where the two have one zero."""
    return 1.0 / float(_core.to_si(1.0, target.display_unit, target.unit, target.path))


def _dataset(job: Job, axes: list[tuple[Target, Floats]], columns: dict[str, Any], entry: int) -> xr.Dataset:
    leaves = [target.dim for target, _ in axes]
    dims = [
        leaf if leaves.count(leaf) == 1 else target.path.replace(".", "_")
        for leaf, (target, _) in zip(leaves, axes, strict=True)
    ]
    shape = tuple(values.size for _, values in axes)
    coords: dict[str, Any] = {
        dim: (
            (dim,),
            values,
            {
                "units": target.unit,
                "long_name": target.meaning,
                "display_units": target.display_unit,
                "display_scale": display_scale(target),
                "field": target.path,
            },
        )
        for dim, (target, values) in zip(dims, axes, strict=True)
    }
    coords["particles"] = (("particles",), [p.name for p in job.particles], {"long_name": "class of particles"})
    variables: dict[str, Any] = {}

    def put(name: str, values: Any, attrs: dict[str, Any], *more: str) -> None:
        array = np.asarray(values)
        key = f"{name}_result" if name in dims else name
        variables[key] = ((*dims, *more), array.reshape((*shape, *array.shape[1:])), {**attrs, "output": name})

    per_hour = {"units": "1/s", "display_units": "1/h", "display_scale": 3600.0}
    for k, name in enumerate(OUTCOMES):
        put(name, columns["rate"][:, k], {**per_hour, "long_name": f"particles that {OUTCOME_WORDS[name]}"})
    scores = columns["class_rate"][:, :, OUTCOMES.index("scores")]
    put("scores_by_class", scores, {**per_hour, "long_name": "particles of each class that score"}, "particles")
    size = columns["class_numbers"][:, entry, NAMES["class_numbers"].index("entry_size")]
    about = {"units": "m", "display_units": "um", "display_scale": 1e6}
    put(
        "entry_size",
        size,
        {**about, "long_name": f"largest sphere drawn in at the median friction of {job.particles[entry].name}"},
    )
    put(
        "first_score",
        columns["first_score"][:, NAMES["first_score"].index("mean")],
        {
            "units": "s",
            "display_units": "h",
            "display_scale": 1.0 / 3600.0,
            "long_name": "mean time to the first score",
        },
    )
    for source, names in (
        ("nip", ("film_on_lands", "excess_ink", "wear_rate")),
        ("mouth", ("facet_tilt", "leading_gap")),
    ):
        for name in names:
            o = OUTPUTS[name]
            told = {"units": o.unit, "display_units": o.display_unit, "display_scale": o.display_scale}
            put(name, columns[source][:, NAMES[source].index(name)], {**told, "long_name": o.long_name})
    for name, words, meaning in (
        ("regime", REGIMES, "what carries the load"),
        ("status", tuple(STATUSES), "how the solve ended"),
    ):
        flags = {"flag_values": np.arange(len(words), dtype=np.int8), "flag_meanings": " ".join(words)}
        put(name, columns[name], {"units": "1", "long_name": meaning, **flags})
    reasons = np.array([record[4] for record in columns["convergence"]], dtype=str)
    put("reason", reasons, {"units": "1", "long_name": "why the point is not solved"})
    about_all = {
        "Conventions": "CF-1.11",
        "title": f"libblade scoring map of {job.case.name or 'a case'}",
        "case": job.case.to_json(),
        "particles": json.dumps([p.to_dict() for p in job.particles]),
        "loop": json.dumps(job.loop.to_dict()),
        "options": json.dumps(job.options),
        "libblade_version": str(_core.version),
    }
    return xr.Dataset(variables, coords, about_all)
