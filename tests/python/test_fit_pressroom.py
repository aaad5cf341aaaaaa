"""Fields of a case from whatever a pressroom can measure: honest intervals, what readings cannot tell, what they were not asked."""

import math
from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize
import scipy.stats

import libblade as lb

LOAD, INK, VOLUME, K = "setting.line_load", "ink.viscosity", "roll.engraving.cell_volume", "blade.specific_wear"
SPEED = "setting.surface_speed"
TRUTH = {LOAD: 95.0, INK: 0.25}


@pytest.fixture(scope="module")
def case() -> lb.Case:
    """A thick ink under a wide facet: speed, load and viscosity all show in the ink that passes."""
    return lb.example_case("folding_carton_water").replace({INK: 0.3, "tip.facet_length": "200 um", LOAD: 110.0})


def stations() -> list[lb.Reading]:
    """A day in a pressroom, errors by common practice (no published source): weigh-outs over the speed to 1.5 %, density to 0.005
    at three loads, the angle of the facet to 0.5 deg, the holder advance to 20 um, cup seconds to 5 %."""
    inks = [lb.Reading("ink_on_print", None, "1.5 %", {SPEED: v}) for v in (1.0, 2.0, 3.0, 4.0, 4.5, 5.0, 5.5)]
    loads = [lb.Reading("density", None, 0.005, {SPEED: v}, {LOAD: t}) for v in (5.0, 5.5) for t in (0.9, 1.0, 1.1)]
    cup = lb.Reading("cup_seconds", None, "5 %", cup="iso_2431_5", high_shear_ratio=1.0)
    return [
        *inks,
        *loads,
        lb.Reading("effective_angle", None, "0.5 deg"),
        lb.Reading("interference", None, "20 um"),
        cup,
    ]


def solved(case: lb.Case, reading: lb.Reading) -> float:
    """By solving the case itself, and the laws of print by hand."""
    own = case.replace({**reading.settings, **{path: t * case[path] for path, t in reading.times.items()}})
    if reading.kind == "cup_seconds":
        nu = own[INK] / own["ink.density"]
        return float(scipy.optimize.brentq(lambda t: lb.flow_cup(reading.cup, t) - nu, 30.0, 100.0))
    point = lb.solve(own)
    if reading.kind not in {"ink_on_print", "density"}:
        return float(getattr(point, reading.kind))
    y = 0.3 * point.ink_carried
    return y if reading.kind == "ink_on_print" else 1.8 * (1.0 - math.exp(-1.253e6 * y))  # Tollenaar & Ernst 1961


def error_of(reading: lb.Reading, exact: float) -> float:
    return {"ink_on_print": 0.015 * exact, "density": 0.005, "effective_angle": math.radians(0.5)}.get(
        reading.kind, 20e-6
    )


def record(case: lb.Case, seed: int | None, kept: list[lb.Reading]) -> list[lb.Reading]:
    random = np.random.default_rng(seed)
    exact = [solved(case, reading) for reading in kept]
    errors = [error_of(reading, v) for reading, v in zip(kept, exact, strict=True)]
    noise = random.standard_normal(len(kept)) if seed is not None else np.zeros(len(kept))
    rows = zip(kept, exact, errors, noise, strict=True)
    return [replace(r, value=float(v + e * z), error=float(e)) for r, v, e, z in rows]


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say(case):
    """100 pressrooms: binomial, 90 -/+ 7 is 2.3 standard deviations of 3. Widths against linear propagation by solves."""
    fields, kept = [LOAD, INK], stations()
    truth = case.replace(TRUTH)
    exact = np.array([solved(truth, reading) for reading in kept])
    error = np.array([error_of(reading, v) for reading, v in zip(kept, exact, strict=True)])
    slopes = np.empty((exact.size, 2))
    for j, path in enumerate(fields):
        up, down = (truth.replace({path: f * TRUTH[path]}) for f in (1.005, 1.0 / 1.005))
        slopes[:, j] = [(solved(up, r) - solved(down, r)) / (2.0 * math.log(1.005)) for r in kept]
    linear = np.sqrt(np.diag(np.linalg.inv((slopes / error[:, None]).T @ (slopes / error[:, None]))))
    held, widths, inside = np.zeros(2), [], 0
    for seed in range(100):
        random = np.random.default_rng(seed)
        noisy = exact + error * random.standard_normal(exact.size)
        data = [replace(r, value=float(v), error=float(e)) for r, v, e in zip(kept, noisy, error, strict=True)]
        found = lb.fit(case, data, fields)
        assert found.undetermined == ()
        held += (found.lower <= [TRUTH[LOAD], TRUTH[INK]]) & (found.upper >= [TRUTH[LOAD], TRUTH[INK]])
        widths.append(np.log(found.upper / found.lower))
        if seed < 20:
            band, more = found.predict(found.readings), exact + error * random.standard_normal(exact.size)
            inside += int(np.sum((band.lower_reading <= more) & (more <= band.upper_reading)))
    print(held, np.median(widths, axis=0) / (2.0 * scipy.stats.norm.ppf(0.95) * linear), inside / (20 * exact.size))
    assert np.all((held >= 83) & (held <= 97))
    assert np.all(np.median(widths, axis=0) < 1.3 * 2.0 * scipy.stats.norm.ppf(0.95) * linear)
    assert 0.82 < inside / (20 * exact.size) < 0.98


def test_perfect_readings_give_back_the_case_and_noise_its_covariance(case):
    """Against scipy's own curve_fit with slopes of its own."""
    kept = [stations()[k] for k in (0, 2, 4, 6, 9, 13, 14, 15)]
    truth = case.replace(TRUTH)
    found = lb.fit(case, record(truth, None, kept), [LOAD, INK])
    assert found.values == pytest.approx([95.0, 0.25], rel=1e-5)
    assert found.convergence.ok
    assert found.predicted == pytest.approx([solved(truth, reading) for reading in kept], rel=1e-5)
    data = record(truth, 3, kept)
    noisy = lb.fit(case, data, [LOAD, INK])
    y, e = np.array([r.value for r in data]), np.array([r.error for r in data])

    def by_solves(_, *logs):
        own = case.replace({LOAD: math.exp(logs[0]), INK: math.exp(logs[1])})
        return np.array([solved(own, reading) for reading in kept])

    start = np.log([100.0, 0.28])
    p, covariance = scipy.optimize.curve_fit(by_solves, y, y, start, e, absolute_sigma=True, epsfcn=1e-8)
    assert np.log(noisy.values) == pytest.approx(p, abs=0.02 * noisy.standard_error.max())
    assert noisy.covariance / max(noisy.scatter, 1.0) ** 2 == pytest.approx(covariance, rel=0.02)


@pytest.fixture(scope="module")
def edge() -> lb.Case:
    """A new blade in a floating holder, in an ink too thin and slow to lift it: its facet grows all the time."""
    case = lb.example_case("folding_carton_water")
    with pytest.warns(lb.LibbladeWarning, match=INK):
        return case.replace(
            {
                "tip.kind": "square_edge",
                "blade.thickness": "0.25 mm",
                "roll.run_out": 0.0,
                INK: "2 mPa s",
                SPEED: "0.5 m/s",
                LOAD: 60.0,
                "setting.holding": "floating",
            }
        )


def test_facet_lengths_cannot_tell_load_from_wear_coefficient(edge):
    """Archard: a facet grows with the product k N s; the holder advance tells the load."""
    s = np.linspace(40e3, 200e3, 5)
    facets = np.sqrt(s / 200e3) * 0.2e-3  # b^2 is as s where touching lands carry all
    data = [lb.Reading("facet_length", b, "5 um", distance=d) for b, d in zip(facets, s, strict=True)]
    found = lb.fit(edge, data, [LOAD, K], on_failure="flag")
    assert set(found.undetermined) == {LOAD, K}
    (unknown,) = found.unknown
    assert set(unknown.fields) == {LOAD, K}
    assert unknown.words.startswith(f"only the product of {LOAD} and {K} is known, to a factor of 1.")
    assert unknown.words in found.notes
    assert "holder advance past first touch, read to 20 um, would settle it" in unknown.remedy
    at = lb.solve(found.case).interference
    settled = lb.fit(edge, [*data, lb.Reading("interference", at, "20 um")], [LOAD, K], on_failure="flag")
    assert settled.undetermined == ()
    assert settled.unknown == ()
    held = lb.fit(edge, data, [LOAD, K], priors={LOAD: (60.0, 1.2)}, on_failure="flag")
    assert LOAD not in held.undetermined
    assert any("known from the priors" in note for note in held.notes)
    assert held.values[0] == pytest.approx(60.0, rel=0.02)


def test_a_ratio_is_named(case):
    """The cup sees viscosity over density only."""
    seconds = [lb.Reading("cup_seconds", t, "1 s", cup="iso_2431_6", high_shear_ratio=1.0) for t in (60.0, 61.0, 62.0)]
    found = lb.fit(case, seconds, [INK, "ink.density"])
    assert found.unknown[0].words.startswith(f"only the ratio of {INK} and ink.density is known, to a factor of 1.0")
    assert found.values[0] / found.values[1] == pytest.approx(lb.flow_cup("iso_2431_6", 61.0), rel=1e-3)


@pytest.mark.parametrize("cup", ["iso_2431_4", "din_53211_4", "astm_d1200_4", "astm_d4212_2"])
def test_cup_seconds_are_the_inverse_of_the_cup(cup, case):
    thin = case.replace({INK: 0.03})
    about = next(known for known in lb.flow_cups() if known.name == cup)
    middle = 0.5 * (about.min_seconds + about.max_seconds)
    right = lb.ink_from_cup(cup, middle, density=thin["ink.density"], high_shear_ratio=0.5)
    data = [lb.Reading("cup_seconds", middle, "2 s", cup=cup, high_shear_ratio=0.5)] * 2
    assert lb.fit(thin, data, [INK]).values[0] == pytest.approx(right, rel=1e-6)


def test_a_prior_adds_its_precision(case):
    """Two normal laws: precisions add, and the mean is theirs weighed by them."""
    data = [lb.Reading("interference", solved(case, lb.Reading("interference")), "20 um")] * 2
    alone = lb.fit(case, data, [LOAD])
    both = lb.fit(case, data, [LOAD], priors={LOAD: (115.0, 1.1)})
    own, prior = 1.0 / alone.standard_error[0] ** 2, 1.0 / math.log(1.1) ** 2
    mean = (own * math.log(110.0) + prior * math.log(115.0)) / (own + prior)
    assert math.log(both.values[0]) == pytest.approx(mean, abs=0.01 * both.standard_error[0])
    assert both.standard_error[0] == pytest.approx((own + prior) ** -0.5 * max(both.scatter, 1.0), rel=0.02)
    assert both.degrees_of_freedom == 2


def test_angles_are_fitted_as_they_are(case):
    data = record(
        case.replace({"setting.set_angle": "33 deg"}),
        None,
        [lb.Reading("effective_angle"), lb.Reading("effective_angle")],
    )
    found = lb.fit(case, [replace(r, error=math.radians(0.5)) for r in data], ["setting.set_angle"])
    assert math.degrees(found.values[0]) == pytest.approx(33.0, abs=1e-4)
    assert found.in_log == (False,)
    assert math.degrees(found.standard_error[0]) == pytest.approx(0.5 / math.sqrt(2.0), rel=0.1)


def test_prediction_beyond_the_readings_is_marked_and_warned_of(case):
    found = lb.fit(case, record(case.replace(TRUTH), 1, stations()[:7]), [INK])
    inside = found.predict(lb.Reading("ink_on_print", settings={SPEED: 3.0}))
    assert inside.inside is True
    assert inside.note == ""
    assert inside.lower_reading < inside.lower < inside.value < inside.upper < inside.upper_reading
    assert (inside.upper_reading - inside.value) / inside.value == pytest.approx(
        0.015 * 1.943 * max(found.scatter, 1.0), rel=0.1
    )
    with pytest.warns(lb.LibbladeWarning, match=rf"beyond the readings.*{SPEED} from 1 to 5.5"):
        beyond = found.predict(
            [lb.Reading("ink_on_print", settings={SPEED: 3.0}), lb.Reading("ink_on_print", settings={SPEED: 9.0})]
        )
    assert beyond.inside.tolist() == [True, False]
    with pytest.warns(lb.LibbladeWarning, match="density was not among the readings"):
        assert not found.predict(lb.Reading("density")).inside
    with pytest.warns(lb.LibbladeWarning, match=f"{LOAD} from 110 to 110"):
        found.predict(lb.Reading("ink_on_print", settings={SPEED: 3.0}, times={LOAD: 1.1}))


def test_worn_blades_and_ink_together(edge):
    """The angle of the worn facet and the ink at other speeds beside its length, by solving the case itself."""
    truth = edge.replace({K: 1.7 * edge[K]})
    data = lb.wear(truth, "100 km").dataset
    readings = [
        lb.Reading("facet_length", float(data.facet_length[-1]), "4 um", distance="100 km"),
        lb.Reading("bedded_angle", float(data.bedded_angle[-1]), "0.5 deg", distance="100 km"),
        lb.Reading("ink_on_print", 0.3 * lb.solve(truth).ink_carried, "3 %"),
    ]
    found = lb.fit(edge, readings)
    assert found.values[0] == pytest.approx(truth[K], rel=1e-3, abs=0.0)
    assert np.abs(found.residuals / found.reading_error).max() < 0.01
    for distance in ("50 km", "150 km"):
        with pytest.warns(lb.LibbladeWarning, match="facet_length was read from 100 to 100 km"):
            band = found.predict(lb.Reading("facet_length", distance=distance))
        assert band.inside is False


@pytest.mark.parametrize(
    ("readings", "options", "told"),
    [
        ([lb.Reading("ink_on_print", "1.3 um", "5 %")], {}, "more readings than the 1 fields"),
        ([lb.Reading("ink", 1.0, 0.1)] * 2, {}, "must be ink_on_print"),
        ([lb.Reading("ink_on_print", "1.3 kg", "5 %")] * 2, {}, "kg"),
        ([lb.Reading("ink_on_print", math.nan, 0.1)] * 2, {}, r"data\[0\].value"),
        ([lb.Reading("ink_on_print", math.inf, 1e-7)] * 2, {}, r"data\[0\].value"),
        ([lb.Reading("ink_on_print", 1e-6, math.nan)] * 2, {}, r"data\[0\].error"),
        ([lb.Reading("ink_on_print", 1e-6)] * 2, {}, r"data\[0\].error"),
        ([lb.Reading("ink_on_print", 1e-6, "5 %", {"setting.speed": 2.0})] * 2, {}, "not a known field"),
        ([lb.Reading("ink_on_print", 1e-6, "5 %", {INK: 0.2})] * 2, {}, "is fitted: say how many times"),
        ([lb.Reading("ink_on_print", 1e-6, "5 %", times={LOAD: 0.0})] * 2, {}, "above 0"),
        ([lb.Reading("ink_on_print", 1e-6, "5 %", distance=1e3)] * 2, {}, "goes with"),
        ([lb.Reading("length_lost", 1e-6, "5 %")] * 2, {}, "length_lost needs it"),
        ([lb.Reading("cup_seconds", 60.0, 1.0)] * 2, {}, "cup of flow_cups"),
        ([lb.Reading("cup_seconds", 60.0, 1.0, cup="iso_2431_4")] * 2, {}, "no cup can tell"),
        ([lb.Reading("cup_seconds", 1.0, 1.0, cup="iso_2431_4", high_shear_ratio=1.0)] * 2, {}, "seconds"),
        ([1.0, 2.0], {}, "must be a Reading"),
        ([lb.Reading("effective_angle", 0.4, 0.01)] * 2, {"relative_error": 0.1}, "states its own error"),
        ([lb.Reading("effective_angle", 0.4, 0.01)] * 2, {"priors": {LOAD: (1.0, 2.0)}}, "not among the fields"),
        ([lb.Reading("effective_angle", 0.4, 0.01)] * 2, {"priors": {INK: (0.3, 0.9)}}, "factor above 1"),
        ([lb.Reading("effective_angle", 0.4, 0.01)] * 2, {"fields": [INK, INK]}, "each once"),
        (
            [lb.Reading("effective_angle", 0.4, 0.01)] * 2,
            {"fields": ["ink.rheology.exponent"]},
            "no value in this case",
        ),
    ],
)
def test_it_refuses(readings, options, told, case):
    with pytest.raises(lb.InvalidInput, match=told):
        lb.fit(case, readings, **{"fields": [INK], **options})
