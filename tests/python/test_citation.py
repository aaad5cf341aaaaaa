"""CITATION.cff says which version this is; its keys are those of the Citation File Format 1.2.0."""

import re
import tomllib
from pathlib import Path

import yaml

ROOT = Path(__file__).parents[2]
CITATION = yaml.safe_load((ROOT / "CITATION.cff").read_text(encoding="utf-8"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def test_the_version_is_that_of_the_header():
    header = (ROOT / "libblade" / "include" / "libblade" / "version.hpp").read_text(encoding="utf-8")
    assert f'version = "{CITATION["version"]}"' in header


def test_the_rest_is_that_of_the_package():
    assert CITATION["title"] == PROJECT["name"]
    assert CITATION["license"] == PROJECT["license"]
    assert CITATION["authors"] == PROJECT["authors"]


def test_what_the_format_asks_for_is_there():
    """Required keys and the form of a version of the format: Citation File Format 1.2.0, schema guide."""
    assert {"cff-version", "message", "title", "authors"} <= set(CITATION)
    assert CITATION["cff-version"] == "1.2.0"
    assert CITATION["type"] in {"software", "dataset"}
    released = CITATION.get("date-released")
    assert released is None or re.fullmatch(r"\d{4}-\d{2}-\d{2}", str(released))
