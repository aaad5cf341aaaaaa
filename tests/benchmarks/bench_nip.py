"""Time of one operating point on one core: the C++ solver against the same equations in NumPy/SciPy.

    python tests/benchmarks/bench_nip.py path/to/bench_nip

The program solves random angles and loads (median of batches); NumPy/SciPy solves a few of the first case's, which is the one
it can. The ratio is of their times a point. `best` shows how quiet the machine was.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time

import numpy as np
from reference_nip import Nip, ReferenceCase


def reference_microseconds() -> float:
    """Median over a few points [us]."""
    Nip(ReferenceCase())  # builds the tables
    times = []
    for angle, load in zip(np.radians([26, 30, 34, 37, 40]), [50.0, 90.0, 130.0, 160.0, 200.0], strict=True):
        start = time.perf_counter()
        _ = Nip(ReferenceCase(set_angle=angle, line_load=load)).bedded.film_on_lands
        times.append(time.perf_counter() - start)
    return float(np.median(times) * 1e6)


def main() -> None:
    rows = [json.loads(line) for line in subprocess.check_output([sys.argv[1]], text=True).splitlines()]
    print("one operating point, one core:")
    for row in rows:
        print(
            f"    {row['case']}: {row['median_us']:.1f} us median, {row['best_us']:.1f} best "
            f"({row['solved']} of {row['solves']} solved)"
        )
    theirs = reference_microseconds()
    print(
        f"    NumPy/SciPy, the first case: {theirs:.0f} us; its time over the library's: {theirs / rows[0]['median_us']:.0f}"
    )


if __name__ == "__main__":
    main()
