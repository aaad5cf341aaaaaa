"""What was found of the mutants, as a page of the documentation and as data."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from mutants import LIST, ROOT, Mutant, is_python, program_of

PAGE, DATA = ROOT / "docs" / "mutants.md", LIST.with_name("results.json")
HEAD = LIST.with_name("page.md")


def _cell(text: str) -> str:
    return text.replace("<", "&lt;").replace("*", "\\*").replace("\n", " ")


def _by(result: dict[str, Any]) -> str:
    if result["verdict"] != "caught":
        return "**survived**"
    test, case = result["by"], result["case"]
    if not is_python(test):
        return f"`{program_of(test)[0]}`: {_cell(case)}"
    name, _, parameters = case.partition("[")  # words that a line can break between
    words = name.removeprefix("test_").replace("_", " ") + (f" [{parameters}" if parameters else "")
    return f"`{Path(test.partition('::')[0]).stem}`: {_cell(words)}"


def write_report(listed: list[Mutant], found: dict[str, dict[str, Any] | None]) -> None:
    """Writes docs/mutants.md and results.json; those that have never been tried are named as such."""
    rows = [(mutant, result) for mutant in listed if (result := found[mutant.name])]
    caught = sum(result["verdict"] == "caught" for _, result in rows)
    untried = [mutant.name for mutant in listed if not found[mutant.name]]
    dates = sorted({result["date"] for _, result in rows}) or ["never"]
    when = dates[0] if dates[0] == dates[-1] else f"{dates[0]} to {dates[-1]}"
    lines = [f"Last run {when}: {len(rows)} mutants, {caught} caught, {len(rows) - caught} survived."]
    if untried:
        lines.append(f"Not tried yet: {', '.join(untried)}.")
    lines += ["", "```{list-table}", ":header-rows: 1", ":widths: 24 34 36 6", ""]
    lines += ["* - mutant", "  - what is broken", "  - caught by", "  - s in its tests"]
    for m, result in rows:
        what = f"{_cell(m.what)} (`{Path(m.file).name}`)"
        lines += [f"* - `{m.name}`", f"  - {what}", f"  - {_by(result)}", f"  - {result['seconds']:.1f}"]
    lines.append("```")
    head = HEAD.read_text(encoding="utf-8")
    PAGE.write_text("\n".join([head, *lines, ""]), encoding="utf-8")
    data = [
        {"name": m.name, "what": m.what, "file": m.file, "old": m.old, "new": m.new}
        | {key: result[key] for key in ("verdict", "by", "case", "seconds", "date")}
        for m, result in rows
    ]
    DATA.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
