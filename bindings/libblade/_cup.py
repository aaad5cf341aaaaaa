"""Flow cups: efflux seconds to viscosity."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._errors import refuse
from libblade._units import numbers, si


class FlowCup(NamedTuple):
    """A cup by standard and number, with its printed formula in mm2/s and s."""

    name: str
    """Standard and number, e.g. ``iso_2431_4``."""
    formula: str
    """``nu = a (t - b)`` or ``nu = a t - b / t``."""
    a: float
    """As printed [mm2/s2]."""
    b: float
    """As printed, [s] in the first formula, [mm2] in the second."""
    min_seconds: float
    """The formula holds from here [s]."""
    max_seconds: float
    """The formula holds up to here [s]."""
    source: str
    """Of formula and range."""


def flow_cups() -> tuple[FlowCup, ...]:
    """Every cup that ``flow_cup`` knows."""
    return tuple(FlowCup(*row) for row in _core.flow_cups())


def flow_cup(cup: str, seconds: npt.ArrayLike) -> Any:
    """Kinematic viscosity [m2/s] from the efflux time of a flow or dip cup: a float, or an array for an array of times.

    ``cup`` is a standard with its cup number: ``iso_2431_3`` to ``_6``, ``astm_d1200_1`` to ``_5``, ``astm_d4212_1`` to ``_5``
    (dip cups with a plain hole), ``din_53211_4`` (withdrawn standard); ``flow_cups()`` lists formula, range and source.
    ``seconds`` are numbers [s] or a text with unit. Readings scatter by 5 to 10 % between cups (common practice, no published
    source).

    A cup speaks for shear rates of 1e2 to 1e3 1/s only; the nip has 1e6 to 1e8 (see ``ink_from_cup``). Raises InvalidInput on
    an unknown cup and on a time outside the cup's range.
    """
    return _plain(_core.flow_cup_viscosity(_name(cup), numbers(seconds, "s", "seconds")))


def ink_from_cup(cup: str, seconds: npt.ArrayLike, *, density: Any, high_shear_ratio: Any) -> Any:
    """Viscosity in the nip [Pa s] for a Newtonian ink: kinematic viscosity of the cup x density x high-shear ratio.

    ``lb.Ink(viscosity=lb.ink_from_cup("iso_2431_4", 60, density="1.1 g/cm3", high_shear_ratio=0.5), density="1.1 g/cm3")``

    ``density`` [kg/m3]. ``high_shear_ratio`` [-], 0.05 to 1, is the viscosity at the nip's shear rates over that in the cup,
    which no cup can tell: usually 0.3 to 1 (from memory); measure it, or try both ends. Raises InvalidInput as ``flow_cup``
    does, and on a density or ratio out of range.
    """
    return _plain(
        _core.ink_from_cup(
            _name(cup),
            numbers(seconds, "s", "seconds"),
            si(density, "kg/m3", "density"),
            si(high_shear_ratio, "1", "high_shear_ratio"),
        )
    )


def _name(cup: object) -> str:
    if not isinstance(cup, str):
        raise refuse("cup", cup, 'must be a standard with its cup number, e.g. "iso_2431_4"')
    return cup


def _plain(values: Any) -> Any:
    array = np.asarray(values)
    return float(array) if array.ndim == 0 else array
