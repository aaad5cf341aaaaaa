"""Time of one operating point on one thread: the C++ solver against the same equations in NumPy/SciPy.

    python tests/benchmarks/bench_nip.py path/to/bench_nip

The program solves random angles and loads (median of batches); NumPy/SciPy solves some of the first case's, which is the one
it can, on one thread too. Both end within 2e-11 rad of the bedded angle and some 1e-11 of the load; how far their films are apart
(two meshes) is printed. The ratio is of the median times a point. `best` shows how quiet the machine was.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from reference_nip import Nip, ReferenceCase

import libblade as lb

CASE = Path(__file__).parents[1] / "reference" / "base_case" / "case.json"


ANGLES, LOADS = [26.0, 30.0, 34.0, 37.0, 40.0], [50.0, 90.0, 130.0, 160.0, 200.0]  # deg, N/m
WANTED = 500  # times as fast


def reference() -> tuple[list[float], float, float]:
    """Films, median and best time of a few points [m], [us], [us]."""
    Nip(ReferenceCase())  # builds the tables
    films, times = [], []
    for angle, load in zip(np.radians(ANGLES), LOADS, strict=True):
        for _ in range(3):
            start = time.perf_counter()
            film = Nip(ReferenceCase(set_angle=angle, line_load=load), tolerance=2e-11).bedded.film_on_lands
            times.append(time.perf_counter() - start)
        films.append(film)
    return films, float(np.median(times) * 1e6), min(times) * 1e6


def main() -> None:
    build, *rows = [json.loads(line) for line in subprocess.check_output([sys.argv[1]], text=True).splitlines()]
    print(f"{build['build']}, {build['cores']} cores")
    print("one operating point, one thread:")
    for row in rows:
        print(
            f"    {row['case']}: {row['median_us']:.1f} us median, {row['best_us']:.1f} best "
            f"({row['solved']} of {row['solves']} solved)"
        )
    films, median, best = reference()
    case = lb.load_case(CASE)
    ours = lb.evaluate(case, "film_on_lands", set_angle_deg=ANGLES, line_load=LOADS, threads=1)
    ratio = median / rows[0]["median_us"]
    print(f"    NumPy/SciPy, the first case, one thread: {median:.0f} us median, {best:.0f} best")
    print(f"    largest relative difference of the film: {np.abs(ours / films - 1.0).max():.1e}")
    print(
        f"    its time over the library's: {ratio:.0f} ({best / rows[0]['best_us']:.0f} of the best); "
        f"at least {WANTED}: {'yes' if ratio >= WANTED else 'no'}"
    )


if __name__ == "__main__":
    main()
