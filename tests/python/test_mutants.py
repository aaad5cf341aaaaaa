"""The list of mutants cannot rot: each of its texts still stands in the sources, and what is to see it exists."""

import importlib.util
import json
import sys
from dataclasses import replace

import pytest


@pytest.fixture(scope="module")
def mutants(root):
    spec = importlib.util.spec_from_file_location("mutants", root / "tests/mutants/mutants.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules["mutants"] = module  # where its dataclass looks for its annotations
    spec.loader.exec_module(module)
    yield module
    del sys.modules["mutants"]


def test_every_text_of_the_list_stands_once_in_its_file(mutants):
    assert mutants.faults(mutants.mutants()) == []


def test_what_is_wrong_with_a_list_is_said(mutants):
    good = mutants.mutants()[0]
    for bad, told in [
        (replace(good, old="no such text"), "stands 0 times"),
        (replace(good, old="return"), "times in"),
        (replace(good, file="libblade/src/nothing.cpp"), "stands 0 times"),
        (replace(good, new=good.old), "breaks nothing"),
        (replace(good, tests=("test_nothing",)), "there is no"),
        (replace(good, tests=("test_blade: nothing of that name",)), "no test of"),
    ]:
        assert any(told in fault for fault in mutants.faults([bad]))
    assert any("2 times" in fault for fault in mutants.faults([good, good]))
    with pytest.raises(ValueError, match="stands 0 times"):
        replace(good, old="no such text").applied(mutants.ROOT)


def test_the_page_tells_of_every_mutant_and_none_survived(mutants, root):
    found = json.loads((root / "tests/mutants/results.json").read_text(encoding="utf-8"))
    listed = {(m.name, m.old, m.new) for m in mutants.mutants()}
    assert {(row["name"], row["old"], row["new"]) for row in found} <= listed, "run `make mutants` again"
    assert [row["name"] for row in found if row["verdict"] != "caught"] == []
    page = (root / "docs/mutants.md").read_text(encoding="utf-8")
    tried = {row["name"] for row in found}
    untried = page.partition("Not tried yet: ")[2].partition(".\n")[0].split(", ")
    for name, _, _ in listed:
        assert f"* - `{name}`\n" in page if name in tried else name in untried, "run `make mutants` again"
