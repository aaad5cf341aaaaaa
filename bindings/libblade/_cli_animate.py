"""The command ``libblade animate``."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from libblade._animate import animate_bedding, animate_step
from libblade._cli_parts import DONE, NOT_SOLVED, case_arguments, case_of, checked_suffix


def add_animate(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "animate",
        _animate,
        "draw a new blade bedding in, or a step of load before it beds again, as a moving picture",
        'libblade animate folding_carton_water --what bedding --distance "20 km" -o bedding.gif',
    )
    case_arguments(sub)
    sub.add_argument("--what", choices=("bedding", "step"), default="bedding", help="(%(default)s)")
    sub.add_argument("--distance", metavar="LENGTH", default="20 km", help="of web, for bedding (%(default)s)")
    sub.add_argument("--step", metavar="SHARE", default="10 %", help="of load or holder advance (10 %%)")
    sub.add_argument("--frames", metavar="COUNT", type=int, default=40, help="(%(default)s)")
    sub.add_argument("--rate", metavar="PER_SECOND", type=float, default=10.0, help="frames per second (%(default)s)")
    sub.add_argument(
        "-o", "--output", metavar="OUT", type=Path, required=True, help=".gif, or .mp4 (ffmpeg); whole or not at all"
    )


def _animate(options: argparse.Namespace) -> int:
    checked_suffix(options.output, (".gif", ".mp4"))
    case = case_of(options)
    common = {"frames": options.frames, "rate": options.rate}
    if options.what == "bedding":
        made = animate_bedding(case, options.output, distance=options.distance, **common)
    else:
        made = animate_step(case, options.output, step=options.step, **common)
    print(f"{options.output}: {made.description}")
    return NOT_SOLVED if made.not_solved == len(made.frames) else DONE
