"""Particles in the ink, and the loop that brings, catches and sheds them."""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar, TypeVar

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._errors import InvalidInput, one_of, refuse
from libblade._json_text import json_of, text_of
from libblade._schema import path_of
from libblade._tip import _angle
from libblade._units import Floats, gather, numbers, positive, si

DEFAULTS: dict[str, dict[str, Any]] = _core.scoring_defaults()
P, F, M, L = (DEFAULTS[name] for name in ("particle", "filter", "magnet", "loop"))
S = TypeVar("S", bound="_Stated")


class _Stated:
    """A value whose numbers are read to SI when it is made."""

    _units: ClassVar[dict[str, str]] = {}

    def _read(self, problems: list[tuple[str, str, str]]) -> None:
        for name, unit in self._units.items():
            given = getattr(self, name)
            try:
                object.__setattr__(self, name, _angle(given, name) if unit == "rad" else si(given, unit, name))
            except InvalidInput as error:
                problems += error.problems

    def _given(self) -> dict[str, Any]:
        """As its maker takes it."""
        values = {f.name: getattr(self, f.name) for f in fields(self)}  # type: ignore[arg-type]
        return values | {n: f"{values[n]!r} rad" for n, unit in self._units.items() if unit == "rad"}

    def replace(self: S, **changes: Any) -> S:
        """The same with some fields changed. Raises InvalidInput with every problem at once."""
        known_words(changes, type(self), "")
        return type(self)(**{**self._given(), **changes})

    def to_dict(self) -> dict[str, Any]:
        """As plain values that the maker reads back, SI."""
        return {k: v.to_dict() if isinstance(v, _Stated) else v for k, v in self._given().items()}

    def _core(self) -> dict[str, Any]:
        """SI numbers, as the core takes them."""
        return {f.name: getattr(self, f.name) for f in fields(self)}  # type: ignore[arg-type]


def _judge(particles: list[dict[str, Any]], loop: dict[str, Any], strip: str) -> list[tuple[str, str, str]]:
    try:
        _core.check_particles(particles, loop)
    except InvalidInput as error:
        return [(p.path.removeprefix(strip), p.value, p.message) for p in error.problems if p.path.startswith(strip)]
    return []


@dataclass(frozen=True)
class Particles(_Stated):
    """One kind of particle in the ink: ``Particles("dust", median_size="10 um", hardness="11 GPa", tank_rate="40 1/h")``.

    Sizes are lognormal by number. SI numbers or texts with unit; read to SI. Raises InvalidInput with every problem at once.
    """

    name: str
    median_size: Any = P["median_size"]
    """By number: diameter of a grain, longest side of a flake [m]."""
    size_spread: Any = P["size_spread"]
    """Geometric standard deviation of the sizes, 1 to 10; 1: all alike [-]."""
    shape: str = P["shape"]
    """ "grain" (rounded) or "flake" (a thin plate)."""
    thickness: Any = P["thickness"]
    """Of a flake [m]."""
    breadth: Any = P["breadth"]
    """Of a flake over its length [-]; assumed."""
    hardness: Any = P["hardness"]
    """Indentation hardness [Pa]. From memory of handbooks, GPa: rutile 9 to 11, quartz 10 to 12, alumina 18 to 21, tungsten carbide
    18 to 24, silicon carbide 25 to 28, steel 4 to 8, dried ink below 0.5."""
    ductile: bool = P["ductile"]
    """Whether one that is too soft smears; otherwise it crumbles."""
    density: Any = P["density"]
    """[kg/m3]."""
    ferrous_share: Any = P["ferrous_share"]
    """Of their number, that a magnet holds [-]."""
    friction: Any = P["friction"]
    """The smaller of those against blade and roll, median over the particles [-]; assumed for wet, hard contacts."""
    friction_spread: Any = P["friction_spread"]
    """Geometric standard deviation of it [-]; assumed."""
    angularity: Any = f"{P['angularity']!r} rad"
    """Its face at a contact off the tangent of a sphere, standard deviation, with its unit [rad]; assumed."""
    fresh_number: Any = P["fresh_number"]
    """In the ink that is poured in [1/m3]; to be counted."""
    tank_rate: Any = P["tank_rate"]
    """Shed into the tank [1/s]; to be counted."""
    chamber_rate: Any = P["chamber_rate"]
    """Shed into the chamber [1/s]; to be counted."""
    worn_blade_share: Any = P["worn_blade_share"]
    """Of the blade's worn volume that comes off as these, at the reference feather of ``sliver_source`` [-]; assumed."""

    _units: ClassVar[dict[str, str]] = {
        "median_size": "m",
        "size_spread": "1",
        "thickness": "m",
        "breadth": "1",
        "hardness": "Pa",
        "density": "kg/m3",
        "ferrous_share": "1",
        "friction": "1",
        "friction_spread": "1",
        "angularity": "rad",
        "fresh_number": "1/m3",
        "tank_rate": "1/s",
        "chamber_rate": "1/s",
        "worn_blade_share": "1",
    }

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        if not isinstance(self.name, str) or not self.name.strip() or "." in self.name:
            problems.append(("name", repr(self.name), "must be a word or words without a point"))
        if not isinstance(self.ductile, bool):
            problems.append(("ductile", repr(self.ductile), "must be True or False"))
        try:
            one_of("shape", self.shape, ("grain", "flake"))
        except InvalidInput as error:
            problems += error.problems
        self._read(problems)
        gather(problems)
        gather(_judge([self._core()], L, "particles.0."))

    @property
    def mean_volume(self) -> float:
        """Of one, over the lognormal sizes [m3]."""
        return float(_core.particle_volume(self._core()))

    def __str__(self) -> str:
        long = f", {1e6 * self.thickness:.3g} um thick" if self.shape == "flake" else ""
        comes = [
            f"{scale * value:.3g} {unit}"
            for value, scale, unit in (
                (self.fresh_number, 1e-6, "per ml of fresh ink"),
                (self.tank_rate, 3600.0, "per h into the tank"),
                (self.chamber_rate, 3600.0, "per h into the chamber"),
                (self.worn_blade_share, 100.0, "% of the blade's worn volume"),
            )
            if value > 0.0
        ]
        return (
            f"{self.name}: {self.shape}s of {1e6 * self.median_size:.3g} um (spread {self.size_spread:.3g}){long}, "
            f"{1e-9 * self.hardness:.3g} GPa; {', '.join(comes) or 'none comes'}"
        )


@dataclass(frozen=True)
class Filter(_Stated):
    """A filter in the loop: of a size beta comes before it for each one behind (ISO 16889), beta - 1 = (``beta`` - 1)
    (d / ``size``)^``sharpness``. SI numbers or texts with unit. Raises InvalidInput with every problem at once."""

    size: Any = F["size"]
    """At which ``beta`` holds [m]."""
    beta: Any = F["beta"]
    """Of that size, above 1 [-]; ISO 16889 rates at 2 to 1000."""
    sharpness: Any = F["sharpness"]
    """A mesh is sharper than a fleece [-]; assumed."""
    bypass: Any = F["bypass"]
    """Share of the flow that goes round it [-]."""

    _units: ClassVar[dict[str, str]] = {"size": "m", "beta": "1", "sharpness": "1", "bypass": "1"}

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        self._read(problems)
        gather(problems)
        gather(_judge([P | {"name": "any"}], L | {"filter": self._core()}, "loop.filter."))

    def __str__(self) -> str:
        around = f", {100 * self.bypass:.3g} % goes round it" if self.bypass > 0.0 else ""
        return f"filter of beta {self.beta:.3g} at {1e6 * self.size:.3g} um{around}"


@dataclass(frozen=True)
class Magnet(_Stated):
    """A magnet in the loop, which holds a share of ``ferrous_share``. SI numbers or texts with unit. Raises InvalidInput with every
    problem at once."""

    area: Any = M["area"]
    """Of the poles that the ink passes [m2]."""
    field_gradient: Any = M["field_gradient"]
    """Of the squared induction [T2/m]; assumed: some 20 at a few mm from a bar magnet."""
    susceptibility: Any = M["susceptibility"]
    """Apparent, of a particle [-]: 3 for a sphere of iron or steel, less for a plate; from memory."""

    _units: ClassVar[dict[str, str]] = {"area": "m2", "field_gradient": "T2/m", "susceptibility": "1"}

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        self._read(problems)
        gather(problems)
        gather(_judge([P | {"name": "any"}], L | {"magnet": self._core()}, "loop.magnet."))

    def __str__(self) -> str:
        return f"magnet of {1e4 * self.area:.3g} cm2"


@dataclass(frozen=True)
class InkLoop(_Stated):
    """Tank, pump, filter, magnet and chamber: ``InkLoop(flow="9 L/min", tank_volume="20 L", filter=Filter("50 um"))``.

    SI numbers or texts with unit. Raises InvalidInput with every problem at once.
    """

    flow: Any = L["flow"]
    """Pumped through filter, magnet and chamber [m3/s]."""
    tank_volume: Any = L["tank_volume"]
    """[m3]."""
    consumption: Any = L["consumption"]
    """That the web takes and fresh ink makes up [m3/s]."""
    settling_area: Any = L["settling_area"]
    """Floor of a tank that is not stirred; 0: stirred [m2]."""
    filter: Filter | None = None
    magnet: Magnet | None = None

    _units: ClassVar[dict[str, str]] = {
        "flow": "m3/s",
        "tank_volume": "m3",
        "consumption": "m3/s",
        "settling_area": "m2",
    }

    def __post_init__(self) -> None:
        problems: list[tuple[str, str, str]] = []
        for name, kind in (("filter", Filter), ("magnet", Magnet)):
            try:
                object.__setattr__(self, name, _part(kind, getattr(self, name), name))
            except InvalidInput as error:
                problems += error.problems
        self._read(problems)
        gather(problems)
        gather(_judge([P | {"name": "any"}], self._core(), "loop."))

    def _core(self) -> dict[str, Any]:
        return {k: v._core() if isinstance(v, _Stated) else v for k, v in super()._core().items()}

    def caught(self, particles: Particles, sizes: npt.ArrayLike, viscosity: Any, *, ferrous: bool = False) -> Floats:
        """Share that filter and magnet keep of each size [m] in ink of this viscosity [Pa s], as ``sizes``."""
        d = np.atleast_1d(numbers(sizes, "m", "sizes"))
        eta = positive(viscosity, "Pa s", "viscosity")
        out: Floats = _core.loop_efficiency(self._core(), particles._core(), d, ferrous, eta)
        return out

    def __str__(self) -> str:
        parts = [str(part) for part in (self.filter, self.magnet) if part is not None]
        return (
            f"{6e4 * self.flow:.3g} L/min from a tank of {1e3 * self.tank_volume:.3g} L, {3.6e6 * self.consumption:.3g} L/h used; "
            f"{' and '.join(parts) or 'neither filter nor magnet'}"
        )


def _part(kind: type[S], given: Any, place: str) -> S | None:
    if given is None or isinstance(given, kind):
        return given
    if not isinstance(given, Mapping):
        raise refuse(place, given, f"must be a {kind.__name__}(...), a dictionary of its fields or None")
    return stated(kind, given, place)


def known_words(given: Iterable[str], kind: type[_Stated], place: str) -> None:
    """Raises InvalidInput with the nearest known word for every unknown one."""
    words = [f.name for f in fields(kind)]  # type: ignore[arg-type]
    problems = []
    for word in given:
        if word not in words:
            near = difflib.get_close_matches(str(word), words, 1, 0.3)
            hint = f"; the nearest is {near[0]}" if near else f": there are {', '.join(words)}"
            problems.append((f"{place}.{word}" if place else str(word), "", f"is no field of {kind.__name__}{hint}"))
    gather(problems)


def stated(kind: type[S], given: Mapping[str, Any], place: str) -> S:
    """From a dictionary of fields. Raises InvalidInput with paths below ``place``."""
    known_words(given, kind, place)
    if kind is Particles and "name" not in given:
        raise refuse(f"{place}.name", "", "is missing")
    try:
        return kind(**given)
    except InvalidInput as error:
        raise InvalidInput([(f"{place}.{p.path}", p.value, p.message) for p in error.problems]) from error


def particles_of(given: Any) -> tuple[Particles, ...]:
    """A list of classes, or one. Raises InvalidInput unless there are some, each with a name of its own."""
    items: Sequence[Any] = [given] if isinstance(given, Particles) else given
    if not isinstance(items, Sequence) or isinstance(items, str) or not items:
        raise refuse("particles", given, "must be a list of Particles(...)")
    for k, item in enumerate(items):
        if not isinstance(item, Particles):
            raise refuse(f"particles.{k}", item, "must be a Particles(...)")
    names = [item.name for item in items]
    gather([(f"particles.{n}", "", "is the name of two classes") for n in dict.fromkeys(names) if names.count(n) > 1])
    return tuple(items)


def read_particles(text: str) -> tuple[tuple[Particles, ...], InkLoop]:
    """Classes and loop from JSON text: ``{"particles": [{"name": ..., "median_size": "10 um"}], "loop": {"flow": "9 L/min",
    "filter": {"size": "50 um"}}}``, fields as those of ``Particles`` and ``InkLoop``; the loop may be left out.

    Raises InvalidInput with every problem, syntax errors with line and column.
    """
    tree = json_of(text, "particles")
    words = ("particles", "loop")
    if not isinstance(tree, dict) or not isinstance(tree.get("particles"), list) or not tree["particles"]:
        raise refuse("particles", "", 'must be {"particles": [...], "loop": {...}} with at least one class')
    problems: list[tuple[str, str, str]] = []
    for word in tree:
        if word not in words:
            near = difflib.get_close_matches(word, words, 1, 0.3)
            problems.append((word, "", "is not known" + (f"; the nearest is {near[0]}" if near else "")))
    classes: list[Particles] = []
    for k, item in enumerate(tree["particles"]):
        try:
            if not isinstance(item, dict):
                raise refuse(f"particles.{k}", item, "must be an object of fields")
            classes.append(stated(Particles, item, f"particles.{k}"))
        except InvalidInput as error:
            problems += error.problems
    loop: InkLoop | None = None
    try:
        loop = _part(InkLoop, tree.get("loop"), "loop")
    except InvalidInput as error:
        problems += error.problems
    gather(problems)
    return particles_of(classes), loop or InkLoop()


def load_particles(path: str | os.PathLike[str]) -> tuple[tuple[Particles, ...], InkLoop]:
    """As ``read_particles``, from a file. Raises InvalidInput when it cannot be read or is wrong."""
    return read_particles(text_of(path_of(path, "particles"), "particles"))


INVENTED = "How many there are of each is invented for the example: count your own."


def example_particles() -> tuple[Particles, ...]:
    """Classes that ink may hold, for examples. HOW MANY THERE ARE IS INVENTED (``fresh_number``, ``tank_rate``, ``chamber_rate``,
    ``worn_blade_share``).

    Sizes are common practice without a published source (agglomerates 1 to 5 um, chips of a sprayed ceramic 1 to 20, dried ink
    10 to 300, slivers 5 to 500 um long and 1 to 10 thick), hardnesses from memory of handbooks (see ``Particles``); an
    aggregate of pigment is taken to be as hard as its mineral, which is the worst case.
    """
    return (
        Particles(
            "pigment aggregates",
            median_size="1.5 um",
            size_spread=1.6,
            hardness="10 GPa",
            density="4200 kg/m3",
            fresh_number="1000 1/ml",
        ),
        Particles("mineral dust", median_size="8 um", hardness="11 GPa", tank_rate="2000 1/h"),
        Particles(
            "alumina grit",
            median_size="12 um",
            size_spread=1.8,
            hardness="20 GPa",
            density="3950 kg/m3",
            tank_rate="200 1/h",
        ),
        Particles("ceramic chips", median_size="5 um", hardness="13 GPa", density="5200 kg/m3", chamber_rate="60 1/h"),
        Particles(
            "blade slivers",
            shape="flake",
            median_size="40 um",
            size_spread=2.2,
            thickness="3 um",
            breadth=0.3,
            hardness="6 GPa",
            density="7850 kg/m3",
            ferrous_share=1.0,
            worn_blade_share=0.01,
        ),
        Particles(
            "dried ink",
            shape="flake",
            median_size="60 um",
            thickness="15 um",
            breadth=0.7,
            hardness="0.2 GPa",
            ductile=True,
            density="1300 kg/m3",
            chamber_rate="500 1/h",
            tank_rate="500 1/h",
        ),
    )
