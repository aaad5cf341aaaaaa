"""Lines on the print in Python: results per cause, sizes with units, strips to scale, sentences, refusals."""

import dataclasses
import math
import pickle

import numpy as np
import pytest

import libblade as lb


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def gallery(case):
    return lb.lines(case)


def test_every_cause_has_its_line(gallery, case):
    assert tuple(gallery) == lb.line_causes()
    point = lb.solve(case)
    for cause, line in gallery.items():
        assert line.cause == cause
        assert line.nominal_ink == pytest.approx(point.ink_carried, rel=1e-12)
        assert line.nominal_density == pytest.approx(1.4, rel=1e-12)
        darker = line.density_contrast > 0.0
        assert line.signature.tone == ("darker" if darker else "lighter")
        if cause != "not_this_nip":
            assert (line.ink > line.nominal_ink) == darker
        assert line.film == pytest.approx(0.3 * line.ink, rel=1e-12, abs=0.0) or cause == "not_this_nip"


def test_the_density_follows_from_the_ink(gallery):
    # Tollenaar & Ernst 1961 (from memory) through (nominal, 1.4) under 1.8, proportional transfer: 1.8 (1 - (2/9)^ratio).
    for line in gallery.values():
        ratio = line.film / line.nominal_film
        assert line.density == pytest.approx(1.8 * (1.0 - (2.0 / 9.0) ** ratio), rel=1e-12)


def test_numbers_of_the_nip_reach_the_line(case):
    # A blocked supply and a leaking seal by hand; a plate stands off over (72 D u / N)^(1/3) each side, D of a strip.
    point = lb.solve(case)
    cells = point.ink_carried - point.film_on_lands
    sizes = {
        "blocked_supply": {"filled": "60 %"},
        "leaking_end_seal": {"gap": "12 um"},
        "propped_blade": {"lift": "2 um"},
    }
    found = lb.lines(case, sizes, sizes=sizes)
    assert found["blocked_supply"].ink == pytest.approx(point.ink_carried - 0.4 * cells, rel=1e-9, abs=0.0)
    assert found["leaking_end_seal"].ink == pytest.approx(point.ink_carried + 6e-6, rel=1e-9, abs=0.0)
    D = 205e9 * 0.2e-3**3 / (12 * (1 - 0.29**2))
    assert found["propped_blade"].place[-1] == pytest.approx(
        0.56 * (72 * D * 2e-6 / point.line_load) ** (1 / 3), rel=1e-9
    )
    film = lb.tip_film(
        case,
        effective_angle=point.bedded_angle,
        facet_length=point.facet_length,
        tilt=point.facet_tilt,
        low_gap=point.min_film + 2e-6,
    )
    lifted = film.flow / case["setting.surface_speed"]
    got = found["propped_blade"].ink - cells
    assert got == pytest.approx(lifted, rel=0.03)  # straight lines between lifts, and cells one by one in tip_film


def test_run_out_is_the_nips_own(case):
    line = lb.lines(case, "run_out")["run_out"]
    assert line.sizes["run_out"] == pytest.approx(8e-6)
    point = lb.solve(case)
    most = line.profile.max() - (point.ink_carried - point.film_on_lands)
    assert most == pytest.approx(point.film_over_turn, rel=0.03)
    assert line.repeat == pytest.approx(2 * math.pi * case["roll.radius"], rel=1e-12)


def test_riding_takes_the_state_there_is(case, gallery):
    bedded = lb.solve(case)
    assert not bedded.other_branch_exists
    assert gallery["riding"].sizes["film"] == pytest.approx(bedded.film_after_step, rel=1e-9, abs=0.0)
    floating = case.replace({"setting.holding": "floating", "tip.facet_length": "200 um"})
    resting, riding = lb.solve(floating), lb.solve(floating, "riding")
    line = lb.lines(floating, "riding")["riding"]
    assert resting.other_branch_exists
    assert line.sizes["film"] == pytest.approx(riding.film_on_lands, rel=1e-6, abs=0.0)
    assert math.isnan(line.width)
    assert line.signature.direction == "whole_width"


def test_a_strip_is_to_scale(gallery, case):
    turn = 2 * math.pi * case["roll.radius"]
    strip = gallery["handling_mark"].strip
    assert strip.dims == ("along", "across")
    assert strip.attrs["units"] == "1"
    assert strip.along.attrs["units"] == strip.across.attrs["units"] == "m"
    assert strip.attrs["roll_turn"] == pytest.approx(turn, rel=1e-12)
    step = float(strip.along[1] - strip.along[0])
    assert float(strip.along[-1]) + step / 2 == pytest.approx(1.5 * turn, rel=1e-12)
    middle = strip.sel(across=0.0, method="nearest").values
    marks = np.flatnonzero(middle < 1.39)
    first, second = marks[marks < 240].mean(), marks[marks > 240].mean()
    assert (second - first) * step == pytest.approx(turn, abs=step)


def test_a_tint_and_another_paper(case):
    solid = lb.lines(case, "worn_band")["worn_band"]
    tint = lb.lines(case, "worn_band", law=lb.PrintLaw(tint="50 %"))["worn_band"]
    assert tint.density == pytest.approx(lb.tint_density(0.5, solid.density), rel=1e-12)
    assert abs(tint.density_contrast) < abs(solid.density_contrast)
    law = lb.PrintLaw(transfer=lb.WalkerFetsko(split=0.4))
    other = lb.lines(case, "worn_band", law=law)["worn_band"]
    assert other.film == pytest.approx(lb.ink_transfer(other.ink, law.transfer), rel=1e-12, abs=0.0)


def test_sentences(gallery):
    words = gallery["blade_nick"].describe()
    assert "darker line along the web" in words
    assert "moves with the blade's traverse" in words
    assert "depth 5 \N{MICRO SIGN}m" in words
    assert "goes with a blade change" in words
    assert words.endswith("not about a press.")
    assert "every 440 mm" in gallery["handling_mark"].describe()
    assert "whole width" in repr(gallery["riding"])


def test_results_are_values(gallery):
    line = gallery["scored_roll"]
    assert pickle.loads(pickle.dumps(line)) == line
    assert line != gallery["worn_band"]
    with pytest.raises(dataclasses.FrozenInstanceError):
        line.ink = 0.0


@pytest.mark.parametrize(
    ("causes", "sizes", "name"),
    [
        ("nick", None, "cause"),
        (None, {"scratch": {}}, "cause"),
        ("blade_nick", {"blade_nick": {"depth": "-1 um"}}, r"sizes\.blade_nick\.depth"),
        ("blade_nick", {"blade_nick": {"depth": "1 s"}}, r"sizes\.blade_nick\.depth"),
        ("blade_nick", {"blade_nick": {"dept": "1 um"}}, r"sizes\.blade_nick\.dept.*depth, width"),
        ("blade_nick", {"blade_nick": 5e-6}, r"sizes\.blade_nick"),
        ("not_this_nip", {"not_this_nip": {"direction": "sideways"}}, "direction"),
        ("worn_band", {"worn_band": {"volume_share": 1.2}}, r"sizes\.worn_band\.volume_share"),
    ],
)
def test_refusals(case, causes, sizes, name):
    with pytest.raises(lb.InvalidInput, match=name):
        lb.lines(case, causes, sizes=sizes)


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
def test_an_unsolved_nip_has_no_lines(case):
    flat = case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm", "setting.line_load": 300.0})
    with pytest.raises(lb.NotSolved):
        lb.lines(flat)
