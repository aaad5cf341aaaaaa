"""Every value and result goes through pickle and copy, and comes back equal: to other processes, into caches."""

import copy
import dataclasses
import inspect
import pickle
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from libblade._case import Component
from libblade._lesson_widget import Lesson

import libblade as lb

CASE = lb.example_case("folding_carton_water")
FIELDS = {"setting.set_angle_deg": np.linspace(26.0, 36.0, 6), "setting.line_load": np.linspace(80.0, 180.0, 6)}
SPREAD = {"setting.line_load": lb.Lognormal(relative=0.4), "setting.set_angle": lb.Normal("1.5 deg")}
LIMITS = {"excess_ink": "0.5 um", "stress_ratio": "100 %"}


def raised(action) -> BaseException:
    with pytest.raises(Exception) as error:  # noqa: PT011 -- whichever it is
        action()
    return error.value


def lying_flat() -> lb.NotSolved:
    with pytest.warns(lb.LibbladeWarning):
        thin = CASE.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm", "setting.line_load": 300.0})
    return raised(lambda: lb.solve(thin))


def film() -> lb.Film:
    x = np.linspace(0.0, 1e-4, 41)
    return lb.film(x, 2e-6 - 1e-2 * x, speed=5.0, viscosity=0.05)


def same_ratio() -> lb.Fit:
    seconds = [lb.Reading("cup_seconds", t, "1 s", cup="iso_2431_4", high_shear_ratio=1.0) for t in (60.0, 61.0, 62.0)]
    return lb.fit(CASE.replace({"ink.viscosity": 0.05}), seconds, ["ink.viscosity", "ink.density"])


def wear_fit() -> lb.Fit:
    return lb.fit(CASE, {"distance": [1e3, 2e3], "length_lost": [1e-6, 2e-6]}, on_failure="flag")


def frame() -> lb.Frame:
    return lb.Frame(1e3, 200.0, 0.0, 110.0, 0.3e-6, 4e-4, 1e-3, 25.0, "converged", ("1 km",))


def uncertain() -> lb.Uncertainty:
    return lb.uncertainty(CASE, SPREAD, ["film_on_lands", "wear_rate"], samples=8)


def actuator() -> lb.Actuator:
    return lb.Actuator(air_pressure="1.5 bar", piston_area="40 cm2", blade_width="1.4 m")


def risk(**more) -> lb.ScoringRisk:
    return lb.scoring(CASE, lb.example_particles(), lb.InkLoop(filter=lb.Filter("50 um")), **more)


def traced() -> lb.Tracing:
    return lb.trace(lb.Observation(tone="darker"), lb.CauseModels(CASE, samples=20))


@pytest.fixture(scope="module")
def maps() -> lb.TwoMaps:
    return lb.two_maps(CASE, FIELDS, LIMITS)


def compared() -> lb.Comparison:
    fields = {"setting.set_angle_deg": [28, 32], "setting.line_load": [100, 120]}
    return lb.compare(CASE, {"as it is": {}}, {"excess_ink": "5 um"}, fields)


VALUES = {
    "AcrossWidth": lambda: lb.across_width(CASE, width=1.2, places=3, misalignment="20 um"),
    "Actuator": actuator,
    "BearingPoint": lambda: lb.BearingPoint(gap="0.3 um", pressure_MPa=40),
    "Bending": lambda: lb.bending(CASE),
    "Blade": lambda: CASE.blade,
    "BladeLife": lambda: lb.wear(CASE, "100 m").life,
    "BladeShape": lambda: lb.solve(CASE).blade,
    "CarreauYasuda": lambda: lb.CarreauYasuda(
        zero_shear_viscosity=0.1, infinite_shear_viscosity=0.03, time_constant=1e-4
    ),
    "CareFact": lambda: lb.roll_care()[0],
    "Case": lambda: CASE,
    "CauseModels": lambda: lb.CauseModels(CASE, samples=20),
    "CellFlow": lambda: lb.cell_flow(CASE, 1e-6, resolution=12),
    "CellsUnderFacet": lambda: lb.cells_under_facet(CASE, 2e-4, [2e-6, 1e-6], resolution=8, phases=3),
    "Convergence": lambda: lb.solve(CASE).convergence,
    "Cross": lambda: lb.Cross(zero_shear_viscosity="60 mPa s", infinite_shear_viscosity="30 mPa s", time_constant=1e-4),
    "Observation": lambda: lb.Observation(tone="darker", width="0.4 mm", patchy="probably no"),
    "Tracing": traced,
    "TracedCause": lambda: traced().causes[0],
    "NextCheck": lambda: traced().checks[0],
    "Evidence": lambda: traced().causes[0].evidence[0],
    "DensityLaw": lambda: lb.density_law("1.2 um", 1.4),
    "Line": lambda: lb.lines(CASE, "blade_nick")["blade_nick"],
    "LineSignature": lambda: lb.lines(CASE, "riding")["riding"].signature,
    "PrintLaw": lambda: lb.PrintLaw(transfer=lb.WalkerFetsko(split=0.4), tint="50 %"),
    "WalkerFetsko": lambda: lb.WalkerFetsko(split=0.4),
    "CurveLimit": lambda: lb.CurveLimit("yield", 1e-3, 250.0, 0.5),
    "Engraving": lambda: lb.Engraving(screen="160 1/cm", cell_volume="4.5 cm3/m2"),
    "EngravingNumbers": lambda: lb.engraving_numbers(CASE),
    "Facet": lambda: lb.Facet(edge_radius_um=2),
    "Field": lambda: lb.field_table()[0],
    "Film": film,
    "Fit": wear_fit,
    "FitBand": lambda: wear_fit().predict([1e3, 2e3]),
    "FlowCup": lambda: lb.flow_cups()[0],
    "EdgeContact": lambda: lb.edge_contact(CASE, 100, angle="28 deg"),
    "FeatherIndex": lambda: lb.feather_index("28 deg", "0.5 MPa", -1e5),
    "FacetGrowth": lambda: lb.facet_growth(0.2e-3, [1e-5, 1e-3], angle="30 deg"),
    "HertzLine": lambda: lb.hertz_line([100.0, 200.0], radius=0.1, modulus=1e11),
    "Ink": lambda: CASE.ink,
    "NipFunction": lambda: lb.as_function(CASE, ["setting.line_load"], "film_on_lands"),
    "InkFit": lambda: lb.fit_ink([1.0, 10.0, 100.0], [0.1, 0.08, 0.065], "power_law"),
    "InvalidInput": lambda: raised(lambda: CASE.replace({"setting.line_load": -1.0, "ink.viscosity": "5 mm"})),
    "LibbladeWarning": lambda: lb.LibbladeWarning("unusual"),
    "LoadCurve": lambda: lb.load_curve(CASE),
    "Margins": lambda maps: maps.window.margins,
    "Nearest": lambda maps: maps.nearest,
    "NotSolved": lying_flat,
    "OperatingPoint": lambda: lb.solve(CASE),
    "Output": lambda: lb.output_table()[0],
    "OutlineEvent": lambda: lb.facet_growth(0.2e-3, [1e-5], angle="30 deg").events[0],
    "Place": lambda: lb.across_width(CASE, width=1.2, places=3).largest("line_load"),
    "PlaneFlow": lambda: lb.plane_flow(CASE, [1e-6, 2e-6], 5.0, 1e9),
    "PowerLaw": lambda: lb.PowerLaw(consistency=3, exponent=0.7),
    "Problem": lambda: raised(lambda: CASE.replace({"setting.line_load": -1.0})).problems[0],
    "ProcessWindow": lambda maps: maps.window,
    "Roll": lambda: CASE.roll,
    "Schedule": lambda: lb.Schedule([lb.ScheduleStep("1 km", set={"setting.set_angle_deg": 28})]),
    "ScheduleStep": lambda: lb.ScheduleStep("1 km", set={"setting.set_angle_deg": 28}),
    "Screw": lambda: lb.Screw(advance="1 mm", slope="20 deg"),
    "Section": lambda: lb.solve(CASE).section,
    "Setting": lambda: CASE.setting,
    "Side": lambda: lb.Side(0.5, ("excess_ink",)),
    "Solid": lambda: lb.Solid(youngs_modulus="205 GPa", poissons_ratio=0.3),
    "SolidEntry": lambda: lb.solids_table()[0],
    "SpeedLimit": lambda: lb.speed_limit(CASE, "0.5 um", factor=1.5),
    "SquareEdge": lambda: lb.SquareEdge(edge_radius_um=2),
    "TaylorWedge": lambda: lb.taylor_wedge([0.3, 0.5], 1e-5, viscosity=0.05, speed=5.0),
    "Tip": lambda: CASE.tip,
    "TwoMaps": lambda maps: maps,
    "Unknown": lambda: same_ratio().unknown[0],
    "ValidityFlag": lambda: lb.solve(CASE.replace({"roll.engraving.screen": "30 1/cm"})).validity[0],
    "BranchCurve": lambda: lb.branches(CASE, {"setting.line_load": (90, 140)}).curves[0],
    "BranchDiagram": lambda: lb.branches(CASE, {"setting.line_load": (90, 140)}),
    "Gradient": lambda: lb.gradient(CASE, ["setting.set_angle", "setting.line_load"]),
    "RollWear": lambda: lb.roll_wear(CASE, asperity_load=50.0, dry_share=0.01),
    "SliverSource": lambda: lb.sliver_source(CASE),
    "Reading": lambda: lb.Reading("density", 1.3, 0.02, {"setting.surface_speed": 2.0}, {"setting.line_load": 1.1}),
    "RidingOnset": lambda: lb.riding_onset(CASE, {"setting.line_load": (90, 140)}, "0.3 um"),
    "TipFilm": lambda: lb.tip_film(CASE, "26 deg", "0.4 mm", "0.5 um"),
    "WearEvent": lambda: lb.wear(CASE, "1 km", facet_limit="0.1 mm").events[0],
    "WearHistory": lambda: lb.wear(CASE, "1 km", facet_limit="0.1 mm"),
    "WornProfile": lambda: lb.wear(CASE, "10 m", tier="profile").profile,
    "Distribution": lambda: lb.Distribution(low=1.0, source="assumed"),
    "Dominant": lambda: uncertain().dominant["film_on_lands"],
    "Lognormal": lambda: lb.Lognormal(factor=2),
    "Normal": lambda: lb.Normal("1.5 deg", low="20 deg"),
    "Quantiles": lambda: uncertain().quantiles["film_on_lands"],
    "Sensitivity": lambda: lb.sensitivity(CASE, SPREAD, "film_on_lands", samples=4),
    "Triangular": lambda: lb.Triangular("20 deg", "40 deg"),
    "Uncertainty": uncertain,
    "Uniform": lambda: lb.Uniform(half_width="1 deg"),
    "WindowProbability": lambda: lb.window_probability(CASE, FIELDS, {"film_on_lands": "0.3 um"}, SPREAD, samples=2),
    "ViscosityBand": lambda: lb.fit_ink([1.0, 10.0, 100.0], [0.1, 0.08, 0.065], "power_law").predict([1.0, 5.0]),
}
VALUES |= {
    "ClassRisk": lambda: risk()["alumina grit"],
    "Filter": lambda: lb.Filter("50 um", beta=20.0, bypass="5 %"),
    "FirstScore": lambda: risk().first_score,
    "InkLoop": lambda: lb.InkLoop(flow="9 L/min", filter=lb.Filter("50 um"), magnet=lb.Magnet()),
    "Lever": lambda: lb.scoring_levers(CASE, lb.example_particles()).levers[0],
    "Magnet": lambda: lb.Magnet("100 cm2"),
    "Mouth": lambda: risk().mouth,
    "Particles": lambda: lb.example_particles()[4],
    "Rates": lambda: risk().total,
    "RiskSpread": lambda: lb.RiskSpread(set_angle="1 deg"),
    "ScoringLevers": lambda: lb.scoring_levers(CASE, lb.example_particles()),
    "ScoringRisk": lambda: risk(samples=4, rng=1),
    "Card": lambda maps: maps.window.card(),
    "Comparison": compared,
    "Opening": lambda: lb.Opening("setting.surface_speed", "speed 300 to 250 m/min", 1.0 / 1.2),
    "Uncertain": lambda: risk(samples=4, rng=1).uncertain,
    "Frame": frame,
    "MovingPicture": lambda: lb.MovingPicture(Path("step.gif"), (frame(),), "a blade"),
    "Report": lambda: lb.report(CASE, parts=[], side=4),
    "StillLesson": lambda: lb.StillLesson(Lesson(CASE), "no front end"),
}
MORE = {
    "an unsolved risk": lambda: lb.scoring(lying_flat().result.case, lb.example_particles(), on_failure="flag"),
    "a window with an actuator": lambda maps: lb.with_actuator(maps.window, actuator()),
    "a window where nothing holds": lambda maps: lb.process_window(maps.everywhere, {"excess_ink": "1e-6 um"}),
    "the recommended setting": lambda maps: maps.window.recommended,
    "a sweep": lambda maps: maps.everywhere,
    "a group of fields": lambda: CASE.blade.material,
    "a sweep that failed": lambda: raised(
        lambda: lb.sweep(lying_flat().result.case, {"setting.line_load": [300.0]}, on_failure="raise")
    ),
    "a point that failed": lambda: lying_flat().result,
}


def test_every_class_is_here():
    classes = {name for name in lb.__all__ if inspect.isclass(getattr(lb, name))}
    assert classes == set(VALUES)


def same(a, b) -> bool:
    """Equal to the last bit: arrays and NaN by value, everything else part by part."""
    if type(a) is not type(b):
        equal = False
    elif isinstance(a, xr.Dataset | xr.DataArray):
        equal = a.identical(b)
    elif isinstance(a, np.ndarray | float):
        equal = np.array_equal(a, b, equal_nan=True) and np.asarray(a).dtype == np.asarray(b).dtype
    elif isinstance(a, dict):
        equal = list(a) == list(b) and all(same(a[key], b[key]) for key in a)
    elif isinstance(a, tuple | list):
        equal = len(a) == len(b) and all(map(same, a, b))
    elif isinstance(a, BaseException):
        equal = str(a) == str(b) and same((a.args, vars(a)), (b.args, vars(b)))
    elif isinstance(a, lb.Case | lb.CauseModels | Component | Path | str | int | None):
        equal = a == b
    else:
        equal = same(vars(a), vars(b))
    return equal


def made(name: str, request: pytest.FixtureRequest):
    make = {**VALUES, **MORE}[name]
    return make(request.getfixturevalue("maps")) if inspect.signature(make).parameters else make()


@pytest.mark.parametrize("name", [*VALUES, *MORE])
def test_it_comes_back_equal(name, request):
    value = made(name, request)
    assert name in MORE or type(value) is getattr(lb, name)
    for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1):
        again = pickle.loads(pickle.dumps(value, protocol))
        assert same(again, value), protocol
        assert repr(again) == repr(value)
    for again in (copy.copy(value), copy.deepcopy(value)):
        assert same(again, value)


@pytest.mark.parametrize(
    "name",
    [
        "OperatingPoint",
        "a point that failed",
        "Section",
        "Film",
        "Bending",
        "HertzLine",
        "Case",
        "Tip",
        "Ink",
        "Uncertainty",
    ],
)
def test_it_equals_itself_and_not_another(name, request):
    """Else the test above would see no difference."""
    value = made(name, request)
    assert value == pickle.loads(pickle.dumps(value))
    assert not same(value, made("Screw", request))
    other = CASE.replace({"setting.line_load": 120.0, "ink.viscosity": "45 mPa s", "tip.edge_radius": "3 um"})
    different = {
        "OperatingPoint": lambda: lb.solve(other),
        "a point that failed": lambda: lb.solve(CASE),
        "Section": lambda: lb.solve(other).section,
        "Film": lambda: dataclasses.replace(value, pressure=value.pressure * 2.0),
        "Bending": lambda: lb.bending(other),
        "HertzLine": lambda: lb.hertz_line([100.0, 201.0], radius=0.1, modulus=1e11),
        "Case": lambda: other,
        "Tip": lambda: other.tip,
        "Ink": lambda: other.ink,
        "Uncertainty": uncertain,  # of other draws
    }[name]()
    assert value != different
    assert not same(value, different)


@pytest.mark.parametrize("part", ["blade", "tip", "roll", "ink", "setting"])
def test_a_part_that_was_pickled_still_makes_a_case(part):
    """A part read from a case states angles in rad, and must remember it."""
    parts = {name: getattr(CASE, name) for name in ("blade", "tip", "roll", "ink", "setting")}
    parts[part] = pickle.loads(pickle.dumps(parts[part]))
    assert lb.Case(**parts, name=CASE.name, note=CASE.note) == CASE
