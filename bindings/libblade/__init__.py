"""libblade: simulator of a doctor-blade contact.

    import libblade as lb
    case = lb.example_case(lb.example_cases()[0])
    point = lb.solve(case)
    grid = lb.sweep(case, {"setting.set_angle_deg": range(24, 41), "setting.line_load": range(40, 251, 10)})
    window = lb.process_window(grid, {"excess_ink": "0.3 um"})
"""

from libblade import _core
from libblade._case import (
    Blade,
    Case,
    Cross,
    Engraving,
    Facet,
    Ink,
    Roll,
    Setting,
    Solid,
    SquareEdge,
    Tip,
    example_case,
    example_cases,
    load_case,
)
from libblade._errors import InvalidInput, LibbladeWarning, NotSolved, Problem
from libblade._fields import Field, field_table
from libblade._physics import (
    Bending,
    Film,
    HertzLine,
    TaylorWedge,
    asperity_pressure,
    bending,
    facet_from_retreat,
    film,
    greenwood_tripp_integral,
    hertz_line,
    shear_viscosity,
    taylor_wedge,
)
from libblade._point import (
    BladeShape,
    Convergence,
    OperatingPoint,
    Output,
    Section,
    SpeedLimit,
    ValidityFlag,
    output_table,
    solve,
    speed_limit,
)
from libblade._sweep import sweep
from libblade._window import Margins, ProcessWindow, process_window

__version__: str = _core.version

__all__ = [
    "Bending",
    "Blade",
    "BladeShape",
    "Case",
    "Convergence",
    "Cross",
    "Engraving",
    "Facet",
    "Field",
    "Film",
    "HertzLine",
    "InvalidInput",
    "Ink",
    "LibbladeWarning",
    "Margins",
    "NotSolved",
    "OperatingPoint",
    "Output",
    "Problem",
    "ProcessWindow",
    "Roll",
    "Section",
    "Setting",
    "Solid",
    "SpeedLimit",
    "SquareEdge",
    "TaylorWedge",
    "Tip",
    "ValidityFlag",
    "asperity_pressure",
    "bending",
    "example_case",
    "example_cases",
    "facet_from_retreat",
    "field_table",
    "film",
    "greenwood_tripp_integral",
    "hertz_line",
    "load_case",
    "output_table",
    "process_window",
    "shear_viscosity",
    "solve",
    "speed_limit",
    "sweep",
    "taylor_wedge",
]
