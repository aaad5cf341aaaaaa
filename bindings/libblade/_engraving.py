"""The engraving by itself: its numbers, the flow between blade and cells, and cells one by one under a facet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from libblade import _core
from libblade._case import Case, Engraving, Roll, _flatten, _Group, assign
from libblade._errors import NotSolved, one_of, refuse
from libblade._lazy import lazy
from libblade._point import Convergence, _Same
from libblade._units import Floats, gather, numbers, positive, si

if TYPE_CHECKING:
    import xarray as xr
else:
    xr = lazy("xarray")

AXES = ("x", "y")


def _engraving_core(engraving: Any) -> _core.Case:
    """A core case with this engraving; what is not stated has a case's default."""
    if isinstance(engraving, Case):
        return engraving._core
    if isinstance(engraving, Roll):
        flat: dict[str, Any] = {}
        _flatten(engraving, "roll.", flat)
    elif isinstance(engraving, Engraving) or (isinstance(engraving, _Group) and engraving._name == "engraving"):
        flat = {}
        _flatten(engraving, "roll.engraving.", flat)
    else:
        raise refuse("engraving", engraving, "must be an Engraving(...), the engraving of a case, a Roll or a Case")
    core = _core.Case()
    problems: list[tuple[str, str, str]] = []
    assign(core, {path: value for path, value in flat.items() if path.startswith("roll.engraving.")}, problems)
    gather(problems)
    gather([problem for problem in _core.check(core) if problem[0].startswith("roll.engraving.")])
    return core


def _whole(value: Any, name: str, low: int, high: int) -> int:
    if isinstance(value, bool | np.bool_) or not isinstance(value, int | np.integer) or not low <= value <= high:
        raise refuse(name, value, f"must be a whole number from {low} to {high}")
    return int(value)


@dataclass(frozen=True, eq=False)
class EngravingNumbers(_Same):
    """What an engraving amounts to."""

    pitch: float
    """Between neighbouring cells, the inverse of the screen [m]."""
    land_fraction: float
    """Share of the surface that is land, as stated or from the geometry [-]."""
    open_fraction: float
    """Share of the surface that is opening, from the geometry alone [-]."""
    cell_volume: float
    """Per roll area [m3/m2]."""
    cell_depth: float
    """Deepest point below the lands [m]."""
    depth_shape_factor: float
    """Mean depth over the opening / deepest point [-]."""
    cells_per_area: float
    """[1/m2], 0 for channels and the smooth roll."""
    deep_flow_factor: float
    """Pressure-flow factor of deep cells in a vanishing gap [-], closed form (2 - f) / f of the land fraction f; channels: across
    them, 1 / f. The cell problem is up to 2 % higher, see ``cell_flow``."""

    def __repr__(self) -> str:
        return (
            f"pitch {1e6 * self.pitch:.4g} um, land {self.land_fraction:.1%}, volume {1e6 * self.cell_volume:.4g} cm3/m2, "
            f"depth {1e6 * self.cell_depth:.4g} um, {1e-4 * self.cells_per_area:.4g} cells/cm2, "
            f"deep flow factor {self.deep_flow_factor:.4g}"
        )


def engraving_numbers(engraving: Engraving | Roll | Case) -> EngravingNumbers:
    """Pitch, shares, volume, depth and cells per area of an engraving (plane geometry).

    ``engraving`` is an ``Engraving(...)``, the engraving of a case, a roll or a case; where it states a ``cell_depth``, volume =
    open fraction x depth x shape factor, else the depth follows from the ``cell_volume``.

    Raises InvalidInput on anything else and on values out of range.
    """
    return EngravingNumbers(*_core.engraving_numbers(_engraving_core(engraving)))


@dataclass(frozen=True, eq=False)
class CellFlow(_Same):
    """Mean flow between a smooth blade and an engraving: q = U h0 c / 2 - phi h0^3 / (12 eta) grad p, h0 the land gap.

    Matrices are (2, 2): flow along x (0, the roll's motion) or y (1, its axis), by a gradient or a motion along x or y.
    """

    land_gap: float
    """h0 [m]."""
    mean_gap: float
    """Land gap + cell volume per area [m]."""
    pressure_factor: Floats
    """phi [-], (2, 2), symmetric; 1 without cells."""
    couette_factor: Floats
    """c of the side that moves [-], (2, 2): ``texture`` "moving" the engraving, "stationary" the smooth side."""
    shear_factor: Floats
    """S [-], (2, 2), over the land gap (Patir & Cheng 1979): c = mean gap / land gap + S with a moving texture, - S with one at
    rest. Deep closed cells: h0 S is the cell volume."""
    dissipation_factor: Floats
    """Energy that the pressure flow costs over that of a plane gap [-], (2, 2): equals phi where the solve is exact."""
    texture: str
    """"moving" or "stationary"."""
    convergence: Convergence

    def __repr__(self) -> str:
        (pxx, _), (_, pyy) = self.pressure_factor
        return (
            f"{self.convergence}\n  land gap {1e6 * self.land_gap:.4g} um: pressure factor {pxx:.5g} along, {pyy:.5g} across, "
            f"Couette factor {self.couette_factor[0, 0]:.5g} ({self.texture} texture), shear factor {self.shear_factor[0, 0]:.5g}"
        )


def cell_flow(
    engraving: Engraving | Roll | Case,
    land_gap: npt.ArrayLike,
    *,
    texture: str = "moving",
    resolution: int = 96,
    wall_ends: bool = True,
    on_failure: str = "raise",
) -> Any:
    """Homogenised flow between a smooth blade and an engraving: the Reynolds equation on one cell of the pattern.

    div(h^3 grad p) = 0 on the periodic cell with mean gradient 1 along each axis gives the pressure factor, reciprocity the
    Couette and the shear factor (Patir & Cheng 1979, J. Lubr. Technol. 101:220; channels: the means of Christensen 1969).

    ``land_gap`` [m] between blade and lands, one number or (n,). ``texture`` "moving": the engraved roll passes a blade at rest;
    "stationary": the smooth side moves. ``resolution`` mesh cells per pitch, 4 to 2000. ``wall_ends`` lengthens steep walls by what
    Stokes flow adds at their edges (0.638 land gaps each in deep cells); False: the Reynolds equation alone.

    Returns a ``CellFlow``; for (n,) gaps an ``xarray.Dataset`` of the same names over ``land_gap``, ``along`` and ``by``, with
    units and a row ``converged``. Raises InvalidInput on values out of range, NotSolved when a solve does not converge
    (``on_failure="flag"`` returns it).
    """
    one_of("texture", texture, ("moving", "stationary"))
    one_of("on_failure", on_failure, ("raise", "flag"))
    if not isinstance(wall_ends, bool | np.bool_):
        raise refuse("wall_ends", wall_ends, "must be True or False")
    gaps, per_pitch, core = (
        numbers(land_gap, "m", "land_gap"),
        _whole(resolution, "resolution", 4, 2000),
        _engraving_core(engraving),
    )
    if gaps.ndim > 1 or gaps.size == 0:
        raise refuse("land_gap", f"{gaps.shape}", "must be one number or have one dimension, (n,)")
    if not np.all(gaps > 0.0):
        raise refuse("land_gap", gaps.min(), "must be above 0 [m]")
    flows = []
    for gap in np.atleast_1d(gaps):
        solved = _core.cell_flow(core, gap, per_pitch, bool(wall_ends), texture == "moving")
        flow = CellFlow(*solved[:-1], texture, Convergence(*solved[-1]))
        if not flow.convergence.ok and on_failure == "raise":
            raise NotSolved(f"land gap {gap:.4g} m: {flow.convergence}", flow)
        flows.append(flow)
    return flows[0] if gaps.ndim == 0 else _over_gaps(flows, texture)


def _over_gaps(flows: list[CellFlow], texture: str) -> xr.Dataset:
    tensors = {
        "pressure_factor": "pressure-flow factor",
        "couette_factor": f"Couette factor, {texture} texture",
        "shear_factor": "shear factor",
        "dissipation_factor": "dissipation of the pressure flow over that of a plane gap",
    }
    length = {"units": "m", "display_units": "um"}
    data: dict[str, Any] = {
        name: (
            ("land_gap", "along", "by"),
            np.array([getattr(f, name) for f in flows]),
            {"units": "1", "long_name": words},
        )
        for name, words in tensors.items()
    }
    data["mean_gap"] = ("land_gap", [f.mean_gap for f in flows], {**length, "long_name": "land gap + cell volume"})
    data["converged"] = ("land_gap", [f.convergence.ok for f in flows], {"units": "1"})
    gaps = ("land_gap", [f.land_gap for f in flows], {**length, "long_name": "gap on the lands"})
    return xr.Dataset(data, {"land_gap": gaps, "along": list(AXES), "by": list(AXES)}, {"texture": texture})


@dataclass(frozen=True, eq=False)
class CellsUnderFacet(_Same):
    """A facet over passing cells, each of them resolved, beside the homogenised film on the same facet."""

    load: float
    """Mean over the phases [N/m]."""
    flow: float
    """Mean over the phases, without U times the cell volume [m2/s]."""
    phase: Floats
    """Place of the pattern as a share of its period along x [-], (n,)."""
    phase_load: Floats
    """[N/m], (n,)."""
    phase_flow: Floats
    """[m2/s], (n,)."""
    homogenised_load: float
    """[N/m]."""
    homogenised_flow: float
    """[m2/s]."""
    section_difference: float
    """Worst difference of flow between two sections of one phase over its mean [-]: how well ink is conserved."""
    convergence: Convergence

    @property
    def load_error(self) -> float:
        """Homogenised over resolved load, less 1 [-]; NaN where the passing cells carry nothing on the mean (parallel facet)."""
        carries = abs(self.load) > 1e-6 * float(np.max(np.abs(self.phase_load)))
        return self.homogenised_load / self.load - 1.0 if carries else float("nan")

    @property
    def flow_error(self) -> float:
        """Homogenised over resolved flow, less 1 [-]; NaN without flow."""
        return self.homogenised_flow / self.flow - 1.0 if self.flow != 0.0 else float("nan")

    def __repr__(self) -> str:
        return (
            f"{self.convergence}\n  load {self.load:.5g} N/m ({self.phase_load.min():.5g} to {self.phase_load.max():.5g}), "
            f"homogenised {self.homogenised_load:.5g} N/m ({self.load_error:+.1%})\n  flow {self.flow:.5g} m2/s, "
            f"homogenised {self.homogenised_flow:.5g} m2/s ({self.flow_error:+.1%})"
        )


def cells_under_facet(
    engraving: Engraving | Roll | Case,
    facet_length: Any,
    land_gap: npt.ArrayLike,
    *,
    speed: Any = 5.0,
    viscosity: Any = 0.03,
    pressure_in: Any = 0.0,
    resolution: int = 48,
    phases: int = 48,
    on_failure: str = "raise",
) -> CellsUnderFacet:
    """A plane facet over an engraving, cell by cell, at frozen phases: how wrong the homogenised film is.

    Every phase is a steady problem, div(U (g - depth) / 2 e_x - h^3 / (12 eta) grad p) = 0 with g the land gap (the full film has
    no memory). The homogenised film is q = U g b / 2 - phi g^3 / (12 eta) dp/dx with phi and b of ``cell_flow``. Newtonian, no
    cavitation, no wall ends in either. Loads and flows are linear in speed and ``pressure_in``.

    ``engraving`` with closed cells at screen angle 0. ``facet_length`` along the motion [m], at most 100 pitches. ``land_gap`` [m]:
    one number, or (2,) at the facet's start and end, linear between. ``speed`` of the roll [m/s], ``viscosity`` [Pa s],
    ``pressure_in`` at the start over that at the end [Pa]. ``resolution`` mesh cells per pitch, 4 to 400; ``phases`` of the pattern
    over one period, 1 to 1000: steps should not be much longer than a wall. Time goes with both and with the length: some 0.4 s for
    4 pitches.

    Raises InvalidInput on values out of range, NotSolved when a phase does not converge (``on_failure="flag"`` returns it).
    """
    one_of("on_failure", on_failure, ("raise", "flag"))
    core = _engraving_core(engraving)
    pattern, angle = core.get_choice("roll.engraving.pattern"), core.get_number("roll.engraving.screen_angle")
    counted = EngravingNumbers(*_core.engraving_numbers(core))
    if pattern in {"smooth", "channel"} or not counted.cell_depth > 0.0:
        raise refuse(
            "engraving.pattern", f"{pattern}, {counted.cell_depth:g} m deep", "must have closed cells with a depth"
        )
    if angle != 0.0:
        raise refuse(
            "engraving.screen_angle", f"{angle:g} rad", "must be 0: cells are resolved in the pattern's own axes"
        )
    length = positive(facet_length, "m", "facet_length")
    if length > 100.0 * counted.pitch:
        raise refuse("facet_length", facet_length, f"must be at most 100 pitches, {100.0 * counted.pitch:.4g} m")
    gaps = numbers(land_gap, "m", "land_gap")
    if gaps.shape not in {(), (2,)} or not np.all(gaps > 0.0):
        raise refuse("land_gap", land_gap, "must be one number above 0 [m], or two: at the facet's start and end")
    U, p = si(speed, "m/s", "speed"), si(pressure_in, "Pa", "pressure_in")
    for name, number in (("speed", U), ("pressure_in", p)):
        if not np.isfinite(number):
            raise refuse(name, number, "must be finite")
    steps = _whole(phases, "phases", 1, 1000)
    gap_in, gap_out = np.broadcast_to(gaps, 2)
    load, flow, loads, flows, averaged_load, averaged_flow, difference, record = _core.cells_under_facet(
        core,
        length=length,
        gap_in=gap_in,
        gap_out=gap_out,
        speed=U,
        viscosity=positive(viscosity, "Pa s", "viscosity"),
        pressure_in=p,
        resolution=_whole(resolution, "resolution", 4, 400),
        phases=steps,
    )
    phase = (np.arange(steps) + 0.5) / steps
    result = CellsUnderFacet(
        load, flow, phase, loads, flows, averaged_load, averaged_flow, difference, Convergence(*record)
    )
    if not result.convergence.ok and on_failure == "raise":
        raise NotSolved(str(result.convergence), result)
    return result
