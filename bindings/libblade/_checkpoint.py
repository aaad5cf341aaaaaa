"""A sweep on its way, in a folder: what is solved survives a crash, and the same sweep goes on from there.

The folder holds ``sweep.json``, which says what sweep it is, and one ``points_<first>_<behind last>.npz`` for each stretch of
the grid that is done. Each file appears whole or not at all.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import tempfile
import time
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from libblade import _core
from libblade._errors import InvalidInput, LibbladeWarning
from libblade._schema import path_of, write_whole

FORMAT = "libblade sweep checkpoint"
VERSION = 1
STALE_SECONDS = 60.0  # a file half-written that long ago was left by a process that died
# What np.load raises on damaged files: its own words, those of the zip file, of the decompression and of absurd sizes.
_DAMAGED = (ValueError, KeyError, EOFError, OSError, NotImplementedError, MemoryError, zipfile.BadZipFile, zlib.error)

Columns = dict[str, Any]


class SweepFolder:
    """The folder of one sweep. Raises InvalidInput, naming the folder, when it holds anything else or cannot be used."""

    argument = "checkpoint"
    format = FORMAT
    parts = "points_*.npz"

    def __init__(self, path: str | os.PathLike[str], sweep: Mapping[str, Any]) -> None:
        self.folder = path_of(path, self.argument, "folder")
        # Through JSON, so that it compares equal with what is read back.
        self._sweep: dict[str, Any] = json.loads(json.dumps(sweep, sort_keys=True))
        self.digest = hashlib.sha256(json.dumps(self._sweep, sort_keys=True).encode()).hexdigest()
        manifest = self.folder / "sweep.json"
        try:
            self.folder.mkdir(exist_ok=True)
            present = any(self.folder.iterdir())
        except FileExistsError:
            raise self._refusal("is a file, not a folder") from None
        except OSError as error:
            raise self._refusal(f"cannot be used: {error.strerror}") from error
        self._remove_stale()
        if manifest.exists():
            self._compare(manifest)
        elif present and not self._only_beginnings():
            raise self._refusal("is a folder with other things in it")
        else:
            content = {"format": self.format, "format_version": VERSION, **self._sweep}
            write_whole(manifest, json.dumps(content, indent=1).encode(), self.argument)
        try:
            with tempfile.TemporaryFile(dir=self.folder):
                pass
        except OSError as error:
            raise self._refusal(f"is a folder that cannot be written: {error.strerror}") from error

    def _refusal(self, message: str) -> InvalidInput:
        return InvalidInput([(self.argument, str(self.folder), message)])

    def _only_beginnings(self) -> bool:
        """Whether a process died while it wrote the very first file."""
        return all(entry.name.startswith(".sweep.json.") for entry in self.folder.iterdir())

    def _remove_stale(self) -> None:
        for entry in self.folder.glob(f".{self.parts}.*"):
            with contextlib.suppress(OSError):
                if time.time() - entry.stat().st_mtime > STALE_SECONDS:
                    entry.unlink()

    def _compare(self, manifest: Path) -> None:
        try:
            content = json.loads(manifest.read_bytes())
        except OSError as error:
            raise self._refusal(f"cannot be read: {error.strerror}") from error
        except ValueError as error:
            raise self._refusal(f"has a damaged {manifest.name} ({error}): move the folder away") from error
        if not isinstance(content, dict) or content.pop("format", None) != self.format:
            raise self._refusal("is a folder with other things in it")
        version = content.pop("format_version", None)
        if not isinstance(version, int) or version > VERSION:
            raise self._refusal(f"was written by a newer libblade (format {version}; this one reads {VERSION})")
        if content != self._sweep:
            found = differences(content, self._sweep)
            more = f" and {len(found) - 5} more" if len(found) > 5 else ""
            raise self._refusal("holds another sweep: " + "; ".join(found[:5]) + more)

    def _discard(self, file: Path, why: object) -> None:
        """A damaged file, with a warning."""
        warnings.warn(f"{file} is damaged ({why}): its points are solved again", LibbladeWarning, stacklevel=5)
        try:
            file.unlink(missing_ok=True)
        except OSError as failure:
            raise self._refusal(f"holds {file.name}, which cannot be removed: {failure.strerror}") from failure

    def _content(self, file: Path) -> bytes:
        try:
            return file.read_bytes()
        except OSError as error:
            raise self._refusal(f"holds {file.name}, which cannot be read: {error.strerror}") from error


class Checkpoint(SweepFolder):
    """Stretches of points as they are solved."""

    def __init__(self, path: str | os.PathLike[str], sweep: Mapping[str, Any], total: int) -> None:
        super().__init__(path, sweep)
        self._total = total

    def blocks(self) -> Iterator[tuple[int, Columns]]:
        """First point and columns of every stretch that is done. A damaged file is removed with a warning."""
        for file in sorted(self.folder.glob("points_*.npz")):
            try:
                block = self._read(self._content(file))
            except _DAMAGED as error:
                self._discard(file, error)
                continue
            yield block

    def _read(self, content: bytes) -> tuple[int, Columns]:
        with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
            columns: Columns = {name: arrays[name] for name in arrays.files}
        if str(columns.pop("sweep")) != self.digest:
            raise ValueError("it belongs to another sweep")
        first = int(columns.pop("first"))
        count = len(columns["reason"])
        if first < 0 or first + count > self._total or any(len(column) != count for column in columns.values()):
            raise ValueError("its size is wrong")
        columns["reason"] = [str(text) for text in columns["reason"]]
        columns["validity"] = [str(text).split() for text in columns["validity"]]
        return first, columns

    def write(self, first: int, columns: Columns) -> None:
        """Stores a stretch of solved points. Raises InvalidInput when it cannot; what was stored before stays good."""
        arrays = {
            **columns,
            "reason": np.array(columns["reason"], dtype=str),
            "validity": np.array([" ".join(names) for names in columns["validity"]], dtype=str),
        }
        content = io.BytesIO()
        np.savez(content, allow_pickle=False, sweep=np.array(self.digest), first=np.array(first), **arrays)
        behind = first + len(columns["reason"])
        write_whole(self.folder / f"points_{first:09d}_{behind:09d}.npz", content.getvalue(), "checkpoint")


def description(case_fields: dict[str, Any], axes: list[tuple[str, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """All that decides the numbers of a sweep; name and note of the case do not."""
    return {
        "libblade_version": str(_core.version),
        "case": {name: part for name, part in case_fields.items() if name not in ("name", "note")},
        "axes": {path: values.tolist() for path, values in axes},
        "order": [path for path, _ in axes],
        "options": options,
    }


def differences(there: dict[str, Any], here: dict[str, Any]) -> list[str]:
    """What differs between two sweeps, in words."""
    old, new = _flat(there), _flat(here)
    return [
        f"{name} is {_words(old.get(name))} there and {_words(new.get(name))} here"
        for name in dict.fromkeys([*old, *new])
        if old.get(name) != new.get(name)
    ]


def _flat(tree: dict[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in tree.items():
        if name == "axes" and isinstance(value, dict):
            out |= {f"the axis {path}": values for path, values in value.items()}
        elif isinstance(value, dict):
            out |= {inner if name == "case" else f"{name}.{inner}": v for inner, v in _flat(value).items()}
        else:
            out[name] = value
    return out


def _words(value: Any) -> str:
    if isinstance(value, list) and value and all(isinstance(number, float) for number in value):
        return f"{len(value)} values from {value[0]:.6g} to {value[-1]:.6g}"
    return "absent" if value is None else json.dumps(value)
