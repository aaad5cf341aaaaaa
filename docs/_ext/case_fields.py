"""`case-fields`: the field table as `libblade schema --fields` writes it, without its heading."""

from pathlib import Path
from typing import Any

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective


class CaseFields(SphinxDirective):
    def run(self) -> list[nodes.Node]:
        file = Path(self.config.case_fields)
        self.env.note_dependency(str(file))
        box = nodes.container(classes=["wide"])
        self.state.nested_parse(file.read_text().splitlines()[2:], self.content_offset, box)
        return [box]


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_config_value("case_fields", "", "env")
    app.add_directive("case-fields", CaseFields)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
