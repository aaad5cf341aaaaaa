"""Equations as MathML, which browsers draw themselves: no script, no font and nothing from elsewhere."""

import re
from typing import Any

from docutils import nodes
from latex2mathml.converter import convert
from sphinx.application import Sphinx

NAMED = re.compile(r"(?<!\\,)(\\(?:sin|cos|tanh|tan|cot|ln|log_2)(?![a-z])(?:\^\{?\w\}?)?)(?= *(?:\\|\w))")


def mathml(tex: str, display: str = "inline") -> str:
    """With the thin spaces about named functions that TeX sets by itself."""
    return convert(NAMED.sub(r"\\,\1\\,", tex), display=display)


def visit_inline(self: Any, node: nodes.Element) -> None:
    self.body.append(f'<span class="math">{mathml(node.astext())}</span>')
    raise nodes.SkipNode


def visit_block(self: Any, node: nodes.Element) -> None:
    self.body.append(f'<div class="math" tabindex="0">{mathml(node.astext(), "block")}</div>')
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_html_math_renderer("mathml", (visit_inline, None), (visit_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
