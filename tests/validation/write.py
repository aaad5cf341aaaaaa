"""Runs every check and writes the rows as JSON for the documentation: python tests/validation/write.py <file>."""

import json
import sys
from pathlib import Path
from typing import Any

from checks import CHECKS
from validation_rows import Check

import libblade as lb


def as_json(checks: list[Check]) -> dict[str, Any]:
    return {
        "version": lb.__version__,
        "checks": [
            {
                "name": check.name,
                "title": check.title,
                "source": check.source,
                "class": check.kind,
                "note": check.note,
                "holds": check.holds,
                "rows": [
                    {
                        "quantity": row.quantity,
                        "unit": row.unit,
                        "published": row.published,
                        "ours": row.ours,
                        "difference": row.difference,
                        "tolerance": row.tolerance,
                        "status": "holds" if row.holds else "does not hold",
                    }
                    for row in check.rows()
                ],
            }
            for check in checks
        ],
    }


def main(target: Path) -> int:
    """0 when exactly what is known not to hold does not."""
    content = as_json(CHECKS)
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(json.dumps(content, indent=1, default=float) + "\n")
    wrong = [
        found["name"]
        for found in content["checks"]
        if found["holds"] == any(row["status"] != "holds" for row in found["rows"])
    ]
    for name in wrong:
        print(f"not as known: {name}")
    print(f"{len(content['checks'])} checks written to {target}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
