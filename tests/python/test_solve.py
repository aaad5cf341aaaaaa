"""One operating point: attributes, failure, branches, the speed limit."""

import json
import math
import pickle

import numpy as np
import pytest

import libblade as lb
from libblade import _core


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def point(case) -> lb.OperatingPoint:
    return lb.solve(case)


@pytest.fixture(scope="module")
def flat(case) -> lb.Case:
    """N = 2 D a0 / L^2 is the onset of lying flat in the linear limit (own); three times that on a long thin blade."""
    with pytest.warns(lb.LibbladeWarning):
        return case.replace({"blade.free_length": "30 mm", "blade.thickness": "0.1 mm", "setting.line_load": 300})


def test_shares_and_sums_agree(point):
    assert point.convergence.ok
    assert point.status == "converged"
    # Balance of force: what film, wedge and asperities carry is the load. The gap is solved to about 1e-10 of the load.
    assert point.hydrodynamic_lift + point.asperity_load == pytest.approx(point.line_load, rel=1e-7)
    shares = point.film_load_share + point.wedge_load_share + point.asperity_load_share
    assert shares == pytest.approx(1.0, rel=1e-7)
    assert point.friction_coefficient == pytest.approx(point.tangential_load / point.line_load, rel=1e-12)
    assert point.mean_pressure == pytest.approx(point.line_load / point.facet_length, rel=1e-12)


def test_line_load_is_the_one_that_was_set(case, point):
    assert point.line_load == pytest.approx(case["setting.line_load"], rel=1e-9)


def test_worn_facet_is_thickness_over_sine(case, point):
    # plane geometry t / sin a
    assert point.facet_length == pytest.approx(case["blade.thickness"] / math.sin(point.effective_angle), rel=1e-6)


def test_section_and_shape_have_the_loads_and_ends(case, point):
    section = point.section
    load = np.trapezoid(section.film_pressure, section.x)
    assert np.all(np.diff(section.x) > 0.0)
    assert load == pytest.approx(point.hydrodynamic_lift, rel=0.02)  # trapezoids on the solver's own nodes
    assert section.gap.min() == pytest.approx(point.min_film, rel=1e-12)
    assert np.all(section.pressure == section.film_pressure + section.asperity_pressure)
    length = np.hypot(np.diff(point.blade.o), np.diff(point.blade.z)).sum()
    assert length == pytest.approx(case["blade.free_length"], rel=1e-4)  # chords of 64 pieces, inextensible
    assert point.blade.slope[0] == pytest.approx(case["setting.set_angle"], rel=1e-9)


def test_names_are_those_of_the_table(point):
    names = [output.name for output in lb.output_table()]
    assert len(names) == len(set(names))
    for name in names:
        assert isinstance(getattr(point, name), float)
        assert lb.OperatingPoint.__annotations__[name] == "float"
    assert set(point.to_dict()) == {
        *names,
        "regime",
        "branch",
        "bedded_stable",
        "other_branch_exists",
        "status",
        "reason",
        "validity",
    }


def test_repr_says_converged_first(point):
    lines = repr(point).splitlines()
    assert lines[0].startswith("converged: wiping")
    assert any("film_on_lands" in line and " um " in line for line in lines)
    assert "<b>converged" in point._repr_html_()


def test_a_point_goes_through_pickle(point):
    again = pickle.loads(pickle.dumps(point))
    assert again == point
    assert again.case == point.case


def test_equality_sees_a_difference(case, point):
    assert lb.solve(case) == point
    assert lb.solve(case.replace({"setting.set_angle": "31 deg"})) != point


def test_a_point_without_solution_raises(flat):
    with pytest.raises(lb.NotSolved, match="lying_flat") as error:
        lb.solve(flat)
    assert isinstance(error.value, RuntimeError)
    assert len(str(error.value).splitlines()) == 1
    assert error.value.result.status == "lying_flat"
    assert pickle.loads(pickle.dumps(error.value)).result == error.value.result


def test_a_flagged_point_is_nan_and_says_why(flat):
    point = lb.solve(flat, on_failure="flag")
    assert not point.convergence.ok
    assert point.status == "lying_flat"
    assert point.reason
    assert repr(point).startswith("not solved: lying_flat")
    assert all(math.isnan(getattr(point, output.name)) for output in lb.output_table())
    json.dumps(point.to_dict())


def test_solves_can_be_left_out(case, point):
    short = lb.solve(case, step_response=False, other_branch=False)
    assert math.isnan(short.film_after_step)
    assert short.film_on_lands == point.film_on_lands


def test_the_mesh_hardly_matters(case, point):
    # Halving and doubling the nodes: what is left is the discretisation error, published in the documentation.
    fine = lb.solve(case, mesh=2)
    assert fine.film_on_lands == pytest.approx(point.film_on_lands, rel=0.01)


@pytest.mark.parametrize(
    ("arguments", "options", "name"),
    [
        (("folding_carton_water",), {}, "case"),
        ((None,), {}, "case"),
        (("case", "flying"), {}, "start"),
        (("case",), {"on_failure": "ignore"}, "on_failure"),
        (("case",), {"mesh": 7}, "mesh"),
    ],
)
def test_bad_input_is_refused(case, arguments, options, name):
    arguments = tuple(case if a == "case" else a for a in arguments)
    with pytest.raises(lb.InvalidInput) as error:
        lb.solve(*arguments, **options)
    assert error.value.problems[0].path == name


def test_speed_limit_is_where_the_excess_passes(case):
    limit = lb.speed_limit(case, "0.05 um", factor=3.0)
    speed = case["setting.surface_speed"]
    assert limit.convergence.ok
    assert limit.searched == pytest.approx((speed / 3.0, speed * 3.0))
    for value in (limit.lower, limit.upper):
        assert math.isnan(value) or limit.searched[0] <= value <= limit.searched[1]
    assert "converged" in repr(limit)


@pytest.mark.parametrize("excess", [-1e-6, 0.0, float("nan"), "0.3 s", "much", None])
def test_speed_limit_refuses(case, excess):
    with pytest.raises(lb.InvalidInput, match="excess"):
        lb.speed_limit(case, excess)


def test_statuses_are_described():
    assert all(text and not text.endswith("\n") for text in _core.describe_status().values())
