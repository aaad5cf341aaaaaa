"""Breaks the physics on purpose, one mutant of mutants.toml after the other, and looks whether the tests see it.

    python tests/mutants/run.py [NAME ...] [--jobs N] [--again] [--report]

Without names all of them. Copies in build/mutants are broken, the working tree stays as it is. Every test that is used has to pass
on the unbroken copy first. What has been found already is kept until the mutant, its file or its tests change (--again: found
anew). --report writes docs/mutants.md and tests/mutants/results.json from what has been found.

Ends with 1 where a mutant survives all of its tests, 2 where the list or an unbroken test is at fault.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any

from mutants import ROOT, Mutant, faults, mutants, source_of
from report import DATA, write_report
from workshop import WORK, Unsound, Workshop, digest, save


def key_of(mutant: Mutant) -> str:
    """Changes when the mutant, its file or its tests do."""
    sources = [(ROOT / path).read_text(encoding="utf-8") for path in (mutant.file, *map(source_of, mutant.tests))]
    return digest([mutant.what, mutant.old, mutant.new, *mutant.tests, *sources])


def found(mutant: Mutant, *, older: bool = False) -> dict[str, Any] | None:
    """What was found of a mutant. ``older``: also where its file or its tests have changed since and it was caught."""
    path = WORK / "found" / f"{mutant.name}.json"
    if not path.is_file():
        return told_before(mutant) if older else None
    known: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    same_text = known.get("text", text_of(mutant)) == text_of(mutant)
    kept = known["key"] == key_of(mutant) or (older and same_text and known["verdict"] == "caught")
    return known if kept else None


def told_before(mutant: Mutant) -> dict[str, Any] | None:
    """What the page tells of a mutant that was caught and is still the same."""
    rows: list[dict[str, Any]] = json.loads(DATA.read_text(encoding="utf-8"))
    same = (mutant.name, mutant.file, mutant.old, mutant.new)
    wanted = [row for row in rows if (row["name"], row["file"], row["old"], row["new"]) == same]
    return wanted[0] if wanted and wanted[0]["verdict"] == "caught" else None


def text_of(mutant: Mutant) -> str:
    """Changes when the mutant does."""
    return digest([mutant.file, mutant.old, mutant.new])


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--report", action="store_true")
    asked = parser.parse_args()
    every = mutants()
    names = [mutant.name for mutant in every]
    wrong = faults(every) + [f"there is no mutant {name}" for name in asked.names if name not in names]
    if wrong:
        print("\n".join(wrong), file=sys.stderr)
        return 2
    listed = [mutant for mutant in every if not asked.names or mutant.name in asked.names]
    todo = [mutant for mutant in listed if asked.again or found(mutant) is None]
    shop = Workshop(asked.jobs)
    if any(mutant.file.startswith("bindings/") for mutant in todo):
        shop.set_up_python()
    if any(not mutant.file.startswith("bindings/") for mutant in todo):
        shop.set_up_cpp()
    unsound = 0
    with ThreadPoolExecutor(asked.jobs) as pool:
        at_work = {pool.submit(shop.judge, mutant): (mutant, key_of(mutant)) for mutant in todo}
        for k, done in enumerate(as_completed(at_work), 1):
            mutant, key = at_work[done]
            try:
                told = done.result() | {"key": key, "text": text_of(mutant), "date": time.strftime("%Y-%m-%d")}
            except Unsound as fault:
                unsound += 1
                print(f"{k}/{len(todo)} {mutant.name}: {fault}", file=sys.stderr, flush=True)
                continue
            save(WORK / "found" / f"{mutant.name}.json", told)
            how = f"{told['by']}: {told['case']}" if told["by"] else ", ".join(mutant.tests)
            print(f"{k}/{len(todo)} {mutant.name}: {told['verdict']} ({how}) {told['seconds']} s", flush=True)
    results = [result for mutant in listed if (result := found(mutant))]
    alive = [result["name"] for result in results if result["verdict"] == "survived"]
    which = ", ".join(alive) or "none"
    print(f"{len(listed)} mutants, {len(results) - len(alive)} caught, {len(alive)} survived: {which}")
    if asked.report:
        write_report(every, {mutant.name: found(mutant, older=True) for mutant in every})
    return 2 if unsound else 1 if alive else 0


if __name__ == "__main__":
    sys.exit(main())
