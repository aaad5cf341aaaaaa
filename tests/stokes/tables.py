"""Writes the tables of tests/reference/stokes_wall_end and stokes_facet_entry (a few minutes): python tests/stokes/tables.py"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from math import radians
from pathlib import Path

from grooves import Groove
from nips import entry

REFERENCE = Path(__file__).parents[1] / "reference"
WALL_END = REFERENCE / "stokes_wall_end" / "wall_end.csv"
FACET_ENTRY = REFERENCE / "stokes_facet_entry" / "facet_entry.csv"


def grooves() -> Iterator[tuple[float, float, float]]:
    """(gap / wall, groove width / gap, groove depth / gap)."""
    for gap in (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0):
        yield from ((gap, 10.0 / gap, 3.0 / gap), (gap, 5.0 / gap, 1.0 / gap), (gap, 20.0, 20.0), (gap, 5.0, 5.0))
    yield from ((0.1, 100.0, depth) for depth in (0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0, 100.0))
    yield from ((0.1, width, 50.0) for width in (0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0))
    yield from ((0.5, width, depth) for width in (2.0, 5.0, 10.0, 20.0) for depth in (1.0, 2.0, 5.0, 10.0))
    yield (0.1, 1000.0, 1000.0)


def wall_end(gap_over_wall: float, width: float, depth: float) -> dict[str, float]:
    groove = Groove(1.0 / gap_over_wall, width, depth, fine=0.002, ratio=1.35)
    pressed, dragged = groove.pressure_driven(), groove.shear_driven()
    return {
        "h/w": gap_over_wall,
        "g/h": width,
        "D/h": depth,
        "c": pressed["end"],
        "s": dragged["end"],
        "length/h": pressed["length"],
        "2 q'/(U h)": dragged["flux_ratio"],
        "drag/(eta U)": dragged["drag"],
    }


def facet_entry(degrees: float, radius: float) -> dict[str, float]:
    sharp = radius == 0.0
    S, C = entry(
        radians(degrees),
        radius,
        fine=0.0005 if sharp else min(0.005, 0.05 * radius),
        ratio=1.2 if sharp and degrees > 90.0 else 1.3,
    )
    return {"angle_deg": degrees, "r/h": radius, "S": S, "C": C}


def read(path: Path) -> list[dict[str, float]]:
    with path.open(newline="") as file:
        return [{name: float(value) for name, value in row.items()} for row in csv.DictReader(file)]


def write(path: Path, rows: list[dict[str, float]]) -> None:
    path.parent.mkdir(exist_ok=True)
    with path.open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(rows[0])
        writer.writerows([f"{value:.5g}" for value in row.values()] for row in rows)


if __name__ == "__main__":
    write(WALL_END, [wall_end(*case) for case in dict.fromkeys(grooves())])
    angles = (5, 10, 15, 20, 30, 45, 60, 75, 90, 105, 120, 150)
    write(FACET_ENTRY, [facet_entry(a, r) for a in angles for r in (0, 0.05, 0.1, 0.25, 0.5, 1, 2, 5, 10)])
