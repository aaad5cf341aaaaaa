"""The command ``libblade report``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from libblade import _core
from libblade._advice import ANGLE, LOAD
from libblade._cli_parts import DONE, NOT_SOLVED, case_arguments, case_of, checked_suffix, range_of
from libblade._errors import refuse
from libblade._particles import load_particles
from libblade._report import LOADS, PARTS, report
from libblade._report_blocks import templates

WORDS = ("regime", "branch")


def add_report(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "report",
        _report,
        "write one page about a case: setting, window, maps, life, scoring, certainty, inputs, cautions",
        'libblade report folding_carton_water --limit "film_on_lands=6 % because the lands stay clean" -o report.html',
    )
    case_arguments(sub)
    sub.add_argument("-o", "--output", metavar="OUT", required=True, type=Path, help=".html, which prints too")
    sub.add_argument(
        "--limit",
        metavar="NAME=VALUE [because WHY]",
        action="append",
        default=[],
        help='a largest value, e.g. "mean_pressure=0.4 MPa because walls are narrow", or words, e.g. "regime=wiping,mixed"; '
        "repeatable (default: the demonstration's, each an assumption)",
    )
    sub.add_argument("--angles", metavar="FROM:TO", help='of the map, e.g. "24:40 deg" (default: 6 deg down and up)')
    low, high = LOADS
    sub.add_argument(
        "--loads", metavar="FROM:TO", help=f'e.g. "40:240 N/m" (default: {low:g} to {high:g} times the load)'
    )
    sub.add_argument(
        "--side", metavar="N", type=int, default=25, help="points along each side of the maps (%(default)s)"
    )
    sub.add_argument(
        "--parts", metavar="NAMES", default=",".join(PARTS), help="those wanted, with commas between them (%(default)s)"
    )
    sub.add_argument("--particles", metavar="FILE", type=Path, help="JSON, as for score (default: invented examples)")
    sub.add_argument("--seed", type=int, default=0, help="of what is drawn (%(default)s)")
    sub.add_argument("--title", metavar="TEXT", help="on every page (default: the case's name)")
    sub.add_argument("--date", metavar="TEXT", help="on every page (default: today)")
    sub.add_argument("--threads", type=int, default=0, help="0: one per core")
    sub.add_argument("--quiet", action="store_true", help="no progress line")


def _report(options: argparse.Namespace) -> int:
    checked_suffix(options.output, (".html", ".htm"))
    try:
        templates()
    except ImportError as error:
        raise refuse("--output", str(options.output), str(error)) from error
    case = case_of(options)
    limits, reasons = _limits(options.limit)
    particles, loop = (None, None) if options.particles is None else load_particles(options.particles)
    made = report(
        case,
        limits=limits or None,
        reasons=reasons,
        fields=_fields(options),
        side=options.side,
        parts=[name.strip() for name in options.parts.split(",") if name.strip()],
        particles=particles,
        loop=loop,
        seed=options.seed,
        title=options.title,
        date=options.date,
        threads=options.threads,
        progress=not options.quiet and sys.stderr.isatty(),
    )
    made.save(options.output)
    print(f"{options.output}: {made.answer}")
    for name, words in made.failed.items():
        print(f"  {name} could not be made: {words}", file=sys.stderr)
    for words in made.unsolved:
        print(f"  not converged: {words}", file=sys.stderr)
    return DONE if made.complete else NOT_SOLVED


def _limits(texts: list[str]) -> tuple[dict[str, Any], dict[str, str]]:
    limits: dict[str, Any] = {}
    reasons: dict[str, str] = {}
    for text in texts:
        stated, because, why = text.partition(" because ")
        name, equals, value = (part.strip() for part in stated.partition("="))
        if not equals or not name or not value:
            raise refuse("--limit", text, "must be NAME=VALUE")
        if name in limits:
            raise refuse("--limit", name, "is given twice")
        limits[name] = _value(name, value)
        if because:
            reasons[name] = why.strip()
    return limits, reasons


def _value(name: str, text: str) -> Any:
    """Words stay words, true and false are that, a bare number is SI."""
    if name in WORDS:
        return tuple(word.strip() for word in text.split(","))
    if text.lower() in ("true", "false"):
        return text.lower() == "true"
    try:
        return float(text)
    except ValueError:
        return text


def _fields(options: argparse.Namespace) -> dict[str, Any] | None:
    out = {}
    for path, name in ((ANGLE, "angles"), (LOAD, "loads")):
        span = getattr(options, name)
        if span is None:
            continue
        if span.count(":") != 1:
            raise refuse(f"--{name}", span, 'must be FROM:TO with its unit, as in "24:40 deg" or "40:240 N/m"')
        _, *ends, side = range_of(f"{path}={span}:{options.side}")
        low, high = (_core.parse_field(end, path, f"--{name}") for end in ends)
        out[f"{path}_rad" if path == ANGLE else path] = np.linspace(low, high, side)
    return out or None
