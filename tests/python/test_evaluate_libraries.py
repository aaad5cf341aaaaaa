"""`as_function` in the hands of general-purpose libraries: a sampler, an optimiser of two goals, least squares, sensitivity."""

import emcee
import numpy as np
import pytest
import scipy.optimize
from pymoo.algorithms.moo.nsga2 import NSGA2
from pymoo.core.problem import Problem
from pymoo.optimize import minimize
from SALib.analyze import sobol as analyze
from SALib.sample import sobol as sample

import libblade as lb


@pytest.fixture(scope="module")
def case():
    """Flow factor and viscosity as stated numbers: no tables to make."""
    stated = {"tip.facet_length": "200 um", "roll.engraving.pressure_flow_factor": 4.0, "ink.viscosity": "40 mPa s"}
    return lb.example_case("folding_carton_water").replace(stated)


def test_a_sampler_agrees_with_the_gaussian_of_a_fit(case):
    # emcee (Foreman-Mackey et al. 2013, affine-invariant ensemble) draws from the posterior that lb.fit takes as Gaussian.
    fields = ["ink.viscosity", "roll.land_roughness"]
    truth = np.array([0.055, 0.3e-6])
    settings = np.array([[60.0, 2.0], [60.0, 6.0], [110.0, 4.0], [180.0, 2.0], [180.0, 6.0]])
    film = lb.as_function(case, [*fields, "setting.line_load", "setting.surface_speed"], "film_on_lands")

    def films(values):
        """(walkers, 2) to (walkers, readings)"""
        many, few = len(values), len(settings)
        rows = np.column_stack([np.repeat(values, few, axis=0), np.tile(settings, (many, 1))])
        return film(rows).reshape(many, few)

    error = 0.02 * films(truth[None])[0]
    read = films(truth[None])[0] + error * np.random.default_rng(5).normal(size=len(settings))
    readings = [
        lb.Reading("film_on_lands", y, e, {"setting.line_load": load, "setting.surface_speed": speed})
        for y, e, (load, speed) in zip(read, error, settings, strict=True)
    ]
    fit = lb.fit(case, readings, fields)
    centre, spread = np.log(fit.values), np.sqrt(np.diag(fit.covariance))

    def log_posterior(u):
        return -0.5 * np.sum(((films(np.exp(u)) - read) / error) ** 2, axis=1)

    rng = np.random.default_rng(11)
    walkers, burn, steps = 24, 60, 300
    sampler = emcee.EnsembleSampler(walkers, 2, log_posterior, vectorize=True)
    sampler.random_state = np.random.RandomState(11).get_state()
    sampler.run_mcmc(centre + spread * rng.normal(size=(walkers, 2)), burn + steps)
    chain = sampler.get_chain(discard=burn, flat=True)
    # Sampling error: walkers x steps over twice the correlation time of about 25 steps are some 150 independent draws or more;
    # three of their standard errors.
    independent = walkers * steps / (2.0 * sampler.get_autocorr_time(discard=burn, quiet=True).max())
    assert independent > 100
    assert np.abs((chain.mean(axis=0) - centre) / spread).max() < 3.0 / np.sqrt(independent)
    assert np.abs(chain.std(axis=0) / spread - 1.0).max() < 3.0 / np.sqrt(2.0 * independent)
    assert np.corrcoef(chain.T)[0, 1] == pytest.approx(
        fit.covariance[0, 1] / spread.prod(), abs=3.0 / np.sqrt(independent)
    )


def test_an_optimiser_of_two_goals_finds_the_front_of_a_grid(case):
    # pymoo's NSGA-II (Deb et al. 2002). Less film costs wear: two goals that pull apart, each as a ratio.
    ends = {"setting.set_angle_deg": (26.0, 36.0), "setting.line_load": (100.0, 250.0)}
    goals = lb.as_function(case, ends, ["film_on_lands", "wear_rate"])

    class Setting(Problem):
        def __init__(self):
            super().__init__(n_var=2, n_obj=2, xl=goals.bounds[:, 0], xu=goals.bounds[:, 1])

        def _evaluate(self, x, out, *_, **__):
            out["F"] = np.log(goals(x))

    found = np.exp(minimize(Setting(), NSGA2(pop_size=60), ("n_gen", 25), seed=3).F)
    assert np.ptp(np.log(found), axis=0).min() > 0.3  # a front, not a point
    axes = [np.linspace(low, high, 31) for low, high in goals.bounds]
    grid = goals(np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2))
    # How many times worse than a point of the grid one of the front is in the goal where it loses least.
    loses = found[:, None, :] / grid[None, :, :]
    assert loses.min(axis=2).max() < 1.005  # none is dominated beyond what a search of 25 generations leaves
    assert loses.max(axis=2).min(axis=0).max() < 1.05  # every point of the grid has one that is nowhere 5 % worse


def test_least_squares_of_scipy_with_our_slopes_finds_the_values_that_made_the_readings(case):
    two = lb.as_function(
        case, {"ink.viscosity": (0.01, 0.3), "setting.friction": (0.05, 0.3)}, ["film_on_lands", "tangential_load"]
    )
    wanted = two([0.07, 0.15])
    calls = []

    def misses(x):
        calls.append(x)
        return two(x) / wanted - 1.0

    low, high = two.bounds.T
    found = scipy.optimize.least_squares(
        misses, [0.03, 0.1], lambda x: two.jac(x) / wanted[:, None], (low, high), x_scale=[0.03, 0.1], xtol=1e-12
    )
    np.testing.assert_allclose(found.x, [0.07, 0.15], rtol=1e-6)
    assert len(calls) < 30


def test_an_optimiser_of_scipy_takes_value_and_slope_together(case):
    loads = lb.as_function(case, {"setting.line_load": (50.0, 250.0)}, ["film_on_lands", "wear_rate"])
    ends = loads(loads.bounds.T.mean(axis=0))

    def cost(x):
        value, slope = loads.value_and_jacobian(x)
        return float(np.sum(value / ends)), np.sum(slope[:, 0] / ends, keepdims=True)

    found = scipy.optimize.minimize(
        cost, [70.0], jac=True, bounds=loads.bounds, method="L-BFGS-B", options={"ftol": 1e-14}
    )
    scan = np.linspace(*loads.bounds[0], 801)
    best = scan[np.argmin((loads(scan[:, None]) / ends).sum(axis=1))]
    assert found.x[0] == pytest.approx(best, abs=1.5 * (scan[1] - scan[0]))


def test_sensitivity_of_salib_is_that_of_the_slopes_where_ranges_are_small(case):
    # With small ranges the function is a plane: Sobol' indices are shares of (slope x range)^2.
    narrow = {
        "setting.line_load": (99.0, 101.0),
        "ink.viscosity": (0.0396, 0.0404),
        "setting.surface_speed": (4.98, 5.02),
    }
    film = lb.as_function(case, narrow, "film_on_lands")
    rows = sample.sample(film.problem, 256, calc_second_order=False, seed=1)
    found = analyze.analyze(film.problem, film(rows), calc_second_order=False, seed=1)["S1"]
    parts = (film.jac(film.bounds.mean(axis=1)) * np.diff(film.bounds)[:, 0]) ** 2
    np.testing.assert_allclose(found, parts / parts.sum(), atol=0.03)
