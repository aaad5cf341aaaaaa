"""How far a sweep or a wear history is: a bar, a line on standard error, or a function of the caller's."""

from __future__ import annotations

import contextlib
import importlib
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

from libblade._errors import refuse

Report = Callable[[int, int], object]
Progress = bool | Report


@contextlib.contextmanager
def reporting(progress: Progress, unit: str = "point") -> Iterator[Report | None]:
    """What to call with (done, total): nothing, the caller's function, a tqdm bar when there is tqdm, or a plain line."""
    if callable(progress):
        yield progress
    elif not isinstance(progress, bool):
        raise refuse("progress", progress, "must be True, False or a function of (done, total)")
    elif not progress:
        yield None
    else:
        try:
            bar_kind: Any = importlib.import_module("tqdm").tqdm
        except ImportError:
            yield _line(unit)
            return
        with contextlib.closing(_Bar(bar_kind, unit)) as bar:
            yield bar


class _Bar:
    """A tqdm bar, which takes steps, not states."""

    def __init__(self, kind: Any, unit: str) -> None:
        self._kind, self._unit = kind, unit
        self._bar: Any = None

    def __call__(self, done: int, total: int) -> None:
        if self._bar is None:
            self._bar = self._kind(total=total, initial=done, unit=self._unit)
        self._bar.update(done - self._bar.n)

    def close(self) -> None:
        if self._bar is not None:
            self._bar.close()


def _line(unit: str) -> Report:
    began = time.monotonic()
    shown = -1
    units = "points" if unit == "point" else unit

    def line(done: int, total: int) -> None:
        nonlocal shown
        if done != shown:
            end = "\n" if done == total else ""
            print(
                f"\r{done} of {total} {units}, {time.monotonic() - began:.1f} s", end=end, file=sys.stderr, flush=True
            )
        shown = done

    return line
