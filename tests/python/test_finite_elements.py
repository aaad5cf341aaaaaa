"""Bending against finite elements: CalculiX (`ccx`), a general-purpose program, on the catalogue of tests/finite_elements.

Each blade is solved three times: as a two-dimensional elastic body, as an elastica by SciPy, and by the library where it has
such a blade. Four run always; `LIBBLADE_FINITE_ELEMENTS=all` runs the catalogue (about two minutes). Without ccx the tests are
skipped, but not where `CI` or `LIBBLADE_REQUIRE_FINITE_ELEMENTS` is set.
"""

import os
import sys
from dataclasses import replace
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "finite_elements"), str(TESTS / "benchmarks")]
import deck  # noqa: E402
from catalogue import CATALOGUE, Entry  # noqa: E402
from library_strip import library_strip  # noqa: E402
from reference_strip import solve_strip  # noqa: E402

EVERYTHING = os.environ.get("LIBBLADE_FINITE_ELEMENTS") == "all"
REQUIRED = bool(os.environ.get("CI") or os.environ.get("LIBBLADE_REQUIRE_FINITE_ELEMENTS"))
pytestmark = pytest.mark.skipif(
    deck.program() is None and not REQUIRED, reason="ccx is not installed (Debian: calculix-ccx)"
)
more = pytest.mark.skipif(not EVERYTHING, reason="LIBBLADE_FINITE_ELEMENTS=all runs it")

BY_NAME = {entry.name: entry for entry in CATALOGUE}
# Shear, (t / L)^2, and finite strain are what a body has beyond a beam with compliant steps; 7e-4 is the largest seen.
BODY = 1e-3


@pytest.mark.parametrize("entry", [pytest.param(e, id=e.name, marks=[] if e.usual else [more]) for e in CATALOGUE])
def test_finite_elements(entry: Entry):
    body = deck.solve(entry.spec, entry.way)
    advance_given = entry.spec.advance is not None
    elastica = solve_strip(entry.spec)
    answers = {"elastica": (elastica, entry.tolerance)}
    if len(entry.spec.sections) > 1:
        answers["elastica with compliant steps"] = (solve_strip(entry.spec, joints=True), BODY)
    library = library_strip(entry.spec)
    if library is not None:
        # Its steps turn by their stress flow: as good as the body where a plain beam is not.
        answers["library"] = (library, BODY if len(entry.spec.sections) > 1 else entry.tolerance)
    assert body.tangential_load == pytest.approx(entry.spec.friction * body.line_load, abs=5e-4 * body.line_load)
    for name, (answer, tolerance) in answers.items():
        assert answer.mode == body.mode
        errors = answer.errors_against(body, advance_given)
        assert max(map(abs, errors.values())) < tolerance, f"{name}: {errors}"
    assert abs(elastica.max_stress_place - body.max_stress_place) < 2e-3 * entry.spec.length


@more
@pytest.mark.parametrize(
    "name", ["uniform doctoring, friction, large rotation", "thin tip flush on the roll side, trailing"]
)
def test_mesh(name):
    """Twice as many rows and columns: the step's re-entrant corner moves the rotation by 0.02 %, nothing else is seen."""
    spec = BY_NAME[name].spec
    fine, usual = deck.solve_corner(spec, rows=4, slender=0.75), deck.solve_corner(spec)
    errors = usual.errors_against(fine, advance_given=False)
    assert max(map(abs, errors.values())) < (5e-5 if len(spec.sections) == 1 else 5e-4)


@more
def test_two_ways_of_contact():
    """A force on the corner node and a cylinder that touches it, turning with friction, are the same."""
    spec = BY_NAME["rolled corner, doctoring friction"].spec
    errors = deck.solve_corner(spec).errors_against(deck.solve_rolled(spec, flat=False), advance_given=True)
    assert max(map(abs, errors.values())) < 1e-4


@more
def test_difference_is_shear():
    """Half the thickness at the same elastica (load by t^3): a quarter of the difference."""
    spec = BY_NAME["uniform"].spec
    differences = []
    for share in (1.0, 0.5):
        thin = replace(spec, sections=((spec.length, share * 0.2e-3),), line_load=share**3 * spec.line_load)
        differences.append(deck.solve_corner(thin).errors_against(solve_strip(thin), advance_given=False)["advance"])
    assert differences[1] == pytest.approx(0.25 * differences[0], abs=2e-5)
    # Timoshenko & Gere 1961: shear deflection over bending deflection of an end-loaded strip, 3 D / (k G t L^2), k = 5/6;
    # with D in plane strain and G = E / (2 (1 + nu)) this is 0.6 / (1 - nu) (t / L)^2.
    assert differences[0] == pytest.approx(0.6 / (1.0 - 0.29) * (0.2 / 12.0) ** 2, rel=0.25)
