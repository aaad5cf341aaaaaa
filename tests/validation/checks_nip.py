"""The whole nip: the base case of an independent solution, and published trends."""

import json
import math

import test_trends
from reference_nip import DOCTORING, TRAILING, Nip, ReferenceCase
from validation_rows import REFERENCE, Row, Rows, check, stated, within

import libblade as lb

BASE = REFERENCE / "base_case"
EXPECTED = json.loads((BASE / "expected.json").read_text())


def base_point(entry: dict) -> lb.OperatingPoint:
    """The state that an entry of the base case asks for."""
    case = lb.load_case(BASE / "case.json").replace(entry["case"])
    point = lb.solve(case)
    if entry["state"]["at"] == "bedded":
        return point
    holder = (1.0 + entry["state"]["relative"]) * point.interference
    here = {"tip.bedding": "angle", "tip.bedded_angle": f"{point.bedded_angle!r} rad", "setting.interference": holder}
    return lb.solve(case.replace(here))


@check(
    "Base case against an independent solution",
    "Own NumPy/SciPy solution of the same equations, tests/benchmarks/reference_nip.py, solved anew.",
    "recomputed",
    "One model solved twice: agreement does not say that the model is a press.",
)
def base_case() -> Rows:
    inks = {"water": (0.03, 5.0), "high viscosity": (0.3, 3.0)}
    for way, orientation in (("doctoring", DOCTORING), ("trailing", TRAILING)):
        for name, (viscosity, speed) in inks.items():
            other = Nip(ReferenceCase(viscosity=viscosity, surface_speed=speed, orientation=orientation))
            changes = {"ink.viscosity": viscosity, "setting.surface_speed": speed, "setting.orientation": way}
            bedded = lb.solve(lb.load_case(BASE / "case.json").replace(changes))
            stepped = base_point({"case": changes, "state": {"at": "step", "relative": 0.05}})
            theirs = other.follow(1.05 * other.bedded.interference)[1]
            words = f"{way}, {name}"
            yield Row(f"{words}: film, bedded", other.bedded.film_on_lands, bedded.film_on_lands, 1e-3, "m")
            yield Row(f"{words}: angle, bedded", other.bedded.effective_angle, bedded.effective_angle, 5e-5, "rad")
            yield Row(f"{words}: film, pressed 5 % further", theirs.film_on_lands, stepped.film_on_lands, 3e-3, "m")
            yield Row(f"{words}: load, pressed 5 % further", theirs.line_load, stepped.line_load, 3e-3, "N/m")


@check("Intervals of the base case", "First hand-written solution, tests/reference/base_case.", "recomputed")
def base_case_intervals() -> Rows:
    units = {"film_on_lands": "m", "interference": "m", "effective_angle": "rad"}
    for entry in EXPECTED["points"]:
        if entry["state"]["at"] not in {"bedded", "interference step"}:
            continue
        point = base_point(entry)
        for name, (low, high) in entry["interval"].items():
            words = f"{entry['name']}: {name.replace('_', ' ')}"
            yield within(words, low, high, getattr(point, name), units.get(name, ""))


@check("Folds of a blade under constant load", "The same independent solution.", "recomputed")
def hysteresis() -> Rows:
    for entry in EXPECTED["hysteresis"]:
        case = lb.load_case(BASE / "case.json").replace(entry["case"])
        folds = sorted(lb.branches(case, {"setting.line_load": (60, "160 N/m")}).folds)
        for name, fold in (("jump_down", folds[0]), ("jump_up", folds[-1])):
            words = f"{entry['name']}: {name.replace('_', ' ')}"
            yield within(words, *entry[name]["interval"], float(fold), "N/m")


def found(function, *arguments) -> bool:
    """A test of tests/python/test_trends.py, which says what is asked and over which domain."""
    try:
        function(*arguments)
    except AssertionError:
        return False
    return True


def smooth() -> lb.Case:
    return lb.example_case("corrugated_coarse").replace(test_trends.SMOOTH)


@check(
    "Film of a rigid and of an elastic blade over the load",
    "{cite:t}`hariprasad2016`, abstract.",
    "statement",
    "Asked by tests/python/test_trends.py, which says over which domain.",
)
def rigid_and_elastic() -> Rows:
    one = all(found(test_trends.test_a_rigid_blade_gives_one_trend_only, smooth(), w) for w in test_trends.ORIENTATIONS)
    yield stated("a rigid blade", "one trend only", one, "more than one")
    turns = found(test_trends.test_deformation_turns_the_trend, smooth())
    yield stated("an elastic blade", "the trend turns", turns, "it does not")


@check(
    "Film of blades over rolls", "{cite:t}`tjiptowidjojo2018`, abstract.", "statement", "Unworn edges and worn facets."
)
def blades_over_rolls() -> Rows:
    ways = test_trends.ORIENTATIONS
    slower = all(found(test_trends.test_slower_gives_thinner, smooth(), way) for way in ways)
    yield stated("slower", "thinner in all cases", slower, "not always")
    force = all(
        found(test_trends.test_more_force_gives_thinner_at_a_fixed_tip, smooth(), way, a)
        for way in ways
        for a in test_trends.ANGLES
    )
    yield stated("more force, tip of fixed shape", "thinner", force, "not always")
    either = found(test_trends.test_orientation_matters_either_way, smooth())
    yield stated("orientation", "either can give more", either, "one always does")
    shape = all(
        found(test_trends.test_shape_matters_more_than_force, smooth(), way, a)
        for way in ways
        for a in (test_trends.ANGLES[:3] if way == "doctoring" else test_trends.ANGLES)
    )
    yield stated("shape of the tip up to 45 deg", "matters more than force", shape, "does not")


@check(
    "Shape against force on a steep doctoring blade",
    "{cite:t}`tjiptowidjojo2018`, abstract.",
    "statement",
    "At 60 deg the ink's wedge of 30 deg to the cut face carries the load, whatever the tip: shape counts 1.3, force 4. Their "
    "geometry is another, so this is a limit of the statement's domain as much as of ours.",
    holds=False,
)
def shape_on_a_steep_blade() -> Rows:
    at_one_load = [test_trends.film(test_trends._at(smooth(), "doctoring", 60.0, tip)) for tip in test_trends.EDGES]
    steep = test_trends._at(smooth(), "doctoring", 60.0, test_trends.EDGES[0])
    twice = test_trends.film(steep, setting__line_load=260.0)
    shape = max(at_one_load) / min(at_one_load) > at_one_load[0] / twice
    yield stated("shape of the tip, doctoring at 60 deg", "matters more than force", shape, "force matters more")


@check(
    "More force on a facet that turns with its blade",
    "{cite:t}`tjiptowidjojo2018`, abstract, taken beyond its words: the shape is fixed, its attitude is not.",
    "statement",
    "A bedded doctoring facet opens when it is pressed harder; that is what this library is about.",
    holds=False,
)
def force_on_a_bedded_facet() -> Rows:
    films = [
        point.film_on_lands for point in test_trends._over_the_load(smooth(), "doctoring")
    ]  # facet bedded at 130 N/m
    falling = films == sorted(films, reverse=True)
    yield stated("bedded doctoring facet, 60 to 300 N/m", "thinner", falling, "thicker, then thinner")


@check("One flexibility number", "{cite:t}`giacomin2012`, {cite:t}`trinh2025`, from memory.", "statement")
def one_flexibility_number() -> Rows:
    function = test_trends.test_one_flexibility_number_decides_the_film_of_a_flexible_blade
    alike = all(found(function, smooth(), way) for way in test_trends.ORIENTATIONS)
    yield stated("viscosity, load and stiffness all doubled", "the same film", alike, "another film")


@check(
    "Film on the lands above a critical capillary number",
    "{cite:t}`miura2015`, abstract.",
    "statement",
    "Surface tension, menisci and air are not modelled. A flooded film only grows with the speed; what vanishes here is the film "
    "of a fixed feed, at a number that is a balance of volumes.",
    holds=False,
)
def critical_capillary_number() -> Rows:
    case = lb.example_case("corrugated_coarse")
    films = [test_trends.film(case, setting__surface_speed=speed) for speed in (1.0, 2.0, 4.0)]
    yield stated("film of a flooded nip, 1 to 4 m/s", "vanishes", films[-1] < 0.1 * films[0], "grows with the speed")


@check(
    "Film of a blade that lies tangential",
    "Seiwert et al. 2013, from memory: the film goes as (eta U)^(3/4) N^(-5/4).",
    "statement",
    "Once the strip leaves its edge the library says so, with the status `lying_flat`, and gives no film.",
    holds=False,
)
def tangential_blade() -> Rows:
    soft = {
        "blade.free_length": "30 mm",
        "blade.thickness": "0.1 mm",
        "roll.radius": "2 m",
        "setting.set_angle": "3 deg",
        "setting.line_load": 10,
    }
    point = lb.solve(lb.example_case("folding_carton_water").replace(soft), on_failure="flag")
    yield stated("strip that lies on the roll", "a film", math.isfinite(point.film_on_lands), "no film: lying flat")


@check(
    "Ink spitting at low angle and high pressure",
    "Common practice, no published source.",
    "common practice",
    "Spitting is not modelled; asked is where the pressure ahead of the facet that would feed it is high.",
)
def energetic_wedge() -> Rows:
    wedge = found(test_trends.test_an_energetic_wedge_at_high_viscosity)
    yield stated("thick curing ink, fast, low angle", "the wedge carries", wedge, "it does not")


@check(
    "Share of the roll's ink that reaches the web",
    "Ink on the roll that reaches the web: 0.25 to 0.40, common practice, no published source.",
    "common practice",
)
def transfer_share() -> Rows:
    yield within("share of the ink transferred", 0.25, 0.40, float(lb.ink_transfer(1e-6)) / 1e-6)
