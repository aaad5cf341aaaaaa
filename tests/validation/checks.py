"""Every check of the validation, in the order of the page."""

import sys
from pathlib import Path

HERE = Path(__file__).parent
# What the tests ask is asked here with their own modules.
sys.path[:0] = [str(HERE), *(str(HERE.parent / name) for name in ("python", "benchmarks", "stokes"))]
import checks_film  # noqa: E402, F401 (enlists its checks)
import checks_nip  # noqa: E402, F401
import checks_solids  # noqa: E402, F401
from validation_rows import CHECKS  # noqa: E402

KNOWN_NOT_TO_HOLD = {
    "few_cells_under_facet",
    "opening_worn_front",
    "din_cup_other_table",
    "shape_on_a_steep_blade",
    "force_on_a_bedded_facet",
    "critical_capillary_number",
    "tangential_blade",
}
"""What is published and not found here. A check that begins to hold leaves this list; nothing joins it unseen."""

__all__ = ["CHECKS", "KNOWN_NOT_TO_HOLD"]
