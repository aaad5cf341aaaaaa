"""The dry blade: curve with limits, sections and holders in Python, facets on an outline, materials."""

import math

import numpy as np
import pytest

import libblade as lb

THIN = [{"length": "10.5 mm", "thickness": "0.15 mm"}, {"length": "1.5 mm", "thickness": "75 um"}]


@pytest.fixture
def case() -> lb.Case:
    return lb.example_case("folding_carton_water").replace({"setting.chamber_pressure": 0})


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_the_curve_meets_single_solutions(case):
    curve = lb.load_curve(case, max_load=400)
    assert curve.convergence.ok
    for k in range(1, curve.line_load.size, 7):
        at_load = lb.bending(case.replace({"setting.line_load": float(curve.line_load[k])}))
        assert at_load.interference == pytest.approx(curve.interference[k], rel=1e-6)
        at_advance = lb.bending(case.replace({"setting.interference": float(curve.interference[k])}))
        assert at_advance.line_load == pytest.approx(curve.line_load[k], rel=1e-6)
        assert at_load.effective_angle == pytest.approx(curve.effective_angle[k], abs=1e-7)


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_limits_are_where_they_are_named(case):
    thin = case.replace({"blade.sections": THIN})
    curve = lb.load_curve(thin, max_load=700)
    limits = {limit.event: limit for limit in curve.limits}
    flat = limits["lying_flat"]
    assert flat.effective_angle == pytest.approx(0.0, abs=1e-6)
    below = lb.bending(thin.replace({"setting.line_load": 0.999 * flat.line_load}))
    above = lb.bending(thin.replace({"setting.line_load": 1.001 * flat.line_load}))
    assert (below.contact_mode, above.contact_mode) == ("tip", "flat")
    assert above.interference - below.interference < 0.01 * flat.interference
    yields = lb.bending(thin.replace({"setting.line_load": limits["yield"].line_load}))
    assert yields.max_bending_stress == pytest.approx(thin["blade.material.yield_strength"], rel=1e-6)


def test_a_doctoring_blade_digs_in_where_tan_angle_is_one_over_friction(case):
    # Contact force along the strip: no load is too much (statics). Doctoring only.
    steep = case.replace({"setting.set_angle": "65 deg"})
    friction = 1.2 / math.tan(math.radians(65))
    with pytest.raises(lb.NotSolved):
        lb.bending(steep.replace({"setting.interference": "50 um"}), friction=friction)
    trailing = steep.replace({"setting.orientation": "trailing", "setting.interference": "50 um"})
    assert lb.bending(trailing, friction=friction).line_load > 0.0
    events = [limit.event for limit in lb.load_curve(steep, friction=friction, max_load=500, on_failure="flag").limits]
    assert "dig_in" in events


def test_frequencies_of_a_uniform_blade(case):
    # Euler-Bernoulli: (1.87510)^2 and (3.92660)^2 sqrt(D / (rho t)) / (2 pi L^2) (beam tables, e.g. Blevins 1979, from memory)
    t, length = case["blade.thickness"], case["blade.free_length"]
    young, nu, rho = (case[f"blade.material.{name}"] for name in ("youngs_modulus", "poissons_ratio", "density"))
    scale = math.sqrt(young * t**2 / (12 * (1 - nu**2) * rho)) / (2 * math.pi * length**2)
    bent = lb.bending(case)
    assert bent.frequency_free == pytest.approx(1.87510407**2 * scale, rel=1e-5)
    assert bent.frequency_pinned == pytest.approx(3.92660231**2 * scale, rel=1e-5)


def test_plate_and_holder_reach_the_solution(case):
    bare = lb.bending(case)
    backed = lb.bending(case.replace({"blade.backing_length": "6 mm"}))
    assert bare.plate_force == 0.0
    assert backed.plate_force > 0.0
    assert backed.tip_rotation < 0.6 * bare.tip_rotation
    soft = lb.bending(case.replace({"setting.holder_stiffness": "500 N/m/mm"}))
    assert soft.interference - bare.interference == pytest.approx(case["setting.line_load"] / 5e5, rel=5e-3)


@pytest.mark.parametrize("fields", [{}, {"blade.sections": THIN}, {"blade.backing_length": "6 mm"}])
def test_without_friction_the_motion_has_no_say(case, fields):
    # Mirror symmetry: nothing but friction (and chamber pressure) knows which way the roll turns.
    both = [
        lb.bending(case.replace({**fields, "setting.orientation": way}), friction=0)
        for way in ("doctoring", "trailing")
    ]
    assert both[0].effective_angle == both[1].effective_angle
    assert both[0].interference == both[1].interference
    assert both[0].max_bending_stress == both[1].max_bending_stress


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_the_angle_falls_with_the_load_until_the_blade_lies_flat(case):
    for friction in (0.0, 0.3):
        curve = lb.load_curve(case.replace({"blade.sections": THIN}), friction=friction, max_load=900)
        assert np.all(np.diff(curve.line_load) > 0.0)
        on_edge = np.array([mode == "tip" for mode in curve.contact_mode])
        assert np.all(np.diff(curve.effective_angle[on_edge]) < 0.0)
        assert curve.contact_mode[-1] == "flat"


def test_facet_growth_by_hand():
    # Plane geometry: b = z (cot a + tan a) up to t / sin a, area the integral of b.
    angle = math.radians(30)
    grown = lb.facet_growth(0.2e-3, [0.0, 1e-5, 1e-4, 1e-3], angle="30 deg")
    slope = 1 / math.tan(angle) + math.tan(angle)
    np.testing.assert_allclose(grown.length[:3], np.array([0.0, 1e-5, 1e-4]) * slope, rtol=1e-12)
    assert grown.length[3] == pytest.approx(0.2e-3 / math.sin(angle), rel=1e-12)
    assert grown.area[1] == pytest.approx(0.5e-10 * slope, rel=1e-12)
    assert grown.length[1] == pytest.approx(lb.facet_from_retreat(1e-5, angle, thickness="0.2 mm"), rel=1e-12)
    bevelled = lb.facet_growth(0.2e-3, [1e-5, 1e-4], angle="30 deg", bevel_angle="60 deg")
    assert bevelled.front_angle[0] == pytest.approx(math.radians(90), rel=1e-9)  # 180 - 30 - 60
    assert np.all(bevelled.length < grown.length[1:3])


def test_facet_growth_of_a_stepped_case(case):
    thin = case.replace({"blade.sections": THIN})
    grown = lb.facet_growth(thin, [1e-4, 2e-3], angle="30 deg")
    assert grown.length[0] == pytest.approx(75e-6 / math.sin(math.radians(30)), rel=1e-9)
    assert grown.length[1] == pytest.approx(150e-6 / math.sin(math.radians(30)), rel=1e-9)
    # The inner corner of the step reaches the roll after the thin tip's length, and the slant of the cut through its thickness.
    corner = 1.5e-3 + 75e-6 / math.tan(math.radians(30))
    assert any(event.length_lost == pytest.approx(corner, rel=1e-9) for event in grown.events)


def test_a_new_edge(case):
    # Line contact (Johnson 1985, ch. 4): 2 a = 2 sqrt(4 P R / (pi E*)), mean pressure P / (2 a), below the hardness here.
    new = lb.edge_contact(case, 100, angle="28 deg", edge_radius="5 um")
    give = sum(
        (1 - case[f"{part}.material.poissons_ratio"] ** 2) / case[f"{part}.material.youngs_modulus"]
        for part in ("blade", "roll")
    )
    assert new.width == pytest.approx(2 * math.sqrt(4 * 100 * 5e-6 * give / math.pi), rel=1e-12)
    assert new.mean_pressure == pytest.approx(100 / new.width, rel=1e-12)
    assert not new.plastic
    assert lb.edge_contact(case, 100, angle="28 deg", edge_radius=0).plastic  # a sharp corner always yields
    sharp = lb.edge_contact(case, 100, angle="28 deg", edge_radius=0).mean_pressure
    # Hill 1950 (from memory): a wedge of interior angle w yields at H (1 + w / 2) / (1 + pi / 2), square edge 0.69 H.
    assert sharp == pytest.approx(0.6945 * case["blade.material.hardness"], rel=1e-3)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: lb.facet_growth(0.2e-3, [1e-5], angle=0.5), "angle"),
        (lambda: lb.facet_growth(0.2e-3, [-1e-5], angle="30 deg"), "retreat"),
        (lambda: lb.facet_growth(0.0, [1e-5], angle="30 deg"), "blade"),
        (lambda: lb.facet_growth(0.2e-3, [1e-5], angle="30 deg", bevel_angle="60 deg", bevel_side="up"), "bevel_side"),
        (lambda: lb.load_curve(lb.example_case("folding_carton_water"), max_load=-1), "max_load"),
    ],
)
def test_bad_values_are_refused(call, name):
    with pytest.raises(lb.InvalidInput, match=name):
        call()


def test_named_materials(case):
    names = {entry.name for entry in lb.solids_table()}
    assert {"carbon steel", "stainless steel", "tool steel", "polymer", "fibre composite"} == names
    soft = case.replace({"blade.material.grade": "polymer"})
    entry = next(entry for entry in lb.solids_table() if entry.name == "polymer")
    assert soft["blade.material.youngs_modulus"] == entry.youngs_modulus[0]
    assert soft["blade.material.grade"] == "polymer"
    own = soft.replace({"blade.material.hardness": "0.2 GPa"})
    assert own.get("blade.material.grade") is None
    assert lb.Case.from_json(own.to_json()) == own
    with pytest.raises(lb.InvalidInput, match="polymer"):
        case.replace({"blade.material.grade": "polymr"})


def test_pictures_take_and_return_axes(case):
    plt = pytest.importorskip("matplotlib.pyplot")
    figure, (left, right) = plt.subplots(1, 2)
    curve = lb.load_curve(case.replace({"blade.sections": THIN}), max_load=600)
    assert lb.plot_load_curve(curve, left) is left
    assert "N/m" in left.get_ylabel()
    softer = lb.load_curve(case.replace({"blade.free_length": "20 mm"}), max_load=200)
    lb.plot_load_curve(softer, left)
    assert left.get_xlim()[1] > 1e3 * max(curve.interference.max(), softer.interference.max())
    assert left.get_xlim()[0] == 0.0
    assert lb.plot_rising_load(case, [20, 100, 300], right) is right
    assert "mm" in right.get_xlabel()
    words = lb.describe_load_curve(curve)
    assert "lies flat" in words
    assert "not about a press" in words
    plt.close(figure)
