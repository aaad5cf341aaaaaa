"""Spreads, quantiles, Sobol' indices and probabilities against SciPy's distributions, published indices and hand work."""

import itertools
import math

import numpy as np
import pytest

import libblade as lb

stats = pytest.importorskip("scipy.stats")
pytest.importorskip("SALib")

from libblade._sensitivity import sobol_indices  # noqa: E402
from libblade._spread import uncertain_inputs  # noqa: E402
from libblade._uncertainty import _quantiles  # noqa: E402
from libblade._window_probability import recommended_place  # noqa: E402

SHARES = np.array([0.02, 0.1, 0.5, 0.9, 0.98])
DEG = math.pi / 180
# Quick ones: they ask for no new table of ink or cells.
SPREAD = {
    "setting.set_angle": lb.Normal(sd="1.5 deg"),
    "setting.line_load": lb.Lognormal(relative=0.4),
    "roll.land_roughness": lb.Lognormal(relative=0.3),
}
GRID = {"setting.set_angle_deg": [27.0, 30.0, 33.0], "setting.line_load": [180.0, 70.0, 120.0]}
LIMITS = {"film_after_step": "0.9 um", "film_on_lands": (None, "0.35 um")}


@pytest.fixture(scope="module")
def case():
    return lb.example_case("folding_carton_water")


def values_of(case, field, distribution, shares=SHARES):
    return uncertain_inputs(case, {field: distribution})[0].marginal().ppf(np.asarray(shares))


# --- distributions ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "distribution", "law"),
    [
        ("setting.line_load", lb.Normal(sd=20), stats.norm(110, 20)),
        ("setting.line_load", lb.Normal(relative="20 %"), stats.norm(110, 22)),
        ("setting.line_load", lb.Normal(sd="20 N/m", centre="0.15 N/mm"), stats.norm(150, 20)),
        ("setting.set_angle", lb.Normal(sd="1.5 deg"), stats.norm(30 * DEG, 1.5 * DEG)),
        ("setting.set_angle_deg", lb.Normal(sd=1.5, centre=31), stats.norm(31 * DEG, 1.5 * DEG)),
        ("ink.temperature", lb.Normal(sd="2 degC"), stats.norm(298.15, 2)),
        ("ink.temperature_degC", lb.Normal(sd=2, centre=30), stats.norm(303.15, 2)),
        ("line_load", lb.Lognormal(factor=2), stats.lognorm(math.log(2), scale=110)),
        ("line_load", lb.Lognormal(relative=0.4), stats.lognorm(math.sqrt(math.log(1.16)), scale=110)),
        ("wall_width", lb.Uniform("3 um", "6 um"), stats.uniform(3e-6, 3e-6)),
        ("wall_width_um", lb.Uniform(half_width=1), stats.uniform(4e-6, 2e-6)),
        ("wall_width", lb.Triangular("3 um", "9 um"), stats.triang(1 / 3, 3e-6, 6e-6)),
        ("wall_width", lb.Triangular(half_width="1 um"), stats.triang(0.5, 4e-6, 2e-6)),
        # Cut: SciPy's own truncated normal; friction may not be below 0.
        ("friction", lb.Normal(sd=0.12), stats.truncnorm(-1.0, 1.88 / 0.12, 0.12, 0.12)),
        ("friction", lb.Normal(sd=0.12, low=0.06, high=0.24), stats.truncnorm(-0.5, 1.0, 0.12, 0.12)),
    ],
)
def test_quantiles_are_those_of_scipy(case, field, distribution, law):
    np.testing.assert_allclose(values_of(case, field, distribution), law.ppf(SHARES), rtol=1e-5)  # cut at 5 sigma or so


def test_a_factor_is_one_sigma(case):
    one_sigma = 0.5 * (1 + math.erf(1 / math.sqrt(2)))
    low, high = values_of(case, "line_load", lb.Lognormal(factor=3), [1 - one_sigma, one_sigma])
    assert (low, high) == pytest.approx((110 / 3, 330), rel=1e-4)  # the hard range ends at 4 sigma


def test_relative_is_standard_deviation_over_mean(case):
    x = values_of(case, "line_load", lb.Lognormal(relative=0.4), (np.arange(200000) + 0.5) / 200000)
    assert np.std(x) / np.mean(x) == pytest.approx(0.4, rel=2e-3)


@pytest.mark.parametrize("shares", [0.0, 1.0])
def test_nothing_leaves_the_hard_range(case, shares):
    (value,) = values_of(case, "set_angle", lb.Normal(sd="60 deg"), [shares])
    assert value == pytest.approx((1 if shares == 0 else 89) * DEG)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lb.Normal, "sd or relative"),
        (lambda: lb.Normal(1.0, 0.1), "sd or relative"),
        (lb.Lognormal, "factor or relative"),
        (lambda: lb.Uniform(1.0), "low and high, or half_width"),
        (lambda: lb.Triangular(1.0, 2.0, 0.5), "low and high, or half_width"),
    ],
)
def test_a_distribution_is_told_wholly(make, told):
    with pytest.raises(lb.InvalidInput, match=told):
        make()


@pytest.mark.parametrize(
    ("spread", "told"),
    [
        ({}, "usual_spread"),
        ([("setting.line_load", lb.Normal(sd=1))], "usual_spread"),
        ({"setting.line_load": 5.0}, "must be a Normal"),
        ({"setting.lineload": lb.Normal(sd=1)}, "nearest is setting.line_load"),
        ({"setting.orientation": lb.Normal(sd=1)}, "choice"),
        ({"setting.line_load": lb.Normal(sd=1), "line_load": lb.Normal(sd=2)}, "given twice"),
        ({"setting.set_angle": lb.Normal(sd=1.5)}, "deg"),
        ({"setting.line_load": lb.Normal(sd=0)}, "width above 0"),
        ({"setting.line_load": lb.Normal(sd=math.nan)}, "width above 0"),
        ({"setting.line_load": lb.Lognormal(factor=1)}, "factor above 1"),
        ({"setting.chamber_pressure": lb.Lognormal(factor=2, centre=0)}, "above 0"),
        ({"setting.line_load": lb.Uniform(50, 40)}, "width above 0"),
        ({"setting.line_load": lb.Uniform(-50, -40)}, "has nothing from"),
        ({"setting.line_load": lb.Triangular(150, 200)}, "centre 110 N/m between"),
        ({"setting.interference": lb.Normal(relative=0.1)}, "has no number in this case"),
        ({"tip.facet_length": lb.Normal(relative=0.1)}, "has no number in this case"),
        ({"setting.line_load": lb.Normal(sd="1 mm")}, "N/m"),
    ],
)
def test_bad_spreads_are_named(case, spread, told):
    with pytest.raises(lb.InvalidInput, match=told):
        lb.uncertainty(case, spread, "film_on_lands", samples=2)


@pytest.mark.parametrize("name", lb.example_cases())
def test_the_usual_spread_is_the_stated_one_and_names_its_sources(name):
    case = lb.example_case(name)
    spread = lb.usual_spread(case)
    assert all(one.source for one in spread.values())
    sigma = 0.5 * (1 + math.erf(1 / math.sqrt(2)))

    def up(field):
        low, middle, high = values_of(case, field, spread[field], [1 - sigma, 0.5, sigma])
        return high / middle, 0.5 * (high - low)

    # "Uncertainty (one sigma)" as the trade and memory have it: common practice, no published source.
    assert 1.3 < up("setting.line_load")[0] < 1.5
    assert DEG < up("setting.set_angle")[1] < 2 * DEG
    assert up("blade.free_length")[1] == pytest.approx(0.5e-3, rel=1e-3)
    assert 1.25 < up("roll.land_roughness")[0] < 1.35
    assert 1.25 < up("roll.engraving.wall_width")[0] < 1.35
    assert 3 < up("blade.specific_wear")[0] < 10
    assert up("roll.specific_wear")[0] == pytest.approx(10)
    assert 0.05 < up("setting.friction")[1] < 0.1
    assert 1.05 < up("roll.engraving.cell_volume")[0] < 1.1
    assert 5e-6 < up("roll.run_out")[1] < 20e-6
    viscosity = values_of(case, key := "ink.rheology.infinite_shear_viscosity", spread[key], [1 - sigma, 0.5, 1.0])
    assert 2 < viscosity[1] / viscosity[0] < 3
    assert viscosity[2] == pytest.approx(case["ink.rheology.zero_shear_viscosity"])
    with pytest.warns(lb.LibbladeWarning, match="specific_wear"):
        dry = case.replace({"blade.specific_wear": 0.0, "setting.interference": "0.2 mm", "roll.run_out": 0.0})
    assert "blade.specific_wear" not in lb.usual_spread(dry)
    assert {"setting.interference", "roll.run_out"} <= set(lb.usual_spread(dry))
    assert "setting.line_load" not in lb.usual_spread(dry)


# --- quantiles -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["sobol", "latin_hypercube", "random"])
def test_quantiles_of_what_follows_by_hand(case, method):
    """The load that is set is a Lognormal itself; wear goes with k_b, so its P90 is 3 to the 1.2816 above its median."""
    spread = {"setting.line_load": lb.Lognormal(factor=1.5), "blade.specific_wear": lb.Lognormal(factor=3)}
    found = lb.uncertainty(case, spread, ["line_load"], samples=512, method=method, rng=3)
    p10, p50, p90, share, _ = found.quantiles["line_load"]
    z = stats.norm.ppf(0.9)
    # Three standard errors of the 10 % quantile of 512 independent draws; the other two do far better.
    near = {"rel": 3 * math.log(1.5) * math.sqrt(0.09 / 512) / stats.norm.pdf(z) if method == "random" else 0.01}
    assert (p10, p50, p90) == pytest.approx((110 * 1.5**-z, 110, 110 * 1.5**z), **near)
    assert share == 1.0
    assert found.dominant["line_load"].field == "setting.line_load"
    assert found.dominant["line_load"].strength == pytest.approx(1.0)
    assert found.dominant["line_load"].by == "rank correlation"
    alone = {"blade.specific_wear": lb.Lognormal(factor=3)}
    wear = lb.uncertainty(case, alone, "wear_rate", samples=512, method=method, rng=3).quantiles["wear_rate"]
    near["rel"] *= math.log(3) / math.log(1.5)
    assert wear.p90 / wear.p50 == pytest.approx(3**z, **near)


def test_the_same_seed_gives_the_same_bits_whatever_the_threads(case):
    def films(rng, threads=1, method="sobol"):
        run = {"samples": 16, "rng": rng, "threads": threads, "method": method}
        return lb.uncertainty(case, SPREAD, "film_on_lands", **run)

    first = films(7)
    assert first == films(7, threads=2)
    assert first == films(np.random.default_rng(7))
    assert first != films(8)
    assert first != films(7, method="latin_hypercube")
    assert not films(None).dataset.equals(films(None).dataset)
    data = first.dataset
    assert data.film_on_lands.attrs["units"] == "m"
    again = lb.evaluate(
        case,
        "film_on_lands",
        set_angle_rad=data.set_angle.values,
        line_load=data.line_load.values,
        land_roughness=data.land_roughness.values,
    )
    np.testing.assert_array_equal(data.film_on_lands, again)


def test_samples_without_a_solution_are_counted_and_bound_the_quantiles(case):
    hard = case.replace({"setting.orientation": "trailing", "setting.set_angle": "15 deg"})
    spread = {"setting.line_load": lb.Uniform(200, 900)}
    found = lb.uncertainty(hard, spread, "line_load", samples=64, rng=1)
    data = found.dataset
    lost = np.isnan(data.line_load_result.values)
    assert 0.05 < found.not_solved == lost.mean() < 0.95
    np.testing.assert_array_equal(lost, data.status != data.status.flag_meanings.split().index("converged"))
    assert found.quantiles["line_load"].share == 1 - lost.mean()
    assert f"{found.not_solved:.1%} not solved" in repr(found)
    assert "that have a value" in repr(found)


@pytest.mark.parametrize("missing", [0, 2, 7, 25, 50])
def test_bounds_hold_whatever_the_missing_samples_would_be(missing):
    x = np.random.default_rng(5).normal(size=50)
    known = x.copy()
    known[:missing] = np.nan
    found = _quantiles(known)
    assert found.share == 1 - missing / 50
    for (low, high), share in zip(found.between, (0.1, 0.5, 0.9), strict=True):
        assert low <= high
        for filling in (-1e9, 1e9, 0.0, x[:missing]):
            whole = known.copy()
            whole[:missing] = filling
            # Between two neighbours of the samples a quantile is a matter of definition.
            assert np.quantile(whole, share, method="higher") >= low
            assert np.quantile(whole, share, method="lower") <= high
    if missing == 0:
        assert found.between == tuple((q, q) for q in found[:3])
    if missing == 7:
        assert found.between[0][0] == -math.inf  # 14 % missing: P10 may be anywhere below
        assert math.isfinite(found.between[1][0])


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"samples": 100}, "64 or 128"),
        ({"samples": 1}, "from 2"),
        ({"samples": True}, "from 2"),
        ({"method": "halton"}, "latin_hypercube"),
        ({"rng": -1}, "rng"),
        ({"rng": "seed"}, "rng"),
        ({"threads": -1}, "threads"),
        ({"start": "flat"}, "start"),
    ],
)
def test_bad_options_are_named(case, options, told):
    with pytest.raises(lb.InvalidInput, match=told):
        lb.uncertainty(case, SPREAD, "film_on_lands", **{"samples": 4, **options})


def test_names_of_outputs_are_checked(case):
    with pytest.raises(lb.InvalidInput, match="no numeric output"):
        lb.uncertainty(case, SPREAD, "film", samples=2)
    with pytest.raises(lb.InvalidInput, match="one output"):
        lb.sensitivity(case, SPREAD, ["film_on_lands"], samples=2)


# --- Sobol' indices --------------------------------------------------------------------------------------------------

# Ishigami & Homma 1990, with a = 7, b = 0.1; indices: Saltelli et al. 2008, Global Sensitivity Analysis. The Primer.
ISHIGAMI_FIRST, ISHIGAMI_TOTAL = (0.3139, 0.4424, 0.0), (0.5576, 0.4424, 0.2437)


def ishigami(x):
    return np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_ishigami_has_the_published_indices():
    found = sobol_indices(ishigami, [stats.uniform(-math.pi, 2 * math.pi)] * 3, 4096, 11)
    for value, error, truth in (
        (found.first, found.first_error, ISHIGAMI_FIRST),
        (found.total, found.total_error, ISHIGAMI_TOTAL),
    ):
        np.testing.assert_allclose(value, truth, atol=0.01)
        assert np.all(np.abs(value - truth) <= error)
        assert np.all(error < 0.08)
    # Variance: a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2 (same book).
    variance = 49 / 8 + 0.1 * math.pi**4 / 5 + 0.01 * math.pi**8 / 18 + 0.5
    assert found.deviation == pytest.approx(math.sqrt(variance), rel=0.01)
    assert (found.used, found.missing) == (4096, 0.0)


def test_a_linear_function_by_hand():
    """2 x + 3 y of normals with deviations 1 and 2: variances 4 and 36, and z does nothing."""
    laws = [stats.norm(5, 1), stats.norm(-1, 2), stats.norm(0, 3)]
    found = sobol_indices(lambda x: 2 * x[:, 0] + 3 * x[:, 1], laws, 2048, 2)
    np.testing.assert_allclose(found.first, [0.1, 0.9, 0.0], atol=0.02)
    np.testing.assert_allclose(found.total, [0.1, 0.9, 0.0], atol=0.02)
    assert found.deviation == pytest.approx(math.sqrt(40), rel=0.02)


def test_blocks_with_a_missing_point_are_left_out_whole():
    def holed(x):
        return np.where(x[:, 0] > 0.9, np.nan, x[:, 0] + x[:, 1])

    found = sobol_indices(holed, [stats.uniform(0, 1)] * 2, 1024, 4)
    # A block holds two draws of x0, each missing in one of ten.
    assert found.used == pytest.approx(1024 * 0.81, rel=0.02)
    assert found.missing == pytest.approx(0.1, abs=0.005)
    # What is left is x0 in (0, 0.9) and x1 in (0, 1): variances 0.81 / 12 and 1 / 12.
    np.testing.assert_allclose(found.total, [0.81 / 1.81, 1 / 1.81], atol=0.02)
    with pytest.raises(lb.NotSolved, match="0 of 8 blocks"):
        sobol_indices(lambda x: np.full(len(x), np.nan), [stats.uniform(0, 1)] * 2, 8, 4)


def test_wear_of_the_nip_by_hand(case):
    """Wear is k_b times a function g of the load: the shares follow from both coefficients of variation."""
    spread = {"blade.specific_wear": lb.Lognormal(relative=0.3), "setting.line_load": lb.Lognormal(relative=0.4)}
    found = lb.sensitivity(case, spread, "wear_rate", samples=512, rng=6)
    nodes, weights = np.polynomial.hermite_e.hermegauss(7)
    weights = weights / weights.sum()
    g = lb.evaluate(case, "wear_rate", line_load=110 * np.exp(math.sqrt(math.log(1.16)) * nodes))
    mean = weights @ g
    g2, k2 = weights @ (g / mean - 1) ** 2, 0.09
    whole = (1 + g2) * (1 + k2) - 1
    np.testing.assert_allclose(found.first, [k2 / whole, g2 / whole], atol=0.05)
    np.testing.assert_allclose(found.total, [k2 * (1 + g2) / whole, g2 * (1 + k2) / whole], atol=0.05)
    # The k_b of the case is the median; its mean lies sqrt(1 + k2) above.
    assert found.standard_deviation == pytest.approx(mean * math.sqrt((1 + k2) * whole), rel=0.05)
    assert found.fields == ("blade.specific_wear", "setting.line_load")
    assert found.dominant.field == "setting.line_load"
    assert "total Sobol' index" in str(found.dominant)
    assert (found.used, found.not_solved) == (512, 0.0)


def test_what_does_not_move_has_no_indices(case):
    spread = {"blade.specific_wear": lb.Lognormal(factor=3)}
    found = lb.sensitivity(case, spread, "film_on_lands", samples=4, rng=1)
    assert np.isnan(found.total).all()
    assert found.standard_deviation < 1e-6 * lb.solve(case).film_on_lands
    assert found.dominant is None
    sure = lb.uncertainty(case, spread, "film_on_lands", samples=4, rng=1)
    assert "film_on_lands" not in sure.dominant
    assert "does not move" in repr(sure)


def test_noise_of_the_solver_is_no_movement(case):
    """The load is the set one whatever the blade's length, to the solver's tolerance."""
    spread = {"blade.free_length": lb.Normal(sd="0.5 mm")}
    sure = lb.uncertainty(case, spread, ["line_load", "effective_angle"], samples=16, rng=1)
    assert np.ptp(sure.dataset.line_load.values) > 0.0
    assert list(sure.dominant) == ["effective_angle"]
    assert lb.sensitivity(case, spread, "line_load", samples=8, rng=1).dominant is None


# --- along a field and over the window -------------------------------------------------------------------------------


def test_a_point_of_a_fan_is_the_uncertainty_there(case):
    loads = [90.0, 140.0]
    outputs = ["film_on_lands", "line_load"]
    fan = lb.uncertainty_along(case, {"setting.line_load": loads}, SPREAD, outputs, samples=32, rng=9)
    assert fan.film_on_lands.dims == ("quantile", "line_load")
    for load in loads:
        there = lb.uncertainty(case.replace({"setting.line_load": load}), SPREAD, outputs, samples=32, rng=9)
        at = fan.sel(line_load=load)
        np.testing.assert_array_equal(at.film_on_lands, there.quantiles["film_on_lands"][:3])
        np.testing.assert_array_equal(at.line_load_result, there.quantiles["line_load"][:3])
    assert (fan.film_on_lands_share == 1.0).all()


@pytest.fixture(scope="module")
def window(case):
    return lb.window_probability(case, GRID, LIMITS, SPREAD, samples=64, rng=2)


def kept(found):
    data = found.dataset
    return (data.film_after_step.values <= 0.9e-6) & (data.film_on_lands.values <= 0.35e-6)


def test_probabilities_are_shares_of_samples_that_keep_every_limit(case, window):
    data = window.dataset
    assert data.probability.dims == ("set_angle", "line_load")
    assert list(data.line_load.values) == [70.0, 120.0, 180.0]
    for angle, load in itertools.product((27.0, 33.0), (70.0, 180.0)):
        there = case.replace({"setting.set_angle_deg": angle, "setting.line_load": load})
        good = kept(lb.uncertainty(there, SPREAD, list(LIMITS), samples=64, rng=2)).mean()
        at = data.sel(set_angle=angle * DEG, line_load=load, method="nearest")
        assert float(at.probability) == good
    assert 0.05 < float(data.probability.min()) < float(data.probability.max())
    holds = np.stack([data.film_after_step_holds, data.film_on_lands_holds])
    assert (data.probability.values <= holds.min(axis=0)).all()
    assert (data.probability.values >= holds.sum(axis=0) - 1 - 1e-12).all()


def test_no_setting_is_better_than_the_recommended_one(window):
    chance = window.dataset.probability
    enough = [float(load) for load in chance.line_load for p in chance.sel(line_load=load).values if p >= 0.95]
    if window.robust:
        assert window.recommended["line_load"] == min(enough)
        assert window.probability == float(chance.sel(line_load=min(enough)).max())
    else:
        assert not enough
        assert window.probability == float(chance.max())


@pytest.mark.parametrize("seed", range(40))
def test_brute_force_finds_no_better_place(seed):
    random = np.random.default_rng(seed)
    chance = random.integers(0, 21, (4, 5)) / 20
    wanted = float(random.choice([0.5, 0.95, 1.0]))
    i, j = recommended_place(chance, wanted)
    places = [(load, -chance[a, load]) for a in range(4) for load in range(5) if chance[a, load] >= wanted]
    if places:
        assert (j, -chance[i, j]) == min(places)
    else:
        assert chance[i, j] == chance.max()
        assert j == min(load for load in range(5) if chance[:, load].max() == chance.max())


def test_fresh_samples_keep_the_limits_at_a_robust_setting(case):
    limits = {"film_after_step": "0.95 um"}
    fields = {"setting.set_angle_deg": [28.0, 29.0, 32.0], "setting.line_load": [80.0, 120.0]}
    spread = {"setting.set_angle": lb.Normal(sd="1 deg"), "setting.line_load": lb.Normal(relative=0.15)}
    found = lb.window_probability(case, fields, limits, spread, samples=128, rng=3)
    assert found.robust
    assert found.probability >= 0.95
    assert "least load with at least 95%" in found.summary()
    assert found.case["setting.line_load"] == found.recommended["line_load"] == 80.0
    assert found.case["setting.set_angle"] == found.recommended["set_angle"]
    assert found.case["setting.set_angle"] == pytest.approx(32 * DEG)
    fresh = lb.uncertainty(found.case, spread, "film_after_step", samples=400, method="random", rng=77)
    good = int((fresh.dataset.film_after_step.values <= 0.95e-6).sum())
    # Both shares are drawn: three standard errors of each of 0.95.
    margin = 3 * math.sqrt(0.95 * 0.05 * (1 / 400 + 1 / 128))
    assert good / 400 >= 0.95 - margin
    assert float(found.dataset.probability.min()) < 0.9  # it could have been worse
    # Clopper & Pearson 1934: were the truth so low, as many good samples or more would be seen once in twenty times.
    seen = round(128 * found.probability)
    assert stats.binom.sf(seen - 1, 128, found.at_least) == pytest.approx(0.05)
    never = lb.window_probability(case, fields, {"film_after_step": "0.5 um"}, spread, samples=16, rng=3)
    assert not never.robust
    assert never.summary().startswith("NO setting")
    assert never.at_least < never.probability or never.probability == 0.0


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"limits": {}}, "at least one output"),
        ({"limits": {"regime": "wiping"}}, "no numeric output"),
        ({"limits": {"film_on_lands": "5 K"}}, "film_on_lands"),
        ({"limits": {"film_on_lands": (None, None)}}, "pair"),
        ({"confidence": 0.0}, "confidence"),
        ({"confidence": 1.1}, "confidence"),
        ({"fields": {"setting.line_load": [100.0]}}, "set_angle"),
        ({"spread": {"setting.line_load": lb.Uniform(80, 120)}}, "must stand about"),
        ({"spread": {"setting.line_load": lb.Normal(sd=5, centre=100)}}, "must stand about"),
    ],
)
def test_bad_windows_are_named(case, changes, told):
    given = {"fields": GRID, "limits": LIMITS, "spread": SPREAD, **changes}
    with pytest.raises(lb.InvalidInput, match=told):
        lb.window_probability(case, given.pop("fields"), given.pop("limits"), given.pop("spread"), samples=2, **given)


def test_a_limit_may_be_a_share_of_the_ink_carried(case):
    spread = {"setting.line_load": lb.Normal(relative=0.1)}
    fields = {"setting.set_angle_deg": [30.0], "setting.line_load": [110.0]}
    ink = lb.solve(case).ink_carried
    film = lb.solve(case).film_after_step
    for share, holds in ((1.1, 1.0), (0.9, 0.0)):
        limit = {"film_after_step": f"{100 * share * film / ink:.4f} %"}
        found = lb.window_probability(case, fields, limit, spread, samples=4, rng=1)
        assert found.probability == holds
        assert "ink carried" in found.limits["film_after_step"]


def test_missing_packages_are_named(monkeypatch):
    import libblade._spread as spread

    def gone(name):
        raise ImportError(name)

    monkeypatch.setattr(spread.importlib, "import_module", gone)
    with pytest.raises(ImportError, match=r'pip install "libblade\[statistics\]"'):
        spread.statistics("scipy.stats")
