"""Arrays of values, and a case as a function in the shapes of general-purpose libraries."""

import pickle

import numpy as np
import pytest
import scipy.optimize
import xarray as xr

import libblade as lb

BOUNDS = {"setting.set_angle_deg": (25.0, 38.0), "setting.line_load": (60.0, 200.0)}


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def film(case):
    return lb.as_function(case, BOUNDS, "film_on_lands")


def test_arrays_broadcast_as_numpy_has_it_and_equal_a_sweep(case):
    angle, load = np.linspace(25, 38, 5), np.linspace(60.0, 200.0, 4)
    both = lb.evaluate(case, ["film_on_lands", "effective_angle"], set_angle_deg=angle[:, None], line_load=load)
    grid = lb.sweep(case, {"setting.set_angle_deg": angle, "setting.line_load": load})
    assert list(both) == ["film_on_lands", "effective_angle"]
    for name, values in both.items():
        np.testing.assert_array_equal(values, grid[name].values)
    pairs = lb.evaluate(case, "film_on_lands", set_angle_deg=angle[:4], line_load=load)
    np.testing.assert_array_equal(pairs, np.diag(both["film_on_lands"]))
    one = lb.evaluate(case, "film_on_lands", set_angle="25 deg", line_load=60)
    assert one.shape == ()
    assert one == both["film_on_lands"][0, 0]


def test_names_units_and_quantities(case):
    plain = lb.evaluate(case, "film_on_lands", **{"setting.surface_speed": np.array([2.0, 5.0])})
    pint = pytest.importorskip("pint")
    metres = np.array([120.0, 300.0]) * pint.UnitRegistry()("m/min")
    np.testing.assert_allclose(lb.evaluate(case, "film_on_lands", surface_speed=metres), plain, rtol=1e-12)
    text = lb.evaluate(case, "film_on_lands", surface_speed="300 m/min")
    np.testing.assert_allclose(text, plain[1], rtol=1e-12)


def test_labelled_arrays_broadcast_by_their_dimensions(case):
    angle = xr.DataArray([28.0, 32.0, 36.0], dims="angle", coords={"angle": [28.0, 32.0, 36.0]})
    load = xr.DataArray([80.0, 120.0], dims="load", coords={"load": [80.0, 120.0]})
    film = lb.evaluate(case, "film_on_lands", set_angle_deg=angle, line_load=load, surface_speed="200 m/min")
    assert film.dims == ("angle", "load")
    assert film.attrs["units"] == "m"
    again = lb.evaluate(case, "film_on_lands", set_angle_deg=32.0, line_load=80.0, surface_speed="200 m/min")
    assert float(film.sel(angle=32.0, load=80.0)) == again


def test_a_point_that_fails_is_nan_or_raises(case):
    loads = np.array([100.0, 2900.0])
    trailing = case.replace({"setting.orientation": "trailing", "setting.set_angle": "15 deg"})
    values = lb.evaluate(trailing, "film_on_lands", line_load=loads)
    assert np.isfinite(values[0])
    assert np.isnan(values[1])
    with pytest.raises(lb.NotSolved, match="line_load = 2900 N/m"):
        lb.evaluate(trailing, "film_on_lands", line_load=loads, on_failure="raise")
    assert np.isnan(lb.evaluate(case, "film_on_lands", line_load=-5.0))


@pytest.mark.parametrize(
    ("outputs", "fields", "told"),
    [
        ("film", {"line_load": 1.0}, "is no numeric output"),
        ([], {"line_load": 1.0}, "at least one output"),
        ("film_on_lands", {}, "at least one field"),
        ("film_on_lands", {"set_angle": 30.0}, "deg"),
        ("film_on_lands", {"hardness": 5e9}, "blade.material.hardness or roll.material.hardness"),
        ("film_on_lands", {"holding": "fixed"}, "choice"),
        ("film_on_lands", {"line_loads": 100.0}, "not a known field"),
        ("film_on_lands", {"line_load": [True]}, "must be numbers"),
        ("film_on_lands", {"line_load": [1.0, 2.0], "surface_speed": [1.0, 2.0, 3.0]}, "do not broadcast"),
        ("film_on_lands", {"line_load": 100.0, "interference_mm": 0.2}, "taken away"),
        ("film_on_lands", {"line_load": 100.0, "threads": -1}, "whole number"),
    ],
)
def test_bad_input_is_named(case, outputs, fields, told):
    with pytest.raises(lb.InvalidInput, match=told):
        lb.evaluate(case, outputs, **fields)


def test_a_function_has_the_shapes_that_libraries_expect(case, film):
    x = np.array([30.0, 100.0])
    rows = np.array([[30.0, 100.0], [27.0, 150.0], [35.0, 70.0]])
    assert isinstance(film(x), float)
    assert film(rows).shape == (3,)
    assert film(rows)[0] == film(x)
    two = lb.as_function(case, list(BOUNDS), ["film_on_lands", "max_bending_stress"])
    assert two(x).shape == (2,)
    assert two(rows).shape == (3, 2)
    value, jacobian = two.value_and_jacobian(rows)
    assert (value.shape, jacobian.shape) == ((3, 2), (3, 2, 2))
    value, jacobian = film.value_and_jacobian(x)
    assert jacobian.shape == (2,)
    assert film.corners(rows).shape == (3, 2)
    assert film.solved(x) is True
    # SALib is told of a function by such a dictionary.
    assert film.problem == {"num_vars": 2, "names": list(BOUNDS), "bounds": [[25.0, 38.0], [60.0, 200.0]]}
    assert film.names == ["setting.set_angle", "setting.line_load"]
    low, high = two.bounds[1]
    assert (low, high) == lb.field_table()[[f.path for f in lb.field_table()].index("setting.line_load")].usual_range
    assert pickle.loads(pickle.dumps(film))(x) == film(x)


def test_slopes_are_those_of_finite_differences_in_the_units_of_x(case):
    f = lb.as_function(case, BOUNDS, ["film_on_lands", "effective_angle", "tangential_load"])
    x = np.array([31.0, 110.0])
    jacobian = f.jac(x)
    for k, step in enumerate((1e-3, 1e-2)):
        up, down = x.copy(), x.copy()
        up[k] += step
        down[k] -= step
        np.testing.assert_allclose(jacobian[:, k], (f(up) - f(down)) / (2 * step), rtol=2e-4)


def test_an_optimiser_of_scipy_finds_a_film_with_our_slopes(film):
    wanted = film([31.0, 120.0])

    def miss(x):
        value, slope = film.value_and_jacobian(x)
        return 1e14 * (value - wanted) ** 2, 2e14 * (value - wanted) * slope

    found = scipy.optimize.minimize(miss, [35.0, 80.0], jac=True, bounds=film.bounds, method="L-BFGS-B")
    np.testing.assert_allclose(film(found.x), wanted, rtol=1e-4)


@pytest.mark.parametrize(
    ("inputs", "told"),
    [
        ("setting.line_load", "must be a list"),
        ([], "must be a list"),
        ({"setting.line_load": (200.0, 60.0)}, "low below high"),
        (["setting.set_angle"], "deg"),
        (["setting.orientation"], "choice"),
        (["setting.lineload"], "nearest is setting.line_load"),
    ],
)
def test_bad_inputs_of_a_function_are_named(case, inputs, told):
    with pytest.raises(lb.InvalidInput, match=told):
        lb.as_function(case, inputs, "film_on_lands")


def test_x_of_another_width_is_refused(film):
    with pytest.raises(lb.InvalidInput, match="shape"):
        film([1.0, 2.0, 3.0])
