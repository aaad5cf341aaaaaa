"""The core against an independent NumPy/SciPy solution of the same equations (tests/benchmarks/reference_nip.py).

The two share no line: other variables (arc length along the equilibria instead of a balance at each tilt), another integrator,
another root finder. Agreement shows one model solved twice, not that the model is a press.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

import libblade as lb

TESTS = Path(__file__).parents[1]
sys.path.insert(0, str(TESTS / "benchmarks"))
from reference_nip import DOCTORING, TRAILING, Nip, ReferenceCase  # noqa: E402

CASE = TESTS / "reference" / "base_case" / "case.json"
INKS = {"water": (0.03, 5.0), "high viscosity": (0.3, 3.0)}


@pytest.mark.parametrize("orientation", ["doctoring", "trailing"])
@pytest.mark.parametrize("ink", INKS)
def test_bedded_point_and_steps(orientation, ink):
    viscosity, speed = INKS[ink]
    nip = Nip(
        ReferenceCase(
            viscosity=viscosity,
            surface_speed=speed,
            orientation=DOCTORING if orientation == "doctoring" else TRAILING,
        )
    )
    case = lb.load_case(CASE).replace(
        {"ink.viscosity": viscosity, "setting.surface_speed": speed, "setting.orientation": orientation}
    )
    point, expected = lb.solve(case), nip.bedded
    # both discretise to up to 1e-3 at their usual meshes
    for name, tolerance in {
        "film_on_lands": 1e-3,
        "interference": 5e-4,
        "effective_angle": 5e-5,
        "tangential_load": 2e-3,
        "line_load": 1e-8,
    }.items():
        np.testing.assert_allclose(getattr(point, name), getattr(expected, name), rtol=tolerance, err_msg=name)
    for relative in (-0.05, 0.05):
        stepped = lb.solve(
            case.replace(
                {
                    "tip.bedding": "angle",
                    "tip.bedded_angle": f"{point.bedded_angle!r} rad",
                    "setting.interference": (1.0 + relative) * point.interference,
                }
            )
        )
        theirs = nip.follow((1.0 + relative) * expected.interference)[1]
        np.testing.assert_allclose(stepped.film_on_lands, theirs.film_on_lands, rtol=3e-3)
        np.testing.assert_allclose(stepped.facet_tilt, theirs.tilt, rtol=3e-3)
        np.testing.assert_allclose(stepped.line_load, theirs.line_load, rtol=3e-3)
