"""Records of worn blades: columns with units become readings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from libblade import _core
from libblade._errors import refuse
from libblade._reading import Item, Reading
from libblade._units import Floats, _has_units, numbers, si

RECORDS = ("facet_length", "length_lost")


def _column(values: Any, unit: str, name: str) -> Floats:
    """Numbers, quantities, arrays with units or a list of texts, as SI."""
    if _has_units(values):
        units = str(values.attrs["units"])
        column: Floats = np.vectorize(lambda v: _core.to_si(v, units, unit, name))(numbers(values.values, "1", name))
        return column
    if isinstance(values, list | tuple) and any(isinstance(value, str) for value in values):
        return np.array([si(value, unit, name) for value in values])
    return numbers(values, unit, name)


def items_of_record(data: Any, relative_error: Any, absolute_error: Any) -> tuple[list[Item], bool]:
    """Readings, and whether their errors are stated. Raises InvalidInput, naming the column, on anything else."""
    names = ("distance", *RECORDS)
    if not isinstance(data, Mapping):
        raise refuse("data", type(data).__name__, "must be a dictionary or a dataset with " + " or ".join(names))
    columns: dict[str, Floats] = {}
    for given in getattr(data, "variables", data):  # of a dataset, coordinates too
        name = next((n for n in names if given == n or str(given).startswith(n + "_")), None)
        unit = _core.unit_of_suffix(str(given)[len(name) + 1 :], "m") if name and given != name else ""
        if name is None or (given != name and not unit) or name in columns:
            raise refuse(
                f"data.{given}", "", "is not one of " + ", ".join(names) + ", once, with a unit of length or none"
            )
        column = _column(data[given], "m", str(given))
        columns[name] = np.vectorize(lambda v, u=unit: _core.to_si(v, u, "m", "data"))(column) if unit else column
    kinds = [kind for kind in RECORDS if kind in columns]
    if "distance" not in columns or len(kinds) != 1:
        raise refuse("data", ", ".join(columns), f"must hold distance and one of {' and '.join(RECORDS)}")
    s, y = columns["distance"], columns[kinds[0]]
    if s.ndim != 1 or s.size < 2 or y.shape != s.shape:
        raise refuse("data", f"{s.shape} and {y.shape}", "must hold at least 2 readings, as many values as distances")
    if not (np.all(s > 0.0) and np.all(y >= 0.0)):
        raise refuse("data", float(min(s.min(), y.min())), "must hold distances above 0 and lengths of at least 0")
    error, stated = np.zeros(s.size), relative_error is not None or absolute_error is not None
    for name, value, unit, scale in (
        ("relative_error", relative_error, "1", y),
        ("absolute_error", absolute_error, "m", np.ones(s.size)),
    ):
        if value is None:
            continue
        part = _column(value, unit, name)
        if part.shape not in {(), s.shape} or not np.all(part > 0.0):
            raise refuse(name, value, f"must be above 0, one number or with the shape {s.shape}")
        error = np.hypot(error, part * scale)
    if stated and not np.all(error > 0.0):
        raise refuse(
            "relative_error", relative_error, "leaves a reading of 0 without an error: state absolute_error too"
        )
    error = error if stated else np.ones(s.size)
    rows = zip(s.tolist(), y.tolist(), error.tolist(), strict=True)
    return [Item(Reading(kinds[0], v, e, distance=d), kinds[0], v, e, (), (), d) for d, v, e in rows], stated
