"""The job on one shipped case: which set angle and line load, how far they may drift, and what fails first.

    python examples/python/demo.py [--side 64] [--out out]

Draws out/maps.png, out/section.png and out/lesson.png and prints a table and a few sentences.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import matplotlib as mpl

mpl.use("Agg")

import matplotlib.pyplot as plt
import numpy as np

import libblade as lb

CASE = "folding_carton_water"
ANGLES, LOADS = (24.0, 40.0), (40.0, 240.0)  # deg, N/m

# The drift to live with: 2 % of a holder advance of 0.2 mm is 4 um, what run-out of 8 um moves this roll up and down.
LOAD_STEP = "2 %"

# Largest values, each with its reason. Films are shares of the ink carried.
LIMITS = {
    "film_on_lands": "6 %",
    "excess_after_step": "12 %",
    "mean_pressure": "0.5 MPa",
    "stress_ratio": "50 %",
    "regime": ("wiping", "mixed", "riding"),
    "wear_rate": 1.8e-9,  # length of blade per length of web
}
REASONS = {
    "film_on_lands": "lands wiped clean once the blade has run in",
    "excess_after_step": "the drift changes a solid by no more than about 0.07 of density",
    "mean_pressure": "spares the edge and narrow walls: an assumption, set your own",
    "stress_ratio": "bending far from yield",
    "regime": "the whole facet carries, not its heel alone: riding is judged by the ink it leaves",
    "wear_rate": "half a millimetre of blade lasts about 280 km of web",
}
LESSON_ANGLES, LESSON_STEP = ("25 deg", "35 deg"), "5 %"


def save(figure: plt.Figure, path: Path, words: str) -> None:
    figure.savefig(path, metadata={"Description": words})
    plt.close(figure)
    print(f"  {path}: {words}")


def pictures(maps: lb.TwoMaps, point: lb.OperatingPoint, case: lb.Case, out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    print("\npictures")
    axes = lb.plot_maps(maps.everywhere, maps.once, window=maps.window, mark=maps.mark)
    save(axes[0].figure, out / "maps.png", lb.describe_maps(maps.everywhere, maps.once, maps.window))
    save(lb.plot_section(point)[0].figure, out / "section.png", lb.describe_section(point))
    pairs = [lb.pressed_harder(case.replace({"setting.set_angle": angle}), LESSON_STEP) for angle in LESSON_ANGLES]
    save(lb.plot_lesson(pairs)[0].figure, out / "lesson.png", lb.describe_lesson(pairs))


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--side", type=int, default=64, help="points along each side of the maps")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder for the pictures")
    options = parser.parse_args(arguments)
    began = time.monotonic()

    case = lb.example_case(CASE).replace({"setting.load_step": LOAD_STEP})
    fields = {
        "setting.set_angle_deg": np.linspace(*ANGLES, options.side),
        "setting.line_load": np.linspace(*LOADS, options.side),
    }
    maps = lb.two_maps(case, fields, LIMITS)
    mapped = time.monotonic() - began
    print(f"{case.name}. {case.note}\n\nlimits (load step {LOAD_STEP} up and down, before re-bedding)")
    for name, limit in maps.window.limits.items():
        print(f"  {name:<20}{limit:<28}{REASONS[name]}")
    point = lb.solve(maps.bedded)
    print(f"\n{'recommended setting' if maps.window.exists else 'nearest setting (NOT inside every limit)'}")
    print(lb.setting_table(point, maps.window.limits))

    limit = float(LIMITS["excess_after_step"].removesuffix("%")) / 100.0 * point.ink_carried
    drifts = lb.drift(maps.bedded, LIMITS) if maps.window.exists else None
    speed = lb.speed_limit(maps.bedded, limit) if maps.window.exists else None
    print()
    for sentence in lb.advice(maps, drifts, speed):
        print(sentence)
    pictures(maps, point, case, options.out)
    print(f"\n{2 * options.side**2} points in {mapped:.1f} s; everything in {time.monotonic() - began:.1f} s")


if __name__ == "__main__":
    main()
