"""The field table as Python data."""

from __future__ import annotations

from dataclasses import dataclass

from libblade import _core


@dataclass(frozen=True)
class Field:
    """One input field of a case. Ranges are SI."""

    path: str
    meaning: str
    kind: str
    """"number" or "choice"."""
    dimension: str
    unit: str
    """SI unit."""
    display_unit: str
    hard_range: tuple[float, float]
    """Outside is refused."""
    usual_range: tuple[float, float]
    """Outside warns."""
    choices: tuple[str, ...]
    source: str
    """Of the usual range."""
    required: bool

    def display(self, value: float) -> float:
        """An SI value in the display unit."""
        if not self.display_unit:
            return value
        return float(_core.field_from_si(value, self.display_unit, self.path))

    def text(self, value: float) -> str:
        """An SI value for people: "0.15 mm"."""
        return f"{self.display(value):.6g} {self.display_unit}".rstrip()

    def usual_text(self) -> str:
        """A usual value for people."""
        return self.text(self.usual_range[1])


FIELDS: dict[str, Field] = {
    row["path"]: Field(**{**row, "choices": tuple(row["choices"])}) for row in _core.field_table()
}


def field_table() -> tuple[Field, ...]:
    """Every input field of a case: path, meaning, units, ranges and the source of the usual range."""
    return tuple(FIELDS.values())


def find(path: str) -> tuple[Field, str] | None:
    """Field and unit of a dotted name whose last word may end in a unit; None when there is none."""
    found = _core.resolve_field(path)
    return None if found is None else (FIELDS[found[0]], found[1])
