"""A report says what the interface says, loses nothing when a part fails, and fetches nothing."""

import base64
import json
import re
import sys

import numpy as np
import pytest
from libblade._cli import main
from libblade._report_blocks import shop_signs

import libblade as lb

html5lib = pytest.importorskip("html5lib")
pytest.importorskip("jinja2")
pytest.importorskip("matplotlib")

CASE = "folding_carton_water"
HOSTILE = "</title><script>alert(1)</script> \"{{ 7 * 7 }}' } @import url(http://evil.example/x.css); \\"
SMALL = {"side": 5, "samples": 16, "life": {"schedule": "200 km", "length_limit": "0.5 mm"}, "date": "1 May 2031"}


@pytest.fixture(scope="module")
def made():
    return lb.report(lb.example_case(CASE), **SMALL)


def tree(report):
    """Raises on anything that is not well formed."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(report.html)


def text_of(element):
    return " ".join(" ".join(element.itertext()).split())


def rows(report, section, table):
    """Cells of a table by its first column."""
    found = tree(report).findall(f".//section[@id='{section}']//table")[table]
    cells = [[text_of(cell) for cell in row] for row in found.findall("./tbody/tr")]
    return {row[0]: row[1:] for row in cells}


def number(text):
    return float(re.match(r"[-+\d.e]+", text).group())


def three(value):
    """As printed with three digits."""
    return pytest.approx(value, rel=6e-3)


def test_the_page_is_well_formed_and_headings_are_in_order(made):
    page = tree(made)
    headings = [(element.tag, text_of(element)) for element in page.iter() if element.tag in ("h1", "h2", "h3")]
    assert [tag for tag, _ in headings] == ["h1"] + ["h2"] * (len(headings) - 1)
    assert [text.partition(". ")[0] for _, text in headings[1:]] == [str(k) for k in range(1, len(headings))]
    order = [section.get("id") for section in page.iter("section")]
    assert order == [
        "job", "setting", "maps", "life", "scoring", "uncertainty", "inputs", "validity", "left_out", "unsolved", "cautions",
        "made_with",
    ]  # fmt: skip
    assert page.get("lang") == "en"


def test_pictures_are_inside_and_told_in_words(made):
    pictures = list(tree(made).iter("img"))
    assert len(pictures) == 4
    both = made.results["maps"]
    assert pictures[0].get("alt") == lb.describe_maps(both.everywhere, both.once, both.window)
    assert pictures[1].get("alt") == lb.describe_section(made.results["point"])
    assert pictures[2].get("alt") == lb.describe_wear(made.results["life"])
    for picture in pictures:
        kind, _, data = picture.get("src").partition(",")
        assert kind == "data:image/svg+xml;base64"
        assert b"<svg" in base64.b64decode(data)
        assert b"<image" not in base64.b64decode(data) or b"data:image" in base64.b64decode(data)


def test_nothing_is_fetched(made):
    assert "http" not in made.html.replace("http-equiv", "")
    assert "@import" not in made.html
    assert "default-src 'none'" in made.html
    for element in tree(made).iter():
        assert element.tag not in ("script", "link", "iframe", "object")
        assert all(not name.startswith("on") for name in element.attrib)


def test_the_setting_is_that_of_the_interface(made):
    job = made.results["window"].job
    angles, loads = job.fields["setting.set_angle"], job.fields["setting.line_load"]
    np.testing.assert_allclose(np.degrees(angles), np.linspace(24.0, 36.0, 5))  # 30 deg, 6 down and up
    np.testing.assert_allclose(loads, np.linspace(44.0, 242.0, 5))  # 110 N/m, 0.4 to 2.2 times
    fields = {"setting.set_angle_rad": angles, "setting.line_load": loads}
    both = lb.two_maps(lb.example_case(CASE), fields, job.limits)
    assert both.window.recommended == made.results["window"].recommended
    told = rows(made, "setting", 0)
    window = both.window
    assert number(told["set angle"][0]) == three(np.degrees(window.recommended.set_angle))
    assert number(told["line load"][0]) == three(window.recommended.line_load)
    assert number(told["line load"][2]) == three(window.last_good["load_down"])
    assert number(told["line load"][4]) == three(window.last_good["load_up"])
    point = lb.solve(both.bedded)
    there = rows(made, "setting", 1)
    assert number(there["ink left on the lands"][0]) == pytest.approx(point.film_on_lands * 1e6, rel=1e-3)
    assert number(there["pressure on the lands"][0]) == pytest.approx(point.mean_pressure * 1e-6, rel=1e-3)
    assert number(there["excess ink after the load step"][0]) == pytest.approx(point.excess_after_step * 1e6, rel=1e-3)
    assert number(there["bending stress of the blade"][0]) == pytest.approx(100 * point.stress_ratio, rel=1e-3)
    assert there["state"][0] == point.regime
    drift = lb.drift(both.bedded, made.results["window"].job.limits)
    assert drift == made.results["drift"]
    assert made.answer == lb.advice(both, drift, made.results["speed"])[0]


def test_life_scoring_and_certainty_are_those_of_the_interface(made):
    place = made.results["maps"].bedded
    story = lb.wear(place.replace({"tip.kind": "square_edge"}), "200 km", length_limit="0.5 mm", tolerance=1e-4)
    told = rows(made, "life", 0)
    assert number(told["length of the worn facet along the roll"][1]) == three(
        float(story.dataset.facet_length[-1]) * 1e6
    )
    assert number(told["normal load per width"][1]) == three(float(story.dataset.line_load[-1]))
    assert number(told["land height of the roll lost so far"][1]) == three(float(story.dataset.land_loss[-1]) * 1e6)
    assert "At least 200 km of web" in made.html

    risk = lb.scoring(place, lb.example_particles())
    marks = rows(made, "scoring", 0)
    assert number(marks["pigment aggregates"][4]) == pytest.approx(
        risk["pigment aggregates"].per_hour["stays"], rel=0.06
    )
    assert number(marks["blade slivers"][0]) == three(1e6 * risk["blade slivers"].entry_size)
    assert "invented" in text_of(tree(made).find(".//section[@id='scoring']"))

    names = ["film_on_lands", "wear_rate"]
    sure = lb.uncertainty(place, lb.usual_spread(place), names, samples=16, rng=0)
    quantiles = rows(made, "uncertainty", 0)
    for cell, value in zip(quantiles["ink left on the lands"], sure.quantiles["film_on_lands"][:3], strict=False):
        assert number(cell) == pytest.approx(value * 1e6, rel=1e-3)
    assert set(made.results["uncertainty"].spread) == set(lb.usual_spread(place))


def test_when_the_film_passes_its_limit_is_read_off_the_history(made):
    story, point = made.results["life"], made.results["point"]
    film = story.dataset.film_on_lands.values
    limit = 0.06 * point.ink_carried
    assert film[0] < limit < film[-1]
    words = text_of(tree(made).find(".//section[@id='life']"))
    at = float(re.search(r"From ([\d.e+-]+) km on the limit", words)[1])
    assert at == three(1e-3 * float(story.dataset.distance.values[film > limit][0]))


def test_every_input_stands_there_with_its_source_and_whether_it_is_usual():
    case = lb.example_case(CASE).replace({"setting.load_step": "20 %"})
    with pytest.warns(lb.LibbladeWarning):
        case = case.replace({"setting.friction": 0.5})
    report = lb.report(case, parts=(), **SMALL)
    section = tree(report).find(".//section[@id='inputs']")
    told = [[text_of(cell) for cell in row] for row in section.findall(".//tbody/tr")]
    fields = [f for f in lb.field_table() if case.get(f.path) is not None and not case._repeats(f.path)]
    assert len(told) == len(fields)
    by = {row[0]: row[1:] for row in told}
    for field in fields:
        assert by[field.meaning][4] == shop_signs(field.source or "-")
        value = case[field.path]
        if not isinstance(value, str) and field.display(value) != 0.0:
            assert number(by[field.meaning][0]) == pytest.approx(field.display(value), rel=1e-5)
    friction = next(f for f in fields if f.path == "setting.friction")
    assert by[friction.meaning][2:4] == ["NO", "stated"]
    assert by[next(f for f in fields if f.path == "roll.radius").meaning][2:4] == ["yes", "stated"]
    # 0.05 and 0.01 are not written in the file of the case.
    assert by[next(f for f in fields if f.path == "roll.asperity_product").meaning][3] == "default"
    assert by[next(f for f in fields if f.path == "setting.load_step").meaning][3] == "stated"


def test_a_hostile_name_stays_words():
    tree_ = lb.example_case(CASE).to_dict() | {"name": HOSTILE, "note": "<img src=x onerror=alert(1)>"}
    report = lb.report(lb.Case.from_json(json.dumps(tree_)), parts=(), **SMALL)
    page = tree(report)
    assert text_of(page.find(".//title")) == " ".join(f"{HOSTILE}: blade setting".split())
    assert text_of(page.find(".//h1")) == " ".join(f"{HOSTILE}: blade setting".split())
    assert not list(page.iter("script"))
    assert not list(page.iter("img"))
    (style,) = page.iter("style")
    assert "url(" not in style.text
    assert "@import" not in style.text
    header = re.search(r'@top-left \{ content: "(.*?)"; \}', style.text)[1]
    letters = re.sub(r"\\([0-9a-f]{6})", lambda code: chr(int(code[1], 16)), header)
    assert letters == f"{HOSTILE}: blade setting"


def test_without_a_window_the_nearest_change_is_named():
    case = lb.example_case("narrow_web_curing")
    report = lb.report(case, parts=("maps",), **{**SMALL, "side": 3})
    assert not report.results["window"].exists
    assert report.answer.startswith("No setting on this map meets every limit.")
    found = report.results["card"].openings
    assert found == lb.openings(report.results["window"])
    section = text_of(tree(report).find(".//section[@id='setting']"))
    assert found[0].words in section if found else "No single change" in section
    nearest = report.results["maps"].nearest
    at = rows(report, "setting", -2)
    assert number(at["pressure on the lands"][1]) == three(100.0 * nearest.ratios["mean_pressure"])
    assert lb.report(case, parts=(), **{**SMALL, "side": 3}).answer == report.answer


def test_an_actuator_is_read_in_its_own_unit():
    actuator = lb.Actuator(air_pressure="1.5 bar", piston_area="40 cm2", blade_width="2 m", lever_ratio=0.5)
    case = lb.example_case("corrugated_coarse").replace(
        {f"setting.actuator.{name}": value for name, value in actuator.fields().items()}
    )
    report = lb.report(case, parts=(), **{**SMALL, "side": 4})
    load = report.results["point"].line_load
    words = text_of(tree(report).find(".//section[@id='setting']"))
    bar = float(re.search(r"air pressure at the actuator: ([\d.]+) bar", words)[1])
    assert bar == three(1e-5 * actuator.air_pressure_for(load))
    assert "air pressure 1.5 bar" in text_of(tree(report).find(".//section[@id='job']"))


def test_a_part_that_fails_says_so_and_loses_no_other(monkeypatch):
    def broken(*_args, **_options):
        raise RuntimeError("the gauge <fell> off")

    monkeypatch.setattr(sys.modules["libblade._report_outlook"], "scoring", broken)
    report = lb.report(lb.example_case(CASE), parts=("life", "scoring"), **SMALL)
    assert report.failed == {"scoring": "the gauge <fell> off"}
    assert not report.complete
    assert "life" in report.results
    page = tree(report)
    for section in ("scoring", "unsolved"):
        assert "the gauge <fell> off" in text_of(page.find(f".//section[@id='{section}']"))


def test_what_does_not_converge_is_gathered():
    report = lb.report(lb.example_case(CASE), parts=("life",), **{**SMALL, "life": {**SMALL["life"], "max_steps": 3}})
    assert not report.results["life"].convergence.ok
    assert len(report.unsolved) == 1
    assert "ran out of steps" in text_of(tree(report).find(".//section[@id='unsolved']"))
    assert not report.complete


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("30 deg, 12 um and 25 degC.", "30\N{DEGREE SIGN}, 12 \N{MICRO SIGN}m and 25 \N{DEGREE SIGN}C."),
        ("<= 4.5 cm3/m2", "\N{LESS-THAN OR EQUAL TO} 4.5 cm\N{SUPERSCRIPT THREE}/m\N{SUPERSCRIPT TWO}"),
        ("2 N/m (1.5 m2)", "2 N/m (1.5 m\N{SUPERSCRIPT TWO})"),
        ("machine m2 um, 3 umbrellas", "machine m2 um, 3 umbrellas"),
    ],
)
def test_units_are_printed_with_their_signs_after_numbers_alone(text, printed):
    assert shop_signs(text) == printed


@pytest.mark.parametrize(
    ("options", "named"),
    [
        ({"limits": {"film_on_land": "6 %"}}, "film_on_land"),
        ({"limits": {}}, "limits"),
        ({"reasons": {"wear_rate": "why"}}, "reasons"),
        ({"side": 2}, "side"),
        ({"parts": ("cover",)}, "parts"),
        ({"samples": 100}, "samples"),
        ({"seed": -1}, "rng"),
        ({"fields": {"setting.friction": [0.1, 0.2]}}, "fields"),
        ({"fields": {"setting.line_load": [100.0]}}, "setting.line_load"),
        ({"particles": ["dust"]}, "particles"),
    ],
)
def test_bad_options_are_refused_before_the_work(options, named):
    with pytest.raises(lb.InvalidInput) as error:
        lb.report(lb.example_case(CASE), **{**SMALL, **options})
    assert any(problem.path.startswith(named) for problem in error.value.problems)


def test_without_jinja_the_command_to_install_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "jinja2", None)
    with pytest.raises(ImportError, match=r'pip install "libblade\[report\]"'):
        lb.report(lb.example_case(CASE), **SMALL)


def test_command_writes_the_page_with_its_limits_and_reasons(tmp_path, capsys):
    out = tmp_path / "a.html"
    order = [
        "report",
        CASE,
        "-o",
        str(out),
        "--side",
        "4",
        "--parts",
        "maps",
        "--quiet",
        "--title",
        "Line 3",
        "--date",
        "May",
    ]
    order += [
        "--angles",
        "28:34 deg",
        "--loads",
        "60:150 N/m",
        "--limit",
        "mean_pressure=0.4 MPa because walls are thin",
    ]
    order += ["--limit", "regime=wiping,mixed"]
    assert main(order) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{out}: Set ")
    page = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(out.read_text(encoding="utf-8"))
    words = text_of(page)
    assert text_of(page.find(".//h1")) == "Line 3"
    assert "walls are thin" in words
    assert "no reason was given" in words
    assert "set angle 28\N{DEGREE SIGN} to 34\N{DEGREE SIGN} and line load 60 N/m to 150 N/m" in words


@pytest.mark.parametrize(
    "order",
    [
        ["--limit", "mean_pressure"],
        ["--limit", "mean_pressure=1 MPa", "--limit", "mean_pressure=2 MPa"],
        ["--angles", "28 deg"],
        ["--parts", "cover"],
    ],
)
def test_command_refuses(order, tmp_path, capsys):
    out = tmp_path / "a.html"
    assert main(["report", CASE, "-o", str(out), "--quiet", *order]) == 2
    assert capsys.readouterr().err.startswith("error: ")
    assert not out.exists()


def test_a_page_is_written_whole_or_not_at_all(made, tmp_path):
    made.save(tmp_path / "b.html")
    assert (tmp_path / "b.html").read_text(encoding="utf-8") == made.html
    with pytest.raises(lb.InvalidInput, match="cannot be written"):
        made.save(tmp_path / "none" / "b.html")
