"""Every public picture, one by one: axes taken and returned, units on them, nothing cut or overlapping, lines told apart by a
colour-blind eye, and a sentence with the numbers."""

import itertools
import re

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")
pytest.importorskip("SALib")

import matplotlib.pyplot as plt  # noqa: E402
from matplotlib.colors import to_rgb  # noqa: E402
from matplotlib.text import Text  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")

MAP = {"setting.set_angle_deg": np.linspace(26, 40, 8), "setting.line_load": np.linspace(60, 200, 8)}
SMALL = {"setting.set_angle_deg": [28.0, 30.0, 32.0], "setting.line_load": [90.0, 110.0, 130.0, 150.0]}
SPREAD = {"setting.set_angle": lb.Normal(sd="1.5 deg"), "roll.land_roughness": lb.Lognormal(relative=0.3)}
LOADS = [30.0, 60.0, 120.0, 200.0]


class Worked:
    """Small real computations, each made once."""

    def __init__(self):
        self._made = {}
        self.case = lb.example_case("folding_carton_water").replace({"setting.load_step": "2 %"})
        self.grit = lb.example_particles()[2]
        self.once_case = lb.run_in_once(self.case)

    def __getattr__(self, name):
        if name.startswith("_"):
            raise AttributeError(name)
        if name not in self._made:
            self._made[name] = MAKE[name](self)
        return self._made[name]


MAKE = {
    "point": lambda w: lb.solve(w.case),
    "state": lambda w: lb.lesson_state(w.case, step=0.05),
    "pair": lambda w: lb.pressed_harder(w.case, "5 %"),
    "pairs": lambda w: [lb.pressed_harder(w.case.replace({"setting.set_angle": a}), "5 %") for a in ("25 deg", "35 deg")],
    "maps": lambda w: lb.two_maps(w.case, MAP, {"film_on_lands": "6 %", "excess_after_step": "12 %"}),
    "curve": lambda w: lb.load_curve(w.case),
    "diagram": lambda w: lb.branches(w.case, {"setting.line_load": ("60 N/m", "200 N/m")}),
    "story": lambda w: lb.wear(w.case.replace({"tip.facet_length": "200 um"}), [
        lb.ScheduleStep("2 km"), lb.ScheduleStep("3 km", set={"setting.line_load": "130 N/m"})]),
    "profile": lambda w: lb.wear(w.case.replace({"tip.facet_length": "200 um"}), "20 m", tier="profile"),
    "strips": lambda w: lb.lines(w.case),
    "strip": lambda w: w.strips["handling_mark"],
    "everywhere": lambda w: lb.scoring_map(w.case, [w.grit], SMALL),
    "once": lambda w: lb.scoring_map(w.once_case, [w.grit], SMALL),
    "entry": lambda w: lb.scoring_map(w.once_case, [w.grit], {"setting.line_load": [90.0, 110.0, 130.0, 150.0]}),
    "filters": lambda w: lb.scoring_map(
        w.once_case.replace({"setting.line_load": 130.0}), [w.grit], {"loop.filter.size": ["10 um", "30 um", "100 um"]}),
    "levers": lambda w: lb.scoring_levers(
        w.once_case.replace({"setting.line_load": 130.0}), [w.grit], lb.InkLoop(filter=lb.Filter())),
    "fan": lambda w: lb.uncertainty_along(
        w.case, {"setting.line_load": [80.0, 120.0, 160.0]}, SPREAD, "film_on_lands", samples=16, rng=1),
    "sure": lambda w: lb.uncertainty(w.case, SPREAD, ["film_on_lands", "effective_angle"], samples=32, rng=1),
    "weights": lambda w: lb.sensitivity(w.case, SPREAD, "film_after_step", samples=16, rng=1),
    "chances": lambda w: lb.window_probability(
        w.case, {"setting.set_angle_deg": [26.0, 29.0, 34.0], "setting.line_load": [80.0, 120.0]},
        {"film_after_step": "0.9 um"}, SPREAD, samples=16, rng=1),
    "comparison": lambda w: lb.compare(
        w.case, {"0.2 mm steel": {}, "rough roll": {"roll.land_roughness": "0.4 um"}},
        {"film_on_lands": "6 %", "mean_pressure": "0.5 MPa"},
        {"setting.set_angle_deg": [26.0, 30.0, 34.0, 38.0], "setting.line_load": [60.0, 90.0, 120.0, 150.0]}),
}  # fmt: skip


def um(value, form=".2g"):
    return f"{value * 1e6:{form}}"


# Picture: axes it takes, how to draw on them, its sentence, and numbers of the picture that the sentence holds.
FIGURES = {
    "plot_blade": (1, lambda w, ax: lb.plot_blade(w.point, ax), lambda w: lb.describe_section(w.point),
        lambda w: [f"{np.degrees(w.point.effective_angle):.3g} deg"]),
    "plot_gap": (1, lambda w, ax: lb.plot_gap(w.point, ax), lambda w: lb.describe_section(w.point),
        lambda w: [um(w.point.min_film) + " um"]),
    "plot_pressure": (1, lambda w, ax: lb.plot_pressure(w.point, ax), lambda w: lb.describe_section(w.point),
        lambda w: [f"{w.point.asperity_load_share:.0%}"]),
    "plot_section": (3, lambda w, ax: lb.plot_section(w.point, ax), lambda w: lb.describe_section(w.point),
        lambda w: [um(w.point.film_on_lands) + " um", um(w.point.facet_length, ".0f") + " um"]),
    "plot_nip": (4, lambda w, ax: lb.plot_nip(w.state, ax), lambda w: lb.describe_nip(w.state),
        lambda w: [um(w.state["point"]["film_on_lands"], ".2f") + " um", f"{w.state['point']['asperity_load_share']:.0%}"]),
    "plot_step": (1, lambda w, ax: lb.plot_step(*w.pair, ax), lambda w: lb.describe_lesson([w.pair]),
        lambda w: [um(p.film_on_lands, ".2f") + " um" for p in w.pair]),
    "plot_lesson": (2, lambda w, ax: lb.plot_lesson(w.pairs, ax), lambda w: lb.describe_lesson(w.pairs),
        lambda w: [um(p.film_on_lands, ".2f") + " um" for pair in w.pairs for p in pair]),
    "plot_map": (1, lambda w, ax: lb.plot_map(w.maps.everywhere, "excess_after_step", ax, window=w.maps.window),
        lambda w: lb.describe_map(w.maps.everywhere, "excess_after_step", w.maps.window),
        lambda w: [um(float(w.maps.everywhere.excess_after_step.max())), f"{float(w.maps.window.contains.mean()):.0%}"]),
    "plot_maps": (2, lambda w, ax: lb.plot_maps(w.maps.everywhere, w.maps.once, ax, window=w.maps.window),
        lambda w: lb.describe_maps(w.maps.everywhere, w.maps.once, w.maps.window),
        lambda w: [um(float(w.maps.once.excess_ink.max()))]),
    "plot_load_curve": (1, lambda w, ax: lb.plot_load_curve(w.curve, ax), lambda w: lb.describe_load_curve(w.curve),
        lambda w: [f"{w.curve.line_load.max():.3g} N/m"]),
    "plot_rising_load": (1, lambda w, ax: lb.plot_rising_load(w.case, LOADS, ax), lambda w: lb.describe_rising_load(w.case, LOADS),
        lambda w: [f"{np.degrees(lb.bending(w.case.replace({'setting.line_load': v})).effective_angle):.3g} deg" for v in LOADS]),
    "plot_film": (3, lambda w, ax: lb.plot_film(w.point, ax), lambda w: lb.describe_film(w.point),
        lambda w: [um(w.point.min_film, ".2f"), f"{w.point.line_load:.0f} N/m"]),
    "plot_branches": (1, lambda w, ax: lb.plot_branches(w.diagram, ax=ax), lambda w: lb.describe_branches(w.diagram),
        lambda w: ["60 N/m", "200 N/m"]),
    "plot_wear": (2, lambda w, ax: lb.plot_wear(w.story, ax), lambda w: lb.describe_wear(w.story),
        lambda w: [um(float(w.story.dataset.film_on_lands[-1]), ".3g")]),
    "plot_profile": (1, lambda w, ax: lb.plot_profile(w.profile, ax), lambda w: lb.describe_profile(w.profile),
        lambda w: [f"{np.ptp(w.profile.profile.height) * 1e9:.2g} nm", um(float(w.profile.dataset.facet_length[-1]), ".3g")]),
    "plot_strip": (1, lambda w, ax: lb.plot_strip(w.strip, ax), lambda w: lb.describe_strip(w.strip),
        lambda w: [f"{1.5e3 * w.strip.roll_turn:.3g} mm"]),
    "plot_lines": (12, lambda w, ax: lb.plot_lines(w.strips, ax), lambda w: lb.describe_lines(w.strips),
        lambda w: ["12 pieces"]),
    "plot_scoring_map": (1, lambda w, ax: lb.plot_scoring_map(w.once, ax=ax), lambda w: lb.describe_scoring_map(w.once),
        lambda w: [f"{float(w.once.scores.max()) * 3600.0:.2g} per hour"]),
    "plot_scoring_maps": (2, lambda w, ax: lb.plot_scoring_maps(w.everywhere, w.once, axes=ax),
        lambda w: lb.describe_scoring_maps(w.everywhere, w.once),
        lambda w: [f"{float(w.once.scores.max()) * 3600.0:.2g} per hour"]),
    "plot_entry": (2, lambda w, ax: lb.plot_entry(w.entry, ax), lambda w: lb.describe_entry(w.entry),
        lambda w: [um(float(w.entry.entry_size[0])), f"{np.degrees(float(w.entry.facet_tilt[-1])):+.2f} deg"]),
    "plot_filter": (1, lambda w, ax: lb.plot_filter(w.filters, ax), lambda w: lb.describe_filter(w.filters),
        lambda w: [f"{float(w.filters.scores[0]) * 3600:.2g} per hour"]),
    "plot_levers": (1, lambda w, ax: lb.plot_levers(w.levers, ax), lambda w: lb.describe_levers(w.levers),
        lambda w: [f"times {w.levers.levers[0].score_ratio:.2g}"]),
    "plot_fan": (1, lambda w, ax: lb.plot_fan(w.fan, "film_on_lands", ax), lambda w: lb.describe_fan(w.fan, "film_on_lands"),
        lambda w: [um(float(w.fan.film_on_lands.sel(quantile=0.9)[-1]), ".3g")]),
    "plot_tornado": (1, lambda w, ax: lb.plot_tornado(w.sure, ax=ax), lambda w: lb.describe_tornado(w.sure),
        lambda w: [f"{v:+.2f}" for v in w.sure.rank_correlation["film_on_lands"].values()]),
    "plot_sensitivity": (1, lambda w, ax: lb.plot_sensitivity(w.weights, ax), lambda w: lb.describe_sensitivity(w.weights),
        lambda w: [f"{v:.2f} alone" for v in w.weights.first]),
    "plot_probability": (1, lambda w, ax: lb.plot_probability(w.chances, ax), lambda w: lb.describe_probability(w.chances),
        lambda w: [f"{float(w.chances.dataset.probability.max()):.0%}"]),
    "plot_comparison": (5, lambda w, ax: lb.plot_comparison(w.comparison, axes=ax), lambda w: lb.describe_comparison(w.comparison),
        lambda w: [f"{float(w.comparison.dataset.film_on_lands[0]) * 1e6:.3g}"]),
}  # fmt: skip


@pytest.fixture(scope="module")
def worked():
    return Worked()


def test_the_table_holds_every_picture():
    assert set(FIGURES) == {name for name in lb.__all__ if name.startswith("plot_")} - {"plot_style"}


@pytest.mark.parametrize("name", FIGURES)
def test_it_takes_axes_and_returns_them(name, worked):
    count, draw, *_ = FIGURES[name]
    _, axes = plt.subplots(1, count, squeeze=False)
    given = list(axes[0])
    back = draw(worked, given[0] if count == 1 else given)
    assert [*np.atleast_1d(np.asarray(back, dtype=object))] == given
    given[0].figure.canvas.draw()
    assert missing_labels(given[0].figure) == []


@pytest.mark.parametrize("name", FIGURES)
def test_the_sentence_holds_the_numbers(name, worked):
    *_, describe, numbers = FIGURES[name]
    words = describe(worked)
    assert words.endswith(".")
    for number in numbers(worked):
        assert number in words


@pytest.mark.parametrize("name", FIGURES)
def test_axes_have_units_and_texts_room_and_lines_differ(name, worked):
    figure = figure_of(FIGURES[name][1](worked, None))
    figure.canvas.draw()
    assert missing_labels(figure) == []
    assert cut_texts(figure) == []
    assert overlapping_texts(figure) == []
    assert like_lines(figure) == []


def figure_of(axes):
    return np.atleast_1d(np.asarray(axes, dtype=object)).flat[0].figure


def missing_labels(figure):
    """Axes with numbers at their ticks and without a label in units; "[-]" says that there is none."""
    out = []
    for number, ax in enumerate(figure.axes):
        for axis in (ax.xaxis, ax.yaxis):
            ticks = [t.get_text() for t in axis.get_ticklabels() if t.get_visible()]
            numeric = any(re.search(r"\d", t) and not re.search("[a-z]{3}", t) for t in ticks)
            shown = ax.get_visible() and ax.axison and axis.get_visible()
            # A second axis at the other end of the bars writes results, each with its own words.
            written = axis.get_major_formatter().__class__.__name__ == "FixedFormatter" and not axis.get_label_text()
            if shown and numeric and not written and not re.search(r"\[[^\]]+\]", axis.get_label_text()):
                out.append(f"axes {number}, {axis.axis_name}: {axis.get_label_text()!r}")
    return out


def written_texts(figure):
    out = []
    for text in figure.findobj(Text):
        ax = text.axes
        words = text.get_text().strip()
        hidden = (
            not text.get_visible()
            or not words
            or (ax is not None and not (ax.get_visible() and (ax.axison or text in ax.texts)))
        )
        if hidden or text.get_alpha() == 0.0:
            continue
        box = corners(text)
        if ax is not None and text.get_clip_on() and not ax.bbox.contains(*box.mean(axis=0)):
            continue
        out.append((words, box))
    shown = {id(label) for ax in figure.axes for axis in (ax.xaxis, ax.yaxis) for label in ticks_in_view(axis)}
    every = {id(t) for ax in figure.axes for axis in (ax.xaxis, ax.yaxis) for t in all_tick_labels(axis)}
    kept = [t for t in figure.findobj(Text) if id(t) in every - shown]
    outside = [corners(t) for t in kept if t.get_text().strip() and t.get_visible()]
    return [(w, b) for w, b in out if not any(np.array_equal(b, o) for o in outside)]


def all_tick_labels(axis):
    return [label for tick in (*axis.majorTicks, *axis.minorTicks) for label in (tick.label1, tick.label2)]


def ticks_in_view(axis):
    low, high = sorted(axis.get_view_interval())
    slack = 1e-9 * max(abs(low), abs(high))
    ticks = [
        t for t in (*axis.get_major_ticks(), *axis.get_minor_ticks()) if low - slack <= t.get_loc() <= high + slack
    ]
    return [label for tick in ticks for label in (tick.label1, tick.label2)]


def corners(text):
    """Of the box round a text, turned as the text is, a pixel tighter than its line height (4, 2)."""
    turn = text.get_rotation()
    if turn % 90.0 == 0.0:
        box = Text.get_window_extent(text)
        return box.corners()[[0, 1, 3, 2]]
    middle = Text.get_window_extent(text)
    text.set_rotation(0.0)
    flat = Text.get_window_extent(text)
    text.set_rotation(turn)
    centre = 0.5 * np.array([middle.x0 + middle.x1, middle.y0 + middle.y1])
    half = 0.5 * np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]]) * [flat.width, flat.height]
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return centre + half @ np.array([[c, s], [-s, c]])


def cut_texts(figure):
    box = figure.bbox
    return [
        w for w, c in written_texts(figure) if c.min() < -1 or c[:, 0].max() > box.x1 + 1 or c[:, 1].max() > box.y1 + 1
    ]


def overlapping_texts(figure, slack=2.0):
    """Pairs whose boxes share more than ``slack`` pixels along every side (separating axes)."""
    return [(a, b) for (a, p), (b, q) in itertools.combinations(written_texts(figure), 2) if shared(p, q) > slack]


def shared(p, q):
    depth = np.inf
    for box in (p, q):
        for side in (box[1] - box[0], box[3] - box[0]):
            along = side / np.hypot(*side)
            a, b = p @ along, q @ along
            depth = min(depth, min(a.max(), b.max()) - max(a.min(), b.min()))
    return depth


# Machado, Oliveira & Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15:1291: deuteranomaly of severity 1, linear RGB (from
# memory; every row sums to 1, so that grey stays grey).
DEUTERANOPIA = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)
# Linear sRGB to XYZ with D65 as white: IEC 61966-2-1.
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
LEAST = (
    12.0  # distance in L*a*b*; about 2.3 is just seen side by side (Mahy 1994, from memory), thin lines need far more
)


def seen(colour, eye):
    """CIE 1976 L*a*b* of a colour through an eye's matrix."""
    rgb = np.array(to_rgb(colour))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    t = XYZ @ np.clip(eye @ linear, 0.0, 1.0) / (XYZ @ np.ones(3))
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def told_apart(a, b):
    return all(np.linalg.norm(seen(a, eye) - seen(b, eye)) >= LEAST for eye in (np.eye(3), DEUTERANOPIA))


def like_lines(figure):
    """Pairs of lines in one axes that mean different things and look alike to a deuteranope."""
    out = []
    for ax in figure.axes:
        lines = [line for line in ax.lines if line.get_visible() and len(line.get_xdata()) and line.get_label()]
        for a, b in itertools.combinations(lines, 2):
            styles = [(k.get_linestyle(), k.get_marker()) for k in (a, b)]
            named = not any(str(k.get_label()).startswith("_") for k in (a, b)) and a.get_label() != b.get_label()
            other = to_rgb(a.get_color()) != to_rgb(b.get_color())
            if styles[0] == styles[1] and (named or other) and not told_apart(a.get_color(), b.get_color()):
                out.append((a.get_label(), b.get_label(), a.get_color(), b.get_color()))
    return out


def test_the_eye_sees_what_is_known():
    np.testing.assert_allclose(DEUTERANOPIA.sum(axis=1), 1.0, atol=2e-6)
    # Of the sRGB red L*a*b* = 53.2, 80.1, 67.2 (common colour tables).
    np.testing.assert_allclose(seen("#ff0000", np.eye(3)), [53.2, 80.1, 67.2], atol=0.2)
    assert told_apart("#0072b2", "#d55e00")  # Okabe & Ito
    assert not told_apart("#8c7a00", "#b06a10")  # olive and brown: apart for most, alike for a deuteranope
    assert np.linalg.norm(seen("#8c7a00", np.eye(3)) - seen("#b06a10", np.eye(3))) > 2 * LEAST


def test_the_checks_find_what_is_wrong():
    figure, (left, right) = plt.subplots(1, 2, figsize=(4, 2))
    left.plot([0, 1], [0, 1], color="#8c7a00", label="a")
    left.plot([0, 1], [1, 0], color="#b06a10", label="b")
    left.set(xlabel="way [m]", ylabel="speed")
    right.text(0.5, 0.5, "one"), right.text(0.51, 0.5, "two"), right.text(0.9, 0.2, "runs out of the picture")
    right.set(xlabel="share [-]", ylabel="angle [deg]")
    figure.canvas.draw()
    assert missing_labels(figure) == ["axes 0, y: 'speed'"]
    assert ("one", "two") in overlapping_texts(figure)
    assert "runs out of the picture" in cut_texts(figure)
    assert len(like_lines(figure)) == 1
