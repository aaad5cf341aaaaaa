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


SECTIONS = (
    "briefdescription detaileddescription innerclass innernamespace enum func var typedef "
    "public-attrib public-func public-static-func public-type"
)


def heading(lines: list[str]) -> list[str]:
    """The comment that a header begins with: what it is, its equations and sources."""
    end = next((k for k, line in enumerate(lines) if not line.startswith("//")), len(lines))
    return [line[2:].removeprefix(" ") for line in lines[:end]]


def header_page(file: Path) -> str:
    comment = "\n".join(heading(file.read_text().splitlines()))
    reference = f".. doxygenfile:: {file.name}\n   :sections: {SECTIONS}"
    return f"# {file.name}\n\n```text\n{comment}\n```\n\n```{{eval-rst}}\n{reference}\n```\n"


def write(file: Path, text: str) -> None:
    if not file.exists() or file.read_text() != text:
        file.write_text(text)


def pages(app: Sphinx, _: Any) -> None:
    folder = Path(app.srcdir) / "reference"
    write(folder / "python.md", python_page())
    (folder / "cpp").mkdir(exist_ok=True)
    for file in sorted((ROOT / "libblade" / "include" / "libblade").glob("*.hpp")):
        write(folder / "cpp" / f"{file.stem}.md", header_page(file))


def setup(app: Sphinx) -> dict[str, Any]:
    app.connect("config-inited", pages)  # before anything looks for pages
    return {"parallel_read_safe": True, "parallel_write_safe": True}
