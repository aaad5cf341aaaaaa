"""`law`: an equation, what computes it, what checks it, and where it comes from; named things that do not exist are warnings."""

from pathlib import Path
from typing import Any

from docutils import nodes
from docutils.parsers.rst import directives
from law_parts import cited_keys, law, problems_of
from sphinx.application import Sphinx
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

logger = logging.getLogger(__name__)


def literal(text: str) -> nodes.literal:
    return nodes.literal(text, text)


class LawDirective(SphinxDirective):
    has_content = True
    required_arguments = 1
    final_argument_whitespace = True
    option_spec = dict.fromkeys(("function", "test", "source"), directives.unchanged_required)

    def run(self) -> list[nodes.Node]:
        found = law(self.arguments[0], self.options)
        keys = cited_keys((Path(self.env.srcdir) / "references.bib").read_text())
        for problem in problems_of(found, keys):
            logger.warning(problem, location=self.get_location())
        box = nodes.container(classes=["law"])
        title = nodes.paragraph("", "", classes=["law-title"])
        title += nodes.strong(found.title, found.title)
        box += title
        self.state.nested_parse(self.content, self.content_offset, box)
        box += self._foot(found, keys)
        return [box]

    def _foot(self, found: Any, keys: set[str]) -> nodes.Node:
        cited = [f"{{cite:p}}`{s}`" if s in keys else s for s in found.sources]
        functions = [f"`{f.room}.hpp` `{f.name}`" for f in found.functions]
        tests = [f"`{t.room}` “{t.name}”" for t in found.tests]
        lines = [("Computed by", functions), ("Checked by", tests), ("Source", cited)]
        foot = nodes.container(classes=["law-foot"])
        for words, parts in lines:
            self.state.nested_parse([f"{words}: {'; '.join(parts)}", ""], self.content_offset, foot)
        return foot


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_directive("law", LawDirective)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
