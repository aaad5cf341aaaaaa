"""Values at the door: numbers, text with units, pint quantities and xarray arrays become SI numbers.

The unit table and the parser are the core's; this module only finds out what kind of value it was given.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from numbers import Real
from typing import Any

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._errors import InvalidInput, refuse
from libblade._fields import FIELDS, Field, find

Floats = npt.NDArray[np.float64]


def is_quantity(value: object) -> bool:
    """A pint quantity, or anything that looks like one."""
    return hasattr(value, "magnitude") and hasattr(value, "to") and hasattr(value, "units")


def _has_units(value: object) -> bool:
    """An xarray array that states its units."""
    return hasattr(value, "attrs") and hasattr(value, "values") and "units" in getattr(value, "attrs", {})


def _pint_unit(si: str) -> str:
    """ "W/(m K)" as pint reads it: "W/(m*K)"; "kg/m3": "kg/m**3"."""
    return re.sub(r"([A-Za-z])(\d)", r"\1**\2", si).replace("^", "**").replace(" ", "*")


def _quantity_to_si(value: Any, si: str, given: str) -> Any:
    try:
        return value.to(_pint_unit(si) if si != "1" else "dimensionless").magnitude
    except Exception as error:  # pint's own errors, without importing pint
        raise refuse(given, str(value), f"cannot be converted to {si}: {error}") from error


def field_value(value: Any, field: Field, unit: str, given: str) -> float | str:
    """One value of a field as an SI number, or as the word of a choice.

    ``unit`` is the unit that the name carried (""), ``given`` the name as the caller wrote it.
    """
    if is_quantity(value):
        if unit or field.kind != "number":
            raise refuse(given, str(value), "carries a unit already" if unit else _expected(field))
        return float(_quantity_to_si(value, field.unit, given))
    if _has_units(value):
        if unit:
            raise refuse(given, f"units {value.attrs['units']}", "carries a unit already")
        return float(_core.field_to_si(float(value), str(value.attrs["units"]), field.path, given))
    if isinstance(value, str):
        if value in field.choices or field.kind != "number":
            return value
        if unit:
            raise refuse(given, f'"{value}"', f'must be a number, because the name already carries the unit "{unit}"')
        return float(_core.parse_field(value, field.path, given))
    if field.kind != "number" or isinstance(value, bool | np.bool_) or not isinstance(value, Real | np.ndarray):
        raise refuse(given, value, _expected(field))
    if isinstance(value, np.ndarray) and value.size != 1:
        raise refuse(given, value, "must be one number")
    return float(_core.field_to_si(float(value), unit, field.path, given))


def field_values(values: Any, field: Field, unit: str, given: str) -> Floats:
    """Several values of a numeric field as SI numbers, (n,)."""
    if field.kind != "number":
        raise refuse(given, values, "is a choice and cannot be swept: solve one case for each choice")
    if is_quantity(getattr(values, "data", None)):
        values = values.data  # an xarray array around a quantity
    if is_quantity(values):
        if unit:
            raise refuse(given, str(values), "carries a unit already")
        return _flat(_quantity_to_si(values, field.unit, given), given)
    if _has_units(values):
        units = str(values.attrs["units"])
        if unit:
            raise refuse(given, f"units {units}", "carries a unit already")
        return np.array([_core.field_to_si(float(v), units, field.path, given) for v in _flat(values.values, given)])
    if isinstance(values, str) or (
        not isinstance(values, Sequence | np.ndarray | range) and not hasattr(values, "values")
    ):
        raise refuse(given, values, "must be a list or an array of values")
    if isinstance(values, np.ndarray) or hasattr(values, "values"):
        array = np.asarray(values)
        values = array.tolist() if array.dtype.kind in "OUT" and array.ndim == 1 else _flat(array, given)
    out = [field_value(v, field, unit, given) for v in values]
    words = [v for v in out if isinstance(v, str)]
    if words:
        raise refuse(given, words[0], "is a word and cannot be swept: only numbers can")
    return np.asarray(out, dtype=float)


def _flat(values: Any, given: str) -> Floats:
    if np.asarray(values).dtype.kind in "bcmM":  # numpy would make numbers of truths, complex numbers and dates
        raise refuse(given, values, "must be numbers")
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError) as error:
        raise refuse(given, values, "must be numbers") from error
    if array.ndim != 1:
        raise refuse(given, f"{array.ndim} dimensions", "must have one dimension")
    return array


def _expected(field: Field) -> str:
    if field.kind != "number":
        return "must be one of " + ", ".join(f'"{word}"' for word in field.choices)
    return f'must be a number or a text with unit, e.g. "{field.usual_text()}"'


def resolve(path: str, given: str | None = None) -> tuple[Field, str]:
    """The field and the unit that a dotted name stands for. Raises InvalidInput with the nearest known path."""
    if not isinstance(path, str):
        raise refuse("field", path, "must be a dotted field path")
    found = find(path)
    if found is None:
        near = _core.nearest_field(path)
        raise refuse(given or path, "", "is not a known field" + (f"; the nearest is {near}" if near else ""))
    return found


def si(value: Any, unit: str, name: str) -> float:
    """A plain argument as an SI number: number, text with unit or quantity."""
    if is_quantity(value):
        return float(_quantity_to_si(value, unit, name))
    if isinstance(value, str):
        return float(_core.parse_quantity(value, unit, name))
    if isinstance(value, bool) or not isinstance(value, Real):
        raise refuse(name, value, f"must be a number [{unit}] or a text with unit")
    return float(value)


def positive(value: Any, unit: str, name: str) -> float:
    """As ``si``, and above zero."""
    number = si(value, unit, name)
    if not (np.isfinite(number) and number > 0.0):
        raise refuse(name, value, f"must be a finite number above 0 [{unit}]")
    return number


def numbers(values: Any, unit: str, name: str) -> Floats:
    """An array argument as SI numbers; every element finite."""
    if is_quantity(values):
        values = _quantity_to_si(values, unit, name)
    if isinstance(values, str):
        values = si(values, unit, name)
    try:
        array = np.asarray(values, dtype=float)
    except (TypeError, ValueError) as error:
        raise refuse(name, values, f"must be numbers [{unit}]") from error
    if not np.all(np.isfinite(array)):
        raise refuse(name, values, "must be finite everywhere")
    return array


def gather(problems: list[tuple[str, str, str]]) -> None:
    """Raises InvalidInput when there are problems."""
    if problems:
        raise InvalidInput(problems)


__all__ = ["FIELDS", "field_value", "field_values", "gather", "is_quantity", "numbers", "positive", "resolve", "si"]
