"""Figures of scoring risk: axes with units, logarithmic scales, marks beside colour, sentences with the numbers."""

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")
FIELDS = {"setting.set_angle_deg": [28.0, 30.0, 32.0], "setting.line_load": [90.0, 110.0, 130.0, 150.0]}
GRIT = lb.example_particles()[2]


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def once(case):
    return lb.scoring_map(lb.run_in_once(case), [GRIT], FIELDS)


@pytest.fixture(scope="module")
def levers(case):
    moved = lb.run_in_once(case).replace({"setting.line_load": 130.0})
    return lb.scoring_levers(moved, [GRIT], lb.InkLoop(filter=lb.Filter()))


def test_a_map_has_units_and_a_level_a_decade(once):
    ax = lb.plot_scoring_map(once, mark={"set_angle": np.radians(30.0), "line_load": 110.0})
    assert ax.get_xlabel() == "set angle [deg]"
    assert ax.get_ylabel() == "line load [N/m]"
    assert ax.get_title(loc="left") == "Scores in the roll"
    bar = ax.figure.axes[1]
    assert bar.get_ylabel() == "scores in the roll [1/h]"
    levels = bar.get_yticks()
    assert np.allclose(np.diff(np.log10(levels)), 1.0)
    assert levels[-1] >= once.scores.max() * 3600.0 > levels[-2]
    assert bar.get_yticklabels()[0].get_text() == "1 a century"
    (mark,) = [line for line in ax.lines if line.get_marker() == "P"]
    assert mark.get_xydata() == pytest.approx(np.array([[30.0, 110.0]]))
    _, own = plt.subplots()
    assert lb.plot_scoring_map(once, "chips", own, colorbar=False, legend=False) is own


def test_two_maps_share_their_colours(case, once):
    everywhere = lb.scoring_map(case, [GRIT], FIELDS)
    left, right = lb.plot_scoring_maps(everywhere, once)
    assert left.get_title(loc="left").startswith("Run in everywhere")
    assert right.get_title(loc="left").startswith("Run in once")
    top = [c.norm.boundaries for ax in (left, right) for c in ax.collections if hasattr(c.norm, "boundaries")]
    assert len(top) >= 2
    assert all(np.array_equal(top[0], other) for other in top)
    words = lb.describe_scoring_maps(everywhere, once)
    assert f"to {float(once.scores.max()) * 3600.0:.2g} per hour" in words
    assert "less than one in a century" in words.split("Right")[0]


def test_points_without_a_value_are_grey_and_told(case):
    with pytest.warns(lb.LibbladeWarning):
        grid = lb.scoring_map(
            case.replace({"setting.line_load": 300.0}),
            [GRIT],
            {"setting.set_angle_deg": [29.0, 30.0, 31.0], "blade.free_length": ["12 mm", "24 mm", "25 mm"]},
        )
    ax = lb.plot_scoring_map(grid)
    assert any("lying flat" in text.get_text().replace("\n", " ") for text in ax.texts)
    assert "lying flat on the roll" in lb.describe_scoring_map(grid)


def test_entry_size_and_tilt_stand_over_one_axis(case):
    loads = np.array([90.0, 110.0, 130.0, 150.0])
    data = lb.scoring_map(lb.run_in_once(case), [GRIT], {"setting.line_load": loads})
    size, tilt = lb.plot_entry(data)
    assert size.get_yscale() == "log"
    assert size.get_ylabel() == "height [\N{MICRO SIGN}m]"
    assert tilt.get_ylabel() == "facet tilt [\N{DEGREE SIGN}]"
    assert tilt.get_xlabel() == "line load [N/m]"
    assert np.array_equal(size.lines[0].get_ydata(), data.entry_size.values * 1e6)
    assert np.array_equal(tilt.lines[1].get_ydata(), np.degrees(data.facet_tilt.values))
    assert len({line.get_linestyle() for line in size.lines}) == 3  # told apart without colour
    words = lb.describe_entry(data)
    assert f"{float(data.entry_size[0]) * 1e6:.2g} to {float(data.entry_size[-1]) * 1e6:.2g} um" in words
    _, pair = plt.subplots(2, 1)
    assert lb.plot_entry(data, pair) is pair


def test_filters_are_drawn_on_logarithms(case):
    moved = lb.run_in_once(case).replace({"setting.line_load": 130.0})
    data = lb.scoring_map(moved, [GRIT], {"loop.filter.size": ["10 um", "30 um", "100 um"]})
    ax = lb.plot_filter(data)
    assert (ax.get_xscale(), ax.get_yscale()) == ("log", "log")
    assert ax.get_xlabel() == "size at which the filter is rated [\N{MICRO SIGN}m]"
    assert ax.lines[0].get_xdata() == pytest.approx([10.0, 30.0, 100.0])
    assert np.array_equal(ax.lines[0].get_ydata(), data.scores.values * 3600.0)
    assert ax.lines[0].get_linestyle() != ax.lines[1].get_linestyle()
    assert f"from {float(data.scores[0]) * 3600:.2g} per hour" in lb.describe_filter(data)


def test_levers_are_bars_from_one(levers):
    ax = lb.plot_levers(levers)
    assert ax.get_xscale() == "log"
    labels = [label.get_text() for label in ax.get_yticklabels()]
    assert labels == [lever.words for lever in levers]
    bars = dict(zip(labels, ax.patches, strict=True))
    harm = bars[levers["load up"].words]
    assert harm.get_x() + harm.get_width() == pytest.approx(levers["load up"].score_ratio)
    assert harm.get_hatch() == "///"  # not by colour alone
    assert not bars[levers["finer filter"].words].get_hatch()
    run_in = bars[levers["run in"].words]
    assert run_in.get_x() + run_in.get_width() == pytest.approx(max(levers["run in"].score_ratio, 1e-6))
    words = lb.describe_levers(levers)
    assert f"{levers.levers[0].words} (times {levers.levers[0].score_ratio:.2g})" in words
    assert f"{levers.levers[-1].words} (times {levers.levers[-1].score_ratio:.2g})" in words
    _, own = plt.subplots()
    assert lb.plot_levers(levers, own) is own


def test_what_cannot_be_drawn_is_refused(once, levers):
    with pytest.raises(lb.InvalidInput, match="must be a rate"):
        lb.plot_scoring_map(once, "film_on_lands")
    with pytest.raises(lb.InvalidInput, match="over two fields"):
        lb.plot_scoring_map(levers)
    with pytest.raises(lb.InvalidInput, match="one field alone"):
        lb.plot_entry(once)
    with pytest.raises(lb.InvalidInput, match=r"loop\.filter\.size alone"):
        lb.plot_filter(once.isel(set_angle=0))
    with pytest.raises(lb.InvalidInput, match="scoring_levers"):
        lb.plot_levers(once)
