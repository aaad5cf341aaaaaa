"""`validation-rows`: the table that the checks of tests/validation have written; a missing one is a warning."""

import json
from collections import defaultdict
from pathlib import Path
from typing import Any

from docutils import nodes
from sphinx.application import Sphinx
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective

logger = logging.getLogger(__name__)
HEAD = ("quantity", "published", "libblade", "difference", "tolerance", "status")


def number(value: Any) -> str:
    if not isinstance(value, float):
        return str(value)
    return f"{value:.6g}"


def percent(value: Any) -> str:
    if not isinstance(value, float):
        return str(value)
    return "0" if value == 0.0 else f"{100 * value:.2g} %"


def entry(text: str, *, bold: bool = False) -> nodes.entry:
    paragraph = nodes.paragraph("", "", nodes.strong(text, text) if bold else nodes.Text(text))
    return nodes.entry("", paragraph)


def table(rows: list[dict[str, Any]]) -> nodes.table:
    body = nodes.tbody()
    for row in rows:
        fails = row["status"] != "holds"
        unit = f" [{row['unit']}]" if row["unit"] else ""
        cells = [
            entry(row["quantity"] + unit),
            entry(number(row["published"])),
            entry(number(row["ours"])),
            entry(percent(row["difference"])),
            entry(percent(row["tolerance"])),
            entry(row["status"], bold=fails),
        ]
        body += nodes.row("", *cells, classes=["fails"] if fails else [])
    group = nodes.tgroup("", cols=len(HEAD))
    group += [nodes.colspec(colwidth=1) for _ in HEAD]
    group += nodes.thead("", nodes.row("", *[entry(word) for word in HEAD]))
    group += body
    return nodes.table("", group, classes=["validation"])


class ValidationRows(SphinxDirective):
    """Argument: "all", "failing" or "summary"."""

    required_arguments = 1

    def run(self) -> list[nodes.Node]:
        file = Path(self.config.validation_rows)
        self.env.note_dependency(str(file))
        if not file.exists():
            logger.warning("no %s: run `make validation` first", file, location=self.get_location())
            return []
        checks = json.loads(file.read_text())["checks"]
        if self.arguments[0] == "summary":
            return self._summary(checks)
        if self.arguments[0] == "failing":
            checks = [check for check in checks if not check["holds"]]
        return [part for check in checks for part in self._check(check)]

    def _summary(self, checks: list[dict[str, Any]]) -> list[nodes.Node]:
        by_class: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for check in checks:
            for row in check["rows"]:
                by_class[check["class"]][row["status"] != "holds"] += 1
        whole = ", ".join(f"{kind}: {a} hold, {b} do not" for kind, (a, b) in sorted(by_class.items()))
        return [nodes.paragraph("", f"{len(checks)} checks. {whole}.")]

    def _check(self, check: dict[str, Any]) -> list[nodes.Node]:
        section = nodes.section(ids=[check["name"].replace("_", "-")])
        section += nodes.title(check["title"], check["title"])
        self.state.nested_parse([f"{check['source']} Class: {check['class']}.", ""], self.content_offset, section)
        if check["note"]:
            self.state.nested_parse([check["note"], ""], self.content_offset, section)
        section += nodes.container("", table(check["rows"]), classes=["wide"])
        if self.arguments[0] == "all":
            return [section]
        section["ids"] = [section["ids"][0] + "-here"]
        return [section]


def setup(app: Sphinx) -> dict[str, Any]:
    app.add_config_value("validation_rows", "", "env")
    app.add_directive("validation-rows", ValidationRows)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
