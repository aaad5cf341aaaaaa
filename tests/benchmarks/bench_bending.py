"""Time of a dry solve of the blade: the C++ solver against SciPy's `solve_bvp` on the same elastica.

    python tests/benchmarks/bench_bending.py path/to/bench_bending

The program solves random loads and frictions of each blade (one core, median of batches); SciPy solves a few of the same
blades at loads of the same range. The ratio is of their medians. `best of the program` shows how quiet the machine was.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time
from math import radians
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "finite_elements"))
from reference_strip import solve_strip
from strip_model import StripSpec

BODY, TIP = (0.01, 0.2e-3), (0.002, 80e-6)
STEEL = {"youngs_modulus": 205e9, "poissons_ratio": 0.29, "set_angle": radians(30), "roll_radius": 0.07}
BLADES = {
    "uniform": ({"sections": ((0.012, 0.2e-3),)}, (40.0, 250.0)),
    "stepped": ({"sections": (BODY, TIP), "flush": "roll"}, (40.0, 200.0)),
    "stepped, backed": (
        {"sections": (BODY, TIP), "flush": "roll", "plate_length": 0.008, "plate_gap": 3e-5},
        (40.0, 200.0),
    ),
    "uniform, flat": ({"sections": ((0.012, 0.2e-3),)}, (1300.0, 3000.0)),
}


def reference_microseconds(shape: dict, loads: tuple[float, float]) -> float:
    """Median over a few loads [us]."""
    times = []
    for k, load in enumerate(np.linspace(*loads, 5)):
        orientation, friction = ("doctoring", 0.2) if k % 2 else ("trailing", 0.2)
        spec = StripSpec(**shape, **STEEL, orientation=orientation, friction=friction, line_load=float(load))
        start = time.perf_counter()
        solve_strip(spec)
        times.append(time.perf_counter() - start)
    return 1e6 * float(np.median(times))


def main() -> None:
    program = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout
    for line in program.splitlines():
        row = json.loads(line)
        if "build" in row:
            print(f"{row['build']}, {row['cores']} cores")
            continue
        shape, loads = BLADES[row["blade"]]
        reference = reference_microseconds(shape, loads)
        print(
            f"bending, {row['blade']}: median {row['median_us']:.1f} us (best {row['best_us']:.1f} us), solve_bvp "
            f"{reference / 1e3:.0f} ms: {reference / row['median_us']:,.0f} times; {row['solved']} of {row['solves']} solved"
        )


if __name__ == "__main__":
    main()
