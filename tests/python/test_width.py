"""Uneven load across the web: balances, orders of magnitude, refusals."""

import numpy as np
import pytest

import libblade as lb


@pytest.fixture
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


def test_an_even_nip_is_even(case):
    even = lb.across_width(case, width="1.2 m", places=5)
    load = lb.solve(case).line_load
    np.testing.assert_allclose(even.dataset["line_load"], load, rtol=1e-6)
    assert even.lifted_share == 0.0
    assert even.wave_stiffening == 1.0


def test_misalignment_is_stiffness_times_advance(case):
    # Springs side by side: the difference between the ends is tangent stiffness times misalignment (small against the advance).
    point = lb.solve(case)
    dry = lb.bending(case, friction=point.friction_coefficient)
    found = lb.across_width(case, width="1.2 m", misalignment="10 um", places=5)
    loads = found.dataset["line_load"].values
    assert loads[-1] - loads[0] == pytest.approx(dry.tangent_stiffness * 10e-6, rel=0.01)
    assert found.largest("line_load").y == pytest.approx(1.2)
    assert found.smallest("line_load").y == 0.0


def test_a_floating_holder_keeps_the_mean_load(case):
    bow = {"width": "1.2 m", "holder_bow": "200 um", "places": 101}
    fixed = lb.across_width(case, outputs=["mean_pressure"], **bow)
    floating = lb.across_width(case.replace({"setting.holding": "floating"}), outputs=["mean_pressure"], **bow)
    load = lb.solve(case).line_load
    assert floating.mean_load == pytest.approx(load, rel=1e-6)
    assert fixed.mean_load < 0.9 * load  # the middle hangs back and nothing makes up for it
    # Mean of a parabola that is 0 at the ends: two thirds of the bow.
    y = floating.dataset["y"].values
    middle, end = floating.dataset["interference"].values[[50, 0]]
    assert end - middle == pytest.approx(200e-6, rel=1e-9)
    assert np.trapezoid(floating.dataset["line_load"].values, y) / 1.2 == pytest.approx(load, rel=1e-6)


def test_a_blade_off_the_roll_is_said_so(case):
    off = lb.across_width(case, width="1.2 m", misalignment="2 mm", places=41, outputs=["excess_ink", "regime"])
    assert 0.1 < off.lifted_share < 0.9
    lifted = off.dataset["line_load"].values == 0.0
    assert lifted.any()
    assert np.isnan(off.dataset["excess_ink"].values[lifted]).all()
    assert "lifted off" in repr(off)


@pytest.mark.parametrize(
    ("bad", "name"),
    [
        ({"width": 0}, "width"),
        ({"width": 1.2, "places": 2}, "places"),
        ({"width": 1.2, "misalignment": "3 deg"}, "misalignment"),
        ({"width": 1.2, "waviness_amplitude": "5 um", "waviness_length": "1 mm"}, "waviness_length"),
    ],
)
def test_bad_values_are_refused(case, bad, name):
    with pytest.raises(lb.InvalidInput, match=name):
        lb.across_width(case, **bad)


def test_worst_of_what_was_not_computed_is_refused(case):
    even = lb.across_width(case, width="1.2 m", places=3, outputs=["excess_ink"])
    with pytest.raises(lb.InvalidInput, match="film_on_lands"):
        even.largest("film_on_lands")
