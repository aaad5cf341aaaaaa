"""What people read, word for word: texts and HTML of cases, points and failures.

The golden texts are regression values printed by this project: they prove that nothing changed unseen, nothing about physics.
After a wanted change: ``UPDATE_GOLDEN=1 .venv/bin/python -m pytest tests/python/test_golden.py``, then read the difference.
"""

import os
import re
from pathlib import Path

import pytest

import libblade as lb

GOLDEN = Path(__file__).parents[1] / "reference" / "golden"


def rounded(text: str) -> str:
    """Three digits of every number with a point: the last ones may differ between processors."""
    return re.sub(r"\d+\.\d+(e-?\d+)?", lambda m: f"{float(m[0]):.3g}", text)


def compare(name: str, text: str) -> None:
    path = GOLDEN / name
    if os.environ.get("UPDATE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(rounded(text) + "\n", encoding="utf-8")
    assert rounded(text) + "\n" == path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def flat(case):
    pressed = {"setting.orientation": "trailing", "setting.set_angle": "15 deg", "setting.line_load": "1500 N/m"}
    with pytest.warns(lb.LibbladeWarning):
        return lb.solve(case.replace(pressed), on_failure="flag")


def test_case_text_and_html(case):
    compare("case.txt", repr(case))
    compare("case.html", case._repr_html_())


def test_point_text_and_html(case):
    point = lb.solve(case)
    assert repr(point).startswith("converged")
    compare("point.txt", repr(point))
    compare("point.html", point._repr_html_())


def test_failed_point_text_and_html(flat):
    assert "flat" in repr(flat).splitlines()[0]
    compare("failed_point.txt", repr(flat))
    compare("failed_point.html", flat._repr_html_())


def test_bad_input_text():
    with pytest.raises(lb.InvalidInput) as bad:
        lb.Case(
            blade=lb.Blade(thickness="15 mm", free_length="12 mm"),
            roll=lb.Roll(radius="70 m"),
            ink=lb.Ink(viscosity="30 Pa"),
            setting=lb.Setting(set_angle=30, line_load="100 N/m", surface_speed="300 m/min"),
        )
    compare("bad_input.txt", str(bad.value))
