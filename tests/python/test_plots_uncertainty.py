"""Figures of what is not known exactly: axes with units, told apart without colour, sentences with the numbers."""

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")
pytest.importorskip("SALib")

import matplotlib.pyplot as plt  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")

SPREAD = {"setting.set_angle": lb.Normal(sd="1.5 deg"), "roll.land_roughness": lb.Lognormal(relative=0.3)}
MICRO = "\N{MICRO SIGN}"


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def sure(case):
    return lb.uncertainty(case, SPREAD, ["film_on_lands", "effective_angle"], samples=32, rng=1)


@pytest.fixture(scope="module")
def weights(case):
    return lb.sensitivity(case, SPREAD, "film_after_step", samples=16, rng=1)


@pytest.fixture(scope="module")
def fan(case):
    return lb.uncertainty_along(
        case, {"setting.line_load": [160.0, 80.0, 120.0]}, SPREAD, "film_on_lands", samples=16, rng=1
    )


@pytest.fixture(scope="module")
def window(case):
    fields = {"setting.set_angle_deg": [26.0, 29.0, 34.0], "setting.line_load": [80.0, 120.0]}
    return lb.window_probability(case, fields, {"film_after_step": "0.9 um"}, SPREAD, samples=16, rng=1)


def test_the_fan_holds_the_quantiles(fan):
    ax = lb.plot_fan(fan, "film_on_lands")
    assert ax.get_xlabel() == "line load [N/m]"
    assert ax.get_ylabel() == f"ink left on the lands [{MICRO}m]"
    for line, share in zip(ax.lines, (0.1, 0.9, 0.5), strict=True):
        np.testing.assert_array_equal(line.get_xdata(), [80.0, 120.0, 160.0])
        np.testing.assert_allclose(line.get_ydata(), fan.film_on_lands.sel(quantile=share).values[[1, 2, 0]] * 1e6)
    assert {line.get_linestyle() for line in ax.lines} == {"-", "--"}
    words = lb.describe_fan(fan, "film_on_lands")
    p10, _, p90 = fan.film_on_lands.sel(line_load=80.0).values * 1e6
    assert f"eight of ten between {p10:.3g} and {p90:.3g}" in words
    assert "a value" not in words
    assert lb.plot_fan(fan, "film_on_lands", plt.subplots()[1], log=True).get_yscale() == "log"


def test_a_fan_of_few_samples_says_so(fan):
    few = fan.assign(film_on_lands_share=fan.film_on_lands_share * [0.5, 1.0, 1.0])
    labels = [text.get_text() for text in lb.plot_fan(few, "film_on_lands").get_legend().get_texts()]
    assert "of the solved samples alone" in labels
    assert "At worst 50% of the samples have a value" in lb.describe_fan(few, "film_on_lands")


def test_bars_of_rank_correlation_point_both_ways(sure):
    ax = lb.plot_tornado(sure, "film_on_lands")
    by = sure.rank_correlation["film_on_lands"]
    bars = {tick.get_text(): bar for tick, bar in zip(ax.get_yticklabels(), ax.patches, strict=True)}
    assert bars["land roughness"].get_width() == by["roll.land_roughness"] > 0.9
    assert bars["set angle"].get_width() == by["setting.set_angle"] < 0.0
    assert bars["set angle"].get_hatch() != bars["land roughness"].get_hatch()
    assert ax.get_yticklabels()[-1].get_text() == "land roughness"  # on top
    words = lb.describe_tornado(sure)
    assert f"land roughness ({by['roll.land_roughness']:+.2f}), set angle" in words
    p10, _, p90 = np.array(sure.quantiles["film_on_lands"][:3]) * 1e6
    assert f"between {p10:.3g} and {p90:.3g} um" in words


def test_bars_of_indices_have_intervals(weights):
    ax = lb.plot_sensitivity(weights)
    order = np.argsort(weights.total)
    widths = [[bar.get_width() for bar in bars] for bars in ax.containers if hasattr(bars, "patches")]
    np.testing.assert_array_equal(widths, [weights.total[order], weights.first[order]])
    assert ax.get_yticklabels()[-1].get_text() == "set angle"
    assert f"set angle {weights.first[0]:.2f} alone and {weights.total[0]:.2f}" in lb.describe_sensitivity(weights)


def test_contours_and_the_recommended_setting(window):
    ax = lb.plot_probability(window)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("set angle [deg]", "line load [N/m]")
    (mark,) = [line for line in ax.lines if line.get_marker() == "P"]
    assert mark.get_xdata()[0] == pytest.approx(np.degrees(window.recommended["set_angle"]))
    assert mark.get_ydata()[0] == window.recommended["line_load"]
    assert window.robust
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels == ["95 % of the samples keep every limit", "recommended: least load that does"]
    words = lb.describe_probability(window)
    assert "Recommended, the least load that does: set angle 34 deg, line load 80 N/m" in words
    assert f"from {float(window.dataset.probability.min()):.0%}" in words


def test_it_takes_axes_and_returns_them(sure, weights, window):
    for plot, result in ((lb.plot_tornado, sure), (lb.plot_sensitivity, weights), (lb.plot_probability, window)):
        ax = plt.subplots()[1]
        assert plot(result, ax=ax) is ax


def test_other_things_are_refused(sure, weights, fan, window):
    for call, told in (
        (lambda: lb.plot_fan(sure.dataset, "film_on_lands"), "uncertainty_along"),
        (lambda: lb.plot_fan(fan, "excess_ink"), "not in this dataset"),
        (lambda: lb.describe_fan(fan.rename(line_load="a").expand_dims(b=[1]), "film_on_lands"), "over one field"),
        (lambda: lb.plot_tornado(weights), "libblade.uncertainty"),
        (lambda: lb.plot_tornado(sure, "excess_ink"), "not among"),
        (lambda: lb.plot_sensitivity(sure), "libblade.sensitivity"),
        (lambda: lb.plot_probability(window.dataset), "window_probability"),
    ):
        with pytest.raises(lb.InvalidInput, match=told):
            call()
