"""The demo, the README's code blocks and its words are what they claim to be."""

import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import libblade as lb

image = pytest.importorskip("matplotlib.image")
ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def load_demo():
    spec = importlib.util.spec_from_file_location("demo", ROOT / "examples/python/demo.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Runs the demo on a coarse grid; what it printed and where it drew."""
    folder = tmp_path_factory.mktemp("demo")
    script = ROOT / "examples/python/demo.py"

    run = subprocess.run(
        [sys.executable, script, "--side", "24", "--out", folder],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
    )
    assert run.returncode == 0, run.stderr
    return run.stdout, folder


def test_demo_draws_three_pictures(demo):
    _, folder = demo
    for name in ("maps", "section", "lesson"):
        picture = image.imread(folder / f"{name}.png")
        assert picture.shape[1] > 1000
        assert picture[..., :3].std() > 0.05  # not a blank sheet


def test_demo_says_what_to_set_how_far_and_what_fails(demo):
    text, _ = demo
    assert re.search(r"^Set [\d.]+ deg and [\d.]+ N/m", text, re.MULTILINE)
    assert "Once run in it may drift" in text
    assert all(f"{side}:" in text for side in ("lower angle", "steeper angle", "less load", "more load"))
    assert re.search(r"between 100 m/min and 900 m/min the limit of excess ink is (not )?passed", text)
    assert "statements about the equations, not about a press" in text


def test_demo_recommends_a_setting_that_keeps_its_limits(demo):
    text, _ = demo
    angle, load = map(float, re.search(r"^Set ([\d.]+) deg and ([\d.]+) N/m", text, re.MULTILINE).groups())
    case = lb.example_case("folding_carton_water").replace(
        {"setting.set_angle": f"{angle} deg", "setting.line_load": load, "setting.load_step": load_demo().LOAD_STEP}
    )
    point = lb.solve(case)
    assert point.film_on_lands <= 0.06 * point.ink_carried * 1.01  # printed with 3 digits
    assert point.excess_after_step <= 0.12 * point.ink_carried * 1.01
    assert point.mean_pressure <= 0.5e6


def test_demo_every_limit_has_a_reason():
    module = load_demo()
    assert module.LIMITS.keys() == module.REASONS.keys()


def test_pressing_harder_opens_the_facet_of_a_doctoring_blade_and_closes_that_of_a_trailing_one():
    # Geometry: more load turns the tip away from the roll; tilt = bedded - effective (doctoring), reversed when trailing.
    # The base case of the independent solution (tests/reference/base_case) gives the same signs.
    case = lb.example_case("folding_carton_water").replace({"setting.chamber_pressure": "0 Pa"})
    before, after = lb.pressed_harder(case, "5 %")
    assert after.facet_tilt > 0.0
    assert after.film_on_lands > before.film_on_lands
    before, after = lb.pressed_harder(case.replace({"setting.orientation": "trailing"}), "5 %")
    assert after.facet_tilt < 0.0
    assert after.film_on_lands < before.film_on_lands


def test_pressed_harder_meets_the_independent_solution():
    # tests/reference/base_case, "doctoring, water, +5 %": intervals of a separately written solution.
    case = lb.load_case(ROOT / "tests/reference/base_case/case.json")
    before, after = lb.pressed_harder(case, 0.05)
    assert 0.22e-6 <= before.film_on_lands <= 0.35e-6
    assert 0.6e-6 <= after.film_on_lands <= 1.0e-6
    assert after.interference == pytest.approx(1.05 * before.interference, rel=1e-6)


@pytest.mark.parametrize("step", ["200 %", -0.95, "5 mm"])
def test_pressed_harder_refuses(step):
    with pytest.raises(lb.InvalidInput):
        lb.pressed_harder(lb.example_case("folding_carton_water"), step)


def test_drift_ends_where_a_limit_is_passed():
    case = lb.example_case("folding_carton_water")
    limits = {"excess_after_step": "12 %"}
    sides = lb.drift(case, limits)
    blade = lb.run_in_once(case)
    for path, name in (("setting.set_angle", "angle_down"), ("setting.line_load", "load_up")):
        side = sides[name]
        assert side.passed == ("excess_ink",)
        unit = " rad" if "angle" in path else " N/m"
        at = lb.solve(blade.replace({path: f"{side.value!r}{unit}"}), step_response=False, other_branch=False)
        beyond = side.value + 3e-4 * (side.value - case[path]) / abs(side.value - case[path]) * case[path]
        past = lb.solve(blade.replace({path: f"{beyond!r}{unit}"}), step_response=False, other_branch=False)
        assert at.excess_ink <= 0.12 * at.ink_carried
        assert past.excess_ink > 0.12 * past.ink_carried


def test_without_a_window_the_nearest_setting_is_named():
    case = lb.example_case("folding_carton_water")
    fields = {"setting.set_angle_deg": np.linspace(26, 34, 4), "setting.line_load": np.linspace(80, 160, 4)}
    maps = lb.two_maps(case, fields, {"excess_after_step": "0.1 %"})
    assert not maps.window.exists
    assert maps.nearest.ratios["excess_after_step"] > 1.0
    worst = maps.everywhere.excess_after_step / (0.001 * maps.everywhere.ink_carried)
    assert maps.nearest.ratios["excess_after_step"] == pytest.approx(float(worst.min()))
    sentence = lb.advice(maps)[0]
    assert sentence.startswith("No setting on this map meets every limit. The nearest is")


def test_readme_python_runs(tmp_path, monkeypatch):
    (code,) = blocks("python")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)
    assert names["maps"].window.exists
    assert (tmp_path / "maps.png").stat().st_size > 10_000
    assert len(code.strip().splitlines()) <= 12


def test_readme_cpp_is_the_example_that_the_cpp_tests_build():
    (code,) = blocks("cpp")
    assert code == (ROOT / "examples/cpp/minimal.cpp").read_text(encoding="utf-8")


def test_readme_commands_exist():
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    (shell,) = blocks("sh")
    targets = re.findall(r"make (\w+)", shell)
    assert targets == ["demo", "test"]
    assert all(re.search(rf"^{target}:", makefile, re.MULTILINE) for target in targets)


def test_readme_links_and_cautions():
    for link in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / link).exists(), link
    for word in ("razor sharp", "Lock out", "Solvents", "caustic", "gloves", "eye protection", "Local codes"):
        assert word in README
