"""The lesson: its states are those of solve, and its page stands alone."""

import json
import math

import pytest

import libblade as lb
from libblade import _lesson
from libblade._cli import main

CASE = lb.example_case("folding_carton_water")
ELSEWHERE = {"set_angle": "35 deg", "line_load": "110 N/m"}


def assert_is(told: dict, point: lb.OperatingPoint, rel: float = 0.0) -> None:
    """Every number of an answer is that of an operating point."""
    for name in lb.output_table():
        value = getattr(point, name)
        if told[name] is None:
            assert not math.isfinite(value), name
        else:
            assert told[name] == (pytest.approx(value, rel=rel, abs=1e-13) if rel else value), name
    for name in ("regime", "branch", "bedded_stable", "other_branch_exists"):
        assert told[name] == getattr(point, name)


@pytest.mark.parametrize("changes", [{}, {"setting.orientation": "trailing"}, {"tip.kind": "square_edge"}])
def test_a_state_is_the_operating_point(changes):
    case = CASE.replace(changes) if changes else CASE
    answer = lb.lesson_state(case)
    point = lb.solve(case)
    assert answer["status"] == "converged"
    assert answer["before"] is None
    assert_is(answer["point"], point)
    assert answer["section"]["gap"] == list(point.section.gap)
    assert [flag["name"] for flag in answer["validity"]] == [flag.name for flag in point.validity]
    assert lb.Case.from_json(json.dumps(answer["case"])) == case


def test_moved_after_running_in():
    lower = CASE.replace({"setting.set_angle": "34 deg"})
    answer = lb.lesson_state(lower, run_in=ELSEWHERE)
    bedded = {"tip.bedding": "elsewhere", "tip.bedded_set_angle": "35 deg", "tip.bedded_line_load": "110 N/m"}
    assert_is(answer["point"], lb.solve(lower.replace(bedded)))
    there = lb.solve(
        CASE.replace({"setting.set_angle": "35 deg"}), step_response=False, other_branch=False, run_out=False
    )
    assert answer["before"]["film_on_lands"] == there.film_on_lands
    # It opens towards the ink and lets through several times as much; an eye sees that on the print.
    assert answer["facet"]["opens_to_ink"]
    assert answer["point"]["film_on_lands"] > 3.0 * answer["before"]["film_on_lands"]
    assert answer["print"]["visible"]
    assert answer["print"]["tone"] == "darker"


def test_a_step_is_the_one_of_the_load_step():
    harder = lb.lesson_state(CASE, run_in=True, step=0.1)
    film = lb.solve(CASE).film_after_step  # of the larger of both ways, which is this one
    assert harder["point"]["film_on_lands"] == pytest.approx(film, rel=1e-6)
    assert harder["point"]["interference"] == pytest.approx(1.1 * harder["before"]["interference"], rel=1e-9)


def test_a_life_beds_again_where_the_heel_stands():
    case = CASE.replace({"setting.set_angle": "30.5 deg"})
    at_30 = {"set_angle": "30 deg", "line_load": "110 N/m"}
    life = lb.lesson_life(case, run_in=at_30)["life"]
    rough = lb.lesson_state(case, run_in=at_30, drawing=False)["rebed"]["distance"]
    assert 0.1 * rough < life["bedded_again"]["distance"] < 10.0 * rough
    assert abs(life["facet_tilt"][-1]) <= 0.02 * abs(life["facet_tilt"][0])
    assert life["film_on_lands"][-1] > life["film_on_lands"][0]


def test_bad_values_name_field_and_range():
    for bad, field in (
        ({"step": 3.0}, "step"),
        ({"run_in": {"set_angle": "95 deg", "line_load": 110}}, "tip.bedded_set_angle"),
        ({"run_in": {"set_angel": "35 deg"}}, "run_in.set_angel"),
        ({"start": "asleep"}, "start"),
        ({"approved_ink": -1.0}, "approved_ink"),
        ({"run_in": {"set_angle": object()}}, "request"),
    ):
        with pytest.raises(lb.InvalidInput) as caught:
            lb.lesson_state(CASE, **bad)
        assert field in caught.value.problems[0].path
    with pytest.raises(lb.InvalidInput, match="must be a Case"):
        lb.lesson_state("folding_carton_water")


@pytest.fixture
def page(tmp_path, monkeypatch):
    """A small page of its own, and a text in place of the engine."""
    (tmp_path / "lesson.html").write_text(
        '<link rel="stylesheet" href="a.css"><script type="application/json" id="case"></script>'
        '<script src="engine.js" id="engine"></script><script src="b.js"></script>'
    )
    (tmp_path / "a.css").write_text("p { fill: url(#hatch) }")
    (tmp_path / "b.js").write_text('const svg = "http://www.w3.org/2000/svg", end = "</script>";')
    (tmp_path / "engine.js").write_text("var libbladeEngine;")
    monkeypatch.setattr(_lesson, "PAGE", tmp_path)
    return tmp_path


def test_the_page_holds_all_its_parts(page):
    text = json.loads(CASE.to_json()) | {"name": "</script><!--<script>"}
    hostile = lb.Case.from_json(json.dumps(text))
    made = lb.lesson_page(hostile)
    assert "<style>\np { fill" in made
    assert '<script id="engine">\nvar libbladeEngine;</script>' in made
    inside = made.split('id="case">')[1].split("</script>")[0]
    assert lb.Case.from_json(inside) == hostile
    assert "<!--" not in made
    assert made.count("</script>") == 3
    assert 'href="' not in made
    assert 'src="' not in made


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.css", "@import 'x.css';"),
        ("a.css", "p { background: url(x.png) }"),
        ("b.js", 'fetch("https://example.org/x")'),
        ("lesson.html", '<img src="x.png">'),
    ],
)
def test_a_part_that_refers_outside_is_refused(page, name, text):
    (page / name).write_text((page / name).read_text() + text)
    with pytest.raises(lb.InvalidInput, match="outside itself"):
        lb.lesson_page(CASE)


def test_what_is_missing_is_named(page, capsys, tmp_path):
    out = tmp_path / "out.html"
    (page / "engine.js").unlink()
    assert main(["lesson", "folding_carton_water", "-o", str(out)]) == 2
    assert "make lesson" in capsys.readouterr().err
    assert not out.exists()
    other = tmp_path / "built.js"
    other.write_text("var libbladeEngine;")
    assert main(["lesson", "folding_carton_water", "-o", str(out), "--engine", str(other)]) == 0
    assert "var libbladeEngine;" in out.read_text()
    (page / "lesson.html").write_text("<p>")
    with pytest.raises(lb.InvalidInput, match="no place for case"):
        lb.lesson_page(CASE, engine=other)
    (page / "lesson.html").unlink()
    with pytest.raises(lb.InvalidInput, match=r"lesson\.html.*missing|missing.*lesson\.html"):
        lb.lesson_page(CASE, engine=other)
