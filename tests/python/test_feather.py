"""Feather edge in Python: the exact wedge, its sign of drag, slivers of a solved case."""

import csv
import math
from pathlib import Path

import pytest

import libblade as lb

WEDGE = Path(__file__).parents[1] / "reference" / "feather" / "wedge.csv"


@pytest.fixture
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


def test_face_stresses_of_the_wedge():
    with WEDGE.open(encoding="utf-8") as table:
        rows = [{k: float(v) for k, v in row.items()} for row in csv.DictReader(table)]
    assert len(rows) == 6
    for row in rows:
        found = lb.feather_index(f"{row['angle']} deg", row["pressure"], row["shear"])
        # 12 digits in the table; a wedge of 2 deg loses four of the double's.
        assert found.loaded_face == pytest.approx(row["loaded_face"], rel=1e-10)
        assert found.free_face == pytest.approx(row["free_face"], rel=1e-10)
        assert found.peak == max(abs(found.loaded_face), abs(found.free_face))


def test_a_thin_wedge_is_its_leading_terms():
    found = lb.feather_index("1 deg", "0.5 MPa", "0.1 MPa")
    t = math.tan(math.radians(1.0))
    assert found.leading == pytest.approx(3 * 0.5e6 / t**2 + 4 * 0.1e6 / t, rel=1e-12)
    assert found.loaded_face == pytest.approx(found.leading, rel=3e-4)


def test_slivers_of_a_case(case):
    found = lb.sliver_source(case)
    point = lb.solve(case)
    assert found.worn_share == pytest.approx(1.0, rel=1e-9)  # facet "worn"
    assert found.worn_volume == pytest.approx(case["blade.specific_wear"] * point.asperity_load, rel=1e-9, abs=0.0)
    drag = -point.tangential_load / point.facet_length  # doctoring: pushed back
    index = lb.feather_index(f"{point.bedded_angle} rad", point.mean_pressure, drag).peak
    reference = lb.feather_index("30 deg", "0.5 MPa").peak
    assert found.relative_index == pytest.approx(index / reference, rel=1e-9)
    assert found.volume == pytest.approx(0.01 * index / reference * found.worn_volume, rel=1e-9, abs=0.0)
    assert found.peak < 0.05 * case["blade.material.yield_strength"]  # an index, no threshold
    assert lb.sliver_source(case, fraction="2 %").volume == pytest.approx(2 * found.volume, rel=1e-9, abs=0.0)
    # A lower angle strains its edge more.
    flatter = lb.sliver_source(case.replace({"setting.set_angle": "25 deg"}))
    assert flatter.relative_index > found.relative_index


def test_a_half_worn_facet_has_no_feather(case):
    found = lb.sliver_source(case.replace({"tip.facet_length": "200 um"}))
    assert 0.3 < found.worn_share < 0.7
    assert (found.relative_index, found.volume) == (0.0, 0.0)
    assert found.worn_volume > 0.0


@pytest.mark.parametrize(
    ("bad", "name"),
    [
        ({"angle": 0.5, "pressure": 1e6}, "angle"),
        ({"angle": "95 deg", "pressure": 1e6}, "angle"),
        ({"angle": "30 deg", "pressure": -1.0}, "pressure"),
        ({"angle": "30 deg", "pressure": "1 MPa", "shear": "1 mm"}, "shear"),
    ],
)
def test_bad_values_are_refused(bad, name):
    with pytest.raises(lb.InvalidInput, match=name):
        lb.feather_index(**bad)


def test_bad_slivers_are_refused(case):
    with pytest.raises(lb.InvalidInput, match="fraction"):
        lb.sliver_source(case, fraction=1.5)
    with pytest.raises(lb.InvalidInput, match="case"):
        lb.sliver_source("case")
