"""Code blocks of README, DEVELOPERS and docs run; what the theory pages name exists. A block that is not run says why above it:
`<!-- not run: reason -->`."""

import contextlib
import io
import itertools
import json
import re
import shlex
import subprocess
import sys
from pathlib import Path
from shutil import which

import pytest
from libblade._cli import main

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "docs" / "_ext"))
from law_parts import Law, cited_keys, laws_of, named, problems_of  # noqa: E402

PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")])
PAGES = [page for page in PAGES if "_build" not in page.parts and page.parent.name not in {"api", "cpp"}]
FENCE = re.compile(r"(?P<before>[^\n]*)\n```(?P<kind>python|sh|cpp|c|json)\n(?P<code>.*?)^```$", re.S | re.M)
SKIPPED = re.compile(r"<!-- not run: (?P<reason>.+) -->")
KNOWN = {"python", "sh", "cpp", "c", "json", "", "text"}
COMPILERS = {"cpp": ("c++", "-std=c++20"), "c": ("cc", "-std=c99", "-Wpedantic")}
THEORY = sorted((ROOT / "docs" / "theory").glob("*.md"))


def blocks(page: Path, kind: str) -> list[str]:
    """Those to run, in order."""
    return [
        found["code"]
        for found in FENCE.finditer("\n" + page.read_text(encoding="utf-8"))
        if found["kind"] == kind and not SKIPPED.search(found["before"])
    ]


def pages_with(kind: str) -> list[Path]:
    return [page for page in PAGES if blocks(page, kind)]


def name(page: Path) -> str:
    return str(page.relative_to(ROOT))


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning", "ignore::DeprecationWarning")
@pytest.mark.parametrize("page", pages_with("python"), ids=name)
def test_python_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The blocks of a page one after the other, as a reader would."""
    pytest.importorskip("matplotlib").use("Agg")
    monkeypatch.chdir(tmp_path)
    space: dict[str, object] = {"__name__": "page"}
    for code in blocks(page, "python"):
        with contextlib.redirect_stdout(io.StringIO()):
            exec(compile(code, name(page), "exec"), space)
    import matplotlib.pyplot as plt

    plt.close("all")


@pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")
@pytest.mark.parametrize("page", pages_with("sh"), ids=name)
def test_commands_run(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys):
    """Commands of libblade; `make` targets exist. Anything else has to say why it is not run."""
    monkeypatch.chdir(tmp_path)
    targets = re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.M)
    for code in blocks(page, "sh"):
        for line in code.splitlines():
            words = shlex.split(line, comments=True)
            if words[:1] == ["libblade"] or words[:3] == ["python", "-m", "libblade"]:
                assert main(words[1 if words[0] == "libblade" else 3 :]) == 0, line
                assert capsys.readouterr().out
            else:
                made = [word for before, word in itertools.pairwise(words) if before == "make"]
                assert set(made) <= {*targets, "&&"}, line
                assert made or not words, f"{line}: neither libblade nor make; say why it is not run"


@pytest.mark.skipif(which("c++") is None, reason="no C++ compiler")
@pytest.mark.parametrize(
    ("page", "kind"),
    [(p, k) for k in COMPILERS for p in pages_with(k)],
    ids=lambda x: name(x) if isinstance(x, Path) else x,
)
def test_it_compiles(page: Path, kind: str, tmp_path: Path):
    for k, code in enumerate(blocks(page, kind)):
        file = tmp_path / f"block_{k}.{kind}"
        file.write_text(code, encoding="utf-8")
        flags = ["-fsyntax-only", "-Wall", "-Wextra", "-Werror", f"-I{ROOT / 'libblade' / 'include'}"]
        made = subprocess.run([*COMPILERS[kind], *flags, str(file)], capture_output=True, text=True, check=False)
        assert made.returncode == 0, f"{code}\n{made.stderr}"


@pytest.mark.parametrize("page", pages_with("json"), ids=name)
def test_json_is_a_case(page: Path, tmp_path: Path):
    for k, code in enumerate(blocks(page, "json")):
        json.loads(code)
        file = tmp_path / f"block_{k}.json"
        file.write_text(code, encoding="utf-8")
        assert main(["check", str(file)]) == 0


def test_blocks_are_of_a_known_kind():
    """So that a block cannot slip through under another name."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        kinds = {kind for kind in re.findall(r"^```([^\n{]*)$", text, re.M) if kind}
        assert kinds <= KNOWN, name(page)
    assert len(pages_with("python")) > 6
    assert len(pages_with("cpp")) > 1
    assert pages_with("c")


@pytest.mark.parametrize("page", THEORY, ids=name)
def test_laws_name_what_exists(page: Path):
    keys = cited_keys((ROOT / "docs" / "references.bib").read_text(encoding="utf-8"))
    text = page.read_text(encoding="utf-8")
    laws = laws_of(text)
    assert len(laws) == text.count(":::{law}")
    assert laws or page.stem == "overview"
    assert not [problem for law, _ in laws for problem in problems_of(law, keys)]
    outside = re.sub(r"^:::\{law\}.*?^:::$", "", text, flags=re.S | re.M)
    assert "$$" not in outside, "an equation stands in a law, with its function, test and source"


def test_a_law_that_names_nothing_is_found():
    good = Law("a", named("film: solve_film"), named("film: step bearing (Rayleigh 1918)"), ("reynolds1886",))
    assert not problems_of(good, {"reynolds1886"})
    for bad in (
        Law("a", named("film: solve_films"), good.tests, good.sources),
        Law("a", named("films: solve_film"), good.tests, good.sources),
        Law("a", good.functions, named("film: no such test"), good.sources),
        Law("a", good.functions, good.tests, ("reynolds1887",)),
        Law("a", good.functions, (), good.sources),
    ):
        assert problems_of(bad, {"reynolds1886"})
