"""A wear history on its way, in a file: what is there survives a crash, and goes on from there to the same bits."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from libblade import _core
from libblade._case import Case
from libblade._checkpoint import differences
from libblade._errors import InvalidInput, refuse
from libblade._schedule import Schedule
from libblade._schema import write_whole
from libblade._units import Floats

FORMAT = "libblade wear history"
VERSION = 1
INTEGERS = {"schedule_step": np.int32, "regime": np.int8}


@dataclass
class Run:
    """What there is of a history, stretch by stretch."""

    columns: dict[str, Any] = field(default_factory=dict)
    events: list[tuple[str, float, float, int, bool]] = field(default_factory=list)
    state: dict[str, Any] | None = None
    profile: tuple[Floats, Floats] = (np.empty(0), np.empty(0))
    steps_rejected: int = 0
    nip_solves: int = 0
    convergence: tuple[str, float, float, int, str] = ("not_run", 0.0, 1.0, 0, "")
    paused: bool = True
    """There is more to come."""

    @property
    def tried(self) -> int:
        """Steps of the integrator, rejected ones too."""
        return self.convergence[3] + self.steps_rejected

    def add(self, part: dict[str, Any]) -> None:
        """Joins the next stretch."""
        there = self.columns or {name: column[:0] for name, column in part["columns"].items()}
        self.columns = {name: np.concatenate([there[name], column]) for name, column in part["columns"].items()}
        self.events += part["events"]
        self.state, self.paused = part["state"], part["paused"]
        if part["profile"][0].size:
            self.profile = part["profile"]
        self.steps_rejected += part["steps_rejected"]
        self.nip_solves += part["nip_solves"]
        status, residual, tolerance, iterations, message = part["convergence"]
        before = self.convergence
        self.convergence = (status, max(residual, before[1]), tolerance, iterations + before[3], message)


def description(case: Case, schedule: Schedule, options: dict[str, Any]) -> dict[str, Any]:
    """All that decides the numbers of a history; name and note of the case do not, nor how long it may take."""
    steps = json.loads(schedule.to_json())
    tree = {
        "libblade_version": str(_core.version),
        "case": {name: part for name, part in case.to_dict().items() if name not in ("name", "note")},
        "schedule": {str(k): step for k, step in enumerate(steps)},
        "options": {name: value for name, value in options.items() if name != "max_steps"},
    }
    out: dict[str, Any] = json.loads(json.dumps(tree))  # so that it compares equal with what is read back
    return out


def _plain(value: Any) -> Any:
    """For JSON, which has no NaN."""
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def write_run(path: Path, run: Run, story: dict[str, Any]) -> None:
    """Stores what there is, wholly or not at all. Raises InvalidInput when it cannot; what was stored before stays good."""
    content = {"format": FORMAT, "format_version": VERSION, "history": story, "run": _plain(vars(run))}
    write_whole(path, json.dumps(content, allow_nan=False).encode(), "save")


def check_target(path: Path) -> None:
    """Raises InvalidInput unless a history can be written there: a new file, or the place of another history."""
    if not path.absolute().parent.is_dir():
        raise refuse("save", str(path), "lies in a folder that does not exist")
    if path.exists():
        _content(path, "save")


def read_run(path: Path, story: dict[str, Any]) -> Run:
    """What is there. Raises InvalidInput, naming the file, when it holds anything but this history."""
    content = _content(path, "resume")
    if content["history"] != story:
        found = differences(content["history"], story)
        more = f" and {len(found) - 5} more" if len(found) > 5 else ""
        raise refuse("resume", str(path), "holds another history: " + "; ".join(found[:5]) + more)
    try:
        values = dict(content["run"])
        values["columns"] = {
            name: np.array(column, dtype=INTEGERS.get(name, float)) for name, column in values["columns"].items()
        }
        if len({column.size for column in values["columns"].values()}) > 1:
            raise ValueError("its columns differ in length")
        values["events"] = [tuple(event) for event in values["events"]]
        values["profile"] = tuple(np.array(column, dtype=float) for column in values["profile"])
        values["convergence"] = tuple(values["convergence"])
        return Run(**values)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise refuse("resume", str(path), f"is damaged: {error}") from error


def _content(path: Path, argument: str) -> dict[str, Any]:
    def refusal(message: str) -> InvalidInput:
        return refuse(argument, str(path), message)

    try:
        content = json.loads(path.read_bytes())
    except OSError as error:
        raise refusal(f"cannot be read: {error.strerror}") from error
    except ValueError as error:
        raise refusal(f"holds no wear history, or a damaged one ({error})") from error
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise refusal("holds no wear history")
    version = content.get("format_version")
    if not isinstance(version, int) or version > VERSION:
        raise refusal(f"was written by a newer libblade (format {version}; this one reads {VERSION})")
    if not isinstance(content.get("history"), dict) or not isinstance(content.get("run"), dict):
        raise refusal("is damaged: it lacks its history")
    return content
