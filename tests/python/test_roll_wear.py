"""Wear of the engraved roll in Python: life against quadrature, dry passes, the worn case, refusals."""

import csv
from pathlib import Path

import pytest

import libblade as lb

LIFE = Path(__file__).parents[1] / "reference" / "roll_wear" / "life.csv"


@pytest.fixture
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_life_against_quadrature(case):
    with LIFE.open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert len(rows) == 5
    for row in rows:
        number = {k: float(v) for k, v in row.items() if k not in {"pattern", "profile"}}
        engraving = {
            "pattern": row["pattern"],
            "profile": row["profile"],
            "screen": 1.0 / number["pitch"],
            "wall_width": number["wall"],
            "cell_depth": number["depth"],
        }
        changes = {f"roll.engraving.{name}": value for name, value in engraving.items()}
        engraved = case.replace(changes | {"roll.radius": number["radius"], "roll.specific_wear": number["wear"]})
        found = lb.roll_wear(engraved, volume_share=number["share"], asperity_load=number["load"])
        assert found.land_loss == pytest.approx(number["land_loss"], rel=1e-9, abs=0.0)
        assert found.wall_width == pytest.approx(number["wall_left"], rel=1e-9, abs=0.0)
        assert found.revolutions == pytest.approx(number["revolutions"], rel=1e-9)
        assert found.distance == pytest.approx(number["distance"], rel=1e-9)
        assert found.hours == pytest.approx(number["distance"] / engraved["setting.surface_speed"] / 3600.0, rel=1e-9)


def test_the_load_is_that_of_the_nip(case):
    found = lb.roll_wear(case)
    point = lb.solve(case)
    assert found.asperity_load == pytest.approx(point.asperity_load, rel=1e-12)
    assert found == lb.roll_wear(case, asperity_load=point.asperity_load)
    assert 100.0 < found.hours < 1e6
    # The worn engraving is a case that solves, with the cells as stated.
    numbers = lb.engraving_numbers(found.worn_case)
    assert numbers.cell_volume == pytest.approx(0.9 * case["roll.engraving.cell_volume"], rel=1e-9, abs=0.0)
    assert lb.solve(found.worn_case).ink_carried < point.ink_carried
    assert lb.Case.from_json(found.worn_case.to_json()) == found.worn_case


def test_dry_passes(case):
    wet = lb.roll_wear(case, asperity_load="50 N/m")
    dry = lb.roll_wear(case, asperity_load="50 N/m", dry_share=1, dry_load="100 N/m")
    assert wet.hours / dry.hours == pytest.approx(538.0, rel=1e-9)  # 2.69e-15 x 100 / (1e-17 x 50)
    some = lb.roll_wear(case, dry_share="0.1 %")
    assert some.dry_load == pytest.approx(lb.solve(case).line_load, rel=1e-12)  # no film carries


def test_worn_engraving_by_hand(case):
    engraved = case.replace(
        {
            "roll.engraving.screen_per_cm": 100,
            "roll.engraving.wall_width": "6 um",
            "roll.engraving.profile": "parabolic",
            "roll.engraving.cell_depth": "20 um",
        }
    )
    worn = lb.worn_engraving(engraved, "5 um")
    assert worn["roll.engraving.cell_depth"] == pytest.approx(15e-6, rel=1e-9, abs=0.0)
    assert worn["roll.engraving.wall_width"] == pytest.approx(100e-6 - 94e-6 * 0.75**0.5, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("bad", "name"),
    [
        ({"volume_share": 1.0}, "volume_share"),
        ({"asperity_load": -1.0}, "asperity_load"),
        ({"asperity_load": 50.0, "dry_share": 2.0}, "dry_share"),
        ({"asperity_load": "50 mm"}, "asperity_load"),
    ],
)
def test_bad_values_are_refused(case, bad, name):
    with pytest.raises(lb.InvalidInput, match=name):
        lb.roll_wear(case, **bad)


def test_nothing_to_lose_is_refused(case):
    with pytest.raises(lb.InvalidInput, match="land_loss"):
        lb.worn_engraving(case, "1 mm")
    with pytest.raises(lb.InvalidInput, match="cells"):
        lb.roll_wear(case.replace({"roll.engraving.pattern": "smooth"}), asperity_load=50.0)
