"""The command ``libblade trace``."""

from __future__ import annotations

import argparse
import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from libblade._cli_parts import DONE, case_arguments, case_of, plain, value_of
from libblade._errors import refuse
from libblade._json_text import text_of
from libblade._observation import QUESTIONS, SIZES, Observation
from libblade._tracing import STATEMENT, Tracing, trace

_MEANING = {
    "tone": "darker or lighter",
    "direction": '"along the web", "across the web", "whole width" or spots',
    "width": 'of one line, spot or band, e.g. "0.4 mm", or none',
    "repeat": 'along the web, e.g. "440 mm", or continuous',
    "moves_with_blade": "with the blade's traverse: yes, no",
    "goes_when_wiped": "when the edge is wiped: yes, no",
    "survives_blade_change": "yes, no",
    "survives_cleaning": "ordinary cleaning of the roll: yes, no",
    "patchy": "comes and goes along its way: yes, no",
    "began": 'suddenly, gradually, "at a blade change", "at a roll change" or "after a standstill"',
}


def add_trace(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Adds the command to the parser."""
    sub = command(
        "trace",
        _trace,
        'rank what may have made a line on the print; words may begin with "probably"',
        'libblade trace folding_carton_water --tone darker --direction "along the web" --width "0.05 mm" --moves-with-blade yes',
    )
    case_arguments(sub)
    for name in QUESTIONS:
        sub.add_argument(
            f"--{name.replace('_', '-')}", metavar="SIZE" if name in SIZES else "WORD", help=_MEANING[name]
        )
    for name in SIZES:
        sub.add_argument(
            f"--{name}-uncertainty", metavar="SHARE", type=float, help="relative, one standard deviation (0.15)"
        )
    sub.add_argument("--observation", metavar="FILE", type=Path, help="JSON with these names; options go before it")
    sub.add_argument(
        "--prior",
        metavar="CAUSE=SHARE",
        action="append",
        default=[],
        help="among the causes; repeatable, the others share the rest",
    )
    sub.add_argument(
        "--none-share", type=float, default=0.1, metavar="SHARE", help="prior of none of these (%(default)s)"
    )
    sub.add_argument(
        "--effort", metavar="QUESTION=NUMBER", action="append", default=[], help="of a check, relative (1); repeatable"
    )
    sub.add_argument("--json", action="store_true", help="print machine-readable results, SI")


def _trace(options: argparse.Namespace) -> int:
    given: dict[str, Any] = {}
    if options.observation is not None:
        given = dataclasses.asdict(Observation.from_json(text_of(options.observation, "--observation")))
    for name in (*QUESTIONS, *(f"{size}_uncertainty" for size in SIZES)):
        value = getattr(options, name)
        if value is not None:
            given[name] = value_of(value) if name in SIZES else value
    found = trace(
        Observation(**given),
        case_of(options),
        priors=_pairs("--prior", options.prior),
        none_share=options.none_share,
        effort=_pairs("--effort", options.effort),
    )
    print(json.dumps(plain(_told(found)), indent=2, allow_nan=False) if options.json else found)
    return DONE


def _pairs(option: str, texts: list[str]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals:
            raise refuse(option, text, "must be NAME=NUMBER")
        out[name.strip().replace("-", "_")] = value_of(value.strip())
    return out


def _told(found: Tracing) -> dict[str, Any]:
    return {
        "observation": {name: getattr(found.observation, name) for name in found.observation.answered},
        "none_of_these": found.none_of_these,
        "causes": [
            {
                "cause": one.cause,
                "probability": one.probability,
                "prior": one.prior,
                "evidence_for": one.evidence_for,
                "evidence_against": one.evidence_against,
                "what_to_do": one.what_to_do,
                "caution": one.caution,
                "care": [fact._asdict() for fact in one.care],
            }
            for one in found.causes
        ],
        "checks": [dataclasses.asdict(check) for check in found.checks],
        "statement": STATEMENT,
    }
