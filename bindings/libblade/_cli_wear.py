"""The command ``libblade wear``."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from libblade._cli_parts import (
    DONE,
    NOT_SOLVED,
    case_arguments,
    case_of,
    checked_suffix,
    plain,
    words,
    write_csv,
    write_json,
    write_picture,
)
from libblade._json_text import text_of
from libblade._plots_wear import plot_wear
from libblade._point import REGIMES
from libblade._schedule import Schedule
from libblade._sweep_file import save_sweep
from libblade._wear import WearHistory, wear

LIMITS = ("facet_limit", "length_limit", "excess_limit")


def add_wear(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "wear",
        _wear,
        "wear the blade through a distance or a schedule",
        'libblade wear folding_carton_water --distance "300 km" --facet-limit "0.45 mm" -o life.csv',
    )
    case_arguments(sub)
    way = sub.add_mutually_exclusive_group(required=True)
    way.add_argument("--distance", metavar="LENGTH", help='of web, e.g. "300 km"')
    way.add_argument(
        "--schedule",
        metavar="FILE",
        type=Path,
        help="JSON, a list of steps with distance or duration, set, ramp, ripple, stopped, new_blade",
    )
    sub.add_argument(
        "--tier", choices=("facet", "profile"), default="facet", help="straight facet or worn surface (%(default)s)"
    )
    for name, meaning in zip(LIMITS, ("facet length", "blade length lost", "excess ink"), strict=True):
        sub.add_argument(f"--{name.replace('_', '-')}", metavar="LENGTH", help=f"{meaning} that ends the life")
    sub.add_argument("--start", choices=("resting", "riding"), default="resting")
    sub.add_argument("--max-steps", type=int, default=20000, help="of the integrator (%(default)s)")
    sub.add_argument("--save", metavar="FILE", type=Path, help="keep there what is done, to go on after a crash")
    sub.add_argument("--resume", metavar="FILE", type=Path, help="go on from such a file")
    sub.add_argument(
        "-o", "--output", metavar="OUT", type=Path, help=".nc (extra files), .csv, .json or .png (extra plots)"
    )
    sub.add_argument("--json", action="store_true", help="print life, events and status, SI")
    sub.add_argument("--quiet", action="store_true", help="no progress line")


def _wear(options: argparse.Namespace) -> int:
    writers: dict[str, Callable[[WearHistory, Path], None]] = {
        ".nc": lambda story, path: save_sweep(story.dataset, path),
        ".csv": _write_csv,
        ".json": lambda story, path: write_json(story.dataset, path),
        ".png": _write_png,
    }
    suffix = "" if options.output is None else checked_suffix(options.output, writers)
    case = case_of(options)
    story = wear(
        case,
        options.distance if options.schedule is None else _schedule(options.schedule),
        tier=options.tier,
        start=options.start,
        max_steps=options.max_steps,
        save=options.save,
        resume=options.resume,
        progress=not options.quiet and sys.stderr.isatty(),
        on_failure="flag",
        **{name: getattr(options, name) for name in LIMITS},
    )
    if suffix:
        writers[suffix](story, options.output)
    if options.json:
        print(json.dumps(plain(_told(story)), indent=2, allow_nan=False))
    else:
        print(story)
        for event in story.events:
            print(f"  {event.sentence}")
    return DONE if story.convergence.ok else NOT_SOLVED


def _schedule(path: Path) -> Schedule:
    return Schedule.from_json(text_of(path, "--schedule"))


def _told(story: WearHistory) -> dict[str, Any]:
    last = story.dataset.isel(distance=slice(-1, None))
    return {
        "status": story.convergence.status,
        "reason": story.convergence.message,
        "life": vars(story.life),
        "events": [event._asdict() for event in story.events],
        "last": {str(name): float(column[0]) for name, column in last.data_vars.items() if column.size},
    }


def _write_csv(story: WearHistory, path: Path) -> None:
    data = story.dataset
    write_csv(data.assign(regime=words(data["regime"], REGIMES)), path)


def _write_png(story: WearHistory, path: Path) -> None:
    write_picture(plot_wear(story)[0].figure, path)
