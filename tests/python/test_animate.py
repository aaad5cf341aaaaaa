"""Moving pictures: as many frames as said, with the numbers of the history or of the solved step, written whole or not at all."""

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")

from libblade._cli import main  # noqa: E402
from PIL import Image  # noqa: E402

from libblade import _animate  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water").replace({"roll.run_out": 0.0})


@pytest.fixture(scope="module")
def story(case):
    return lb.wear(case.replace({"tip.kind": "square_edge"}), "400 m", tolerance=1e-4)


@pytest.fixture(scope="module")
def bedding(story, tmp_path_factory):
    return lb.animate_bedding(story, tmp_path_factory.mktemp("moving") / "bedding.gif", frames=5, rate=5)


def test_frames_are_states_of_the_history(bedding, story):
    data = story.dataset
    with Image.open(bedding.path) as picture:
        assert picture.n_frames == len(bedding.frames) == 5
        assert picture.info["duration"] == 200  # ms, at 5 per second
    for frame, entry in ((bedding.frames[0], 0), (bedding.frames[-1], -1)):
        for name in ("time", "line_load", "film_on_lands", "facet_length"):
            assert getattr(frame, name) == float(data[name][entry])
        assert frame.distance == float(data.distance[entry])
    assert np.all(np.diff([frame.facet_length for frame in bedding.frames]) > 0.0)
    entries = set(data.distance.values)
    assert {frame.distance for frame in bedding.frames} <= entries
    last = bedding.frames[-1]
    tilt = float(data.bedded_angle[-1] - data.effective_angle[-1])
    assert last.facet_tilt == pytest.approx(tilt, abs=1e-15)  # doctoring: bedded less effective


def test_the_contact_drawn_is_the_one_in_the_history(story):
    """The nip solved anew with the worn facet passes the history's film: two ways to one state, without run-out."""
    for entry in (0, story.dataset.distance.size - 1):
        shot = _animate._worn(story, entry)
        assert shot.state["point"]["film_on_lands"] == pytest.approx(shot.frame.film_on_lands, rel=1e-6)
        assert shot.state["point"]["effective_angle"] == pytest.approx(
            float(story.dataset.effective_angle[entry]), abs=1e-9
        )


def test_every_frame_prints_its_numbers(bedding):
    for frame in bedding.frames:
        way, facet, stretched = frame.words
        assert way == f"{1e-3 * frame.distance:.4g} km of web, {frame.time / 3600.0:.3g} h"
        assert f"facet {1e6 * frame.facet_length:.3g} \N{MICRO SIGN}m" in facet
        assert f"{1e6 * frame.film_on_lands:.3g} \N{MICRO SIGN}m passes" in facet
        assert stretched.startswith(f"heights drawn {frame.magnification:.3g} times larger")
        assert frame.magnification > 2.0
    assert f"{1e6 * bedding.frames[-1].film_on_lands:.3g} um" in bedding.description
    assert bedding.not_solved == 0


def test_a_step_is_solved_part_by_part(case, tmp_path):
    made = lb.animate_step(case, tmp_path / "step.gif", step="5 %", frames=3)
    before = lb.solve(case.replace({"setting.load_step": "5 %"}))
    assert [frame.step for frame in made.frames] == pytest.approx([0.0, 0.025, 0.05])
    first, last = made.frames[0], made.frames[-1]
    assert (first.film_on_lands, first.line_load) == pytest.approx((before.film_on_lands, before.line_load), rel=1e-9)
    assert last.film_on_lands == pytest.approx(before.film_after_step, rel=1e-6)  # pressed harder passes the most
    assert first.facet_tilt == pytest.approx(0.0, abs=1e-9)
    assert last.facet_tilt > 1e-3  # a doctoring blade opens to the ink
    for frame in made.frames:
        assert f"{frame.line_load:.4g} N/m" in frame.words[0]
    with Image.open(made.path) as picture:
        assert picture.n_frames == 3


def test_a_frame_without_a_state_says_so(case, tmp_path, monkeypatch):
    answer = _animate.lesson_state

    def lost(one, *, step):
        state = dict(answer(one, step=step))
        return state if step < 0.04 else state | {"point": None, "status": "unstable", "message": "the blade snaps"}

    monkeypatch.setattr(_animate, "lesson_state", lost)
    made = lb.animate_step(case, tmp_path / "step.gif", step="5 %", frames=3)
    assert made.not_solved == 1
    assert np.isnan(made.frames[-1].film_on_lands)
    assert "passes" not in " ".join(made.frames[-1].words)
    assert "1 frames are not solved" in made.description


def test_what_cannot_be_drawn_is_refused_and_nothing_is_changed(case, story, tmp_path, monkeypatch):
    kept = tmp_path / "kept.gif"
    kept.write_bytes(b"earlier")
    for call, told in (
        (lambda: lb.animate_bedding(story, tmp_path / "a.avi"), "must end in"),
        (lambda: lb.animate_bedding(story, kept, frames=1), "frames"),
        (lambda: lb.animate_bedding(story.dataset, kept), "history"),
        (lambda: lb.animate_step(case, kept, step=3.0), "step"),
        (lambda: lb.animate_step(case, tmp_path / "none" / "a.gif", frames=2), "cannot be written"),
    ):
        with pytest.raises(lb.InvalidInput, match=told):
            call()
    monkeypatch.setattr(_animate, "_mark", None)  # fails while it draws
    with pytest.raises(TypeError):
        lb.animate_step(case, kept, frames=2)
    assert kept.read_bytes() == b"earlier"
    assert [path.name for path in tmp_path.iterdir()] == ["kept.gif"]


def test_without_ffmpeg_the_error_says_what_is_missing(case, tmp_path, monkeypatch):
    monkeypatch.setattr("matplotlib.animation.FFMpegWriter.isAvailable", classmethod(lambda cls: False))
    with pytest.raises(lb.InvalidInput, match="needs ffmpeg"):
        lb.animate_step(case, tmp_path / "a.mp4", frames=2)


def test_the_command(tmp_path, capsys):
    target = tmp_path / "step.gif"
    given = ["animate", "folding_carton_water", "--what", "step", "--step", "2 %", "--frames", "2", "-o", str(target)]
    assert main(given) == 0
    assert "2 frames of a run-in blade" in capsys.readouterr().out
    with Image.open(target) as picture:
        assert picture.n_frames == 2
    assert main([*given[:-1], str(tmp_path / "x.png")]) == 2
    assert "must end in .gif" in capsys.readouterr().err
