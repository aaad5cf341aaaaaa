"""What the commands of ``libblade`` share: the case, the files, the exit status."""

from __future__ import annotations

import argparse
import io
import json
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from libblade._case import Case, example_case, example_cases, load_case
from libblade._errors import refuse
from libblade._lazy import lazy
from libblade._plots import _pyplot
from libblade._schema import write_whole
from libblade._sweep_file import _h5netcdf

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

DONE, NOT_SOLVED, BAD_INPUT = 0, 1, 2


class CMakeFolder(argparse.Action):
    """Prints where the installed package holds its C++ library for CMake, and ends."""

    def __init__(self, option_strings: Sequence[str], help: str, **_named: Any) -> None:  # noqa: A002 (argparse's name)
        super().__init__(option_strings, dest=argparse.SUPPRESS, nargs=0, help=help)

    def __call__(self, parser: argparse.ArgumentParser, *_rest: object) -> None:
        package = Path(__file__).parent
        for file in package.glob("lib*/**/libbladeConfig.cmake"):
            print(file.parent)
            parser.exit(DONE)
        parser.exit(BAD_INPUT, f"error: {package} was put together without its C++ library; the wheel carries it\n")


def case_arguments(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("case", metavar="CASE", help="a case file, or the name of a case that comes with libblade")
    sub.add_argument(
        "--set",
        metavar="PATH=VALUE",
        action="append",
        default=[],
        dest="changes",
        help="change a field first; repeatable",
    )


def case_of(options: argparse.Namespace) -> Case:
    name: str = options.case
    case = example_case(name) if name in example_cases() and not Path(name).exists() else _load(name)
    changes: dict[str, Any] = {}
    for text in options.changes:
        path, equals, value = text.partition("=")
        if not equals:
            raise refuse("--set", text, "must be PATH=VALUE")
        changes[path.strip()] = value_of(value.strip())
    return case.replace(changes) if changes else case


def _load(name: str) -> Case:
    if not Path(name).exists():
        raise refuse("CASE", name, f"is neither a file nor an example case; there are {', '.join(example_cases())}")
    return load_case(name)


def value_of(text: str) -> Any:
    """A number where the text is one, since the name may carry the unit."""
    try:
        return float(text)
    except ValueError:
        return None if text == "none" else text


def range_of(text: str) -> tuple[str, str, str, int]:
    """Path, both ends and count of "setting.line_load=40:250 N/m:32"; a lower end without a unit takes that of the upper."""
    path, equals, span = text.partition("=")
    ends = [part.strip() for part in span.split(":")]
    if not equals or len(ends) != 3:
        raise refuse("--vary", text, "must be PATH=FROM:TO:COUNT")
    low, high, number = ends
    if not number.isdigit() or not 1 <= int(number) <= 100_000:
        raise refuse("--vary", number, "COUNT must be a whole number from 1 to 100000")
    unit = high.lstrip("+-0123456789.eE").strip()
    if unit and not low.lstrip("+-0123456789.eE").strip():
        low = f"{low} {unit}"
    return path, low, high, int(number)


def plain(value: Any) -> Any:
    """JSON has no NaN: null."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def checked_suffix(output: Path, known: Iterable[str]) -> str:
    """Of the file to write. Raises InvalidInput, before any solve, unless it can be written."""
    suffix = output.suffix.lower()
    if suffix not in known:
        raise refuse("--output", str(output), "must end in " + ", ".join(known))
    if not output.absolute().parent.is_dir():
        raise refuse("--output", str(output), "lies in a folder that does not exist")
    try:
        {".nc": _h5netcdf, ".png": _pyplot, ".gif": _pyplot, ".mp4": _pyplot}.get(suffix, bool)()
    except ImportError as error:
        raise refuse("--output", str(output), str(error)) from error
    return suffix


def words(flags: xr.DataArray, words: Sequence[str]) -> xr.DataArray:
    return flags.copy(data=np.asarray(words)[flags.values])


def write_json(data: xr.Dataset, path: Path) -> None:
    tree = json.dumps(data.to_dict(), default=lambda value: value.tolist() if hasattr(value, "tolist") else str(value))
    write_text(json.dumps(plain(json.loads(tree)), allow_nan=False), path)


def write_csv(data: xr.Dataset, path: Path) -> None:
    write_text(data.to_dataframe().to_csv(), path)


def write_picture(figure: Any, path: Path) -> None:
    content = io.BytesIO()
    figure.savefig(content, dpi=150, format=path.suffix[1:].lower())
    write_whole(path, content.getvalue(), "--output")


def write_text(text: str, path: Path) -> None:
    write_whole(path, text.encode("utf-8"), "--output")
