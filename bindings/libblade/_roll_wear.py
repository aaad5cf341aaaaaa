"""Wear of the engraved roll under the blade: what its cells lose, and how long it lives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from libblade import _core
from libblade._case import Case, require_case
from libblade._point import _Same, solve
from libblade._units import si


@dataclass(frozen=True, eq=False, repr=False)
class RollWear(_Same):
    """Life of an engraving until a share of its cell volume is lost."""

    land_loss: float
    """Height that the lands have lost by then [m]."""
    cell_volume: float
    """Left by then [m3/m2]."""
    land_fraction: float
    """By then [-]."""
    wall_width: float
    """By then [m]."""
    loss_per_pass: float
    """Of land height per revolution on the fresh roll, wet and dry passes weighted [m]."""
    revolutions: float
    """Infinite where nothing wears."""
    distance: float
    """Of web [m]."""
    hours: float
    """At the case's surface speed [h]."""
    asperity_load: float
    """N_a of the passes in ink [N/m]."""
    dry_load: float
    """Of the dry passes [N/m]; 0 without."""
    worn_case: Case
    """The case with the worn engraving, to be solved again."""

    def __repr__(self) -> str:
        return (
            f"{self.hours:.3g} h, {1e-6 * self.distance:.3g} thousand km, {self.revolutions:.3g} revolutions: lands lose "
            f"{1e6 * self.land_loss:.3g} um, {1e6 * self.cell_volume:.3g} cm3/m2 are left"
        )


def roll_wear(
    case: Case, *, volume_share: Any = 0.1, asperity_load: Any = None, dry_share: Any = 0.0, dry_load: Any = None
) -> RollWear:
    """Wear of the ceramic under one blade until ``volume_share`` of the cell volume is lost.

    The lands lose k_c N_a / (land fraction) of height per pass, once per revolution, whatever the contact's width (Archard 1953,
    J. Appl. Phys. 24:981); the cell's stated shape decides what is left, so a parabolic cell slows its wear as its walls widen.
    k_c is ``roll.specific_wear``, uncertain by a factor of 10, and so is the life. N_a is taken to stay.

    ``asperity_load`` [N/m] is by default that of the solved case. ``dry_share`` of the passes run without ink at
    ``roll.dry_specific_wear`` and ``dry_load`` [N/m]: by default the whole line load, since no film carries, or the stated
    ``asperity_load``. Loads may be texts with unit.

    Raises InvalidInput on bad values and on a roll without cells, NotSolved when the case does not solve.
    """
    require_case(case)
    share, dry = si(volume_share, "1", "volume_share"), si(dry_share, "1", "dry_share")
    if asperity_load is None:
        point = solve(case, step_response=False, other_branch=False, run_out=False)
        wet, whole = float(point.asperity_load), float(point.line_load)
    else:
        wet = whole = si(asperity_load, "N/m", "asperity_load")
    heavy = (whole if dry > 0.0 else 0.0) if dry_load is None else si(dry_load, "N/m", "dry_load")
    values = _core.roll_life(case._core, wet, dry, heavy, share)
    return RollWear(*values, wet, heavy, worn_engraving(case, values[0]))


def worn_engraving(case: Case, land_loss: Any) -> Case:
    """The case after the roll's lands have lost ``land_loss`` of height [m] (number or text with unit), by plane geometry of the
    stated cell: depth falls; the opening of a parabolic cell shrinks and its walls widen; a flat cell keeps them.

    Raises InvalidInput unless 0 <= land_loss < depth of the cells.
    """
    require_case(case)
    return Case._wrap(_core.worn_case(case._core, si(land_loss, "m", "land_loss")))
