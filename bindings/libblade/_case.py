"""Cases: one nip described by its fields."""

from __future__ import annotations

import difflib
import functools
import html
import json
import math
import os
import warnings
from collections.abc import Callable, Iterator, Mapping
from importlib import resources
from numbers import Real
from typing import Any, ClassVar

from libblade import _core
from libblade._actuator import Actuator, Screw
from libblade._core import Case as CoreCase
from libblade._errors import InvalidInput, LibbladeWarning, refuse
from libblade._fields import FIELDS
from libblade._units import field_value, gather, is_quantity, resolve


class Component:
    """A part of a case: fields by keyword, each an SI number, a text with unit, or a name that carries its unit.

    ``Blade(thickness_mm=0.15, free_length="12 mm", material={"youngs_modulus": "205 GPa"})``
    """

    _prefix: ClassVar[str] = ""
    _implied: ClassVar[dict[str, Any]] = {}
    _values: dict[str, Any]

    def __init__(self, **fields: Any) -> None:
        values: dict[str, Any] = dict(self._implied)
        _flatten(fields, "", values)
        problems: list[tuple[str, str, str]] = []
        for name in values:
            try:
                resolve(f"{self._prefix}.{name}" if self._prefix else f"blade.material.{name}", name)
            except InvalidInput as error:
                problems += error.problems
        gather(problems)
        object.__setattr__(self, "_values", values)

    def __setattr__(self, name: str, value: Any) -> None:
        del value
        raise AttributeError(f"{type(self).__name__} cannot be changed ({name}): make a new one, or use Case.replace")

    def __getattr__(self, name: str) -> Any:
        values: dict[str, Any] = self.__dict__.get("_values", {})
        if name in values:
            return values[name]
        group = {key[len(name) + 1 :]: value for key, value in values.items() if key.startswith(name + ".")}
        if group:
            return _group(name, group, f"{self._prefix}.{name}" if self.__dict__.get("_read_from_case") else "")
        raise AttributeError(f"{type(self).__name__} does not state {name}")

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        return iter(self._values.items())

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *{name.partition(".")[0] for name in self._values}]

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and dict(self) == dict(other)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self)})"

    def __reduce__(self) -> tuple[Any, ...]:
        return _remake, (type(self), dict(self._values), getattr(self, "_read_from_case", False))


def _group(name: str, values: dict[str, Any], path: str) -> Any:
    """Nested fields; items that count from 0 as a tuple."""
    if "0" not in {key.partition(".")[0] for key in values}:
        return _Group(name, values, path)
    items: dict[str, dict[str, Any]] = {}
    for key, value in values.items():
        k, _, rest = key.partition(".")
        items.setdefault(k, {})[rest] = value
    return tuple(_Group(f"{name}.{k}", item, path and f"{path}.{k}") for k, item in items.items())


class _Group:
    """Read access to nested fields: ``case.blade.material.youngs_modulus``; ``path``: where they stand in the case that gave
    them."""

    def __init__(self, name: str, values: dict[str, Any], path: str) -> None:
        self._name, self._fields, self._path = name, values, path

    def __getattr__(self, name: str) -> Any:
        fields: dict[str, Any] = self.__dict__.get("_fields", {})
        if name in fields:
            return fields[name]
        raise AttributeError(f"{self.__dict__.get('_name')} does not state {name}")

    def __iter__(self) -> Iterator[tuple[str, Any]]:
        return iter(self._fields.items())

    def __repr__(self) -> str:
        return f"{self._name}({', '.join(f'{name}={value!r}' for name, value in self)})"


class Blade(Component):
    """The blade: ``free_length`` and ``thickness``, or ``sections`` (a list from clamp to tip of ``length`` ``thickness``
    ``end_thickness`` ``flush``), ``backing_length`` ``backing_gap`` ``specific_wear`` ``material``."""

    _prefix = "blade"


class Solid(Component):
    """A material: ``grade`` ("carbon_steel", "stainless_steel", "tool_steel", "polymer", "fibre_composite") and what differs
    from its nominal values, or ``youngs_modulus`` ``poissons_ratio`` ``hardness`` ``yield_strength`` ``density``."""


class Tip(Component):
    """The tip: ``kind`` ("facet" or "square_edge") ``edge_radius`` ``facet_length`` (or "worn") ``bedding``
    ("here", "elsewhere", "angle") ``bedded_angle`` ``bedded_set_angle`` ``bedded_line_load``."""

    _prefix = "tip"


class Facet(Tip):
    """A worn and bedded tip."""

    _implied: ClassVar[dict[str, Any]] = {"kind": "facet"}


class SquareEdge(Tip):
    """An unworn square edge."""

    _implied: ClassVar[dict[str, Any]] = {"kind": "square_edge"}


class Engraving(Component):
    """The cells: ``pattern`` ("hexagon", "diamond", "channel", "elongated", "smooth") ``screen`` ``wall_width``
    ``screen_angle`` ``aspect`` ``corner_radius`` ``profile`` ("flat", "parabolic") ``cell_volume`` or ``cell_depth``, ``fill``
    ``pressure_flow_factor`` ``land_fraction``."""

    _prefix = "roll.engraving"


class Roll(Component):
    """The engraved roll: ``radius`` ``land_roughness`` ``asperity_product`` ``asperity_ratio``, or ``bearing_curve`` (a list of
    ``BearingPoint(...)``, gap rising), ``run_out`` ``specific_wear`` ``dry_specific_wear``
    ``thermal_effusivity`` ``material`` ``engraving``."""

    _prefix = "roll"


class BearingPoint(Component):
    """A measured point of the contact of blade and land: ``gap`` between mean planes and mean ``pressure`` on the land."""

    _prefix = "roll.bearing_curve.0"


class Cross(Component):
    """The Cross law: ``zero_shear_viscosity`` ``infinite_shear_viscosity`` ``time_constant`` ``exponent`` (m)."""

    _prefix = "ink.rheology"
    _implied: ClassVar[dict[str, Any]] = {"law": "cross"}


class PowerLaw(Component):
    """The power law: ``consistency`` (K, a number in Pa s^n) ``exponent`` (n)."""

    _prefix = "ink.rheology"
    _implied: ClassVar[dict[str, Any]] = {"law": "power_law"}


class CarreauYasuda(Component):
    """The Carreau-Yasuda law: ``zero_shear_viscosity`` ``infinite_shear_viscosity`` ``time_constant`` ``exponent`` (n)
    ``transition`` (a; 2 where it is not stated: Carreau's law)."""

    _prefix = "ink.rheology"
    _implied: ClassVar[dict[str, Any]] = {"law": "carreau_yasuda"}


class Ink(Component):
    """The ink: ``viscosity`` or ``rheology`` (``Cross(...)``, ``PowerLaw(...)`` or ``CarreauYasuda(...)``), ``density``
    ``temperature`` ``reference_temperature`` ``andrade_constant`` ``vogel_temperature`` ``thermal_conductivity``
    ``heat_capacity``."""

    _prefix = "ink"


class Setting(Component):
    """What the operator sets: ``orientation`` ``holding`` ``set_angle`` ``line_load`` or ``interference``
    or ``actuator`` (an ``Actuator``, a ``Screw`` or their fields), ``surface_speed`` ``friction`` ``chamber_pressure``
    ``pressure_side`` ``wetted_length`` ``load_step`` ``holder_stiffness`` ``holder_rotation_stiffness`` ``film_supply``."""

    _prefix = "setting"


def _remake(kind: type[Component], values: dict[str, Any], read_from_case: bool = False) -> Component:
    """A part as it was; one that a case gave holds SI numbers only, angles too."""
    part = kind.__new__(kind)
    object.__setattr__(part, "_values", values)
    if read_from_case:
        object.__setattr__(part, "_read_from_case", True)
    return part


def _stated(fields: Any) -> Any:
    """Names and values; where a case gave them, all numbers are SI, and an angle must say that it is in rad."""
    if isinstance(fields, Mapping):
        return fields.items()
    path = fields._path if isinstance(fields, _Group) else ""
    if getattr(fields, "_read_from_case", False):
        path = fields._prefix
    if not path:
        return fields
    angles = {name for name, _ in fields if FIELDS[f"{path}.{name}"].dimension == "angle"}
    return [(name, f"{value!r} rad" if name in angles else value) for name, value in fields]


def _flatten(fields: Any, prefix: str, out: dict[str, Any]) -> None:
    for name, value in _stated(fields):
        if isinstance(value, Actuator | Screw):
            _flatten(value.fields(), f"{prefix}{name}.", out)
        elif isinstance(value, Mapping | Component | _Group):
            _flatten(value, f"{prefix}{name}.", out)
        elif isinstance(value, list | tuple) and all(isinstance(item, Mapping | Component | _Group) for item in value):
            for k, item in enumerate(value):
                _flatten(item, f"{prefix}{name}.{k}.", out)
        elif value is not None:
            out[f"{prefix}{name}"] = value


def _to_json_value(value: Any, path: str, problems: list[tuple[str, str, str]]) -> Any:
    """A value as the case reader takes it: text and numbers pass through, quantities become text in SI units."""
    if isinstance(value, str | bool):
        return value
    try:
        if isinstance(value, Real):
            if not math.isfinite(value):
                raise refuse(path, str(value), "must be a finite number")
            return float(value)
        field, unit = resolve(path)
        number = field_value(value, field, unit, path)
        return f"{number!r} {field.unit}" if field.unit != "1" else number
    except InvalidInput as error:
        problems += error.problems
        return None


def _nest(flat: dict[str, Any]) -> dict[str, Any]:
    tree: dict[str, Any] = {}
    for path, value in flat.items():
        *groups, name = path.split(".")
        node = tree
        for group in groups:
            node = node.setdefault(group, {})
        node[name] = value
    return _lists(tree)


def _lists(tree: dict[str, Any]) -> dict[str, Any]:
    """Groups whose names count from 0 become lists: blade.sections."""
    out: dict[str, Any] = {}
    for name, value in tree.items():
        below = _lists(value) if isinstance(value, dict) else value
        counted = isinstance(value, dict) and list(below) == [str(k) for k in range(len(below))]
        out[name] = list(below.values()) if counted else below
    return out


def warn_unusual(core: _core.Case, stacklevel: int, only: set[str] | None = None) -> None:
    """Warns about every value outside its usual range."""
    for path, value, message in _core.unusual(core):
        if only is None or path in only:
            warnings.warn(f"{path} = {value} {message}", LibbladeWarning, stacklevel=stacklevel + 1)


class Case:
    """One complete nip: blade, tip, roll, ink and setting. Values never change: ``replace`` makes a new case.

    Every part takes keyword fields (see ``field_table()``). Numbers are SI; text carries its unit (``"0.15 mm"``); a name may
    carry it instead (``thickness_mm=0.15``). An angle needs a unit. pint quantities are taken as they are.

    Raises InvalidInput with every problem at once. Warns with LibbladeWarning outside usual ranges.
    """

    __slots__ = ("_core",)
    _core: CoreCase

    def __init__(
        self,
        *,
        blade: Blade | Mapping[str, Any],
        roll: Roll | Mapping[str, Any],
        ink: Ink | Mapping[str, Any],
        setting: Setting | Mapping[str, Any],
        tip: Tip | Mapping[str, Any] | None = None,
        name: str = "",
        note: str = "",
    ) -> None:
        problems: list[tuple[str, str, str]] = []
        flat: dict[str, Any] = {}
        parts = {"blade": blade, "tip": tip or {}, "roll": roll, "ink": ink, "setting": setting}
        for part, fields in parts.items():
            if not isinstance(fields, Component | Mapping):
                problems.append((part, repr(fields), f"must be a {part.capitalize()}(...) or a dictionary of fields"))
                continue
            _flatten(fields, f"{part}.", flat)
        values = {path: _to_json_value(value, path, problems) for path, value in flat.items()}
        gather(problems)
        tree = {"name": name, "note": note, **_nest(values)}
        core = _core.read_case(json.dumps(tree, allow_nan=False))
        self._core = core
        warn_unusual(self._core, 2)

    @classmethod
    def _wrap(cls, core: CoreCase) -> Case:
        case = cls.__new__(cls)
        case._core = core
        return case

    @classmethod
    def from_json(cls, text: str) -> Case:
        """Reads a case from JSON text. Raises InvalidInput with every problem, syntax errors with line and column."""
        if not isinstance(text, str):
            raise refuse("text", text, "must be JSON text")
        case = cls._wrap(_core.read_case(text))
        warn_unusual(case._core, 2)
        return case

    def to_json(self) -> str:
        """Every field as JSON text in SI units; ``Case.from_json`` reads it back to an equal case."""
        return _core.write_case(self._core)

    def to_dict(self) -> dict[str, Any]:
        """As ``to_json``, as a nested dictionary."""
        tree: dict[str, Any] = json.loads(self.to_json())
        return tree

    @property
    def name(self) -> str:
        """Short name."""
        return self._core.name

    @property
    def note(self) -> str:
        """Where the numbers come from."""
        return self._core.note

    def __getitem__(self, path: str) -> float | str:
        """Value of a field by path: SI number, number in the unit of the name (``"blade.thickness_mm"``), or a word."""
        field, unit = resolve(path)
        if not self._core.has_field(field.path):
            raise KeyError(f"this case has no {field.path}")
        if field.choices and (word := self._core.get_choice(field.path)):
            return word
        value = self._core.get_number(field.path)
        return float(_core.field_from_si(value, unit, field.path)) if unit else value

    def get(self, path: str, default: Any = None) -> Any:
        """As ``case[path]``, with a default for a field that this case does not have."""
        try:
            return self[path]
        except KeyError:
            return default

    def replace(self, changes: Mapping[str, Any] | None = None, /, **named: Any) -> Case:
        """A new case with some fields changed: ``case.replace({"setting.set_angle": "28 deg"})``.

        ``None`` makes an optional field absent. Setting ``setting.line_load``, ``setting.interference`` or the reading
        of the actuator replaces the others, likewise ``cell_volume`` and ``cell_depth`` of the engraving.
        ``"blade.sections"`` and ``"roll.bearing_curve"`` take the whole list.
        Raises InvalidInput with every problem at once.
        """
        changed = {**(changes or {}), **named}
        core = self._core.copy()
        problems: list[tuple[str, str, str]] = []
        touched = assign(core, changed, problems)
        if not problems:
            problems += _core.check(core)
        gather(problems)
        warn_unusual(core, 2, touched)
        return Case._wrap(core)

    def _part(self, kind: type[Component]) -> Any:
        prefix = kind._prefix + "."
        values = {}
        for path in FIELDS:
            if path.startswith(prefix) and (value := self.get(path)) is not None and not self._repeats(path):
                values[path[len(prefix) :]] = value
        return _remake(kind, values, True)

    def _repeats(self, path: str) -> bool:
        """A Newtonian ink is stated by ink.viscosity alone."""
        return path.startswith("ink.rheology.") and self["ink.rheology.law"] == "newtonian"

    @property
    def blade(self) -> Blade:
        """The blade's fields, SI."""
        part: Blade = self._part(Blade)
        return part

    @property
    def tip(self) -> Tip:
        """The tip's fields, SI."""
        part: Tip = self._part(Tip)
        return part

    @property
    def roll(self) -> Roll:
        """The roll's fields, SI."""
        part: Roll = self._part(Roll)
        return part

    @property
    def ink(self) -> Ink:
        """The ink's fields, SI."""
        part: Ink = self._part(Ink)
        return part

    @property
    def setting(self) -> Setting:
        """The setting's fields, SI."""
        part: Setting = self._part(Setting)
        return part

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Case) and bool(self._core == other._core)

    def __hash__(self) -> int:
        return hash(self.to_json())

    def __reduce__(self) -> tuple[Any, ...]:
        return _restore, (self.to_json(),)

    def _shown(self) -> Iterator[tuple[str, list[tuple[str, str]]]]:
        """The parts of the case with the fields people look at, in shop units."""
        for part in ("blade", "tip", "roll", "ink", "setting"):
            words = []
            for path, field in FIELDS.items():
                if not path.startswith(part + ".") or ".material." in path or (value := self.get(path)) is None:
                    continue
                if not self._repeats(path):
                    words.append((path[len(part) + 1 :], value if isinstance(value, str) else field.text(value)))
            yield part, words

    def __repr__(self) -> str:
        lines = [f'Case "{self.name}"' if self.name else "Case"]
        for part, words in self._shown():
            lines.append(f"  {part:<8}{', '.join(f'{name}={text}' for name, text in words)}")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th style='text-align:left'>{part if k == 0 else ''}</th><td style='text-align:left'>{name}</td>"
            f"<td>{html.escape(text)}</td></tr>"
            for part, words in self._shown()
            for k, (name, text) in enumerate(words)
        )
        return f"<p><b>Case {html.escape(self.name)}</b></p><p>{html.escape(self.note)}</p><table>{rows}</table>"


def _restore(text: str) -> Case:
    return Case._wrap(_core.read_case(text))


# What a case may state its load as: one of them. Likewise the size of its cells.
LOADS = ("setting.line_load", "setting.interference", "setting.actuator.air_pressure", "setting.actuator.advance")
CELL_SIZES = ("roll.engraving.cell_volume", "roll.engraving.cell_depth")


# Lists that are replaced as a whole: what an item is called, the fields it must state, and how the case gets as many.
LISTS: dict[str, tuple[str, tuple[str, str], Callable[[_core.Case, int], None]]] = {
    "blade.sections": ("section", ("length", "thickness"), _core.Case.set_section_count),
    "roll.bearing_curve": ("point", ("gap", "pressure"), _core.Case.set_bearing_count),
}


def _list_fields(core: _core.Case, name: str, value: Any) -> dict[str, Any]:
    """The fields of a whole list; the case gets as many items. None or an empty list leaves it without."""
    item, needed, set_count = LISTS[name]
    given = [] if value is None else value
    flat: dict[str, Any] = {}
    if isinstance(given, list | tuple):
        _flatten([(name, given)], "", flat)
    if name in flat or not isinstance(given, list | tuple):
        raise refuse(name, value, f"must be a list of {item}s with {needed[0]} and {needed[1]}")
    set_count(core, 0)
    set_count(core, len(given))
    stated = {resolve(path)[0].path for path in flat}
    gather(
        [
            (path, "", f"is missing: a {item} takes {needed[0]} and {needed[1]}")
            for k in range(len(given))
            for path in (f"{name}.{k}.{word}" for word in needed)
            if path not in stated
        ]
    )
    return flat


def _spread_lists(
    core: _core.Case, changes: Mapping[str, Any], problems: list[tuple[str, str, str]]
) -> Mapping[str, Any]:
    """Changes with the lists field by field."""
    rest = {path: value for path, value in changes.items() if path not in LISTS}
    for name in changes:
        if name not in LISTS:
            continue
        try:
            rest |= _list_fields(core, name, changes[name])
        except InvalidInput as error:
            problems += error.problems
    return rest


def assign(core: _core.Case, changes: Mapping[str, Any], problems: list[tuple[str, str, str]]) -> set[str]:
    """Writes changes into a core case, choices first, since they decide which numbers a case has. Returns the paths."""
    words: list[tuple[str, str]] = []
    numbers: list[tuple[str, float]] = []
    cleared: list[str] = []
    touched: set[str] = set()
    changes = _spread_lists(core, changes, problems)
    for given, value in changes.items():
        if given in {"name", "note"}:
            if isinstance(value, str):
                setattr(core, given, value)
            else:
                problems.append((given, repr(value), "must be a text"))
            continue
        try:
            field, unit = resolve(given)
            if field.path in touched:
                raise refuse(given, str(value), "is given twice")
            touched.add(field.path)
            if value is None:
                cleared.append(field.path)
                continue
            read = field_value(value, field, unit, given)
            if isinstance(read, str):
                words.append((field.path, read))
            else:
                numbers.append((field.path, read))
        except InvalidInput as error:
            problems += error.problems
    for rivals in (LOADS, CELL_SIZES):
        stated = [path for path in rivals if path in touched and path not in cleared]
        problems += [(path, "", f"contradicts {stated[0]}: state one of the two") for path in stated[1:]]
    words.sort(key=lambda item: item[0] not in {"tip.kind", "setting.actuator.kind"})
    steps: list[Callable[[], None]] = [functools.partial(core.clear_field, path) for path in cleared]
    steps += [functools.partial(core.set_choice, path, word) for path, word in words]
    steps += [functools.partial(core.set_number, path, number) for path, number in numbers]
    for step in steps:
        try:
            step()
        except InvalidInput as error:
            problems += error.problems
    return touched


def load_case(path: str | os.PathLike[str]) -> Case:
    """Reads a case file (JSON). Raises InvalidInput when it cannot be read or is wrong, with every problem at once."""
    case = Case._wrap(_core.load_case(os.fspath(path)))
    warn_unusual(case._core, 2)
    return case


def example_cases() -> tuple[str, ...]:
    """Names of the cases that come with the package."""
    folder = resources.files("libblade") / "cases"
    if not folder.is_dir():
        return ()
    return tuple(sorted(entry.name.removesuffix(".json") for entry in folder.iterdir() if entry.name.endswith(".json")))


def example_case(name: str) -> Case:
    """A case that comes with the package, by name (see ``example_cases()``). Raises InvalidInput on an unknown name."""
    known = example_cases()
    if name not in known:
        near = difflib.get_close_matches(str(name), known, 1, 0.3)
        hint = f"; the nearest is {near[0]}" if near else ""
        raise refuse("name", name, f"is no example case{hint}; there are {', '.join(known)}")
    return Case._wrap(
        _core.read_case((resources.files("libblade") / "cases" / f"{name}.json").read_text(encoding="utf-8"))
    )


def require_case(case: object, name: str = "case") -> Case:
    """The case itself. Raises InvalidInput on anything else."""
    if not isinstance(case, Case):
        hint = ": use load_case or example_case" if isinstance(case, str | os.PathLike) else ""
        raise refuse(name, case if not is_quantity(case) else str(case), f"must be a Case{hint}")
    return case
