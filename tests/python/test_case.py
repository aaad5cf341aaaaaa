"""Cases at the door: values, units, errors, warnings, equality."""

import json
import pickle
import warnings

import numpy as np
import pytest
import xarray as xr

import libblade as lb
from libblade import _core

PARTS = {
    "blade": lb.Blade(free_length="12 mm", thickness_mm=0.15),
    "tip": lb.Facet(facet_length="worn", bedding="here"),
    "roll": lb.Roll(radius=0.07, engraving=lb.Engraving(pattern="hexagon", screen="120 1/cm")),
    "ink": lb.Ink(viscosity="30 mPa s", density=1100),
    "setting": lb.Setting(set_angle_deg=30, line_load="120 N/m", surface_speed="300 m/min"),
}


@pytest.fixture
def case() -> lb.Case:
    return lb.Case(**PARTS, name="test")


def problems_of(error: pytest.ExceptionInfo[lb.InvalidInput]) -> dict[str, str]:
    return {problem.path: problem.message for problem in error.value.problems}


def test_units_are_taken_in_every_dress(case):
    assert case["blade.thickness"] == pytest.approx(0.15e-3, rel=1e-15)
    assert case["setting.set_angle"] == pytest.approx(np.radians(30), rel=1e-15)
    assert case["setting.surface_speed"] == pytest.approx(5.0, rel=1e-15)
    assert case["roll.engraving.screen"] == pytest.approx(12000.0, rel=1e-15)
    assert case["setting.set_angle_deg"] == pytest.approx(30.0, rel=1e-15)
    assert case.blade.thickness == case["blade.thickness"]
    assert case.roll.engraving.pattern == "hexagon"
    assert case.blade.material.youngs_modulus == 205e9


def test_quantities_are_taken_as_they_are():
    pint = pytest.importorskip("pint")
    unit = pint.UnitRegistry()
    parts = {
        **PARTS,
        "blade": lb.Blade(free_length=12 * unit.mm, thickness=0.15 * unit.millimeter),
        "setting": lb.Setting(
            set_angle=30 * unit.degree,
            line_load=0.12 * unit.N / unit.mm,
            surface_speed=xr.DataArray(300.0, attrs={"units": "m/min"}),
        ),
    }
    case = lb.Case(**parts)
    assert case["blade.thickness"] == pytest.approx(0.15e-3, rel=1e-12)
    assert case["setting.set_angle"] == pytest.approx(np.radians(30), rel=1e-12)
    assert case["setting.line_load"] == pytest.approx(120.0, rel=1e-12)
    assert case["setting.surface_speed"] == pytest.approx(5.0, rel=1e-12)
    assert case.replace({"setting.surface_speed": 6 * unit.m / unit.s})["setting.surface_speed"] == 6.0
    with pytest.raises(lb.InvalidInput, match=r"blade\.thickness"):
        case.replace({"blade.thickness": 3 * unit.second})


def test_a_case_goes_through_json_and_pickle(case):
    assert lb.Case.from_json(case.to_json()) == case
    assert pickle.loads(pickle.dumps(case)) == case
    assert hash(pickle.loads(pickle.dumps(case))) == hash(case)
    assert case.to_dict()["name"] == "test"


def test_a_case_is_made_again_from_its_parts(case):
    again = lb.Case(blade=case.blade, tip=case.tip, roll=case.roll, ink=case.ink, setting=case.setting, name="test")
    assert again == case
    assert pickle.loads(pickle.dumps(case.setting)) == case.setting


def test_replace_makes_a_new_case(case):
    other = case.replace({"setting.set_angle": "28 deg", "ink.viscosity": "60 mPa s"})
    assert other != case
    assert other["setting.set_angle_deg"] == pytest.approx(28.0)
    assert case["setting.set_angle_deg"] == pytest.approx(30.0)
    assert other.replace({"setting.set_angle": "30 deg", "ink.viscosity": 0.03}) == case


def test_a_choice_of_load_replaces_the_other(case):
    other = case.replace({"setting.interference": "0.3 mm"})
    assert other.get("setting.line_load") is None
    assert other["setting.interference"] == pytest.approx(0.3e-3)
    with pytest.raises(KeyError):
        other["setting.line_load"]


def test_bedding_elsewhere_takes_both_values(case):
    moved = case.replace({"tip.bedding": "elsewhere", "tip.bedded_set_angle": "32 deg", "tip.bedded_line_load": 110})
    assert moved["tip.bedding"] == "elsewhere"
    assert moved["tip.bedded_set_angle_deg"] == pytest.approx(32.0)
    with pytest.raises(lb.InvalidInput, match="bedded_line_load"):
        case.replace({"tip.bedding": "elsewhere", "tip.bedded_set_angle": "32 deg"})


def test_optional_fields_come_and_go(case):
    fed = case.replace({"setting.film_supply": "5 um"})
    assert fed["setting.film_supply"] == pytest.approx(5e-6)
    assert fed.replace({"setting.film_supply": None}) == case


def test_every_problem_is_named_at_once():
    with pytest.raises(lb.InvalidInput) as error:
        lb.Case(
            blade=lb.Blade(free_length="12 mm", thickness="3 s"),
            roll=lb.Roll(radius=0.07),
            ink=lb.Ink(viscosity="30 mPa s"),
            setting=lb.Setting(set_angle=30, line_load="120 N/m"),
        )
    found = problems_of(error)
    assert set(found) == {"blade.thickness", "setting.set_angle", "setting.surface_speed"}
    assert "30 deg" in found["setting.set_angle"]
    assert isinstance(error.value, ValueError)
    assert len(str(error.value).splitlines()) == 3
    assert pickle.loads(pickle.dumps(error.value)).problems == error.value.problems


@pytest.mark.parametrize(
    ("fields", "path"),
    [
        ({"thicknes": "0.2 mm"}, "thicknes"),
        ({"material": {"youngs": 1e9}}, "material.youngs"),
        ({"thickness_deg": 3}, "thickness_deg"),
    ],
)
def test_components_refuse_unknown_names(fields, path):
    with pytest.raises(lb.InvalidInput) as error:
        lb.Blade(**fields)
    assert path in problems_of(error)


@pytest.mark.parametrize(
    ("changes", "path"),
    [
        ({"setting.set_angel": "30 deg"}, "setting.set_angel"),
        ({"setting.set_angle": 30}, "setting.set_angle"),
        ({"setting.set_angle": "30 mm"}, "setting.set_angle"),
        ({"blade.thickness_mm": "0.2 mm"}, "blade.thickness_mm"),
        ({"blade.thickness": float("nan")}, "blade.thickness"),
        ({"blade.thickness": True}, "blade.thickness"),
        ({"blade.thickness": [1e-4, 2e-4]}, "blade.thickness"),
        ({"blade.thickness": None}, "blade.thickness"),
        ({"setting.holding": "loose"}, "setting.holding"),
        ({"setting.holding": 3}, "setting.holding"),
        ({"setting.line_load": 100, "setting.interference": "0.2 mm"}, "setting.interference"),
        ({"blade.thickness_mm": 0.2, "blade.thickness": 2e-4}, "blade.thickness"),
        ({"name": 3}, "name"),
        ({"blade": 3}, "blade"),
    ],
)
def test_replace_refuses(case, changes, path):
    with pytest.raises(lb.InvalidInput) as error:
        case.replace(changes)
    assert path in problems_of(error)


def test_a_mistyped_path_names_the_nearest(case):
    with pytest.raises(lb.InvalidInput, match=r"nearest is setting\.set_angle"):
        case.replace({"setting.set_angel": "30 deg"})
    with pytest.raises(lb.InvalidInput, match=r"nearest is setting\.set_angle"):
        case["setting.set_angel"]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), np.array([1.0, 2.0]), object(), False])
def test_a_case_refuses_what_is_no_number(value):
    with pytest.raises(lb.InvalidInput, match=r"blade\.thickness"):
        lb.Case(**{**PARTS, "blade": {"free_length": "12 mm", "thickness": value}})


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"blade": {"thickness": 1, "thickness": 2}}', '{"blade": null}'])
def test_bad_json_is_refused(text):
    with pytest.raises(lb.InvalidInput):
        lb.Case.from_json(text)


def test_a_case_file_is_read(case, tmp_path):
    path = tmp_path / "case.json"
    path.write_text(case.to_json(), encoding="utf-8")
    assert lb.load_case(path) == case
    assert lb.load_case(str(path)) == case


def test_files_that_cannot_be_read_are_refused(tmp_path):
    for name in ("nothing.json", "."):
        with pytest.raises(lb.InvalidInput):
            lb.load_case(tmp_path / name)
    (tmp_path / "bytes.json").write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(lb.InvalidInput):
        lb.load_case(tmp_path / "bytes.json")


def test_unusual_values_warn_and_stay(case):
    with pytest.warns(lb.LibbladeWarning, match=r"blade\.thickness") as seen:
        thin = case.replace({"blade.thickness": "0.03 mm"})
    assert thin["blade.thickness"] == pytest.approx(3e-5)
    assert seen[0].filename == __file__
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        thin.replace({"setting.set_angle": "31 deg"})  # only what was changed is named


def test_examples_come_with_the_package():
    names = lb.example_cases()
    assert len(names) >= 3
    for name in names:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            case = lb.Case.from_json(lb.example_case(name).to_json())
        assert "nvented" in case.note, "invented data says so"
    with pytest.raises(lb.InvalidInput, match="nearest is " + names[0]):
        lb.example_case(names[0][:-1])


def test_repr_names_the_case_and_its_units(case):
    lines = repr(case).splitlines()
    assert lines[0] == 'Case "test"'
    assert "thickness=0.15 mm" in lines[1]
    assert "set_angle=30 deg" in lines[-1]


def test_parts_cannot_be_changed(case):
    with pytest.raises(AttributeError):
        case.blade.thickness = 3.0
    with pytest.raises(AttributeError):
        case.blade.nothing


def test_the_field_table_is_complete():
    table = lb.field_table()
    paths = [field.path for field in table]
    assert len(set(paths)) == len(paths)
    for field in table:
        assert field.meaning
        if field.kind == "number":
            assert field.hard_range[0] <= field.usual_range[0] < field.usual_range[1] <= field.hard_range[1], field.path
            assert field.unit, field.path
            assert field.source, field.path
        else:
            assert len(field.choices) > 1, field.path


def test_json_of_a_case_is_plain(case):
    assert json.loads(case.to_json())["blade"]["thickness"] == pytest.approx(1.5e-4)


def test_one_version():
    from importlib.metadata import version

    assert lb.__version__ == _core.version == version("libblade")


def test_a_blade_of_sections():
    plain = lb.example_case(lb.example_cases()[0])
    sections = [{"length": "10.5 mm", "thickness": "0.2 mm"}, {"length_mm": 1.5, "thickness_um": 75, "flush": "away"}]
    case = plain.replace({"blade.sections": sections})
    assert case["blade.sections.1.thickness_um"] == pytest.approx(75)
    assert case.get("blade.thickness") is None
    assert case.blade.sections[1].flush == "away"
    assert lb.Case.from_json(case.to_json()) == case
    assert case.replace({"blade.sections.1.thickness": "90 um"})["blade.sections.1.thickness"] == pytest.approx(90e-6)
    uniform = case.replace({"blade.sections": None})
    assert uniform["blade.thickness"] == pytest.approx(0.2e-3)
    assert uniform["blade.free_length"] == pytest.approx(12e-3)
    made = lb.Case(
        blade=lb.Blade(sections=sections), roll=plain.roll, ink=plain.ink, tip=plain.tip, setting=plain.setting
    )
    assert made.blade.sections[0].length == case.blade.sections[0].length
    for bad in ([{"length": "10 mm"}], [3.0], "thin", [{"length": "10 mm", "thickness": "0.2 mm"}] * 9):
        with pytest.raises(lb.InvalidInput, match=r"blade\.sections"):
            plain.replace({"blade.sections": bad})
    with pytest.raises(lb.InvalidInput, match="made of sections"):
        case.replace({"blade.thickness": "0.2 mm"})


CURVE = [
    lb.BearingPoint(gap="0 um", pressure="300 MPa"),
    {"gap_um": 0.4, "pressure_MPa": 20},
    lb.BearingPoint(gap=1e-6, pressure=1e5),
]


def test_a_bearing_curve(case):
    assert case.get("roll.bearing_curve.0.gap") is None
    measured = case.replace({"roll.bearing_curve": CURVE})
    assert measured["roll.bearing_curve.1.gap_um"] == pytest.approx(0.4)
    assert [point.pressure for point in measured.roll.bearing_curve] == pytest.approx([3e8, 2e7, 1e5])
    assert lb.Case.from_json(measured.to_json()) == measured
    assert measured.replace({"roll.bearing_curve": None}) == case
    assert measured.replace({"roll.bearing_curve": measured.roll.bearing_curve}) == measured
    engraving = case.roll.engraving
    made = lb.Case(**{**PARTS, "roll": lb.Roll(radius=0.07, engraving=engraving, bearing_curve=CURVE)}, name="test")
    assert made == measured
    again = lb.Case(**{**PARTS, "roll": measured.roll}, name="test")
    assert again == measured
    for bad, words in (
        ([CURVE[0]], "takes 2 to 12 points"),
        ([CURVE[0], {"gap": "1 um"}], "a point takes gap and pressure"),
        ([CURVE[1], CURVE[0]], "must be larger than"),
        ([CURVE[0], {"gap": "1 um", "pressure": "300 MPa"}], "must be smaller than"),
        ([CURVE[0]] * 13, "at most 12 points"),
        ([3.0], "must be a list of points"),
        ("steep", "must be a list of points"),
    ):
        with pytest.raises(lb.InvalidInput, match=words) as error:
            case.replace({"roll.bearing_curve": bad})
        assert all(path.startswith("roll.bearing_curve") for path in problems_of(error))
    with pytest.raises(lb.InvalidInput, match="has no point 3"):
        measured.replace({"roll.bearing_curve.3.gap": "2 um"})
    with pytest.raises(lb.InvalidInput):
        lb.BearingPoint(gap="1 um", load=3)


def test_laws_of_an_ink(case):
    power = case.replace({"ink.rheology.law": "power_law", "ink.rheology.consistency": 3, "ink.rheology.exponent": 0.7})
    law = lb.PowerLaw(consistency=3, exponent=0.7)
    assert lb.Case(**{**PARTS, "ink": lb.Ink(rheology=law, density=1100)}, name="test") == power
    assert power.ink.rheology.consistency == 3
    # de Waele 1923, Ostwald 1925: K rate^(n - 1)
    assert lb.shear_viscosity(power, 1e6) == pytest.approx(3 * 1e6**-0.3, rel=1e-12)
    law = lb.CarreauYasuda(
        zero_shear_viscosity="0.2 Pa s", infinite_shear_viscosity="30 mPa s", time_constant="0.1 ms", exponent=0.4
    )
    carreau = lb.Case(**{**PARTS, "ink": lb.Ink(rheology=law)})
    assert carreau["ink.rheology.transition"] == 2.0
    # Carreau 1972: eta_inf + (eta_0 - eta_inf) (1 + (lambda rate)^2)^((n - 1) / 2), lambda rate = 3
    assert lb.shear_viscosity(carreau, 3e4) == pytest.approx(0.03 + 0.17 * 10.0**-0.3, rel=1e-12)
    for path, value in (
        ("ink.rheology.exponent", 1.6),
        ("ink.rheology.transition", 11),
        ("ink.rheology.infinite_shear_viscosity", "0.3 Pa s"),
        ("ink.vogel_temperature", 251),
    ):
        with pytest.raises(lb.InvalidInput) as error:
            carreau.replace({path: value})
        assert path in problems_of(error)
    warmed = case.replace({"ink.andrade_constant": 900.0, "ink.vogel_temperature": "180 K"})
    assert warmed["ink.vogel_temperature_K"] == 180.0


def test_cells_by_depth_or_volume(case):
    deep = case.replace({"roll.engraving.cell_depth": "14 um", "roll.engraving.profile": "parabolic"})
    assert deep.get("roll.engraving.cell_volume") is None
    assert lb.Case.from_json(deep.to_json()) == deep
    cells = {**dict(deep.roll.engraving), "screen_angle": "30 deg", "pattern": "elongated", "aspect": 1.4}
    turned = lb.Case(**{**PARTS, "roll": lb.Roll(radius=0.07, engraving=lb.Engraving(**cells))})
    assert turned["roll.engraving.screen_angle_deg"] == pytest.approx(30.0)
    assert turned.roll.engraving.aspect == 1.4
    again = lb.Case(
        **{**PARTS, "roll": lb.Roll(radius=0.07, engraving=turned.roll.engraving)}
    )  # SI: its angle is in rad
    assert again == turned
    assert lb.Case(**{**PARTS, "roll": pickle.loads(pickle.dumps(turned.roll))}) == turned
    assert turned.replace({"roll.engraving.pattern": "hexagon"})["roll.engraving.aspect"] == 1.0
    with pytest.raises(lb.InvalidInput, match="elongated"):
        case.replace({"roll.engraving.aspect": 1.4})
    volume = deep.replace({"roll.engraving.cell_volume": "5 cm3/m2"})
    assert volume.get("roll.engraving.cell_depth") is None
    # 120 cells/cm, walls of 6 um: (1 - 6 / 83.33)^2 open, half of 14 um deep on average
    kept = deep.replace({"roll.engraving.cell_depth": None})
    assert kept["roll.engraving.cell_volume"] == pytest.approx((1 - 6e-6 * 12000) ** 2 * 7e-6, rel=1e-12)
    both = {"cell_volume": "5 cm3/m2", "cell_depth": "14 um"}
    with pytest.raises(lb.InvalidInput, match="state one of the two"):
        case.replace({f"roll.engraving.{name}": value for name, value in both.items()})
    with pytest.raises(lb.InvalidInput, match="state one of the two"):
        lb.Case(**{**PARTS, "roll": lb.Roll(radius=0.07, engraving=both)})
