"""The notebook's lesson: messages go round without a browser, and without a widget there is a picture and a sentence."""

import io
import shutil
import subprocess
import sys

import numpy as np
import pytest

import libblade as lb

mpl = pytest.importorskip("matplotlib")
mpl.use("Agg")
from PIL import Image  # noqa: E402

pytestmark = pytest.mark.usefixtures("closed_figures")


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture
def widget(case):
    pytest.importorskip("anywidget")
    return lb.lesson_widget(case)


def ask(widget, **changes):
    """As the front end does: the whole state of the trait comes back."""
    widget.set_state({"request": {**widget.request, **changes, "number": widget.request["number"] + 1}})
    return widget.answer


def test_it_starts_with_the_case(widget, case):
    assert widget.answer == lb.lesson_state(case)
    assert widget.request["set_angle_deg"] == pytest.approx(np.degrees(case["setting.set_angle"]))
    assert widget.request["line_load"] == pytest.approx(case["setting.line_load"])
    assert widget.request["speed_m_per_min"] == pytest.approx(60.0 * case["setting.surface_speed"])
    assert f"{1e6 * widget.answer['point']['film_on_lands']:.2f} um of ink passes" in widget.sentence


def test_a_moved_blade_keeps_its_facet_until_it_beds(widget, case):
    facet = {
        "bedded_angle_rad": widget.answer["facet"]["bedded_angle"],
        "facet_length": widget.answer["facet"]["length"],
    }
    approved = widget.answer["ink"]["carried"]
    moved = ask(widget, set_angle_deg=29.0, action="move")
    lower = case.replace({"setting.set_angle_deg": 29.0})
    assert moved == lb.lesson_state(lower, run_in=facet, approved_ink=approved)
    assert moved["facet"]["tilt"] > 0.0
    assert moved["point"]["film_on_lands"] > 1.5 * lb.solve(lower).film_on_lands
    bedded = ask(widget, action="bed")
    assert bedded["point"]["film_on_lands"] == pytest.approx(lb.solve(lower).film_on_lands, rel=1e-9)
    assert bedded["facet"]["tilt"] == pytest.approx(0.0, abs=1e-9)
    assert ask(widget, action="move")["facet"]["tilt"] == pytest.approx(0.0, abs=1e-9)


def test_steps_add_up_and_a_move_ends_them(widget):
    films = [widget.answer["point"]["film_on_lands"]]
    films += [ask(widget, action="harder")["point"]["film_on_lands"] for _ in range(2)]
    assert films[0] < films[1] < films[2]
    assert widget.lesson.step == pytest.approx(0.1)
    assert "Pressed by +10%" in widget.sentence
    assert ask(widget, action="softer")["point"]["film_on_lands"] == pytest.approx(films[1], rel=1e-9)
    assert ask(widget, action="move")["point"]["film_on_lands"] == pytest.approx(films[0], rel=1e-6)


def test_a_refused_setting_says_why_and_changes_nothing(widget):
    before = widget.lesson.state
    answer = ask(widget, set_angle_deg=120.0)
    assert answer["status"] == "bad_input"
    assert answer["problems"][0]["field"] == "setting.set_angle"
    assert answer["point"] is None
    assert widget.sentence.startswith("No answer (bad input)")
    assert widget.lesson.state is before
    assert ask(widget, set_angle_deg="x")["status"] == "bad_input"
    assert ask(widget, set_angle_deg=30.0, action="fly")["problems"][0]["field"] == "action"
    assert ask(widget, action="move")["status"] == "converged"


def test_a_stored_notebook_shows_picture_and_sentence(widget):
    data, _ = widget._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in data
    assert data["text/plain"].startswith(widget.sentence)
    with Image.open(io.BytesIO(data["image/png"])) as picture:
        assert picture.width > 900


def test_without_anywidget_there_is_a_still_picture(case, monkeypatch):
    monkeypatch.setitem(sys.modules, "anywidget", None)  # as if it were not installed
    still = lb.lesson_widget(case)
    assert "of ink passes on the lands" in repr(still)
    assert 'pip install "libblade[notebooks]"' in repr(still)
    with Image.open(io.BytesIO(still._repr_png_())) as picture:
        assert picture.format == "PNG"
    with pytest.raises(lb.InvalidInput, match="case"):
        lb.lesson_widget(None)


def test_the_front_end_draws_the_answer(widget, tmp_path):
    """The widget's own text in node with a page of a few lines: sliders ask, the answer is drawn."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    (tmp_path / "widget.mjs").write_text(str(widget._esm), encoding="utf-8")
    import json

    (tmp_path / "traits.json").write_text(
        json.dumps({name: getattr(widget, name) for name in ("request", "answer", "sentence")}), encoding="utf-8"
    )
    (tmp_path / "run.mjs").write_text(PAGE, encoding="utf-8")
    ended = subprocess.run([node, "run.mjs"], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 0, ended.stderr
    told = json.loads(ended.stdout)
    assert told["picture"].startswith("<svg")
    assert "gets through" in told["picture"]
    assert told["sentence"] == widget.sentence
    assert told["inputs"] == 3
    assert told["asked"] == {**widget.request, "set_angle_deg": 28, "action": "move", "number": 1}
    assert told["pressed"]["action"] == "harder"


PAGE = """
import { readFileSync } from "node:fs";
const made = [];
class Element {
  constructor(tag) { this.tag = tag; this.style = {}; this.children = []; this.heard = {}; made.push(this); }
  appendChild(child) { this.children.push(child); return child; }
  setAttribute() {}
  addEventListener(name, f) { this.heard[name] = f; }
}
globalThis.document = { createElement: (tag) => new Element(tag) };
const traits = JSON.parse(readFileSync("traits.json", "utf8")), saved = [];
const model = { get: (k) => traits[k], set: (k, v) => { traits[k] = v; }, on() {}, off() {},
  save_changes: () => saved.push(structuredClone(traits.request)) };
const widget = (await import("./widget.mjs")).default;
const el = new Element("div");
widget.render({ model, el });
const inputs = made.filter((e) => e.tag === "input"), buttons = made.filter((e) => e.tag === "button");
inputs[0].value = "28"; inputs[0].heard.change();
buttons[1].heard.click();
console.log(JSON.stringify({ picture: made.map((e) => e.innerHTML).find(Boolean), inputs: inputs.length, asked: saved[0],
  pressed: saved[1], sentence: made.find((e) => e.tag === "p").textContent }));
"""
