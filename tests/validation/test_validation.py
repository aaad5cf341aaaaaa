"""Published values and trends beside ours: each holds, or is known not to and stands so on the page."""

import json
import re
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
from checks import CHECKS, KNOWN_NOT_TO_HOLD  # noqa: E402
from validation_rows import Row, stated, within  # noqa: E402
from write import as_json  # noqa: E402


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.name)
def test_check(check):
    rows = check.rows()
    assert rows
    failing = [f"{row.quantity}: {row.published} published, {row.ours} here" for row in rows if not row.holds]
    assert bool(failing) != check.holds, failing or "holds now: say so, here and on the page"


def test_what_does_not_hold_is_exactly_what_is_known():
    assert {check.name for check in CHECKS if not check.holds} == KNOWN_NOT_TO_HOLD
    assert len({check.name for check in CHECKS}) == len(CHECKS)


def test_a_row_knows_when_it_does_not_hold():
    assert Row("a", 2.0, 2.01, 0.01).holds
    assert not Row("a", 2.0, 2.03, 0.01).holds
    assert not Row("a", 2.0, float("nan"), 0.01).holds
    assert within("a", 1.0, 2.0, 2.0).holds
    assert not within("a", 1.0, 2.0, 2.1).holds
    assert stated("a", "thinner", True, "thicker").holds
    assert not stated("a", "thinner", False, "thicker").holds


def test_sources_are_in_the_bibliography():
    keys = set(re.findall(r"^@\w+\{([^,]+),", (HERE.parents[1] / "docs/references.bib").read_text(), re.M))
    cited = {key for check in CHECKS for key in re.findall(r"\{cite:[tp]\}`([^`]+)`", check.source)}
    assert len(cited) > 15
    assert cited <= keys


def test_the_page_shows_what_does_not_hold():
    (check,) = (check for check in CHECKS if check.name == "tangential_blade")
    text = json.dumps(as_json([check]))
    assert json.loads(text)["checks"][0]["rows"][0]["status"] == "does not hold"
