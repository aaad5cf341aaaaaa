"""Plane flow of inks through the Python door (more in tests/cpp/test_ink_flow.cpp)."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

import libblade as lb

PARAMETERS = {
    "power_law": ("consistency", "exponent"),
    "cross": ("zero_shear_viscosity", "infinite_shear_viscosity", "time_constant", "exponent"),
    "carreau_yasuda": (
        "zero_shear_viscosity",
        "infinite_shear_viscosity",
        "time_constant",
        "exponent",
        "transition",
    ),
}
KINDS = {"power_law": lb.PowerLaw, "cross": lb.Cross, "carreau_yasuda": lb.CarreauYasuda}
SHEET = lb.PowerLaw(consistency=0.8, exponent=0.6)


def rows(root: Path, name: str) -> list[dict[str, str]]:
    with (root / "tests/reference/bird_armstrong_hassager_1987" / name).open(encoding="utf-8") as table:
        return list(csv.DictReader(table))


def test_random_cases_of_three_laws(root):
    cases = rows(root, "plane_flow.csv")
    assert len(cases) == 30
    for row in cases:
        names = PARAMETERS[row["law"]]
        law = KINDS[row["law"]](**{name: float(row[key]) for name, key in zip(names, "abcde", strict=False)})
        got = lb.plane_flow(law, float(row["gap"]), float(row["speed"]), float(row["pressure_gradient"]))
        assert got.convergence.ok
        assert got.flow == pytest.approx(float(row["flow"]), rel=1e-9)  # 12 digits, confirmed to 2e-8 by an ODE
        assert got.moving_wall_stress == pytest.approx(float(row["moving_wall_stress"]), rel=1e-9)


def test_couette_poiseuille_values(root):
    # The cases of the reference's README, the three of the power law as one array.
    expected = {(row["case"], row["quantity"]): float(row["value"]) for row in rows(root, "couette_poiseuille.csv")}
    got = lb.plane_flow(SHEET, [50e-6, 20e-6, 20e-6], [0.0, 1.0, 1.0], np.array([-10.0, -10.0, 40.0]) * 1e6)
    thin = lb.CarreauYasuda(
        zero_shear_viscosity=0.2, infinite_shear_viscosity=0.02, time_constant="1 ms", exponent=0.5, transition=2.0
    )
    ten = lb.plane_flow(lb.Ink(rheology=thin), "20 um", 1.0, -20e6)
    flows = {"G8": got.flow[0], "G9+": got.flow[1], "G9-": got.flow[2], "G10": ten.flow}
    stresses = {"G9+": got.moving_wall_stress[1], "G9-": got.moving_wall_stress[2], "G10": ten.moving_wall_stress}
    assert len(expected) == 7
    for (case, quantity), value in expected.items():
        number = flows[case] if quantity == "flow" else stresses[case]
        assert abs(number) == pytest.approx(value, rel=1e-9)  # ten digits; the table states sizes
    # Poiseuille flow of a power law: q = n / (2 n + 1) (h^2 / 2) (h G / 2 K)^(1/n)
    assert got.flow[0] == pytest.approx(0.6 / 2.2 * 0.5 * 50e-6**2 * (50e-6 * 1e7 / 1.6) ** (1 / 0.6), rel=1e-9)


def test_newtonian_closed_form_and_broadcasting():
    h, U, G = np.array([1e-6, 2e-6, 5e-6]), np.array([[0.0], [5.0]]), 1e9
    got = lb.plane_flow(lb.Ink(viscosity="30 mPa s"), h, U, G)
    assert got.flow.shape == got.fixed_wall_stress.shape == (2, 3)
    # Momentum over the gap: the walls' stresses differ by h dp/dx; brakes the moving wall: eta U / h + h dp/dx / 2.
    assert got.flow == pytest.approx(0.5 * U * h - h**3 * G / (12 * 0.03), rel=1e-11)
    assert got.moving_wall_stress == pytest.approx(0.03 * U / h + 0.5 * h * G, rel=1e-11)
    assert got.fixed_wall_stress == pytest.approx(0.03 * U / h - 0.5 * h * G, rel=1e-10, abs=1e-9)
    one = lb.plane_flow(lb.Ink(viscosity="30 mPa s"), "1 um", 5.0, G)
    assert isinstance(one.flow, float)
    assert one.flow == got.flow[1, 0]


def test_the_mirrored_flow_is_the_same():
    a, b = lb.plane_flow(SHEET, 1e-5, 2.0, -3e7), lb.plane_flow(SHEET, 1e-5, -2.0, 3e7)
    assert (b.flow, b.moving_wall_stress, b.fixed_wall_stress) == (
        -a.flow,
        -a.moving_wall_stress,
        -a.fixed_wall_stress,
    )


def test_temperature_scales_the_stress_at_a_given_rate():
    # Andrade 1930: eta(T) / eta(T_ref) = exp(B (1 / T - 1 / T_ref)).
    warm = {"reference_temperature": 298.15, "temperature": 308.15, "andrade_constant": 4000.0}
    factor = math.exp(4000.0 * (1 / 308.15 - 1 / 298.15))
    hot = lb.PowerLaw(consistency=0.8 * factor, exponent=0.6)
    expected = lb.plane_flow(hot, 1e-5, 2.0, -3e7)
    for got in (
        lb.plane_flow(lb.Ink(rheology=SHEET, **warm), 1e-5, 2.0, -3e7),
        lb.plane_flow(
            lb.Ink(rheology=SHEET, **{**warm, "temperature": 298.15}), 1e-5, 2.0, -3e7, temperature="35 degC"
        ),
    ):
        for name in ("flow", "moving_wall_stress", "fixed_wall_stress"):
            assert getattr(got, name) == pytest.approx(getattr(expected, name), rel=1e-9)
    case = lb.example_case("folding_carton_water")
    whole, part = (lb.plane_flow(ink, 1e-6, 3.0, 1e9) for ink in (case, case.ink))
    assert whole == part


@pytest.mark.parametrize(
    ("arguments", "options", "name", "words"),
    [
        ((0.03, 1e-6, 1.0, 0.0), {}, "ink", "must be an Ink"),
        ((lb.Ink(density=1100), 1e-6, 1.0, 0.0), {}, "ink.viscosity", "is missing"),
        (
            (lb.Cross(zero_shear_viscosity=0.1), 1e-6, 1.0, 0.0),
            {},
            "ink.rheology.infinite_shear_viscosity",
            "is missing",
        ),
        ((lb.PowerLaw(consistency=0.8, exponent=3), 1e-6, 1.0, 0.0), {}, "ink.rheology.exponent", "between"),
        ((SHEET, 0.0, 1.0, 0.0), {}, "gap", "above 0"),
        ((SHEET, [1e-6, math.inf], 1.0, 0.0), {}, "gap", "finite"),
        ((SHEET, 1e-6, math.nan, 0.0), {}, "speed", "finite"),
        ((SHEET, [1e-6] * 2, [1.0] * 3, 0.0), {}, "pressure_gradient", "must broadcast"),
        ((SHEET, 1e-6, 1.0, 0.0), {"temperature": 300}, "temperature", "has no temperature"),
        ((lb.Ink(rheology=SHEET), 1e-6, 1.0, 0.0), {"temperature": 0}, "temperature", "above 0"),
        (
            (lb.Ink(rheology=SHEET, vogel_temperature=200, andrade_constant=100), 1e-6, 1.0, 0.0),
            {"temperature": 199},
            "temperature",
            "vogel_temperature, 200 K",
        ),
        ((SHEET, 1e-6, 1.0, 0.0), {"on_failure": "x"}, "on_failure", "raise"),
    ],
)
def test_it_refuses(arguments, options, name, words):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        lb.plane_flow(*arguments, **options)
    assert error.value.problems[0].path == name
