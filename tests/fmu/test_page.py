"""The block of the documentation runs."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def test_the_shift_of_the_page(fmu: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "nip.fmu").symlink_to(fmu)
    monkeypatch.chdir(tmp_path)
    page = (ROOT / "docs" / "howto" / "co_simulation.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"^```python\n(.*?)^```$", page, re.S | re.M)
    space = {"__name__": "page"}
    exec(compile(code, "co_simulation.md", "exec"), space)
    said = re.search(r"^([\d.]+) um on the lands, ([\d.]+) um of blade gone$", capsys.readouterr().out, re.M)
    assert 0.1 < float(said[1]) < 2.0
    assert 1.0 < float(said[2]) < 50.0
    # As the page says: wiping wears, riding does not.
    shift = space["shift"]
    wiped = shift["time"] <= 3600
    assert set(shift["regime"][wiped]) == {1}
    assert set(shift["regime"][~wiped]) == {3}
    assert (shift["length_lost"][~wiped] == shift["length_lost"][wiped][-1]).all()


def test_the_page_names_every_output(variables: dict):
    page = (ROOT / "docs" / "howto" / "co_simulation.md").read_text(encoding="utf-8")
    for name, v in variables.items():
        if v.causality in {"input", "output"}:
            assert f"`{name}`" in page
            for item in v.declaredType.items if v.declaredType else ():
                assert item.name in page
