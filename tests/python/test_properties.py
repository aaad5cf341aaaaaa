"""What holds for any input: balances, scaling laws, symmetries, limits, order that does not matter. Inputs are drawn at random."""

import json
import math
import warnings
from itertools import pairwise

import hypothesis.strategies as st
import numpy as np
import pint
import pytest
from hypothesis import HealthCheck, given, settings

import libblade as lb


def some(count):
    """The same examples every time; their number decides the time."""
    return settings(
        max_examples=count, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )


def between(low, high):
    return st.floats(low, high, allow_nan=False)


def near(factor=1.4):
    return between(1.0 / factor, factor)


def close(a, b, rel=1e-9, floor=0.0):
    np.testing.assert_allclose(a, b, rtol=rel, atol=floor)


@pytest.fixture(autouse=True)
def unusual_values_are_meant():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", lb.LibbladeWarning)
        yield


CELLS = lb.example_case("folding_carton_water")
SMOOTH = lb.Case.from_json(
    json.dumps(
        {
            "blade": {"free_length_mm": 12, "thickness_mm": 0.2},
            "tip": {"facet_length_mm": 0.2},
            "roll": {"radius_mm": 70, "land_roughness_um": 0.24, "run_out_um": 5},
            "ink": {"viscosity_mPa_s": 30},
            "setting": {"set_angle_deg": 30, "line_load": 110, "surface_speed": 5, "friction": 0.12},
        }
    )
)


@st.composite
def nips(draw, base=SMOOTH):
    """Operating points about a usual one, both orientations."""
    fields = {
        "setting.orientation": draw(st.sampled_from(["doctoring", "trailing"])),
        "setting.line_load": 110.0 * draw(near()),
        "setting.surface_speed": 5.0 * draw(near(2.0)),
        "setting.set_angle_deg": draw(between(26.0, 38.0)),
        "blade.thickness": 2e-4 * draw(near(1.2)),
        "roll.land_roughness": 2.4e-7 * draw(near()),
    }
    if base is SMOOTH:
        fields["ink.viscosity"] = 0.03 * draw(near(2.0))
    return base.replace(fields)


# --- the units of measurement are nobody's business: no law hides a number that is a quantity --------------------------

REGISTRY = pint.UnitRegistry()
SPELLED = {
    "m3/m2": "m",
    "m2": "m**2",
    "m3": "m**3",
    "s^0.5": "s**0.5",
    "Pa s": "Pa*s",
    "(m2 K)": "(m**2*K)",
    "(m K)": "(m*K)",
}
SPELLED |= {"(kg K)": "(kg*K)", "W s": "W*s"}


def exponents(unit):
    """Of length, time and mass."""
    text = SPELLED.get(unit, unit)
    for short, full in SPELLED.items():
        text = text if text == SPELLED.get(unit) else text.replace(short, full)
    powers = REGISTRY.parse_expression(text or "1")
    powers = {} if isinstance(powers, int | float) else powers.dimensionality
    return [float(powers.get(f"[{name}]", 0)) for name in ("length", "time", "mass")]


def times(unit, scale):
    return math.prod(factor**power for factor, power in zip(scale, exponents(unit), strict=True))


def test_units_are_taken_apart():
    assert exponents("m3/m2") == [1, 0, 0]
    assert exponents("Pa s") == [-1, -1, 1]
    assert exponents("W s^0.5/(m2 K)") == [0, -2.5, 1]
    assert exponents("J/(kg K)") == [2, -2, 0]
    assert exponents("1") == exponents("rad") == exponents("m/m") == [0, 0, 0]


def in_other_units(case, scale):
    """The case as somebody with another metre, second and kilogram would state it."""
    changes = {}
    for field in lb.field_table():
        value = case.get(field.path)
        if isinstance(value, float) and any(exponents(field.unit)):
            changes[field.path] = value * times(field.unit, scale)
    return case.replace(changes)


SCALES = st.tuples(near(1.15), near(1.15), near(1.15))


@some(12)
@given(nips(), SCALES)
def test_an_operating_point_scales_as_its_units(case, scale):
    here, there = lb.solve(case), lb.solve(in_other_units(case, scale))
    for output in lb.output_table():
        # Solved to a tolerance of its own in logarithms and angles.
        expected = getattr(here, output.name) * times(output.unit, scale)
        close(getattr(there, output.name), expected, 1e-6, 1e-6 * abs(expected) + 1e-9 * times(output.unit, scale))
    assert (here.regime, here.branch) == (there.regime, there.branch)


@some(25)
@given(nips(), SCALES, between(0.0, 0.5))
def test_bending_scales_as_its_units(case, scale, friction):
    here = lb.bending(case, friction=friction, on_failure="flag")
    there = lb.bending(in_other_units(case, scale), friction=friction, on_failure="flag")
    assert here.convergence.status == there.convergence.status
    for name, unit in {
        "line_load": "N/m",
        "interference": "m",
        "effective_angle": "rad",
        "max_bending_stress": "Pa",
        "tip_deflection": "m",
        "tangent_stiffness": "N/m2",
        "frequency_free": "1/s",
        "holder_moment": "N",
    }.items():
        close(getattr(there, name), getattr(here, name) * times(unit, scale), 1e-7)


@some(4)
@given(nips(), SCALES)
def test_a_life_scales_as_its_units(case, scale):
    here = lb.wear(case, 200.0).dataset.isel(distance=-1)
    there = lb.wear(in_other_units(case, scale), 200.0 * times("m", scale)).dataset.isel(distance=-1)
    for name, unit in {"facet_length": "m", "removed_area": "m2", "film_on_lands": "m", "line_load": "N/m"}.items():
        close(float(there[name]), float(here[name]) * times(unit, scale), 1e-4)


# --- film --------------------------------------------------------------------------------------------------------------


@st.composite
def gaps(draw):
    """Wavy wedges, opening and closing, 1 to 20 um."""
    x = np.linspace(0.0, 1e-4, 61)
    tilt, waves, size, phase = (
        draw(between(-0.6, 0.6)),
        draw(st.integers(0, 3)),
        draw(between(0.0, 0.4)),
        draw(between(0, 6)),
    )
    return x, 5e-6 * (1.0 + tilt * (x / x[-1] - 0.5) + size * np.sin(2 * np.pi * waves * x / x[-1] + phase))


@some(25)
@given(gaps(), near(3.0), near(3.0), near(3.0), near(3.0))
def test_a_film_scales_and_balances(shape, long, high, quick, thick):
    """Reynolds: p ~ eta U L / h^2, and what goes in comes out."""
    x, h = shape
    one = lb.film(x, h, speed=2.0, viscosity=0.03)
    two = lb.film(long * x, high * h, speed=2.0 * quick, viscosity=0.03 * thick)
    peak = max(one.pressure.max(), 1.0)
    close(two.pressure / (thick * quick * long / high**2), one.pressure, 1e-7, 1e-7 * peak)
    close(two.flow, one.flow * quick * high, 1e-7)
    close(two.drag, one.drag * thick * quick * long / high, 1e-7)
    assert np.all(one.pressure >= 0.0)
    assert np.all((one.void_fraction >= 0.0) & (one.void_fraction < 1.0))
    assert np.all((one.pressure <= 1e-9 * peak) | (one.void_fraction <= 1e-9))  # full or torn
    assert 0.0 < one.flow <= 2.0 * h.max()


@some(15)
@given(gaps(), near(4.0))
def test_a_flow_factor_divides_the_pressure(shape, factor):
    x, h = shape
    one, two = (lb.film(x, h, speed=2.0, viscosity=0.03, flow_factor=f) for f in (1.0, factor))
    close(two.pressure * factor, one.pressure, 1e-7, 1e-7 * max(one.pressure.max(), 1.0))
    close(two.flow, one.flow, 1e-7)


# --- blade and contact --------------------------------------------------------------------------------------------------


@some(20)
@given(nips())
def test_without_friction_both_orientations_are_mirrors(case):
    """The roll's way is felt by friction and film only."""
    one, two = (
        lb.bending(case.replace({"setting.orientation": way}), friction=0.0) for way in ("doctoring", "trailing")
    )
    for name in ("effective_angle", "interference", "max_bending_stress", "tip_deflection"):
        close(getattr(one, name), getattr(two, name), 1e-12)


@some(20)
@given(nips(), between(0.0, 0.3))
def test_more_load_bends_more_and_comes_back_from_its_interference(case, friction):
    points = [
        lb.bending(case.replace({"setting.line_load": load}), friction=friction, on_failure="flag")
        for load in (20.0, 60.0, 100.0)
    ]
    carried = [p for p in points if p.convergence.ok]
    assert carried
    for light, heavy in pairwise(carried):
        assert heavy.interference > light.interference
        assert heavy.effective_angle < light.effective_angle
    same = lb.bending(case.replace({"setting.interference": carried[-1].interference}), friction=friction)
    close(same.line_load, carried[-1].line_load, 1e-6)


@some(20)
@given(between(1.0, 500.0), between(1e-6, 1e-2), between(1e9, 5e11))
def test_a_line_contact_balances_its_load(load, radius, modulus):
    """An ellipse of pressure: N = pi a p / 2 (Johnson 1985, ch. 4), and the limits N -> 4 N."""
    one, four = (lb.hertz_line(n * load, radius=radius, modulus=modulus) for n in (1, 4))
    close(np.pi * one.half_width * one.peak_pressure / 2, load, 1e-12)
    close([four.half_width, four.peak_pressure], [2 * one.half_width, 2 * one.peak_pressure], 1e-12)


@some(20)
@given(between(1e-8, 1e-6), between(0.02, 0.1), between(0.001, 0.05), near(3.0))
def test_asperities(rough, product, ratio, scale):
    gap = np.linspace(0.5, 5.0, 20) * rough
    common = {"asperity_product": product, "asperity_ratio": ratio}
    soft = lb.asperity_pressure(gap, roughness=rough, modulus=1e11, hardness=1e20, **common)
    assert np.all(np.diff(soft) <= 0.0)
    assert np.all(soft >= 0.0)
    # Only gap over roughness and modulus count while nothing yields; then hardness bounds.
    close(
        lb.asperity_pressure(scale * gap, roughness=scale * rough, modulus=2e11, hardness=1e20, **common),
        2 * soft,
        1e-9,
    )
    capped = lb.asperity_pressure(gap, roughness=rough, modulus=1e11, hardness=1e8, **common)
    assert np.all((capped <= soft * (1 + 1e-12)) & (capped <= 1e8 * (1 + 1e-12)))


@some(15)
@given(between(1e-4, 5e-4), between(10.0, 80.0), near(3.0))
def test_facets_of_similar_ends_are_similar(thickness, degrees, scale):
    z = np.linspace(0.0, 0.9, 9) * thickness * np.sin(np.radians(degrees))
    one = lb.facet_growth(thickness, z, angle=f"{degrees!r} deg")
    two = lb.facet_growth(scale * thickness, scale * z, angle=f"{degrees!r} deg")
    close(two.length, scale * one.length, 1e-9, 1e-15)
    close(two.area, scale**2 * one.area, 1e-9, 1e-20)
    assert np.all(np.diff(one.area) > 0.0)


# --- ink, cells, print ---------------------------------------------------------------------------------------------------

LAWS = st.sampled_from(
    [
        lb.Cross(zero_shear_viscosity=0.5, infinite_shear_viscosity=0.02, time_constant=1e-3, exponent=0.7),
        lb.PowerLaw(consistency=0.2, exponent=0.8),
    ]
)


@some(20)
@given(LAWS, between(1e-6, 1e-4), between(-10.0, 10.0), between(-1e9, 1e9))
def test_plane_flow_is_odd_and_at_rest_goes_down_the_pressure(law, gap, speed, gradient):
    one, two, rest = (lb.plane_flow(law, gap, s * speed, k * gradient) for s, k in ((1, 1), (-1, -1), (0, 1)))
    close(two.flow, -one.flow, 1e-9, 1e-9 * gap * (abs(speed) + 1e-6))
    close(two.moving_wall_stress, -one.moving_wall_stress, 1e-9, 1e-6)
    assert rest.flow * gradient <= 0.0
    # The gradient pushes on the ink as the walls hold it.
    close(
        one.moving_wall_stress + one.fixed_wall_stress, -gradient * gap, 1e-7, 1e-6 + 1e-9 * abs(one.moving_wall_stress)
    )


@some(6)
@given(between(0.3e-6, 5e-6), near(1.5), st.sampled_from(["hexagon", "diamond", "channel"]))
def test_cells_of_one_shape_flow_alike(gap, scale, pattern):
    case = CELLS.replace({"roll.engraving.pattern": pattern})
    larger = case.replace(
        {
            "roll.engraving.screen": case["roll.engraving.screen"] / scale,
            "roll.engraving.wall_width": case["roll.engraving.wall_width"] * scale,
            "roll.engraving.cell_volume": case["roll.engraving.cell_volume"] * scale,
        }
    )
    one, two = (lb.cell_flow(c, g, resolution=24) for c, g in ((case, gap), (larger, gap * scale)))
    close(two.pressure_factor, one.pressure_factor, 1e-7, 1e-9)
    close(two.couette_factor, one.couette_factor, 1e-7, 1e-9)
    phi = one.pressure_factor
    close(phi[0, 1], phi[1, 0], 1e-7, 1e-9)
    assert np.all(np.linalg.eigvalsh((phi + phi.T) / 2) >= 1.0 - 1e-9)  # cells let more through than no cells


@some(25)
@given(between(1e-8, 3e-6), between(0.2, 1.0), between(0.05, 1.0), between(1.0, 3.0))
def test_densities_go_there_and_back(film, share, area, n):
    print_film = lb.ink_transfer(film, share)
    close(print_film, share * film, 1e-12)
    density = lb.print_density(print_film)
    assert lb.print_density(1.01 * print_film) > density > 0.0
    close(lb.film_of_density(density), print_film, 1e-7)
    close(lb.dot_area(lb.tint_density(area, 1.4, n), 1.4, n), area, 1e-9)


@some(20)
@given(between(12.0, 80.0), between(1e3, 1e7), between(-1e6, 1e6), between(-3.0, 3.0))
def test_feather_stress_is_linear(degrees, pressure, shear, factor):
    angle = f"{degrees!r} deg"
    whole = lb.feather_index(angle, pressure, shear).loaded_face
    parts = lb.feather_index(angle, pressure).loaded_face + lb.feather_index(angle, 0.0, shear).loaded_face
    close(whole, parts, 1e-9, 1e-3)
    close(
        lb.feather_index(angle, 0.0, factor * shear).free_face,
        factor * lb.feather_index(angle, 0.0, shear).free_face,
        1e-9,
        1e-6,
    )


# --- wear ----------------------------------------------------------------------------------------------------------------


@some(4)
@given(nips(), near(3.0))
def test_a_softer_blade_wears_the_same_sooner(case, factor):
    """Archard's constant and the distance count by their product only (Archard 1953)."""
    softer = case.replace({"blade.specific_wear": factor * case["blade.specific_wear"]})
    one, two = lb.wear(case, 300.0).dataset, lb.wear(softer, 300.0 / factor).dataset
    for name in ("facet_length", "bedded_angle", "film_on_lands", "removed_area"):
        close(float(two[name][-1]), float(one[name][-1]), 1e-4)
    assert np.all(np.diff(one["removed_area"]) >= 0.0)
    assert np.all(np.diff(one["length_lost"]) >= -1e-15)


@some(3)
@given(nips(), between(0.2, 0.8))
def test_a_distance_in_two_parts_is_the_whole(case, share):
    """Beside a floating holder nothing is set anew between them."""
    floating = case.replace({"setting.holding": "floating"})
    one = lb.wear(floating, 300.0).dataset
    two = lb.wear(floating, [{"distance": 300.0 * share}, {"distance": 300.0 * (1 - share)}]).dataset
    for name in ("facet_length", "film_on_lands", "removed_area", "distance"):
        close(float(two[name][-1]), float(one[name][-1]), 1e-4)


@some(15)
@given(between(1.0, 100.0), near(5.0))
def test_a_roll_wears_in_proportion(load, factor):
    one, two = (lb.roll_wear(CELLS, asperity_load=n) for n in (load, factor * load))
    close(two.distance * factor, one.distance, 1e-9)
    close(two.land_loss, one.land_loss, 1e-9)
    less = lb.roll_wear(CELLS, asperity_load=load, volume_share=0.05)
    assert less.distance < one.distance


# --- the nip -------------------------------------------------------------------------------------------------------------


@some(12)
@given(nips(CELLS))
def test_a_point_balances(case):
    p = lb.solve(case, on_failure="flag")
    numbers = [getattr(p, o.name) for o in lb.output_table()]
    if not p.convergence.ok:
        assert all(math.isnan(v) for v in numbers)
        return
    assert all(math.isfinite(v) for v in numbers)
    close(p.hydrodynamic_lift + p.asperity_load, p.line_load, 1e-4)
    close(p.film_load_share + p.asperity_load_share + p.wedge_load_share, 1.0, 1e-4)
    close(p.power_per_width, p.tangential_load * case["setting.surface_speed"], 1e-12)
    close(p.wear_rate, case["blade.specific_wear"] * p.asperity_load / case["blade.thickness"], 1e-9)
    assert p.film_temperature >= case["ink.temperature"]
    assert p.peak_pressure >= p.bearing_pressure > 0.0
    assert p.film_over_turn >= p.film_on_lands > 0.0
    assert p.film_after_step >= p.film_on_lands * (1 - 1e-9)
    assert p == lb.solve(case, on_failure="flag")  # to the bit


@some(8)
@given(nips(), between(20.0, 60.0))
def test_heat_follows_the_speed_and_andrade(case, degrees):
    """At its reference temperature an ink flows as stated whatever its constant; warmer, it is thinner."""
    at = {"ink.temperature": 273.15 + degrees, "ink.reference_temperature": 273.15 + degrees}
    rest, some_heat = (lb.shear_viscosity(case.replace({**at, "ink.andrade_constant": b}), 1e4) for b in (0.0, 3000.0))
    close(rest, some_heat, 1e-12)
    warm = lb.shear_viscosity(case.replace({**at, "ink.andrade_constant": 3000.0}), 1e4, 283.15 + degrees)
    assert warm < rest


@some(5)
@given(st.permutations([70.0, 95.0, 120.0, 150.0]), st.permutations([28.0, 31.0, 34.0]), st.integers(1, 4))
def test_the_order_of_a_sweep_does_not_matter(loads, angles, threads):
    grid = lb.sweep(SMOOTH, {"setting.line_load": loads, "setting.set_angle_deg": angles}, threads=threads)
    plain = lb.sweep(SMOOTH, {"setting.set_angle_deg": sorted(angles), "setting.line_load": sorted(loads)}, threads=1)
    sorted_grid = grid.sortby(["line_load", "set_angle"]).transpose("set_angle", "line_load")
    for name in ("film_on_lands", "effective_angle", "interference", "excess_after_step"):
        assert np.array_equal(sorted_grid[name].values, plain[name].values)
    film = lb.evaluate(SMOOTH, "film_on_lands", line_load=np.array(loads), set_angle_deg=angles[0], threads=threads)
    assert np.array_equal(film, grid["film_on_lands"].isel(set_angle=0).values)


@some(6)
@given(nips(), st.integers(3, 7))
def test_an_even_nip_is_even_across(case, places):
    one = lb.solve(case, on_failure="flag")
    if not one.convergence.ok:
        return
    across = lb.across_width(case, width="1 m", places=places).dataset
    close(across["film_on_lands"], one.film_on_lands, 1e-6)
    tilted = lb.across_width(case, width="1 m", misalignment="2 um", places=places).dataset
    mirrored = lb.across_width(case, width="1 m", misalignment="-2 um", places=places).dataset
    close(tilted["film_on_lands"].values, mirrored["film_on_lands"].values[::-1], 1e-6)


# --- window --------------------------------------------------------------------------------------------------------------

MAP = lb.sweep(SMOOTH, {"setting.set_angle_deg": np.linspace(26, 36, 9), "setting.line_load": np.linspace(60, 180, 9)})


@some(15)
@given(between(0.15, 0.9), between(0.15, 0.9), st.booleans())
def test_a_window_shrinks_with_its_limit(one, two, turned):
    """Tighter limits take points away, and each point is inside exactly where the limit holds."""
    films = MAP["film_on_lands"]
    tight, wide = sorted(float(films.quantile(q)) for q in (one, two))
    grid = MAP.isel(set_angle=slice(None, None, -1)) if turned else MAP
    inner, outer = (lb.process_window(grid, {"film_on_lands": limit}) for limit in (tight, wide))
    for window, limit in ((inner, tight), (outer, wide)):
        assert np.array_equal(window.inside.sortby("set_angle").values, (films <= limit).values)
    assert not bool((inner.inside & ~outer.inside).any())
    if outer.recommended and inner.recommended:
        assert outer.recommended["line_load"] <= inner.recommended["line_load"]


# --- particles, lines, causes --------------------------------------------------------------------------------------------

POINT = CELLS


@some(8)
@given(st.permutations(lb.example_particles()), st.integers(1, 5))
def test_particles_are_judged_one_by_one(classes, cut):
    whole, first, rest = (lb.scoring(CELLS, part) for part in (classes, classes[:cut], classes[cut:]))
    plain = lb.scoring(CELLS, lb.example_particles())
    for outcome, rate in plain.per_hour.items():
        close(whole.per_hour[outcome], rate, 1e-12)
        close(first.per_hour[outcome] + rest.per_hour[outcome], rate, 1e-9)


@some(8)
@given(between(1e6, 1e12), near(10.0))
def test_twice_the_particles_do_twice_as_much(number, factor):
    grit = lb.example_particles()[2]
    one, two = (
        lb.scoring(CELLS, [grit.replace(tank_rate=0.0, fresh_number=n)]).per_hour for n in (number, factor * number)
    )
    for outcome, rate in one.items():
        close(two[outcome], factor * rate, 1e-9)
    assert one["offered"] > 0.0


@some(5)
@given(between(2e-6, 8e-6), between(20e-6, 60e-6), between(1.1, 2.0))
def test_a_deeper_nick_prints_no_less(depth, width, factor):
    one, two = (
        lb.lines(CELLS, "blade_nick", sizes={"blade_nick": {"depth": d, "width": width}})["blade_nick"]
        for d in (depth, depth * factor)
    )
    assert two.excess_area >= one.excess_area > 0.0


MODELS = lb.CauseModels(CELLS)
ANSWERS = {
    "tone": st.sampled_from(["darker", "lighter"]),
    "moves_with_blade": st.booleans(),
    "goes_when_wiped": st.booleans(),
    "survives_blade_change": st.booleans(),
    "patchy": st.booleans(),
}


@some(20)
@given(st.fixed_dictionaries({}, optional=ANSWERS), between(0.01, 0.5))
def test_probabilities_of_causes(answers, none_share):
    found = lb.trace(lb.Observation(**answers), MODELS, none_share=none_share)
    chances = [cause.probability for cause in found.ranked] + [found.none_of_these]
    close(sum(chances), 1.0, 1e-12)
    assert all(0.0 <= p <= 1.0 for p in chances)
    if not answers:
        close(found.none_of_these, none_share, 1e-9)
    # Bayes' rule: in whatever order the answers come.
    turned = lb.trace(lb.Observation(**dict(reversed(answers.items()))), MODELS, none_share=none_share)
    assert {c.cause: c.probability for c in turned.ranked} == {c.cause: c.probability for c in found.ranked}
