"""Notebooks are stored without output, run from top to bottom, and end in checks of their own."""

import json
import sys
from pathlib import Path

import pytest

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")
pytest.importorskip("matplotlib")

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_stored_without_output(path: Path):
    for cell in nbformat.read(path, 4).cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_asserts_intervals_and_exports(path: Path):
    code = [cell.source for cell in nbformat.read(path, 4).cells if cell.cell_type == "code"]
    assert any("assert " in source for source in code)
    assert "savefig" in code[-1]
    intervals = json.loads((ROOT / "tests/reference/notebooks" / f"{path.stem}.json").read_text())["intervals"]
    assert all(low < high for low, high in intervals.values())


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_runs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    # A kernel of its own, that is this very interpreter, whatever kernels are installed elsewhere.
    spec = tmp_path / "kernels" / "this"
    spec.mkdir(parents=True)
    argv = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
    (spec / "kernel.json").write_text(json.dumps({"argv": argv, "display_name": "this", "language": "python"}))
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path))
    notebook = nbformat.read(path, 4)
    client = nbclient.NotebookClient(
        notebook, timeout=120, kernel_name="this", resources={"metadata": {"path": str(ROOT / "notebooks")}}
    )
    client.execute()
    export = ROOT / "out" / f"{path.stem}.png"
    assert export.stat().st_size > 10_000
