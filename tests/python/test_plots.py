"""Figures: axes carry units, regimes are hatched, failures are grey with their reason, sentences give the numbers."""

import re
import sys

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402
from matplotlib.colors import to_rgba  # noqa: E402

from libblade import _plots  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water").replace({"setting.load_step": "2 %"})


@pytest.fixture(scope="module")
def maps(case):
    fields = {"setting.set_angle_deg": np.linspace(26, 40, 12), "setting.line_load": np.linspace(60, 200, 12)}
    return lb.two_maps(case, fields, {"film_on_lands": "6 %", "excess_after_step": "12 %"})


@pytest.fixture(scope="module")
def flat(case):
    """A long thin blade lies flat on part of this map."""
    soft = case.replace({"blade.free_length": "20 mm", "blade.thickness": "0.15 mm", "tip.facet_length": "200 um"})
    fields = {"setting.set_angle_deg": np.linspace(12, 40, 12), "setting.line_load": np.linspace(20, 200, 12)}
    return lb.sweep(soft, fields, outputs=["excess_ink", "excess_after_step", "ink_carried", "regime"])


@pytest.fixture(scope="module")
def point(case):
    return lb.solve(case)


def test_map_takes_and_returns_axes_with_units(maps):
    _, ax = plt.subplots()
    assert lb.plot_map(maps.everywhere, "excess_after_step", ax, window=maps.window) is ax
    assert ax.get_xlabel() == "set angle [deg]"
    assert ax.get_ylabel() == "line load [N/m]"
    assert ax.get_xlim() == pytest.approx((26, 40))
    assert ax.get_ylim() == pytest.approx((60, 200))


@pytest.mark.parametrize("draw", [lb.plot_blade, lb.plot_gap, lb.plot_pressure])
def test_point_plots_take_and_return_axes_with_units(draw, point):
    _, ax = plt.subplots()
    assert draw(point, ax) is ax
    assert re.search(r"\[(mm|\N{MICRO SIGN}m)\]$", ax.get_xlabel())
    assert re.search(r"\[(mm|\N{MICRO SIGN}m|MPa)\]$", ax.get_ylabel())


def test_contour_labels_give_length_and_share(maps):
    ax = lb.plot_map(maps.everywhere, "excess_after_step")
    texts = [t.get_text() for t in ax.texts]
    matches = [re.fullmatch("([\\d.]+) \N{MICRO SIGN}m = (\\d+) %", text) for text in texts]
    found = [match for match in matches if match]
    assert found
    carried = float(maps.everywhere.ink_carried.median()) * 1e6
    for match in found:
        level, share = float(match[1]), float(match[2])
        assert share == pytest.approx(100 * level / carried, abs=0.51)  # printed without decimals


def test_share_of_a_map_of_excess_ink_counts_that_excess(maps):
    level = 1e-6
    share = _plots.share_of_ink(maps.once, "excess_ink", level)
    near = maps.once.where(abs(maps.once.excess_ink - level) < 0.4e-6)
    assert share == pytest.approx(float((level / (near.ink_carried - near.excess_ink + level)).median()), rel=0.02)


def test_regimes_are_hatched_and_in_the_legend(maps):
    axes = lb.plot_maps(maps.everywhere, maps.once, window=maps.window)
    legend = axes[0].figure.legends[0]
    labels = [t.get_text() for t in legend.get_texts()]
    present = {lb._point.REGIMES[int(k)] for k in np.unique(maps.once.regime.values)} & set(_plots.REGIME_WORDS)
    assert len(present) >= 3
    for regime in present:
        assert _plots.REGIME_WORDS[regime] in labels
    hatches = [_plots.REGIME_HATCHES[regime] for regime in _plots.REGIME_WORDS]
    assert len(set(hatches)) == len(hatches)  # told apart without colour
    assert "process window: every limit holds" in labels
    assert "recommended setting" in labels


def test_the_mark_is_the_recommended_setting(maps):
    axes = lb.plot_maps(maps.everywhere, maps.once, window=maps.window)
    for ax in axes:
        (mark,) = [line for line in ax.lines if line.get_marker() == "P"]
        assert float(mark.get_xdata()[0]) == pytest.approx(np.degrees(maps.window.recommended.set_angle))
        assert float(mark.get_ydata()[0]) == pytest.approx(maps.window.recommended.line_load)


def test_the_nearest_setting_is_not_called_recommended(case):
    fields = {"setting.set_angle_deg": np.linspace(26, 40, 5), "setting.line_load": np.linspace(60, 200, 5)}
    none = lb.two_maps(case, fields, {"excess_after_step": "0.1 %"})
    axes = lb.plot_maps(none.everywhere, none.once, window=none.window, mark=none.mark)
    labels = [t.get_text() for t in axes[0].figure.legends[0].get_texts()]
    assert "nearest setting: not inside every limit" in labels
    assert "recommended setting" not in labels


def test_failed_points_are_grey_with_their_reason(flat):
    reasons = _plots.failure_reasons(flat, "excess_ink")
    assert reasons["lying flat on the roll"].sum() >= 3
    ax = lb.plot_map(flat, "excess_ink")
    assert ax.get_facecolor() == to_rgba(_plots.FAILED_COLOUR)
    assert any(text.get_text().split() == ["lying", "flat", "on", "the", "roll"] for text in ax.texts)
    assert "No value on" in lb.describe_map(flat, "excess_ink")
    assert "lying flat on the roll" in lb.describe_map(flat, "excess_ink")


def test_levels_are_round_rise_and_reach_the_top():
    for top in (1e-3, 0.27, 1.0, 3.1, 52.0):
        levels = _plots._levels(top)
        assert levels[0] == 0.0
        assert np.all(np.diff(levels) > 0.0)
        assert levels[-1] >= top * (1 - 1e-9)
        assert 4 <= len(levels) <= 14


def test_maps_share_their_levels(maps):
    both = _plots.map_levels([(maps.everywhere, "excess_after_step"), (maps.once, "excess_ink")])
    assert both[-1] * 1e-6 >= float(np.nanpercentile(maps.once.excess_ink, 99)) * (1 - 1e-9)


def test_the_stated_magnification_is_the_drawn_one(point):
    axes = lb.plot_section(point)
    figure = axes[1].figure
    figure.canvas.draw()
    (text,) = [t.get_text() for t in axes[1].texts if "times larger" in t.get_text()]
    stated = float(re.search(r"([\d,.]+) times", text)[1].replace(",", ""))
    pixels = axes[1].transData.transform([(0.0, 0.0), (100.0, 0.0), (0.0, 1.0)])
    drawn = (pixels[2, 1] - pixels[0, 1]) / ((pixels[1, 0] - pixels[0, 0]) / 100.0)
    assert stated == pytest.approx(drawn, rel=0.05)  # two digits, and the layout settles once more


def test_blade_is_drawn_to_scale_and_downstream(point, case):
    ax = lb.plot_blade(point)
    assert ax.get_aspect() == 1.0
    holder = next(line for line in ax.lines if line.get_marker() == "s")
    assert holder.get_xdata()[0] > 0.0  # a doctoring body lies downstream
    assert holder.get_ydata()[0] == pytest.approx(
        12.0 * np.sin(case["setting.set_angle"]), rel=0.1
    )  # 12 mm free length
    trailing = lb.plot_blade(lb.solve(case.replace({"setting.orientation": "trailing"})))
    assert next(line for line in trailing.lines if line.get_marker() == "s").get_xdata()[0] < 0.0


def test_lesson_states_both_films(case):
    pairs = [lb.pressed_harder(case.replace({"setting.set_angle": a}), "5 %") for a in ("25 deg", "35 deg")]
    axes = lb.plot_lesson(pairs)
    words = lb.describe_lesson(pairs)
    for ax, pair in zip(axes, pairs, strict=True):
        legend = " ".join(t.get_text() for t in ax.get_legend().get_texts())
        for p in pair:
            assert f"{p.film_on_lands * 1e6:.2f} \N{MICRO SIGN}m passes" in legend
            assert f"{p.film_on_lands * 1e6:.2f} um" in words
    assert "5% harder" in words
    assert words.count("opens towards the incoming ink") == 2
    assert "not about a press" in words
    softer = lb.describe_lesson([lb.pressed_harder(case, "-5 %")])
    assert "5% softer" in softer
    assert "closes against" in softer


def test_sentences_give_the_numbers(point, maps):
    words = lb.describe_section(point)
    assert f"{point.film_on_lands * 1e6:.2g} um of ink passes" in words
    assert f"The lands carry {point.asperity_load_share:.0%}" in words
    words = lb.describe_maps(maps.everywhere, maps.once, maps.window)
    assert f"{np.degrees(maps.window.recommended.set_angle):.3g} deg" in words
    assert f"{float(maps.window.contains.mean()):.0%} of the map" in words


def test_a_style_does_not_leak(maps):
    with mpl.rc_context({"font.size": 17.0, "hatch.linewidth": 3.0}):
        lb.plot_map(maps.once)
        assert mpl.rcParams["font.size"] == 17.0
        assert mpl.rcParams["hatch.linewidth"] == 3.0


def test_set_angle_lies_across_however_the_map_was_swept(case):
    fields = {"setting.line_load": np.linspace(80, 160, 3), "setting.set_angle_deg": np.linspace(28, 36, 4)}
    turned = lb.sweep(case, fields, outputs=["excess_ink", "ink_carried", "regime"])
    straight = lb.sweep(case, dict(reversed(fields.items())), outputs=["excess_ink", "ink_carried", "regime"])
    for data in (turned, straight):
        ax = lb.plot_map(data)
        assert (ax.get_xlabel(), ax.get_ylabel()) == ("set angle [deg]", "line load [N/m]")


def test_bad_arguments_are_refused(maps, case):
    with pytest.raises(lb.InvalidInput, match="not in this dataset"):
        lb.plot_map(maps.once, "excess_after_step")
    with pytest.raises(lb.InvalidInput, match="over two fields"):
        lb.plot_map(lb.sweep(case, {"setting.line_load": [90.0, 100.0]}, outputs=["excess_ink"]))


def test_without_matplotlib_the_error_names_the_command(monkeypatch, point):
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)  # as if it were not installed
    with pytest.raises(ImportError, match=r'pip install "libblade\[plots\]"'):
        lb.plot_blade(point)
