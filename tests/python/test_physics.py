"""Single physics through the Python doors: shapes, refusals, and one anchor each (more values in tests/cpp)."""

import math

import numpy as np
import pytest

import libblade as lb


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


def test_film_of_a_plane_slider():
    # Closed form (Reynolds 1886): W = 6 eta U L^2 / (h0^2 (K - 1)^2) (ln K - 2 (K - 1) / (K + 1)), K = h1 / h0.
    eta, U, length, h0, ratio = 0.03, 5.0, 1e-3, 5e-6, 2.2
    x = np.linspace(0.0, length, 401)
    film = lb.film(x, h0 * (ratio - (ratio - 1.0) * x / length), speed=U, viscosity=eta)
    exact = 6 * eta * U * length**2 / (h0**2 * (ratio - 1) ** 2) * (math.log(ratio) - 2 * (ratio - 1) / (ratio + 1))
    assert film.load == pytest.approx(exact, rel=1e-4)  # 400 cells, second order
    assert film.pressure.shape == x.shape
    assert film.pressure[0] == pytest.approx(0.0, abs=1e-6 * film.pressure.max())
    assert film.void_fraction.max() == pytest.approx(0.0, abs=1e-9)
    assert repr(film).startswith("converged")


def test_film_takes_an_ink_at_its_own_shear_rate():
    x = np.linspace(0.0, 1e-3, 101)
    gap = np.linspace(1e-5, 5e-6, 101)
    plain = lb.film(x, gap, speed=5.0, viscosity=0.03)
    assert lb.film(x, gap, speed=5.0, ink=lb.Ink(viscosity="30 mPa s")).load == pytest.approx(plain.load, rel=1e-12)
    thinning = lb.Ink(
        rheology=lb.Cross(zero_shear_viscosity=0.1, infinite_shear_viscosity=0.03, time_constant="0.1 ms", exponent=0.7)
    )
    assert plain.load < lb.film(x, gap, speed=5.0, ink=thinning).load < plain.load * 0.1 / 0.03


def test_flow_factor_divides_the_load():
    # q = U h / 2 - phi h^3 / (12 eta) dp/dx: with a constant phi every pressure is divided by it.
    x, gap = np.linspace(0.0, 1e-3, 101), np.linspace(1e-5, 5e-6, 101)
    plain = lb.film(x, gap, speed=5.0, viscosity=0.03)
    assert lb.film(x, gap, speed=5.0, viscosity=0.03, flow_factor=4.0).load == pytest.approx(plain.load / 4.0, rel=1e-9)
    many = lb.film(x, gap, speed=5.0, viscosity=np.full(100, 0.03), flow_factor=np.full(100, 4.0))
    assert many.load == pytest.approx(plain.load / 4.0, rel=1e-9)


@pytest.mark.parametrize(
    ("arguments", "options", "name"),
    [
        (([0, 1, 2], [1, 1]), {"speed": 1, "viscosity": 1}, "gap"),
        (([0, 2, 1], [1, 1, 1]), {"speed": 1, "viscosity": 1}, "x"),
        (([0, 1, 2], [1, -1, 1]), {"speed": 1, "viscosity": 1}, "gap"),
        (([0, 1, 2], [1, math.nan, 1]), {"speed": 1, "viscosity": 1}, "gap"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 0, "viscosity": 1}, "speed"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 1}, "viscosity"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 1, "viscosity": [1, 1, 1]}, "viscosity"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 1, "viscosity": "3 mm"}, "viscosity"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 1, "ink": 3}, "ink"),
        (([0, 1, 2], [1, 1, 1]), {"speed": 1, "viscosity": 1, "film_supply": -1}, "film_supply"),
    ],
)
def test_film_refuses(arguments, options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.film(*arguments, **options)
    assert name in error.value.problems[0].path


def test_bending_of_a_light_load_is_the_cantilever(case):
    # Small deflection (Timoshenko): rotation = N cos a L^2 / (2 D) without friction; pressure and offset off.
    with pytest.warns(lb.LibbladeWarning, match=r"setting\.line_load"):
        light = case.replace({"setting.line_load": 0.5, "setting.chamber_pressure": 0.0, "blade.thickness": "0.2 mm"})
    bent = lb.bending(light, friction=0.0)
    E, nu = case["blade.material.youngs_modulus"], case["blade.material.poissons_ratio"]
    D = E * 0.2e-3**3 / (12 * (1 - nu**2))
    a, length = case["setting.set_angle"], case["blade.free_length"]
    expected = 0.5 * math.cos(a) * length**2 / (2 * D)
    # The force acts at the roll-side corner, t/2 sin a nearer to the clamp: a moment -N t/2 sin a, about 1 % less.
    assert bent.tip_rotation == pytest.approx(expected * (1 - 0.2e-3 * math.tan(a) / length), rel=2e-4)
    assert bent.contact_mode == "tip"
    assert bent.shape.shape == (65, 2)
    assert bent.contact_arc_length == length


def test_bending_goes_back_and_forth_between_load_and_interference(case):
    bent = lb.bending(case, friction=0.1)
    back = lb.bending(case.replace({"setting.interference": bent.interference}), friction=0.1)
    assert back.line_load == pytest.approx(bent.line_load, rel=1e-6)
    assert back.tangential_load == pytest.approx(0.1 * back.line_load, rel=1e-12)


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_a_blade_pressed_flat(case):
    # Linear limit without friction: a cantilever whose end slope is the set angle plus the turn of the roll between first touch
    # and contact, l = sqrt(2 D (a0 + (L - l) / R) / N) (small deflection, any handbook).
    soft = {
        "blade.free_length": "30 mm",
        "blade.thickness": "0.1 mm",
        "roll.radius": "2 m",
        "setting.set_angle": "3 deg",
    }
    flat = lb.bending(case.replace({**soft, "setting.line_load": 10, "setting.chamber_pressure": 0}), friction=0)
    stiffness = case["blade.material.youngs_modulus"] * 1e-12 / 12 / (1 - case["blade.material.poissons_ratio"] ** 2)
    turned = math.radians(3) + flat.overhang / 2.0
    length = math.sqrt(2 * stiffness * turned / 10)
    assert length < 0.03
    assert flat.contact_mode == "flat"
    assert flat.effective_angle == 0.0
    assert flat.contact_arc_length == pytest.approx(length, rel=2e-3)
    assert flat.overhang == pytest.approx(0.03 - flat.contact_arc_length, rel=1e-6)
    with pytest.raises(lb.NotSolved, match="lying_flat"):
        lb.solve(case.replace({**soft, "setting.line_load": 10}))


@pytest.mark.parametrize(
    ("options", "name"), [({"friction": -1}, "friction"), ({"friction": "3 m"}, "friction"), ({"points": 1}, "points")]
)
def test_bending_refuses(case, options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.bending(case, **options)
    assert error.value.problems[0].path == name


def test_greenwood_tripp_integral_at_zero():
    # F_n(0) = 2^(n/2 - 1) Gamma((n + 1) / 2) / sqrt(pi) (moments of the half normal, exact)
    for order in (0.0, 1.0, 1.5, 2.5):
        exact = 2 ** (order / 2 - 1) * math.gamma((order + 1) / 2) / math.sqrt(math.pi)
        assert lb.greenwood_tripp_integral(order, 0.0) == pytest.approx(exact, rel=1e-9)
    table = lb.greenwood_tripp_integral(2.5, [0.0, 1.0, 2.0])
    assert table.shape == (3,)
    assert np.all(np.diff(table) < 0.0)
    assert lb.greenwood_tripp_integral([[1.0], [2.5]], [0.0, 1.0, 2.0]).shape == (2, 3)


@pytest.mark.parametrize(("order", "separation"), [(-1.0, 0.0), (2.5, math.nan), ("a", 0.0)])
def test_greenwood_tripp_integral_refuses(order, separation):
    with pytest.raises(lb.InvalidInput):
        lb.greenwood_tripp_integral(order, separation)


def test_asperity_pressure_scales_as_the_equation():
    # p = (16 sqrt2 pi / 15) product^2 sqrt(ratio) E* F_5/2(h / sigma), sigma = 1.25 Ra (Greenwood & Tripp 1970-71)
    gap, rough, modulus = 0.6e-6, 0.24e-6, 110e9
    p = lb.asperity_pressure(gap, roughness=rough, modulus=modulus, hardness=1e15)
    F = lb.greenwood_tripp_integral(2.5, gap / (1.25 * rough))
    exact = 16 * math.sqrt(2) * math.pi / 15 * 0.05**2 * math.sqrt(0.01) * modulus * F
    assert p == pytest.approx(exact, rel=1e-5)  # table of ln F_5/2
    assert lb.asperity_pressure([gap, 2 * gap], roughness="0.24 um").shape == (2,)
    half = lb.asperity_pressure(gap, roughness=rough, modulus=modulus, hardness=1e15, land_fraction=0.5)
    assert half == pytest.approx(0.5 * p, rel=1e-12)


@pytest.mark.parametrize("options", [{"roughness": 0.0}, {"roughness": "1 s"}, {"roughness": 1e-7, "hardness": -1.0}])
def test_asperity_pressure_refuses(options):
    with pytest.raises(lb.InvalidInput):
        lb.asperity_pressure(1e-6, **options)


def test_taylor_wedge_falls_with_distance():
    wedge = lb.taylor_wedge(np.radians(30.0), [1e-5, 2e-5], viscosity=0.03, speed=5.0)
    assert wedge.pressure_on_blade[0] == pytest.approx(2.0 * wedge.pressure_on_blade[1], rel=1e-12)
    # pressure on the roll p = C eta U / r, C = 2 sin^2 b / (b^2 - sin^2 b) (Taylor 1962)
    b = math.pi / 6
    exact = 2 * math.sin(b) ** 2 / (b**2 - math.sin(b) ** 2) * 0.03 * 5.0 / 1e-5
    assert wedge.pressure_on_roll[0] == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("angle", "r", "speed"), [(0.0, 1e-5, 1.0), (4.0, 1e-5, 1.0), (0.5, 0.0, 1.0), (0.5, 1e-5, math.inf)]
)
def test_taylor_wedge_refuses(angle, r, speed):
    with pytest.raises(lb.InvalidInput):
        lb.taylor_wedge(angle, r, viscosity=0.03, speed=speed)


def test_hertz_line_is_johnsons():
    # Johnson 1985, ch. 4: a = sqrt(4 P R / (pi E*)), p0 = 2 P / (pi a)
    contact = lb.hertz_line([50.0, 100.0], radius=1e-6, modulus=110e9)
    a = math.sqrt(4 * 100 * 1e-6 / (math.pi * 110e9))
    assert contact.half_width[1] == pytest.approx(a, rel=1e-12)
    assert contact.peak_pressure[1] == pytest.approx(2 * 100 / (math.pi * a), rel=1e-12)


@pytest.mark.parametrize(("load", "radius", "modulus"), [(-1, 1, 1), (1, 0, 1), (1, 1, math.nan)])
def test_hertz_line_refuses(load, radius, modulus):
    with pytest.raises(lb.InvalidInput):
        lb.hertz_line(load, radius=radius, modulus=modulus)


def test_shear_viscosity_is_the_cross_law(case):
    # Cross 1965: eta_inf + (eta_0 - eta_inf) / (1 + (lambda rate)^m), at the temperature at which it was stated
    ink = case.ink
    law = ink.rheology
    rate = np.array([0.0, 1e3, 1e6])
    exact = law.infinite_shear_viscosity + (law.zero_shear_viscosity - law.infinite_shear_viscosity) / (
        1 + (law.time_constant * rate) ** law.exponent
    )
    assert np.allclose(lb.shear_viscosity(case, rate, ink.reference_temperature), exact, rtol=1e-12)
    assert lb.shear_viscosity(ink, 1e3) == pytest.approx(float(lb.shear_viscosity(case, 1e3)), rel=1e-12)
    assert lb.shear_viscosity(case, 1e3, 310.0) < lb.shear_viscosity(case, 1e3, 300.0)


@pytest.mark.parametrize(
    ("ink", "rate", "temperature"), [(3, 1.0, 300.0), (None, -1.0, 300.0), (None, 1.0, -3.0), (None, "x", None)]
)
def test_shear_viscosity_refuses(case, ink, rate, temperature):
    with pytest.raises(lb.InvalidInput):
        lb.shear_viscosity(case if ink is None else ink, rate, temperature)


def test_facet_from_retreat_is_plane_geometry():
    # b = z / (sin a cos a) up to t / sin a
    a, t = math.radians(30.0), 2e-4
    facet = lb.facet_from_retreat([0.0, 1e-6, 1.0], a, thickness=t)
    assert facet == pytest.approx([0.0, 1e-6 / (math.sin(a) * math.cos(a)), t / math.sin(a)], rel=1e-12)


@pytest.mark.parametrize(("retreat", "angle", "thickness"), [(-1e-6, 0.5, 1e-4), (1e-6, 2.0, 1e-4), (1e-6, 0.5, 0.0)])
def test_facet_from_retreat_refuses(retreat, angle, thickness):
    with pytest.raises(lb.InvalidInput):
        lb.facet_from_retreat(retreat, angle, thickness=thickness)
