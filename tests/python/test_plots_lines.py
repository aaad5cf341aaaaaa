"""Pictures of lines: grey is density, brackets are the roll's repeat, every cause is named, nothing is cut."""

import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")

import matplotlib.pyplot as plt  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")


@pytest.fixture(scope="module")
def gallery():
    return lb.lines(lb.example_case("folding_carton_water"))


def texts(ax):
    return [text.get_text() for text in ax.texts if text.get_text()]


def test_a_strip_shows_the_density(gallery):
    line = gallery["handling_mark"]
    ax = lb.plot_strip(line)
    (picture,) = ax.images
    assert (picture.get_array() == line.strip_density.T).all()
    left, right, bottom, top = picture.get_extent()
    assert right - left == pytest.approx(1.5e3 * line.roll_turn)
    assert top - bottom == pytest.approx(1e3 * (line.strip_across[-1] - line.strip_across[0]) * 160 / 159)
    assert ax.get_xlabel() == "along the web [mm]"
    assert ax.get_ylabel() == "across the web [mm]"
    assert "one turn of the roll 440 mm" in texts(ax)
    assert any("times as large as along" in words for words in texts(ax))
    # Darker ink is darker grey.
    assert picture.cmap(picture.norm(1.6))[0] < picture.cmap(picture.norm(1.2))[0]


def test_the_bracket_is_one_turn_long(gallery):
    line = gallery["handling_mark"]
    ax = lb.plot_strip(line)
    (arrow,) = [text for text in ax.texts if getattr(text, "arrow_patch", None) is not None]
    assert arrow.xyann[0] - arrow.xy[0] == pytest.approx(1e3 * line.roll_turn)
    assert arrow.xy[0] == pytest.approx(0.25e3 * line.roll_turn, abs=2.0)  # at the first mark


def test_another_repeat_has_its_own_bracket(gallery):
    case = lb.example_case("folding_carton_water")
    sizes = {"not_this_nip": {"direction": "spots", "repeat": "520 mm", "width": "2 mm"}}
    words = texts(lb.plot_strip(lb.lines(case, "not_this_nip", sizes=sizes)["not_this_nip"]))
    assert "repeat 520 mm" in words
    assert "one turn of the roll 440 mm" in words


def test_the_whole_width_has_the_approved_print_beside_it(gallery):
    line = gallery["riding"]
    ax = lb.plot_strip(line)
    shown = ax.images[0].get_array()
    assert shown[0, 0] == line.nominal_density
    assert shown[-1, 0] == line.strip_density[0, -1] > line.nominal_density
    assert {"as approved", "now"} <= set(texts(ax))


def test_it_takes_axes_and_returns_them(gallery):
    _, ax = plt.subplots()
    assert lb.plot_strip(gallery["blade_nick"], ax) is ax


def test_the_gallery_names_every_cause_and_cuts_nothing(gallery):
    axes = lb.plot_lines(gallery)
    assert len(axes) == 12
    figure = axes[0].figure
    figure.canvas.draw()
    inside = figure.bbox
    titles = [ax.title if ax.title.get_text() else ax._left_title for ax in axes]
    for title, line in zip(titles, gallery.values(), strict=True):
        assert title.get_text().splitlines()[1].startswith(("darker", "lighter", "not seen"))
        box = title.get_window_extent()
        assert box.x0 >= inside.x0
        assert box.x1 <= inside.x1
        assert box.y1 <= inside.y1
        assert line.signature.tone in title.get_text() or not line.visible
    boxes = [title.get_window_extent() for title in titles]
    assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[i + 1 :])


def test_sentences(gallery):
    words = lb.describe_strip(gallery["blade_nick"])
    assert words.startswith("A piece of the print, 660 mm along the web by 5 mm across")
    assert "darker line along the web" in words
    told = lb.describe_lines(gallery)
    assert told.startswith("12 pieces of print")
    assert all(cause in told for cause in ("score round the roll", "leaking end seal", "plugged cells"))
    assert told.endswith("not about a press.")


def test_refusals(gallery):
    for wrong in (None, gallery):
        with pytest.raises(lb.InvalidInput, match="line"):
            lb.plot_strip(wrong)
    for wrong in ({}, gallery["riding"], {"riding": 1}):
        with pytest.raises(lb.InvalidInput, match="line"):
            lb.plot_lines(wrong)
