"""Time per point of an angle-load map: the library on two threads against the same equations in NumPy/SciPy.

    python tests/benchmarks/bench_map.py [--side 64] [--reference-side 6] [--threads 2]

Two maps of the base case (facet 200 um, bedded at each setting): single solves, and solves with the step response of
+/-10 %. NumPy/SciPy runs on a coarser grid over the same ranges, one thread; its time per point is what is compared.
Where both have a point, the largest difference of the film is printed too.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from reference_nip import Nip, ReferenceCase

ANGLES = (24.0, 40.0)  # deg
LOADS = (40.0, 250.0)  # N/m
CASE = Path(__file__).parents[1] / "reference" / "base_case" / "case.json"


def reference_point(angle: float, load: float, steps: bool) -> tuple[float, float]:
    """Film bedded, and the thickest after a step of +/-10 % of the interference (NaN if not asked for) [m]."""
    nip = Nip(ReferenceCase(set_angle=np.radians(angle), line_load=load))
    after = np.nan
    if steps:
        after = max(nip.follow((1.0 + r) * nip.bedded.interference)[1].film_on_lands for r in (-0.1, 0.1))
    return nip.bedded.film_on_lands, after


def timed(function: Callable, repeats: int = 1) -> tuple[float, object]:
    """Best wall time of some runs and the last result."""
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        result = function()
        best = min(best, time.perf_counter() - start)
    return best, result


def compare(side: int, reference_side: int, threads: int, steps: bool) -> None:
    import libblade as lb

    case = lb.load_case(CASE)
    outputs = ["film_on_lands", "film_after_step"] if steps else ["film_on_lands"]

    def library_map(n: int):
        return lb.sweep(
            case,
            {"setting.set_angle_deg": np.linspace(*ANGLES, n), "setting.line_load": np.linspace(*LOADS, n)},
            threads=threads,
            outputs=outputs,
        )

    library_map(4)
    seconds, _ = timed(lambda: library_map(side), repeats=3)
    n = reference_side
    grid = [(a, q) for a in np.linspace(*ANGLES, n) for q in np.linspace(*LOADS, n)]
    reference_point(30.0, 100.0, steps)  # builds the tables
    reference_seconds, films = timed(lambda: np.array([reference_point(a, q, steps) for a, q in grid]))
    each, reference_each = seconds / side**2, reference_seconds / n**2
    same = library_map(n)
    print(f"{'with step response' if steps else 'single solves'}:")
    print(f"    library     {side} x {side}, {threads} threads: {seconds:.3f} s, {each * 1e3:.4f} ms per point")
    print(f"    NumPy/SciPy {n} x {n}, one thread: {reference_seconds:.3f} s, {reference_each * 1e3:.3f} ms per point")
    print(f"    NumPy/SciPy time per point over the library's: {reference_each / each:.0f}")
    for k, name in enumerate(outputs):
        ours, theirs = np.asarray(same[name]).ravel(), films[:, k]
        print(
            f"    {name}: largest relative difference {np.nanmax(np.abs(ours / theirs - 1.0)):.2e} "
            f"({np.isnan(ours).sum()} points unsolved)"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--side", type=int, default=64)
    parser.add_argument("--reference-side", type=int, default=6)
    parser.add_argument("--threads", type=int, default=2)
    options = parser.parse_args()
    for steps in (False, True):
        compare(options.side, options.reference_side, options.threads, steps)


if __name__ == "__main__":
    main()
