"""Equations as MathML, which browsers draw themselves: no script, no font and nothing from elsewhere."""

from typing import Any

from docutils import nodes
from latex2mathml.converter import convert
from sphinx.application import Sphinx


def visit_inline(self: Any, node: nodes.Element) -> None:
    self.body.append(f'<span class="math">{convert(node.astext())}</span>')
    raise nodes.SkipNode


def visit_block(self: Any, node: nodes.Element) -> None:
    self.body.append(f'<div class="math" tabindex="0">{convert(node.astext(), display="block")}</div>')
    raise nodes.SkipNode


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_html_math_renderer("mathml", (visit_inline, None), (visit_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
