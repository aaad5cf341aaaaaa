"""The command ``libblade lesson``."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from libblade._cli_parts import DONE, case_arguments, case_of
from libblade._lesson import lesson_page
from libblade._schema import write_whole


def add_lesson(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "lesson",
        _lesson,
        "write a page that shows what angle and pressure do at this nip; it needs a browser and no network",
        "libblade lesson folding_carton_water -o lesson.html",
    )
    case_arguments(sub)
    sub.add_argument(
        "-o", "--output", metavar="OUT", required=True, type=Path, help="an .html file, written wholly or not at all"
    )
    sub.add_argument("--engine", metavar="FILE", type=Path, help="a built engine (default: the package's own)")


def _lesson(options: argparse.Namespace) -> int:
    write_whole(options.output, lesson_page(case_of(options), engine=options.engine).encode(), "--output")
    print(f"{options.output}: open it in a browser")
    return DONE
