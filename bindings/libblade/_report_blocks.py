"""What a report is made of: sections of paragraphs, tables and figures, and the one page they make."""

from __future__ import annotations

import base64
import importlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib import resources
from typing import Any

from libblade._plots import UNITS, _matplotlib, _pyplot
from libblade._window_card import Table

_SIGNS = {"um": UNITS["um"], "degC": "\N{DEGREE SIGN}C"}
_UNIT = re.compile(r"(?<!\w)([-+]?[\d.]+(?:e[-+]?\d+)?) ([A-Za-z]\S*)")
_POWER = re.compile(r"(?<=m)([23])(?!\w)")
_POWERS = {"2": "\N{SUPERSCRIPT TWO}", "3": "\N{SUPERSCRIPT THREE}"}


@dataclass(frozen=True)
class Paragraph:
    """Words; ``kind`` "plain", "warning" for what must not be overlooked, or "key" for the answer."""

    text: str
    kind: str = "plain"


@dataclass(frozen=True)
class Grid:
    """A table with its caption."""

    caption: str
    table: Table


@dataclass(frozen=True)
class Figure:
    """A picture as a data address, and the same in words."""

    source: str
    words: str
    caption: str


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]


Block = Paragraph | Grid | Figure | Bullets


@dataclass
class Section:
    """A part of the report."""

    name: str
    title: str
    blocks: list[Block] = field(default_factory=list)
    unsolved: list[str] = field(default_factory=list)
    """What did not converge in it."""

    def say(self, text: str, kind: str = "plain") -> None:
        if text:
            self.blocks.append(Paragraph(text, kind))

    def table(self, caption: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        if rows:
            self.blocks.append(Grid(caption, Table(tuple(head), tuple(tuple(row) for row in rows))))

    def list(self, items: Sequence[str]) -> None:
        if items:
            self.blocks.append(Bullets(tuple(items)))

    def picture(self, axes: Any, words: str, caption: str) -> None:
        """Takes the figure of some axes, and closes it."""
        first = axes if hasattr(axes, "figure") else next(iter(axes))
        self.blocks.append(Figure(_drawn(first.figure), words, caption))


def _drawn(figure: Any) -> str:
    """As SVG, which stays sharp in print; as an image it shares no names with the page and can fetch nothing."""
    canvas = io.BytesIO()
    with _matplotlib("style").context({"svg.hashsalt": "libblade", "svg.fonttype": "path"}):
        figure.savefig(canvas, format="svg", metadata={"Date": None, "Creator": None})
    _pyplot().close(figure)
    return "data:image/svg+xml;base64," + base64.b64encode(canvas.getvalue()).decode("ascii")


def shop_signs(text: str) -> str:
    """ "30 deg, <= 12 um" as printed: "30°, ≤ 12 µm". Only what follows a number is taken for a unit."""
    text = text.replace("<= ", "\N{LESS-THAN OR EQUAL TO} ").replace(">= ", "\N{GREATER-THAN OR EQUAL TO} ")
    return _UNIT.sub(_signed, text)


def _signed(found: re.Match[str]) -> str:
    unit = found[2].rstrip(".,;:)")
    rest = found[2][len(unit) :]
    if unit == "deg":
        return found[1] + UNITS["deg"] + rest
    return f"{found[1]} {_SIGNS.get(unit) or _POWER.sub(lambda power: _POWERS[power[1]], unit)}{rest}"


def css_text(text: str) -> str:
    """A text as a string of a style sheet, all but plain letters and digits as numbers, so that it can end nothing."""
    return '"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in _one_line(text)) + '"'


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def templates() -> Any:
    """Jinja2, which is an extra."""
    try:
        return importlib.import_module("jinja2")
    except ImportError as error:
        raise ImportError('reports need Jinja2: pip install "libblade[report]"') from error


def page(title: str, date: str, sections: Sequence[Section]) -> str:
    """The whole report as one HTML file that needs nothing else."""
    jinja = templates()
    folder = resources.files("libblade") / "report"
    files = {name: (folder / name).read_text(encoding="utf-8") for name in ("report.html.j2", "report.css")}
    surroundings = jinja.Environment(
        loader=jinja.DictLoader(files),
        autoescape=True,
        undefined=jinja.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    surroundings.filters |= {
        "signs": shop_signs,
        "css_text": lambda text: jinja.utils.markupsafe.Markup(css_text(text)),
    }
    surroundings.tests["a"] = lambda block, kind: type(block).__name__ == kind
    return str(
        surroundings.get_template("report.html.j2").render(
            title=_one_line(title),
            date=_one_line(date),
            sections=sections,
            style=jinja.utils.markupsafe.Markup(files["report.css"]),
        )
    )
