"""What was found of the mutants, as a page of the documentation and as data."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from mutants import LIST, ROOT, Mutant, is_python, program_of

PAGE, DATA = ROOT / "docs" / "mutants.md", LIST.with_name("results.json")
HEAD = LIST.with_name("page.md")


def _cell(text: str) -> str:
    return text.replace("|", "/").replace("<", "&lt;").replace("*", "\\*").replace("\n", " ")


def _by(result: dict[str, Any]) -> str:
    if result["verdict"] != "caught":
        return "**survived**"
    test = result["by"]
    program = Path(test.partition("::")[0]).stem if is_python(test) else program_of(test)[0]
    return f"`{program}`: {_cell(result['case'])}"


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
    lines += ["", "| mutant | what is broken | in | caught by | s |", "| --- | --- | --- | --- | ---: |"]
    lines += [
        f"| `{m.name}` | {_cell(m.what)} | `{Path(m.file).name}` | {_by(result)} | {result['seconds']:.1f} |"
        for m, result in rows
    ]
    head = HEAD.read_text(encoding="utf-8")
    PAGE.write_text("\n".join([head, *lines, ""]), encoding="utf-8")
    data = [
        {"name": m.name, "what": m.what, "file": m.file, "old": m.old, "new": m.new}
        | {key: result[key] for key in ("verdict", "by", "case", "seconds", "date")}
        for m, result in rows
    ]
    DATA.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
