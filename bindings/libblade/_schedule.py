"""What a shift does to a blade: steps of distance or time, with fields set, ramped and rippled."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from libblade import _core
from libblade._case import CELL_SIZES, LOADS, Case, warn_unusual
from libblade._errors import InvalidInput, refuse
from libblade._fields import FIELDS
from libblade._json_text import json_of
from libblade._units import field_value, gather, resolve, si


@dataclass(frozen=True)
class ScheduleStep:
    """One step. ``Schedule`` reads the values: SI numbers, texts with unit, quantities; fields by dotted path.

    Changes of line load, interference, set angle and actuator move the holder, as one who sets a blade with this facet; under
    other changes it stays, and ``setting.holding`` says what that means.
    """

    distance: Any = 0.0
    """Of roll surface past the blade [m]."""
    duration: Any = 0.0
    """Instead of a distance [s]; neither: the changes alone."""
    set: Mapping[str, Any] = field(default_factory=dict)
    """Fields and their values at the start of the step."""
    ramp: Mapping[str, Any] = field(default_factory=dict)
    """Fields and the values they reach at its end, in proportion to the distance."""
    ripple: Any = 0.0
    """Relative amplitude, once per turn of the roll, of the load (floating) or the interference (fixed) [-]."""
    stopped: bool = False
    """The roll stands for the duration; then the speed is raised from rest, with the load on."""
    new_blade: bool = False
    """The blade is changed before; only then may fields of blade and tip be set."""


_WORDS = tuple(ScheduleStep.__dataclass_fields__)


def _changes(changes: Any, place: str, problems: list[tuple[str, str, str]]) -> dict[str, float]:
    """Paths and SI numbers, in the order given."""
    if not isinstance(changes, Mapping):
        problems.append((place, repr(changes), "must map field paths to values"))
        return {}
    out: dict[str, float] = {}
    for path, value in changes.items():
        given = f"{place}.{path}"
        try:
            known, unit = resolve(path, given)
            if known.path in out:
                raise refuse(given, value, "is given twice")
            number = field_value(value, known, unit, given)
            if isinstance(number, str):
                raise refuse(given, value, "is a choice: a schedule changes numbers only")
            out[known.path] = number
        except InvalidInput as error:
            problems += error.problems
    for rivals in (LOADS, CELL_SIZES):
        stated = [path for path in rivals if path in out]
        problems += [(f"{place}.{path}", "", f"contradicts {stated[0]}: state one of the two") for path in stated[1:]]
    return out


def _step(given: Any, k: int, problems: list[tuple[str, str, str]]) -> ScheduleStep:
    place = f"schedule.{k}"
    if not isinstance(given, ScheduleStep | Mapping):
        problems.append((place, repr(given), "must be a ScheduleStep(...) or a dictionary of its fields"))
        return ScheduleStep()
    values = dict(given) if isinstance(given, Mapping) else {name: getattr(given, name) for name in _WORDS}
    problems += [
        (f"{place}.{name}", "", f"is no part of a step: there are {', '.join(_WORDS)}")
        for name in values
        if name not in _WORDS
    ]

    def number(name: str, unit: str) -> float:
        try:
            value = values.get(name)
            return 0.0 if value is None else si(value, unit, f"{place}.{name}")
        except InvalidInput as error:
            problems.extend(error.problems)
            return 0.0

    def switch(name: str) -> bool:
        value = values.get(name, False)
        if not isinstance(value, bool):
            problems.append((f"{place}.{name}", repr(value), "must be True or False"))
        return bool(value)

    changes = {name: _changes(values.get(name) or {}, f"{place}.{name}", problems) for name in ("set", "ramp")}
    return ScheduleStep(
        number("distance", "m"),
        number("duration", "s"),
        **changes,
        ripple=number("ripple", "1"),
        stopped=switch("stopped"),
        new_blade=switch("new_blade"),
    )


@dataclass(frozen=True, init=False, repr=False)
class Schedule:
    """Steps in order, read to SI numbers: ``Schedule([ScheduleStep("30 km"), ScheduleStep(duration="8 h", set={...})])``.

    Raises InvalidInput naming step (the first is schedule.0), field, value and what is allowed; what a step does to a case is
    checked by ``wear``.
    """

    steps: tuple[ScheduleStep, ...]

    def __init__(self, steps: Iterable[ScheduleStep | Mapping[str, Any]]) -> None:
        if isinstance(steps, str | Mapping | ScheduleStep) or not isinstance(steps, Iterable):
            raise refuse("schedule", steps, "must be a list of steps")
        problems: list[tuple[str, str, str]] = []
        read = tuple(_step(step, k, problems) for k, step in enumerate(steps))
        if not read:
            problems.append(("schedule", "0 steps", "must have at least one step"))
        gather(problems)
        object.__setattr__(self, "steps", read)

    @classmethod
    def from_json(cls, text: str) -> Schedule:
        """Reads a list of steps from JSON text, each an object of ``ScheduleStep``'s fields."""
        return cls(json_of(text, "schedule"))

    def to_json(self) -> str:
        """As JSON text in SI units, with what is not stated left out; ``Schedule.from_json`` reads it back to an equal one."""
        return json.dumps([_stated(step) for step in self.steps], indent=1)

    def __len__(self) -> int:
        return len(self.steps)

    def __iter__(self) -> Iterator[ScheduleStep]:
        return iter(self.steps)

    def __getitem__(self, k: int) -> ScheduleStep:
        return self.steps[k]

    def __repr__(self) -> str:
        return f"Schedule of {len(self)} step{'s' if len(self) > 1 else ''}: " + "; ".join(map(step_words, self))

    def _core(self) -> list[Any]:
        return [
            (s.distance, s.duration, list(s.set.items()), list(s.ramp.items()), s.ripple, s.stopped, s.new_blade)
            for s in self
        ]


def _stated(step: ScheduleStep) -> dict[str, Any]:
    """In SI units; an angle says so, since a bare number for one is refused."""
    out = {name: value for name, value in asdict(step).items() if value}
    for name in {"set", "ramp"} & out.keys():
        out[name] = {
            path: f"{value!r} rad" if FIELDS[path].dimension == "angle" else value for path, value in out[name].items()
        }
    return out


def _leaf(path: str) -> str:
    return path.rpartition(".")[2].replace("_", " ")


def step_words(step: ScheduleStep) -> str:
    """A step in shop words."""
    words = ["new blade"] if step.new_blade else []
    words += [f"{_leaf(path)} {FIELDS[path].text(value)}" for path, value in step.set.items()]
    words += [f"{_leaf(path)} towards {FIELDS[path].text(value)}" for path, value in step.ramp.items()]
    if step.ripple:
        words.append(f"ripple {100.0 * step.ripple:.3g} %")
    if step.stopped:
        words.append("stopped")
    if step.distance:
        words.append(f"{1e-3 * step.distance:.4g} km")
    elif step.duration:
        words.append(f"{step.duration / 3600.0:.4g} h")
    return ", ".join(words) or "nothing"


def schedule_of(value: Any) -> Schedule:
    """A schedule, a list of steps, or one bare distance."""
    if isinstance(value, Schedule):
        return value
    if isinstance(value, list | tuple):
        return Schedule(value)
    return Schedule([ScheduleStep(si(value, "m", "distance"))])


Along = Callable[[_core.Case], float]


@dataclass(frozen=True)
class StepCases:
    """Cases at the start and at the end of each step, and the steps' lengths."""

    cases: list[tuple[_core.Case, _core.Case]]
    lengths: list[float]
    """[m]."""

    @classmethod
    def of(cls, case: Case, schedule: Schedule, stacklevel: int) -> StepCases:
        """Checks a schedule on a case and warns of unusual values. Raises InvalidInput."""
        cases, lengths = _core.schedule_steps(case._core, schedule._core())
        for step, (begin, end) in zip(schedule, cases, strict=True):
            warn_unusual(begin, stacklevel + 1, set(step.set))
            warn_unusual(end, stacklevel + 1, set(step.ramp))
        return cls(cases, lengths)
