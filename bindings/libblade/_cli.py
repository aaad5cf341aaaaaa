"""The command ``libblade``."""

from __future__ import annotations

import argparse
import json
import os
import sys
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from libblade import _core
from libblade._case import example_case, example_cases
from libblade._cli_animate import add_animate
from libblade._cli_lesson import add_lesson
from libblade._cli_parts import (
    BAD_INPUT,
    DONE,
    NOT_SOLVED,
    CMakeFolder,
    case_arguments,
    case_of,
    checked_suffix,
    plain,
    range_of,
    value_of,
    words,
    write_csv,
    write_json,
    write_picture,
)
from libblade._cli_report import add_report
from libblade._cli_score import add_score
from libblade._cli_trace import add_trace
from libblade._cli_wear import add_wear
from libblade._errors import InvalidInput, NotSolved, refuse
from libblade._lazy import lazy
from libblade._plots import plot_map
from libblade._point import OUTPUTS, REGIMES, STATUSES, solve
from libblade._schema import migrate_case, write_whole
from libblade._sweep import sweep
from libblade._sweep_file import save_sweep
from libblade._units import Floats, resolve

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")


EXAMPLE = """examples:
  libblade cases
  libblade solve folding_carton_water
  libblade solve my_case.json --set "setting.set_angle=28 deg" --json
  libblade map my_case.json --vary "setting.set_angle_deg=24:40:33" --vary "setting.line_load=40:250 N/m:32" -o map.csv
  libblade wear my_case.json --distance "300 km" -o life.csv
  libblade score my_case.json --levers
  libblade trace my_case.json --tone darker --width "0.05 mm" --goes-when-wiped no
  libblade report my_case.json -o report.html
  libblade check my_case.json

exit status: 0 done, 1 not solved, 2 bad input"""


def parser() -> argparse.ArgumentParser:
    """The command line, for documentation and tests."""
    top = argparse.ArgumentParser(
        prog="libblade",
        description="Simulator of a doctor-blade contact.",
        epilog=EXAMPLE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"libblade {_core.version}")
    top.add_argument("--cmake-dir", action=CMakeFolder, help="print the folder for CMake's libblade_DIR and exit")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(
        name: str, run: Callable[[argparse.Namespace], int], text: str, example: str
    ) -> argparse.ArgumentParser:
        sub = commands.add_parser(
            name,
            help=text,
            description=text,
            epilog=f"example:\n  {example}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        sub.set_defaults(run=run)
        return sub

    one = command("solve", _solve, "solve one operating point", "libblade solve folding_carton_water --start riding")
    case_arguments(one)
    one.add_argument(
        "--start", choices=("resting", "riding"), default="resting", help="which branch to look for (%(default)s)"
    )
    one.add_argument("--json", action="store_true", help="print machine-readable results, SI")

    many = command(
        "map",
        _map,
        "solve a grid over one or more fields",
        'libblade map folding_carton_water --vary "setting.set_angle_deg=24:40:33" --vary "setting.line_load=40:250:32" -o map.nc',
    )
    case_arguments(many)
    many.add_argument(
        "--vary",
        metavar="PATH=FROM:TO:COUNT",
        action="append",
        required=True,
        help='a field and its range, both ends included, e.g. "setting.line_load=40:250 N/m:32"; repeatable',
    )
    many.add_argument(
        "-o",
        "--output",
        metavar="OUT",
        required=True,
        type=Path,
        help=".nc (extra files), .csv, .json or .png (extra plots)",
    )
    many.add_argument("--output-name", metavar="NAME", default="film_on_lands", help="what a .png shows (%(default)s)")
    many.add_argument("--start", choices=("resting", "riding"), default="resting")
    many.add_argument("--threads", type=int, default=0, help="0: one per core")
    many.add_argument("--quiet", action="store_true", help="no progress line")

    check = command("check", _check, "read a case and say what is unusual in it", "libblade check my_case.json")
    case_arguments(check)
    check.add_argument("--json", action="store_true", help="print the complete case, SI")

    listing = command("cases", _cases, "list the cases that come with libblade", "libblade cases")
    listing.add_argument("--json", action="store_true", help="print machine-readable results")

    shape = command("schema", _schema, "print the JSON Schema of a case file", "libblade schema > case.schema.json")
    shape.add_argument("--fields", action="store_true", help="print the table of all fields instead (Markdown)")

    add_wear(command)
    add_animate(command)
    add_score(command)
    add_trace(command)
    add_report(command)
    add_lesson(command)
    move = command(
        "migrate",
        _migrate,
        "rewrite a case file of an earlier version with the names of the current one",
        "libblade migrate old_case.json -o case.json",
    )
    move.add_argument("file", metavar="FILE", type=Path, help="a case file")
    move.add_argument(
        "-o",
        "--output",
        metavar="OUT",
        type=Path,
        help="a file, written wholly or not at all; may be FILE (default: print)",
    )
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the command line. Returns 0 done, 1 not solved, 2 bad input."""
    options = parser().parse_args(arguments)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("always")
            warnings.showwarning = lambda message, *_rest, **_named: print(f"note: {message}", file=sys.stderr)
            status: int = options.run(options)
            sys.stdout.flush()
            return status
    except InvalidInput as error:
        print(f"error: {error}", file=sys.stderr)
        return BAD_INPUT
    except NotSolved as error:
        print(str(error), file=sys.stderr)
        return NOT_SOLVED
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of a pipe has gone: nothing more to say, and nothing to flush at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as error:
        # What else the system refuses. A full disk behind standard output would refuse once more at exit.
        try:
            sys.stdout.flush()
        except OSError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        place = f"{error.filename}: " if error.filename else ""
        print(f"error: {place}{error.strerror or error}", file=sys.stderr)
        return BAD_INPUT


def _solve(options: argparse.Namespace) -> int:
    point = solve(case_of(options), options.start, on_failure="flag")
    print(json.dumps(plain(point.to_dict()), indent=2, allow_nan=False) if options.json else repr(point))
    return DONE if point.convergence.ok else NOT_SOLVED


def _range(text: str) -> tuple[str, Floats]:
    """ "setting.line_load=40:250 N/m:32" as path and SI values."""
    path, low, high, count = range_of(text)
    field, unit = resolve(path.strip())
    if field.kind != "number":
        raise refuse(path, text.partition("=")[2], "is a choice and cannot be varied")
    values = []
    for end in (low, high):
        given = value_of(end)
        values.append(
            _core.parse_field(end, field.path, path)
            if isinstance(given, str) and not unit
            else _core.field_to_si(_float(path, end), unit, field.path, path)
        )
    return field.path, np.linspace(values[0], values[1], count)


def _float(path: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise refuse(path, text, "must be a number, because the name already carries the unit") from None


def _map(options: argparse.Namespace) -> int:
    writers: dict[str, Callable[[xr.Dataset, Path, str], None]] = {
        ".nc": _write_netcdf,
        ".csv": _write_csv,
        ".json": _write_json,
        ".png": _write_png,
    }
    suffix = checked_suffix(options.output, writers)
    case = case_of(options)
    axes = [_range(text) for text in options.vary]
    if options.output_name not in OUTPUTS:
        raise refuse("--output-name", options.output_name, "is no output: there are " + ", ".join(OUTPUTS))
    if suffix == ".png" and len(axes) != 2:
        raise refuse("--vary", f"{len(axes)} fields", "a picture needs exactly two")
    paths = [path for path, _ in axes]
    if len(set(paths)) != len(paths):
        raise refuse("--vary", ", ".join(paths), "names a field twice")
    # Angles are SI here already, and a bare number for an angle would be refused.
    values = {path: xr.DataArray(v, dims="n", attrs={"units": resolve(path)[0].unit}) for path, v in axes}
    grid = sweep(case, values, threads=options.threads, progress=not options.quiet, start=options.start)
    writers[suffix](grid, options.output, options.output_name)
    status = grid["status"].values
    solved = int((status == list(STATUSES).index("converged")).sum())
    print(f"{options.output}: {solved} of {status.size} points solved")
    for word in list(STATUSES)[2:]:
        if count := int((status == list(STATUSES).index(word)).sum()):
            print(f"  {count} {word}: {STATUSES[word]}")
    return DONE if solved else NOT_SOLVED


def _write_netcdf(grid: xr.Dataset, path: Path, _name: str) -> None:
    save_sweep(grid, path)


def _write_csv(grid: xr.Dataset, path: Path, _name: str) -> None:
    table = grid.assign(regime=words(grid["regime"], REGIMES), status=words(grid["status"], tuple(STATUSES)))
    write_csv(table, path)


def _write_json(grid: xr.Dataset, path: Path, _name: str) -> None:
    write_json(grid, path)


def _write_png(grid: xr.Dataset, path: Path, name: str) -> None:
    write_picture(plot_map(grid, name).figure, path)


def _check(options: argparse.Namespace) -> int:
    case = case_of(options)
    if options.json:
        print(case.to_json())
        return DONE
    print(repr(case))
    notes = _core.unusual(case._core)
    print("good" if not notes else f"good, with {len(notes)} unusual value{'s' if len(notes) > 1 else ''}")
    return DONE


def _cases(options: argparse.Namespace) -> int:
    rows = {name: example_case(name).note for name in example_cases()}
    if options.json:
        print(json.dumps(rows, indent=2))
    else:
        for name, note in rows.items():
            print(f"{name}\n    {note}")
    return DONE


def _schema(options: argparse.Namespace) -> int:
    sys.stdout.write(_core.fields_markdown() if options.fields else _core.case_schema())
    return DONE


def _migrate(options: argparse.Namespace) -> int:
    _core.load_case(str(options.file))  # says what cannot be read, and why
    text = migrate_case(options.file.read_bytes().decode("utf-8"))
    if options.output is None:
        sys.stdout.write(text)
    else:
        write_whole(options.output, text.encode("utf-8"), "--output")
    return DONE
