"""What a scoring map varies and a lever moves: fields of the case, of the particles, of the loop, and options, by one path."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from libblade import _core
from libblade._errors import InvalidInput, refuse
from libblade._particles import DEFAULTS, Filter, InkLoop, Magnet, Particles, _part, _Stated
from libblade._scoring import OPTION_UNITS, Job, read_options
from libblade._tip import _angle
from libblade._units import Floats, field_values, gather, resolve, si

# What a number is for people: display unit, meaning.
SHOWN = {
    "median_size": ("um", "median size"),
    "size_spread": ("1", "geometric standard deviation of the sizes"),
    "thickness": ("um", "thickness of a flake"),
    "breadth": ("1", "breadth of a flake over its length"),
    "hardness": ("GPa", "indentation hardness"),
    "density": ("kg/m3", "density"),
    "ferrous_share": ("%", "share that a magnet holds"),
    "friction": ("1", "median friction at the mouth"),
    "friction_spread": ("1", "geometric standard deviation of the friction"),
    "angularity": ("deg", "faces off a sphere's tangent"),
    "fresh_number": ("1/ml", "number in fresh ink"),
    "tank_rate": ("1/h", "shed into the tank"),
    "chamber_rate": ("1/h", "shed into the chamber"),
    "worn_blade_share": ("%", "share of the worn blade"),
    "size": ("um", "size at which the filter is rated"),
    "beta": ("1", "filter's ratio of counts at its size"),
    "sharpness": ("1", "steepness of the filter over the size"),
    "bypass": ("%", "share of the flow round the filter"),
    "area": ("cm2", "poles of the magnet"),
    "field_gradient": ("T2/m", "gradient of the squared induction"),
    "susceptibility": ("1", "apparent susceptibility"),
    "flow": ("L/min", "flow through the loop"),
    "tank_volume": ("L", "tank volume"),
    "consumption": ("L/h", "ink used"),
    "settling_area": ("m2", "floor of an unstirred tank"),
    "face_width": ("m", "face width"),
    "run_time": ("h", "running time from fresh ink"),
    "hardness_ratio": ("1", "hardness ratio from which a particle dents a surface"),
    "edge_toughness": ("N/m", "edge toughness of the engraving's walls"),
    "scratch_friction": ("1", "friction of an embedded particle"),
    "narrowness": ("1", "factor of the drag for a narrow gap"),
}


@dataclass(frozen=True)
class Target:
    """One number that may be varied."""

    path: str
    dim: str
    unit: str
    display_unit: str
    meaning: str
    put: Callable[[list[Any], float], None]
    """Writes a value into a job as the core takes it: case, particles, loop, options."""


def target_of(given: str, job: Job, values: Any) -> tuple[Target, Floats]:
    """The field that a path stands for, and the values in SI, (n,). Raises InvalidInput with the nearest known path."""
    head, _, rest = str(given).partition(".")
    if head == "particles":
        k, word = _class_of(given, rest, job.particles)
        name = job.particles[k].name
        target = _target(f"particles.{name}.{word}", f"{name}_{word}", Particles._units[word], word, _particle(k, word))
        return target, _values(values, target)
    if head == "loop":
        word = _loop_word(given, rest)
        unit = _LOOP_UNITS[word]
        target = _target(f"loop.{word}", word, unit, word.rpartition(".")[2], _loop(word))
        return target, _values(values, target)
    if given in OPTION_UNITS:
        target = _target(given, given, OPTION_UNITS[given], given, lambda core, value: core[3].update({given: value}))
        return target, _values(values, target)
    try:
        field, unit = resolve(given)
    except InvalidInput as error:
        near = difflib.get_close_matches(str(given), known_paths(job), 1, 0.6)
        raise refuse(given, "", f"is not a known field; the nearest is {near[0]}") if near else error from None
    numbers = field_values(values, field, unit, given)
    leaf = field.path.rpartition(".")[2]

    def put(core: list[Any], value: float) -> None:
        core[0].set_number(field.path, value)

    return Target(field.path, leaf, field.unit, field.display_unit or "1", field.meaning, put), numbers


_LOOP_UNITS: dict[str, str] = {
    **InkLoop._units,
    **{f"filter.{word}": unit for word, unit in Filter._units.items()},
    **{f"magnet.{word}": unit for word, unit in Magnet._units.items()},
}


def known_paths(job: Job) -> list[str]:
    """Of particles, loop and options."""
    classes = [f"particles.{p.name}.{word}" for p in job.particles for word in Particles._units]
    return [*classes, *(f"loop.{word}" for word in _LOOP_UNITS), *OPTION_UNITS]


def _target(path: str, dim: str, unit: str, word: str, put: Callable[[list[Any], float], None]) -> Target:
    shown, meaning = SHOWN[word]
    return Target(path, "".join(c if c.isalnum() else "_" for c in dim), unit, shown, meaning, put)


def _particle(k: int, word: str) -> Callable[[list[Any], float], None]:
    return lambda core, value: core[1][k].update({word: value})


def _loop(word: str) -> Callable[[list[Any], float], None]:
    part, _, leaf = word.rpartition(".")

    def put(core: list[Any], value: float) -> None:
        if not part:
            core[2][leaf] = value
        else:
            core[2][part] = (core[2][part] or DEFAULTS[part]) | {leaf: value}

    return put


def _class_of(given: str, rest: str, particles: tuple[Particles, ...]) -> tuple[int, str]:
    name, _, word = rest.rpartition(".")
    names = [p.name for p in particles]
    place = {n: k for k, n in reversed(list(enumerate(names)))} | {n.replace(" ", "_"): k for k, n in enumerate(names)}
    if name not in place:
        raise refuse(given, "", f"names no class of particles; {_near(name, names)}")
    if word not in Particles._units:
        raise refuse(given, "", f"is no number of Particles; {_near(word, Particles._units)}")
    return place[name], word


def _loop_word(given: str, word: str) -> str:
    if word not in _LOOP_UNITS:
        raise refuse(given, "", f"is no number of InkLoop; {_near(word, _LOOP_UNITS)}")
    return word


def _near(word: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(word, list(known), 1, 0.3)
    return f"the nearest is {near[0]}" if near else f"there are {', '.join(known)}"


def _values(given: Any, target: Target) -> Floats:
    """Each a number in SI, a text with unit or a quantity."""
    units = getattr(given, "attrs", {}).get("units")
    if units is not None:
        return np.array([float(_core.to_si(float(v), units, target.unit, target.path)) for v in np.ravel(given.values)])
    if isinstance(given, str) or np.ndim(given) != 1:
        raise refuse(target.path, given, "must be a list or an array of values")
    read = _angle if target.unit == "rad" else lambda value, name: si(value, target.unit, name)
    return np.array([read(value, target.path) for value in (given.tolist() if hasattr(given, "tolist") else given)])


def changed(job: Job, changes: Mapping[str, Any]) -> Job:
    """The job with other values: of the case (as ``Case.replace`` takes them), of ``particles.NAME.FIELD``, ``loop.FIELD``,
    ``loop.filter`` and ``loop.magnet`` (a Filter or Magnet, or None) and their fields, and of options."""
    case: dict[str, Any] = {}
    particles, loop, options = list(job.particles), job.loop, dict(job.options)
    problems: list[tuple[str, str, str]] = []
    for path, value in changes.items():
        head, _, rest = path.partition(".")
        try:
            if head == "particles":
                k, word = _class_of(path, rest, job.particles)
                particles[k] = _named(path, particles[k], {word: value})
            elif head == "loop":
                loop = _changed_loop(path, loop, rest, value)
            elif path in options:
                options = read_options({**options, path: value})
            else:
                case[path] = value
        except InvalidInput as error:
            problems += error.problems
    gather(problems)
    return Job(job.case.replace(case) if case else job.case, tuple(particles), loop, options)


def _named(path: str, part: Any, change: dict[str, Any]) -> Any:
    """A part with one field changed; what is wrong is told by the whole path."""
    try:
        return part.replace(**change)
    except InvalidInput as error:
        raise InvalidInput([(path, p.value, p.message) for p in error.problems]) from error


def _changed_loop(path: str, loop: InkLoop, rest: str, value: Any) -> InkLoop:
    kinds: dict[str, type[_Stated]] = {"filter": Filter, "magnet": Magnet}
    if rest in kinds:
        changed: InkLoop = _named(path, loop, {rest: _part(kinds[rest], value, path)})
        return changed
    part, _, leaf = _loop_word(path, rest).rpartition(".")
    if part:
        value, leaf = _named(path, getattr(loop, part) or kinds[part](), {leaf: value}), part
    out: InkLoop = _named(path, loop, {leaf: value})
    return out


def core_of(job: Job) -> list[Any]:
    """A copy as the core takes it, to be written into."""
    case, particles, loop, options = job.core()
    return [case.copy(), [dict(p) for p in particles], dict(loop), dict(options)]


def by_name(error: InvalidInput, particles: tuple[Particles, ...]) -> InvalidInput:
    """The core counts classes; people name them."""
    out = []
    for path, value, message in error.problems:
        head, _, rest = path.partition(".")
        k, _, word = rest.partition(".")
        named = head == "particles" and k.isdigit()
        out.append((f"particles.{particles[int(k)].name}.{word}" if named else path, value, message))
    return InvalidInput(out)
