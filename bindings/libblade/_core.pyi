"""
C++ core of libblade: SI numbers in, SI numbers out. Use the package libblade.
"""

from __future__ import annotations

import collections.abc
import typing

import numpy
import numpy.typing

__all__: list[str] = [
    "Case",
    "CauseModels",
    "LineContext",
    "NipOptions",
    "PrintLaw",
    "WearOptions",
    "advance_for",
    "air_pressure_for",
    "asperity_pressure",
    "bend_dry",
    "branches",
    "case_schema",
    "cause_models",
    "cell_flow",
    "cells_under_facet",
    "check",
    "check_particles",
    "column_to_si",
    "density_from_readings",
    "density_through",
    "describe_status",
    "dot_area",
    "edge_contact",
    "engraving_numbers",
    "evaluate",
    "facet_from_retreat",
    "facet_growth_bevel",
    "facet_growth_blade",
    "facet_growth_square",
    "feather_stress",
    "field_from_si",
    "field_table",
    "field_to_si",
    "fields_markdown",
    "film_of_density",
    "flow_cup_viscosity",
    "flow_cups",
    "gradient",
    "greenwood_tripp_integral",
    "hertz_half_width",
    "hertz_peak_pressure",
    "ink_from_cup",
    "ink_transfer",
    "interference_of",
    "land_loss_per_pass",
    "lesson_answer",
    "likely_slip",
    "line_context",
    "line_load_of",
    "line_print",
    "line_questions",
    "line_sizes",
    "load_case",
    "load_curve",
    "loop_efficiency",
    "migrate_case",
    "nearest_field",
    "output_table",
    "parse_field",
    "parse_quantity",
    "particle_volume",
    "plane_flow",
    "print_density",
    "print_strip",
    "process_window",
    "read_case",
    "regimes",
    "resolve_field",
    "riding_onset",
    "roll_life",
    "sample_line",
    "sample_risk",
    "schedule_steps",
    "scoring",
    "scoring_defaults",
    "scoring_names",
    "shear_viscosity",
    "size_range",
    "sliver_source",
    "solids_table",
    "solve",
    "solve_after_step",
    "solve_film",
    "speed_limit",
    "sweep",
    "tangent_viscosity",
    "taylor_wedge",
    "tint_density",
    "tip_film",
    "tip_thickness",
    "to_si",
    "trace",
    "trace_branches",
    "unit_of_suffix",
    "unusual",
    "usual_priors",
    "version",
    "wear",
    "wear_cut",
    "width_loads",
    "worn_case",
    "write_case",
]

class Case:
    __hash__: typing.ClassVar[None] = None  # type: ignore[assignment]
    name: str
    note: str
    def __eq__(self, arg0: typing.Any) -> bool: ...
    def __init__(self) -> None: ...
    def clear_field(self, path: str) -> None: ...
    def copy(self) -> Case: ...
    def get_choice(self, path: str) -> str: ...
    def get_number(self, path: str) -> float: ...
    def has_field(self, path: str) -> bool: ...
    def set_bearing_count(self, count: typing.SupportsInt | typing.SupportsIndex) -> None: ...
    def set_choice(self, path: str, word: str) -> None: ...
    def set_number(self, path: str, value: typing.SupportsFloat | typing.SupportsIndex) -> None: ...
    def set_section_count(self, count: typing.SupportsInt | typing.SupportsIndex) -> None: ...

class NipOptions:
    def __init__(
        self,
        *,
        riding: bool = False,
        step_response: bool = True,
        other_branch: bool = True,
        run_out: bool = True,
        section: bool = False,
        mesh: typing.SupportsInt | typing.SupportsIndex = 1,
    ) -> None: ...

class WearOptions:
    def __init__(
        self,
        *,
        profile: bool,
        facet_limit: typing.SupportsFloat | typing.SupportsIndex | None,
        length_limit: typing.SupportsFloat | typing.SupportsIndex | None,
        excess_limit: typing.SupportsFloat | typing.SupportsIndex | None,
        first_facet: typing.SupportsFloat | typing.SupportsIndex,
        tolerance: typing.SupportsFloat | typing.SupportsIndex,
        longest_step: typing.SupportsFloat | typing.SupportsIndex,
        max_steps: typing.SupportsInt | typing.SupportsIndex,
        riding: bool,
        mesh: typing.SupportsInt | typing.SupportsIndex,
        constant_friction: bool,
    ) -> None: ...

class PrintLaw:
    def __init__(
        self,
        *,
        transfer: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
        density_limit: typing.SupportsFloat | typing.SupportsIndex,
        nominal_density: typing.SupportsFloat | typing.SupportsIndex,
        tint: typing.SupportsFloat | typing.SupportsIndex,
        yule_nielsen: typing.SupportsFloat | typing.SupportsIndex,
        contrast: typing.SupportsFloat | typing.SupportsIndex,
        reading_distance: typing.SupportsFloat | typing.SupportsIndex,
        comparison_contrast: typing.SupportsFloat | typing.SupportsIndex,
    ) -> None: ...

class LineContext:
    @property
    def cell_ink(self) -> float: ...
    @property
    def convergence(self) -> tuple[str, float, float, int, str]: ...
    @property
    def film(self) -> float: ...
    @property
    def film_after_step(self) -> float: ...
    @property
    def film_riding(self) -> float: ...
    @property
    def roll_turn(self) -> float: ...

class CauseModels:
    @property
    def seen_shares(self) -> list[float]: ...

def advance_for(
    interference: typing.SupportsFloat | typing.SupportsIndex, slope: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def air_pressure_for(
    line_load: typing.SupportsFloat | typing.SupportsIndex,
    piston_area: typing.SupportsFloat | typing.SupportsIndex,
    lever_ratio: typing.SupportsFloat | typing.SupportsIndex,
    blade_width: typing.SupportsFloat | typing.SupportsIndex,
    dead_load: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def asperity_pressure(
    arg0: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg1: typing.SupportsFloat | typing.SupportsIndex,
    arg2: typing.SupportsFloat | typing.SupportsIndex,
    arg3: typing.SupportsFloat | typing.SupportsIndex,
    arg4: typing.SupportsFloat | typing.SupportsIndex | None,
    arg5: typing.SupportsFloat | typing.SupportsIndex | None,
    arg6: typing.SupportsFloat | typing.SupportsIndex,
) -> typing.Any: ...
def bend_dry(
    case: Case, friction: typing.SupportsFloat | typing.SupportsIndex, points: typing.SupportsInt | typing.SupportsIndex
) -> dict[str, typing.Any]: ...
def branches() -> list[str]: ...
def case_schema() -> str: ...
def cause_models(
    context: LineContext,
    law: PrintLaw,
    *,
    sure: typing.SupportsFloat | typing.SupportsIndex,
    doubtful: typing.SupportsFloat | typing.SupportsIndex,
    size: typing.SupportsFloat | typing.SupportsIndex,
    samples: typing.SupportsInt | typing.SupportsIndex,
    seed: typing.SupportsInt | typing.SupportsIndex,
    most_tries: typing.SupportsInt | typing.SupportsIndex,
) -> CauseModels: ...
def cell_flow(
    case: Case,
    land_gap: typing.SupportsFloat | typing.SupportsIndex,
    resolution: typing.SupportsInt | typing.SupportsIndex,
    wall_ends: bool,
    moving: bool,
) -> tuple[
    float,
    float,
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    tuple[str, float, float, int, str],
]: ...
def cells_under_facet(
    case: Case,
    *,
    length: typing.SupportsFloat | typing.SupportsIndex,
    gap_in: typing.SupportsFloat | typing.SupportsIndex,
    gap_out: typing.SupportsFloat | typing.SupportsIndex,
    speed: typing.SupportsFloat | typing.SupportsIndex,
    viscosity: typing.SupportsFloat | typing.SupportsIndex,
    pressure_in: typing.SupportsFloat | typing.SupportsIndex,
    resolution: typing.SupportsInt | typing.SupportsIndex,
    phases: typing.SupportsInt | typing.SupportsIndex,
) -> tuple[
    float,
    float,
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    float,
    float,
    float,
    tuple[str, float, float, int, str],
]: ...
def check(case: Case) -> list[typing.Any]: ...
def check_particles(particles: list[typing.Any], loop: dict[str, typing.Any]) -> None: ...
def column_to_si(
    values: typing.Annotated[numpy.typing.ArrayLike, numpy.float64], unit: str, path: str, given: str
) -> numpy.typing.NDArray[numpy.float64]:
    """
    As field_to_si, of many, (n,).
    """

def density_from_readings(
    film_1: typing.SupportsFloat | typing.SupportsIndex,
    density_1: typing.SupportsFloat | typing.SupportsIndex,
    film_2: typing.SupportsFloat | typing.SupportsIndex,
    density_2: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float]: ...
def density_through(
    film: typing.SupportsFloat | typing.SupportsIndex,
    density: typing.SupportsFloat | typing.SupportsIndex,
    limit: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float]: ...
def describe_status() -> dict[str, typing.Any]:
    """
    Every status and its sentence, in the order of the integer flags.
    """

def dot_area(
    density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    solid_density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    n: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def edge_contact(
    load: typing.SupportsFloat | typing.SupportsIndex,
    radius: typing.SupportsFloat | typing.SupportsIndex,
    modulus: typing.SupportsFloat | typing.SupportsIndex,
    edge_hardness: typing.SupportsFloat | typing.SupportsIndex,
    roll_hardness: typing.SupportsFloat | typing.SupportsIndex,
    front_angle: typing.SupportsFloat | typing.SupportsIndex,
    body_angle: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float, float, bool]: ...
def engraving_numbers(case: Case) -> tuple[float, float, float, float, float, float, float, float]: ...
def evaluate(
    case: Case,
    fields: collections.abc.Sequence[str],
    outputs: collections.abc.Sequence[str],
    values: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    with_slopes: bool,
    options: NipOptions,
    threads: typing.SupportsInt | typing.SupportsIndex,
    progress: typing.Any,
) -> tuple[
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.int8],
    numpy.typing.NDArray[numpy.float64],
    typing.Any,
    typing.Any,
]:
    """
    Numbers (n, outputs), status (n,), slopes (n, outputs, fields) and corners (n, fields), both empty unless asked for, and the error that stopped it or None.
    """

def facet_from_retreat(
    retreat: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    angle: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    thickness: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def facet_growth_bevel(
    thickness: typing.SupportsFloat | typing.SupportsIndex,
    edge_radius: typing.SupportsFloat | typing.SupportsIndex,
    angle: typing.SupportsFloat | typing.SupportsIndex,
    retreats: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    bevel_angle: typing.SupportsFloat | typing.SupportsIndex,
    depth: typing.SupportsFloat | typing.SupportsIndex,
    side: str,
) -> dict[str, typing.Any]: ...
def facet_growth_blade(
    case: Case,
    edge_radius: typing.SupportsFloat | typing.SupportsIndex,
    angle: typing.SupportsFloat | typing.SupportsIndex,
    retreats: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> dict[str, typing.Any]: ...
def facet_growth_square(
    thickness: typing.SupportsFloat | typing.SupportsIndex,
    edge_radius: typing.SupportsFloat | typing.SupportsIndex,
    angle: typing.SupportsFloat | typing.SupportsIndex,
    retreats: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> dict[str, typing.Any]: ...
def feather_stress(
    angle: typing.SupportsFloat | typing.SupportsIndex,
    pressure: typing.SupportsFloat | typing.SupportsIndex,
    shear: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float, float, float]: ...
def field_from_si(value: typing.SupportsFloat | typing.SupportsIndex, unit: str, path: str) -> float: ...
def field_table() -> list[typing.Any]: ...
def field_to_si(value: typing.SupportsFloat | typing.SupportsIndex, unit: str, path: str, given: str) -> float: ...
def fields_markdown() -> str: ...
def film_of_density(
    density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    limit: typing.SupportsFloat | typing.SupportsIndex,
    absorption: typing.SupportsFloat | typing.SupportsIndex,
) -> typing.Any: ...
def flow_cup_viscosity(cup: str, seconds: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]) -> typing.Any: ...
def flow_cups() -> list[typing.Any]: ...
def gradient(
    case: Case, fields: collections.abc.Sequence[str], options: NipOptions
) -> tuple[dict[str, typing.Any], dict[str, typing.Any], tuple[str, float, float, int, str]]: ...
def greenwood_tripp_integral(
    order: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    separation: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def hertz_half_width(
    arg0: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg2: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def hertz_peak_pressure(
    arg0: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg2: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def ink_from_cup(
    cup: str,
    seconds: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    density: typing.SupportsFloat | typing.SupportsIndex,
    high_shear_ratio: typing.SupportsFloat | typing.SupportsIndex,
) -> typing.Any: ...
def ink_transfer(
    offered: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    law: collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex],
) -> typing.Any: ...
def interference_of(
    advance: typing.SupportsFloat | typing.SupportsIndex, slope: typing.SupportsFloat | typing.SupportsIndex
) -> float: ...
def land_loss_per_pass(case: Case, asperity_load: typing.SupportsFloat | typing.SupportsIndex) -> float: ...
def lesson_answer(request: str) -> str: ...
def likely_slip(path: str, value: typing.SupportsFloat | typing.SupportsIndex) -> str: ...
def line_context(case: Case, options: NipOptions) -> LineContext: ...
def line_load_of(
    air_pressure: typing.SupportsFloat | typing.SupportsIndex,
    piston_area: typing.SupportsFloat | typing.SupportsIndex,
    lever_ratio: typing.SupportsFloat | typing.SupportsIndex,
    blade_width: typing.SupportsFloat | typing.SupportsIndex,
    dead_load: typing.SupportsFloat | typing.SupportsIndex,
) -> float: ...
def line_print(
    cause: str, sizes: dict[str, typing.Any], context: LineContext, law: PrintLaw
) -> dict[str, typing.Any]: ...
def line_questions() -> dict[str, typing.Any]: ...
def line_sizes() -> dict[str, typing.Any]: ...
def load_case(file_name: str) -> Case: ...
def load_curve(
    case: Case,
    friction: typing.SupportsFloat | typing.SupportsIndex,
    max_interference: typing.SupportsFloat | typing.SupportsIndex,
    max_load: typing.SupportsFloat | typing.SupportsIndex,
    flat: bool,
) -> dict[str, typing.Any]: ...
def loop_efficiency(
    loop: dict[str, typing.Any],
    particle: dict[str, typing.Any],
    sizes: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    ferrous: bool,
    viscosity: typing.SupportsFloat | typing.SupportsIndex,
) -> numpy.typing.NDArray[numpy.float64]: ...
def migrate_case(json_text: str) -> str: ...
def nearest_field(path: str) -> str: ...
def output_table() -> list[typing.Any]: ...
def parse_field(text: str, path: str, given: str) -> float: ...
def parse_quantity(text: str, unit: str, name: str) -> float:
    """
    Text with unit to SI; `unit` is the SI unit it must reduce to.
    """

def particle_volume(particle: dict[str, typing.Any]) -> float: ...
def plane_flow(
    case: Case,
    gap: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    speed: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    pressure_gradient: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> tuple[
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    tuple[str, float, float, int, str],
]:
    """
    Arrays of one size; the record is that of the first flow not solved, or the worst.
    """

def print_density(
    film: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    limit: typing.SupportsFloat | typing.SupportsIndex,
    absorption: typing.SupportsFloat | typing.SupportsIndex,
) -> typing.Any: ...
def print_strip(
    cause: str,
    sizes: dict[str, typing.Any],
    context: LineContext,
    law: PrintLaw,
    *,
    width: typing.SupportsFloat | typing.SupportsIndex,
    length: typing.SupportsFloat | typing.SupportsIndex,
    columns: typing.SupportsInt | typing.SupportsIndex,
    rows: typing.SupportsInt | typing.SupportsIndex,
) -> tuple[
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
]: ...
def process_window(
    angle: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    load: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    inside: typing.Annotated[numpy.typing.ArrayLike, numpy.uint8],
    angle_tolerance: typing.SupportsFloat | typing.SupportsIndex,
    load_tolerance: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[bool, bool, int, int, tuple[float, float, float, float], numpy.typing.NDArray[numpy.float64]]: ...
def read_case(json_text: str) -> Case: ...
def regimes() -> list[str]: ...
def resolve_field(path: str) -> typing.Any: ...
def riding_onset(
    case: Case,
    field: str,
    excess_limit: typing.SupportsFloat | typing.SupportsIndex,
    low: typing.SupportsFloat | typing.SupportsIndex,
    high: typing.SupportsFloat | typing.SupportsIndex,
    mesh: typing.SupportsInt | typing.SupportsIndex,
) -> tuple[float, float, bool, bool, float, float, tuple[str, float, float, int, str]]: ...
def roll_life(
    case: Case,
    asperity_load: typing.SupportsFloat | typing.SupportsIndex,
    dry_share: typing.SupportsFloat | typing.SupportsIndex,
    dry_load: typing.SupportsFloat | typing.SupportsIndex,
    volume_share: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float, float, float, float, float, float, float]: ...
def sample_line(
    cause: str,
    context: LineContext,
    law: PrintLaw,
    seed: typing.SupportsInt | typing.SupportsIndex,
    index: typing.SupportsInt | typing.SupportsIndex,
    most_tries: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def sample_risk(
    job: tuple[typing.Any, ...],
    spread: dict[str, typing.Any],
    count: typing.SupportsInt | typing.SupportsIndex,
    seed: typing.SupportsInt | typing.SupportsIndex,
    options: NipOptions,
    threads: typing.SupportsInt | typing.SupportsIndex,
    progress: typing.Any,
) -> tuple[
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.int8],
    typing.Any,
]:
    """
    Draws: rates, first score drawn and its mean at those numbers, status; and the error that stopped them or None.
    """

def schedule_steps(
    case: Case,
    schedule: collections.abc.Sequence[
        tuple[
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            collections.abc.Sequence[tuple[str, typing.SupportsFloat | typing.SupportsIndex]],
            collections.abc.Sequence[tuple[str, typing.SupportsFloat | typing.SupportsIndex]],
            typing.SupportsFloat | typing.SupportsIndex,
            bool,
            bool,
        ]
    ],
) -> tuple[list[tuple[Case, Case]], list[float]]:
    """
    Cases at the start and at the end of each step, and the steps' distances [m].
    """

def scoring(
    jobs: list[typing.Any],
    options: NipOptions,
    threads: typing.SupportsInt | typing.SupportsIndex,
    progress: typing.Any,
) -> tuple[dict[str, typing.Any], typing.Any]:
    """
    Columns over jobs of case, particles, loop and options, and the error that stopped them or None.
    """

def scoring_defaults() -> dict[str, typing.Any]:
    """
    Values of what scoring takes, where nobody states them.
    """

def scoring_names() -> dict[str, typing.Any]:
    """
    Names of the columns of `scoring`.
    """

def shear_viscosity(
    case: Case,
    shear_rate: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    temperature: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def size_range(question: str) -> tuple[float, float]: ...
def sliver_source(
    specific_wear: typing.SupportsFloat | typing.SupportsIndex,
    asperity_load: typing.SupportsFloat | typing.SupportsIndex,
    peak: typing.SupportsFloat | typing.SupportsIndex,
    reference_peak: typing.SupportsFloat | typing.SupportsIndex,
    fraction: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float, float, float]: ...
def solids_table() -> list[typing.Any]: ...
def solve(case: Case, options: NipOptions) -> dict[str, typing.Any]: ...
def solve_after_step(
    case: Case, step: typing.SupportsFloat | typing.SupportsIndex, options: NipOptions
) -> dict[str, typing.Any]: ...
def solve_film(
    x: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    gap: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    pressure_viscosity: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    shear_viscosity: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    flow_factor: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    *,
    speed: typing.SupportsFloat | typing.SupportsIndex,
    pressure_in: typing.SupportsFloat | typing.SupportsIndex,
    pressure_out: typing.SupportsFloat | typing.SupportsIndex,
    film_supply: typing.SupportsFloat | typing.SupportsIndex | None,
) -> tuple[
    float,
    float,
    float,
    float,
    float,
    numpy.typing.NDArray[numpy.float64],
    numpy.typing.NDArray[numpy.float64],
    tuple[str, float, float, int, str],
]: ...
def speed_limit(
    case: Case,
    excess_limit: typing.SupportsFloat | typing.SupportsIndex,
    factor: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[float, float, float, float, tuple[str, float, float, int, str]]: ...
def sweep(
    case: Case,
    axes: collections.abc.Sequence[tuple[str, typing.Annotated[numpy.typing.ArrayLike, numpy.float64]]],
    options: NipOptions,
    threads: typing.SupportsInt | typing.SupportsIndex,
    progress: typing.Any,
    first: typing.SupportsInt | typing.SupportsIndex,
    count: typing.SupportsInt | typing.SupportsIndex,
) -> tuple[dict[str, typing.Any], typing.Any]:
    """
    Columns over the points solved, and the error that stopped the sweep or None.
    """

def tangent_viscosity(
    case: Case, shear_rate: typing.Annotated[numpy.typing.ArrayLike, numpy.float64]
) -> typing.Any: ...
def taylor_wedge(
    arg0: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg1: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg2: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg3: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    arg4: typing.Annotated[numpy.typing.ArrayLike, numpy.int32],
) -> typing.Any: ...
def tint_density(
    area: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    solid_density: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    n: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
) -> typing.Any: ...
def tip_film(
    case: Case,
    effective_angle: typing.SupportsFloat | typing.SupportsIndex,
    facet_length: typing.SupportsFloat | typing.SupportsIndex,
    tilt: typing.SupportsFloat | typing.SupportsIndex,
    low_gap: typing.SupportsFloat | typing.SupportsIndex,
    mesh: typing.SupportsInt | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def tip_thickness(case: Case) -> float: ...
def to_si(value: typing.SupportsFloat | typing.SupportsIndex, given: str, unit: str, name: str) -> float: ...
def trace(
    models: CauseModels,
    observation: dict[str, typing.Any],
    priors: typing.Annotated[collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], "FixedSize(12)"],
    none_share: typing.SupportsFloat | typing.SupportsIndex,
    effort: typing.Annotated[collections.abc.Sequence[typing.SupportsFloat | typing.SupportsIndex], "FixedSize(10)"],
) -> tuple[list[typing.Any], list[typing.Any]]:
    """
    Hypotheses, most probable first: name, probability, prior, evidence as (question, ln ratio); and the checks left: question, bits, bits per effort, expected answers and sizes by hypothesis.
    """

def trace_branches(
    case: Case,
    field: str,
    low: typing.SupportsFloat | typing.SupportsIndex,
    high: typing.SupportsFloat | typing.SupportsIndex,
    excess_limit: typing.SupportsFloat | typing.SupportsIndex,
    mesh: typing.SupportsInt | typing.SupportsIndex,
) -> tuple[list[typing.Any], tuple[str, float, float, int, str]]: ...
def unit_of_suffix(suffix: str, unit: str) -> str: ...
def unusual(case: Case) -> list[typing.Any]: ...
def usual_priors() -> dict[str, typing.Any]: ...
def wear(
    case: Case,
    schedule: collections.abc.Sequence[
        tuple[
            typing.SupportsFloat | typing.SupportsIndex,
            typing.SupportsFloat | typing.SupportsIndex,
            collections.abc.Sequence[tuple[str, typing.SupportsFloat | typing.SupportsIndex]],
            collections.abc.Sequence[tuple[str, typing.SupportsFloat | typing.SupportsIndex]],
            typing.SupportsFloat | typing.SupportsIndex,
            bool,
            bool,
        ]
    ],
    options: WearOptions,
    from_state: dict[str, typing.Any] | None,
    progress: typing.Any,
    most_steps: typing.SupportsInt | typing.SupportsIndex,
    most_seconds: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[dict[str, typing.Any], typing.Any]:
    """
    A stretch of a history: to its end, or with most_steps above 0 until it pauses. The error that stopped it or None.
    """

def wear_cut(
    area: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    angle: typing.Annotated[numpy.typing.ArrayLike, numpy.float64],
    full_from: typing.SupportsFloat | typing.SupportsIndex,
    thickness: typing.SupportsFloat | typing.SupportsIndex,
) -> tuple[numpy.typing.NDArray[numpy.float64], numpy.typing.NDArray[numpy.float64]]:
    """
    Facet lengths and lengths lost where straight cuts have taken these areas; the end is eaten from full_from on.
    """

def width_loads(
    case: Case,
    *,
    friction: typing.SupportsFloat | typing.SupportsIndex,
    fixed: bool,
    advance: typing.SupportsFloat | typing.SupportsIndex,
    mean_load: typing.SupportsFloat | typing.SupportsIndex,
    places: typing.SupportsInt | typing.SupportsIndex,
    width: typing.SupportsFloat | typing.SupportsIndex,
    misalignment: typing.SupportsFloat | typing.SupportsIndex,
    holder_bow: typing.SupportsFloat | typing.SupportsIndex,
    holder_sag: typing.SupportsFloat | typing.SupportsIndex,
    roll_sag: typing.SupportsFloat | typing.SupportsIndex,
    waviness_amplitude: typing.SupportsFloat | typing.SupportsIndex,
    waviness_length: typing.SupportsFloat | typing.SupportsIndex,
) -> dict[str, typing.Any]: ...
def worn_case(case: Case, land_loss: typing.SupportsFloat | typing.SupportsIndex) -> Case: ...
def write_case(case: Case) -> str: ...

version: str = "0.1.0"
