"""Writes the pages of both interfaces before Sphinx reads: one of the Python names by what they are for, one per C++ header."""

from pathlib import Path
from typing import Any

from law_parts import ROOT
from sphinx.application import Sphinx

import libblade


def python_page() -> str:
    kinds: dict[str, list[str]] = {"Classes": [], "Functions": [], "Pictures": [], "Sentences": []}
    for name in libblade.__all__:
        kind = "Classes" if isinstance(getattr(libblade, name), type) else "Functions"
        if name.startswith("plot_"):
            kind = "Pictures"
        if name.startswith("describe_"):
            kind = "Sentences"
        kinds[kind].append(name)
    parts = ["# Python", "", "Everything that `import libblade as lb` offers. Numbers without units are SI.", ""]
    for kind, names in kinds.items():
        parts += [f"## {kind}", "", "```{eval-rst}", ".. autosummary::", "   :toctree: api", "   :nosignatures:", ""]
        parts += [f"   libblade.{name}" for name in names] + ["```", ""]
    return "\n".join(parts)


SECTIONS = "briefdescription detaileddescription innerclass innernamespace enum func var typedef"


def header_page(stem: str) -> str:
    return f"# {stem}.hpp\n\n```{{eval-rst}}\n.. doxygenfile:: {stem}.hpp\n   :sections: {SECTIONS}\n```\n"


def write(file: Path, text: str) -> None:
    if not file.exists() or file.read_text() != text:
        file.write_text(text)


def pages(app: Sphinx, _: Any) -> None:
    folder = Path(app.srcdir) / "reference"
    write(folder / "python.md", python_page())
    (folder / "cpp").mkdir(exist_ok=True)
    stems = sorted(p.stem for p in (ROOT / "libblade" / "include" / "libblade").glob("*.hpp"))
    for stem in stems:
        write(folder / "cpp" / f"{stem}.md", header_page(stem))


def setup(app: Sphinx) -> dict[str, Any]:
    app.connect("config-inited", pages)  # before anything looks for pages
    return {"parallel_read_safe": True, "parallel_write_safe": True}
