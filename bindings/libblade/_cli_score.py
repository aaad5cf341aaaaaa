"""The command ``libblade score``."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade import _core
from libblade._cli_parts import (
    DONE,
    NOT_SOLVED,
    case_arguments,
    case_of,
    checked_suffix,
    plain,
    range_of,
    words,
    write_csv,
    write_json,
    write_picture,
    write_text,
)
from libblade._errors import refuse
from libblade._lazy import lazy
from libblade._particles import INVENTED, Filter, InkLoop, Particles, example_particles, load_particles
from libblade._plots_scoring import plot_levers, plot_scoring_map
from libblade._point import REGIMES, STATUSES
from libblade._scoring import OPTION_UNITS, Job, ScoringRisk, read_options, scoring
from libblade._scoring_fields import target_of
from libblade._scoring_levers import ScoringLevers, scoring_levers
from libblade._scoring_map import scoring_map
from libblade._sweep_file import save_sweep

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

OPTIONS = {
    "face_width": ("LENGTH", "of roll and blade"),
    "run_time": ("TIME", 'from fresh ink, e.g. "8 h"'),
    "hardness_ratio": ("NUMBER", "from which a particle dents a surface"),
    "edge_toughness": ("VALUE", "of the engraving's walls [N/m]"),
}


def add_score(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "score",
        _score,
        "what particles in the ink do to blade and roll",
        'libblade score folding_carton_water --filter "50 um" --samples 200 --seed 1\n'
        '  libblade score my_case.json --vary "setting.set_angle_deg=26:34:17" --vary "setting.line_load=60:180 N/m:13" -o map.png',
    )
    case_arguments(sub)
    sub.add_argument(
        "--particles",
        metavar="FILE",
        type=Path,
        help='JSON: {"particles": [{"name": ..., "median_size": "10 um", ...}], "loop": {...}} (default: invented examples)',
    )
    sub.add_argument("--filter", metavar="SIZE", help='a filter of beta 75 at this size, e.g. "50 um"')
    for name, (shape, meaning) in OPTIONS.items():
        sub.add_argument(f"--{name.replace('_', '-')}", metavar=shape, help=meaning)
    sub.add_argument("--start", choices=("resting", "riding"), default="resting")
    sub.add_argument("--samples", metavar="N", type=int, default=0, help="draws of what is not known")
    sub.add_argument("--seed", metavar="SEED", type=int, help="of the draws (default: a fresh one, which is told)")
    way = sub.add_mutually_exclusive_group()
    way.add_argument(
        "--vary",
        metavar="PATH=FROM:TO:COUNT",
        action="append",
        default=[],
        help='a field of case, particles or loop and its range, e.g. "loop.filter.size=10:100 um:10"; repeatable; needs -o',
    )
    way.add_argument("--levers", action="store_true", help="solve one change after the other and rank them")
    sub.add_argument(
        "-o",
        "--output",
        metavar="OUT",
        type=Path,
        help=".json; with --vary .nc .csv .json .png; with --levers .json .png",
    )
    sub.add_argument("--threads", type=int, default=0, help="0: one per core")
    sub.add_argument("--json", action="store_true", help="print machine-readable results, SI")
    sub.add_argument("--quiet", action="store_true", help="no progress line")


def _score(options: argparse.Namespace) -> int:
    if options.vary and options.output is None:
        raise refuse("--vary", ", ".join(options.vary), "needs a file to write: -o OUT")
    if options.samples and (options.vary or options.levers):
        raise refuse("--samples", str(options.samples), "goes with one setting: without --vary and --levers")
    known = (".nc", ".csv", ".json", ".png") if options.vary else (".json", ".png") if options.levers else (".json",)
    suffix = "" if options.output is None else checked_suffix(options.output, known)
    if options.particles is None:
        print(f"note: example particles. {INVENTED}", file=sys.stderr)
        particles, loop = example_particles(), InkLoop()
    else:
        particles, loop = load_particles(options.particles)
    if options.filter is not None:
        loop = loop.replace(filter=(loop.filter or Filter()).replace(size=options.filter))
    given = {name: _option(name, getattr(options, name)) for name in OPTIONS if getattr(options, name) is not None}
    shared: dict[str, Any] = {
        **given,
        "start": options.start,
        "threads": options.threads,
        "progress": not options.quiet and sys.stderr.isatty(),
    }
    if options.vary:
        return _vary(options, suffix, particles, loop, shared)
    case = case_of(options)
    found: ScoringLevers | ScoringRisk = (
        scoring_levers(case, particles, loop, on_failure="flag", **shared)
        if options.levers
        else scoring(case, particles, loop, samples=options.samples, rng=options.seed, on_failure="flag", **shared)
    )
    tree = plain({**found.to_dict(), **({"note": INVENTED} if options.particles is None else {})})
    if suffix == ".png" and isinstance(found, ScoringLevers):
        write_picture(plot_levers(found).figure, options.output)
    elif suffix:
        write_text(json.dumps(tree, indent=2, allow_nan=False), options.output)
    print(json.dumps(tree, indent=2, allow_nan=False) if options.json else repr(found))
    first = found.before if isinstance(found, ScoringLevers) else found
    return DONE if first.convergence.ok else NOT_SOLVED


def _option(name: str, text: str) -> float:
    """A bare number is SI."""
    try:
        return float(text)
    except ValueError:
        return float(_core.parse_quantity(text, OPTION_UNITS[name], f"--{name.replace('_', '-')}"))


def _vary(
    options: argparse.Namespace, suffix: str, particles: tuple[Particles, ...], loop: InkLoop, shared: dict[str, Any]
) -> int:
    case = case_of(options)
    job = Job(case, particles, loop, read_options({}))
    fields = dict(_range(text, job) for text in options.vary)
    if len(fields) != len(options.vary):
        raise refuse("--vary", ", ".join(options.vary), "names a field twice")
    if suffix == ".png" and len(fields) != 2:
        raise refuse("--vary", f"{len(fields)} fields", "a picture needs exactly two")
    grid = scoring_map(case, particles, fields, loop=loop, **shared)
    if options.particles is None:
        grid.attrs["note"] = INVENTED
    writers: dict[str, Callable[[xr.Dataset, Path], None]] = {
        ".nc": save_sweep,
        ".csv": _write_csv,
        ".json": write_json,
        ".png": _write_png,
    }
    writers[suffix](grid, options.output)
    status = grid["status"].values
    solved = int((status == list(STATUSES).index("converged")).sum())
    if options.json:
        print(json.dumps({"points": status.size, "solved": solved, "output": str(options.output)}))
    else:
        print(f"{options.output}: {solved} of {status.size} points solved")
    return DONE if solved else NOT_SOLVED


def _range(text: str, job: Job) -> tuple[str, Any]:
    """ "loop.filter.size=10:100 um:10" as path and values."""
    path, low, high, count = range_of(text)
    unit = high.lstrip("+-0123456789.eE").strip()
    given: list[Any] = [float(end) if not unit else end for end in (low, high)]
    target, values = target_of(path.strip(), job, given)
    steps = np.linspace(values[0], values[1], count)
    return target.path, xr.DataArray(steps, dims="n", attrs={"units": target.unit})


def _write_csv(grid: xr.Dataset, path: Path) -> None:
    one = grid.drop_vars(["scores_by_class", "particles"])
    table = one.assign(regime=words(one["regime"], REGIMES), status=words(one["status"], tuple(STATUSES)))
    write_csv(table, path)


def _write_png(grid: xr.Dataset, path: Path) -> None:
    write_picture(plot_scoring_map(grid).figure, path)
