"""Flow cups through the Python door (the table of values is in tests/cpp/test_flow_cup.cpp)."""

import csv
from pathlib import Path

import numpy as np
import pytest

import libblade as lb


def test_seconds_of_a_cup_are_the_tabulated_viscosity(root: Path):
    # ISO 2431:2011, annex; how obtained: tests/reference/iso_2431
    with (root / "tests/reference/iso_2431/seconds.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert len(rows) > 8
    for row in rows:
        expected = float(row["kinematic_viscosity_mm2_s"]) * 1e-6
        assert lb.flow_cup(row["cup"], float(row["seconds"])) == pytest.approx(expected, rel=1e-7)  # 7 digits or more


def test_array_in_array_out():
    seconds = np.array([[30.0, 60.0], [80.0, 100.0]])
    values = lb.flow_cup("iso_2431_4", seconds)
    assert values.shape == (2, 2)
    assert values == pytest.approx(1e-6 * (1.37 * seconds - 200.0 / seconds), rel=1e-14)
    assert isinstance(lb.flow_cup("iso_2431_4", 60), float)
    assert lb.flow_cup("iso_2431_4", "1 min") == lb.flow_cup("iso_2431_4", 60)
    assert lb.flow_cup("iso_2431_4", [60.0]).shape == (1,)


@pytest.mark.parametrize(
    ("cup", "seconds", "name", "words"),
    [
        ("iso_2431_44", 60, "cup", "nearest is iso_2431_4"),
        ("cup 4", 60, "cup", "known are iso_2431_3"),
        (4, 60, "cup", "standard with its cup number"),
        ("iso_2431_4", 20, "seconds", "between 30 s and 100 s"),
        ("iso_2431_4", [60, 101], "seconds", "between 30 s and 100 s"),
        ("iso_2431_4", float("nan"), "seconds", "finite"),
        ("iso_2431_4", "60 mm", "seconds", "unit of length"),
        ("iso_2431_4", None, "seconds", "finite"),
        ("astm_d4212_1", 25, "seconds", "between 35 s and 80 s"),
    ],
)
def test_flow_cup_refuses(cup, seconds, name, words):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        lb.flow_cup(cup, seconds)
    assert error.value.problems[0].path == name


def test_every_cup_is_listed_with_a_formula_that_gives_its_viscosity():
    cups = lb.flow_cups()
    assert len(cups) == 15
    for cup in cups:
        t = 0.5 * (cup.min_seconds + cup.max_seconds)
        formula = cup.formula.removeprefix("nu = ").replace("a (", "a * (").replace("a t", "a * t")
        nu = eval(formula, {"a": cup.a, "b": cup.b, "t": t})
        assert lb.flow_cup(cup.name, t) == pytest.approx(1e-6 * nu, rel=1e-14)
        assert cup.source
    assert any("withdrawn" in cup.source for cup in cups)


def test_an_ink_from_cup_seconds():
    # By hand: (1.37 x 60 - 200 / 60) mm2/s x 1100 kg/m3 x 0.5 = 43.37667 mPa s
    viscosity = lb.ink_from_cup("iso_2431_4", 60, density="1.1 g/cm3", high_shear_ratio="50 %")
    assert viscosity == pytest.approx(0.0433766667, rel=1e-9)
    ink = lb.Ink(viscosity=viscosity, density="1.1 g/cm3")
    case = lb.example_case("folding_carton_water").replace({"ink.viscosity": viscosity})
    assert lb.shear_viscosity(ink, 1e6) == pytest.approx(viscosity, rel=1e-14)
    assert case["ink.viscosity"] == pytest.approx(viscosity, rel=1e-14)
    assert lb.ink_from_cup("iso_2431_4", [40, 60], density=1100, high_shear_ratio=1).shape == (2,)


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ({"density": 1.1, "high_shear_ratio": 0.5}, "density"),
        ({"density": "1.1 mm", "high_shear_ratio": 0.5}, "density"),
        ({"density": 1100, "high_shear_ratio": 0.0}, "high_shear_ratio"),
        ({"density": 1100, "high_shear_ratio": 50}, "high_shear_ratio"),
        ({"density": 1100, "high_shear_ratio": True}, "high_shear_ratio"),
    ],
)
def test_ink_from_cup_refuses(options, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.ink_from_cup("iso_2431_4", 60, **options)
    assert [problem.path for problem in error.value.problems] == [name]
