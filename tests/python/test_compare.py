"""Variants side by side, each at its own best setting."""

import matplotlib as mpl
import numpy as np
import pytest

import libblade as lb

mpl.use("Agg")

CASE = lb.example_case("folding_carton_water").replace({"setting.load_step": "2 %"})
FIELDS = {"setting.set_angle_deg": [26.0, 30.0, 34.0, 38.0], "setting.line_load": [60.0, 90.0, 120.0, 150.0, 180.0]}
LIMITS = {"film_on_lands": "6 %", "mean_pressure": "0.5 MPa"}
VARIANTS = {
    "0.2 mm steel": {},
    "0.15 mm steel": {"blade.thickness": "0.15 mm"},
    "rough roll": {"roll.land_roughness": "0.4 um"},
}


@pytest.fixture(scope="module")
def comparison() -> lb.Comparison:
    return lb.compare(CASE, VARIANTS, LIMITS, FIELDS)


def test_each_is_told_at_its_own_best_setting(comparison):
    data = comparison.dataset
    assert list(data.variant.values) == list(VARIANTS)
    for name in ("0.2 mm steel", "0.15 mm steel"):
        own = lb.find_window(CASE.replace(VARIANTS[name]), FIELDS, LIMITS)
        one = data.sel(variant=name)
        assert float(one.line_load) == own.recommended.line_load
        point = lb.solve(own.case)
        assert float(one.film_on_lands) == pytest.approx(point.film_on_lands, rel=1e-12)
        assert float(one.mean_pressure) == pytest.approx(point.mean_pressure, rel=1e-12)
        assert float(one.window_share) == own.contains.values.mean()
        good = own.contains.sel(line_load=own.recommended.line_load).values
        angles = own.contains.set_angle.values[good]
        assert float(one.set_angle_width) == pytest.approx(np.ptp(angles))  # the good ones are neighbours here


def test_one_without_a_window_says_why(comparison):
    one = comparison.dataset.sel(variant="rough roll")
    assert np.isnan(one.line_load)
    assert str(one.reason.item()) == "no window: ink left on the lands never met"
    assert "| rough roll | - | - |" in str(comparison)
    assert "rough roll: no window" in lb.describe_comparison(comparison)


def test_the_picture_shows_the_numbers_of_the_table(comparison):
    axes = lb.plot_comparison(comparison, ["mean_pressure"])
    assert len(axes) == 3
    lengths = [bar.get_width() for bar in axes[2].patches]
    expected = comparison.dataset.mean_pressure.values * 1e-6
    assert lengths[:2] == pytest.approx(expected[:2])
    assert lengths[2] == 0.0
    assert [t.get_text() for t in axes[0].texts] == ["no window"]
    with pytest.raises(lb.InvalidInput, match="names"):
        lb.plot_comparison(comparison, ["nothing"])


def test_bad_variants_are_named():
    with pytest.raises(lb.InvalidInput) as error:
        lb.compare(CASE, {"a": {"blade.thickness": "-1 mm"}, "b": {"nothing": 1}}, LIMITS, FIELDS)
    paths = [problem.path for problem in error.value.problems]
    assert paths[0].startswith("variants.a.")
    assert paths[1].startswith("variants.b.")
    with pytest.raises(lb.InvalidInput, match="variants"):
        lb.compare(CASE, {}, LIMITS, FIELDS)
