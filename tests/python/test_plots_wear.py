"""Figures of a blade's life: axes with units, steps and events marked, sentences with the numbers."""

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water").replace({"tip.facet_length": "200 um", "roll.run_out": "8 um"})


@pytest.fixture(scope="module")
def story(case):
    plan = [lb.ScheduleStep("2 km"), lb.ScheduleStep("3 km", set={"setting.line_load": "130 N/m"})]
    return lb.wear(case, plan)


def test_axes_carry_units_and_the_numbers(story):
    ink, facet = lb.plot_wear(story)
    assert ink.get_ylabel() == "film [\N{MICRO SIGN}m]"
    assert facet.get_ylabel() == "facet [\N{MICRO SIGN}m]"
    assert facet.get_xlabel() == "web run [km]"
    line = ink.lines[0]
    assert np.array_equal(line.get_xdata(), story.dataset.distance.values * 1e-3)
    assert np.array_equal(line.get_ydata(), story.dataset.film_on_lands.values * 1e6)
    styles = {line.get_linestyle() for line in ink.lines[:3]}
    assert len(styles) == 3  # told apart without colour
    assert "line load 130 N/m, 3 km" in [text.get_text() for text in ink.texts]
    assert facet.get_ylim()[1] >= float(story.dataset.facet_length[-1]) * 1e6


def test_it_takes_axes_and_returns_them(story):
    _, ax = plt.subplots()
    assert lb.plot_wear(story, ax) is ax
    _, pair = plt.subplots(2, 1)
    assert list(lb.plot_wear(story, pair, log=True)) == list(pair)
    assert pair[0].get_xscale() == "log"


def test_events_are_marked(case):
    ended = lb.wear(case, "20 km", facet_limit="200.5 um")
    ink, _ = lb.plot_wear(ended)
    labels = [text.get_text() for text in ink.get_legend().get_texts()]
    assert "facet limit" in labels
    (mark,) = [line for line in ink.lines if line.get_marker() == "X"]
    assert mark.get_xdata()[0] == pytest.approx(ended.life.distance * 1e-3)


def test_the_sentence_gives_the_numbers(story):
    words = lb.describe_wear(story)
    data = story.dataset
    assert f"{story.life.distance * 1e-3:.4g} km" in words
    assert f"{float(data.film_on_lands[0]) * 1e6:.3g} to {float(data.film_on_lands[-1]) * 1e6:.3g}" in words
    assert f"{float(data.facet_length[-1]) * 1e6:.3g}" in words
    assert story.life.ended_by in words
    assert words.endswith("not about a press.")


def test_the_worn_surface(case, story):
    worn = lb.wear(case, "20 m", tier="profile")
    ax = lb.plot_profile(worn)
    assert ax.get_ylabel().endswith("[nm]")
    assert ax.lines[0].get_xdata()[-1] == pytest.approx(float(worn.dataset.facet_length[-1]) * 1e6, rel=1e-6)
    with pytest.raises(lb.InvalidInput, match="profile"):
        lb.plot_profile(story)
    for wrong in (None, story.dataset):
        with pytest.raises(lb.InvalidInput, match="history"):
            lb.plot_wear(wrong)
