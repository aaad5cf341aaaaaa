"""Scoring risk in Python: units at the door, the operating point's own mouth, levers and maps that are single calls, and what is
not known."""

import dataclasses
import itertools
import json
import math
import pickle
import signal
import subprocess
import sys
import textwrap

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.stats import norm

import libblade as lb

GRIT = lb.Particles("alumina grit", median_size="12 um", size_spread=1.8, hardness="20 GPa", tank_rate="200 1/h")
UNUSUAL = pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")  # a blade that lies flat is longer than usual
FLAT = {"blade.free_length": "24 mm", "setting.line_load": "300 N/m"}
STEEL = lb.Particles("steel", median_size="12 um", hardness="21 GPa", ferrous_share=1.0, tank_rate="200 1/h")


@pytest.fixture(scope="module")
def case() -> lb.Case:
    return lb.example_case("folding_carton_water")


@pytest.fixture(scope="module")
def moved(case) -> lb.Case:
    """Run in at its setting, then pressed 20 % harder: a doctoring facet opens towards the ink."""
    return lb.run_in_once(case).replace({"setting.line_load": 1.2 * case["setting.line_load"]})


# Units at the door


def test_texts_become_si():
    p = lb.Particles(
        "a", median_size="8 um", hardness="11 GPa", density="2.65 g/cm3", angularity="5 deg", tank_rate="90 1/h"
    )
    assert (p.median_size, p.hardness, p.tank_rate) == (8e-6, 11e9, 0.025)
    assert p.density == pytest.approx(2650.0)
    assert p.angularity == pytest.approx(math.radians(5.0))
    loop = lb.InkLoop(
        flow="9 L/min", tank_volume="20 L", consumption="7.2 L/h", filter={"size": "50 um", "bypass": "5 %"}
    )
    assert (loop.flow, loop.tank_volume) == pytest.approx((1.5e-4, 0.02))
    assert loop.consumption == pytest.approx(2e-6, rel=1e-12, abs=0.0)
    assert loop.filter == lb.Filter(size=50e-6, bypass=0.05)
    assert lb.Magnet(area="200 cm2", field_gradient="20 T2/m") == lb.Magnet(0.02, 20.0)


@pytest.mark.parametrize(
    ("make", "path", "words"),
    [
        (lambda: lb.Particles("a", median_size="8 GPa"), "median_size", "unit of pressure"),
        (lambda: lb.Particles("a", median_size="8 furlongs"), "median_size", "not known"),
        (lambda: lb.Particles("a", median_size=-1.0), "median_size", "from 0.01 um to 10 mm"),
        (lambda: lb.Particles("a", angularity=0.1), "angularity", "must carry its unit"),
        (lambda: lb.Particles("a", shape="ball"), "shape", '"grain" or "flake"'),
        (lambda: lb.Particles("a.b"), "name", "without a point"),
        (lambda: lb.Particles("a", ductile=1), "ductile", "True or False"),
        (lambda: lb.Particles("a", size_spread=0.9), "size_spread", "from 1 to 10"),
        (lambda: lb.Particles("a").replace(hardnes="1 GPa"), "hardnes", "the nearest is hardness"),
        (lambda: lb.Filter(beta=1.0), "beta", "above 1"),
        (lambda: lb.Filter(bypass="120 %"), "bypass", "from 0 to 1"),
        (lambda: lb.Magnet(field_gradient="20 T"), "field_gradient", "not known"),
        (lambda: lb.InkLoop(flow="9 L"), "flow", "unit of volume"),
        (lambda: lb.InkLoop(consumption="1 m3/s"), "consumption", "at most the flow"),
        (lambda: lb.InkLoop(filter={"betta": 10}), "filter.betta", "the nearest is beta"),
        (lambda: lb.InkLoop(magnet=lb.Filter()), "magnet", "must be a Magnet"),
        (lambda: lb.RiskSpread(set_angle=0.1), "set_angle", "must carry its unit"),
    ],
)
def test_bad_values_are_refused_when_stated(make, path, words):
    with pytest.raises(lb.InvalidInput, match=words) as error:
        make()
    assert [p.path for p in error.value.problems] == [path]


def test_every_problem_is_told_at_once():
    with pytest.raises(lb.InvalidInput) as error:
        lb.Particles("a", median_size=0.0, hardness=-1.0, friction="x")
    assert {p.path for p in error.value.problems} == {"friction"}  # what cannot be read comes first
    with pytest.raises(lb.InvalidInput) as error:
        lb.Particles("a", median_size=0.0, hardness=-1.0)
    assert {p.path for p in error.value.problems} == {"median_size", "hardness"}


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"face_width": "0 m"}, "face_width"),
        ({"face_width": "1 kg"}, "face_width"),
        ({"run_time": -1.0}, "run_time"),
        ({"hardness_ratio": 9.0}, "hardness_ratio"),
        ({"sizes": 3}, "sizes"),
        ({"samples": -1}, "samples"),
        ({"samples": 5, "rng": "dice"}, "rng"),
        ({"samples": 5, "spread": lb.RiskSpread(number=0.5)}, "number"),
        ({"spread": 3.0}, "spread"),
        ({"threads": -1}, "threads"),
        ({"mesh": 7}, "mesh"),
        ({"loop": "none"}, "loop"),
        ({"particles": []}, "particles"),
        ({"particles": [GRIT, GRIT]}, "particles.alumina grit"),
        ({"particles": [GRIT, "dust"]}, "particles.1"),
    ],
)
def test_bad_options_are_refused(case, change, path):
    with pytest.raises(lb.InvalidInput) as error:
        lb.scoring(**{"case": case, "particles": [GRIT], **change})
    assert path in [p.path for p in error.value.problems]


def test_values_do_not_change_and_can_be_replaced(case):
    with pytest.raises(dataclasses.FrozenInstanceError):
        GRIT.hardness = 1.0
    harder = GRIT.replace(hardness="25 GPa")
    assert (harder.hardness, harder.median_size, harder.angularity) == (25e9, GRIT.median_size, GRIT.angularity)
    loop = lb.InkLoop().replace(filter=lb.Filter("20 um"))
    assert loop.filter.size == pytest.approx(20e-6)
    risk = lb.scoring(case, [GRIT])
    with pytest.raises(dataclasses.FrozenInstanceError):
        risk.total = None
    assert pickle.loads(pickle.dumps(risk)) == risk


def test_the_defaults_of_python_are_those_of_the_core(case):
    from libblade import _core

    known = _core.scoring_defaults()
    assert {**lb.Particles("x")._core(), "name": 0} == {**known["particle"], "name": 0}
    assert lb.InkLoop()._core() == known["loop"]
    assert lb.Filter()._core() == known["filter"]
    assert lb.Magnet()._core() == known["magnet"]
    assert lb.RiskSpread()._core() == known["spread"]
    assert lb.scoring(case, [GRIT]).options == known["options"]


def test_example_particles_say_that_their_counts_are_invented():
    assert "INVENTED" in lb.example_particles.__doc__
    assert len({p.name for p in lb.example_particles()}) == 6
    for p in lb.example_particles():
        assert str(p).startswith(p.name)
    assert str(GRIT) == "alumina grit: grains of 12 um (spread 1.8), 20 GPa; 200 per h into the tank"


# The mouth, entry and rates


def test_the_mouth_is_that_of_the_operating_point(moved):
    point, mouth = lb.solve(moved), lb.scoring(moved, [GRIT]).mouth
    assert mouth.gap == point.min_film
    assert mouth.leading_gap == max(point.leading_gap, point.min_film)
    assert mouth.facet_tilt == point.facet_tilt
    assert mouth.wedge_angle == point.ink_wedge_angle
    assert mouth.film == 2.0 * point.film_on_lands
    assert mouth.line_load == point.line_load
    assert mouth.edge_radius == moved["tip.edge_radius"]
    assert mouth.speed == moved["setting.surface_speed"]
    assert mouth.roll_hardness == moved["roll.material.hardness"]
    # D = E t^3 / (12 (1 - nu^2)), Timoshenko & Woinowsky-Krieger 1959
    solid, t = moved.blade.material, moved["blade.thickness"]
    plate = solid.youngs_modulus * t**3 / (12.0 * (1.0 - solid.poissons_ratio**2))
    assert mouth.stiffness == pytest.approx(plate, rel=1e-12)
    risk = lb.scoring(moved, [GRIT])
    assert (risk.film_on_lands, risk.excess_ink, risk.wear_rate, risk.regime) == (
        point.film_on_lands,
        point.excess_ink,
        point.wear_rate,
        point.regime,
    )


def largest_sphere(point: lb.OperatingPoint, edge_radius: float, friction: float) -> float:
    """A ball between a flat roll and a rounded edge slips out where half the angle between the tangents has a tangent above the
    friction (rolls and a lump: Coulson & Richardson, vol. 2). The place of the ball found by coordinates, not by the formula."""
    low = point.leading_gap - edge_radius * (1.0 - math.cos(point.facet_tilt))
    edge = np.array([0.0, low + edge_radius])

    def too_wide(diameter: float) -> float:
        height = 0.5 * diameter
        across = math.sqrt(max((0.5 * diameter + edge_radius) ** 2 - (edge[1] - height) ** 2, 0.0))
        line = (edge - np.array([-across, height])) / (0.5 * diameter + edge_radius)
        angle = math.acos(np.clip(line @ np.array([0.0, 1.0]), -1.0, 1.0))  # of normals, so of tangents
        return math.tan(0.5 * angle) - friction

    return brentq(too_wide, 1.0001 * low, 100.0 * (low + edge_radius), xtol=1e-18, rtol=1e-13)


def test_entry_size_is_where_friction_no_longer_draws_a_ball_in(moved):
    particle = GRIT.replace(friction=0.2)
    found = lb.scoring(moved, [particle])[particle.name].entry_size
    assert found == pytest.approx(largest_sphere(lb.solve(moved), moved["tip.edge_radius"], 0.2), rel=1e-9)


def test_pressing_a_doctoring_blade_harder_before_it_has_run_in_lets_larger_particles_in(case):
    load = case["setting.line_load"]
    blade = lb.run_in_once(case)
    risks = [lb.scoring(blade.replace({"setting.line_load": k * load}), [GRIT]) for k in (1.0, 1.1, 1.2, 1.5)]
    points = [lb.solve(blade.replace({"setting.line_load": k * load})) for k in (1.0, 1.1, 1.2, 1.5)]
    sizes = [risk[GRIT.name].entry_size for risk in risks]
    assert all(b > 1.3 * a for a, b in itertools.pairwise(sizes))
    assert [risk.mouth.facet_tilt for risk in risks] == [p.facet_tilt for p in points]
    tilts = [p.facet_tilt for p in points]
    assert tilts == sorted(tilts)
    scores = [risk.total["scores"] for risk in risks]
    assert scores == sorted(scores)
    # Once it has run in there it admits less than before.
    there = lb.scoring(case.replace({"setting.line_load": 1.5 * load}), [GRIT])
    assert there.total["scores"] < scores[0]


def test_rates_are_told_per_second_per_hour_and_per_million_metres(moved):
    risk = lb.scoring(moved, [GRIT, STEEL])
    speed = moved["setting.surface_speed"]
    for name, rate in risk.total.items():
        assert rate == pytest.approx(sum(one.rates[name] for one in risk.classes), rel=1e-12, abs=1e-300)
        assert risk.per_hour[name] == 3600.0 * rate
        assert risk.per_million_metres[name] == pytest.approx(1e6 / speed * rate, rel=1e-14, abs=0.0)
    assert risk["steel"].per_hour["scores"] == 3600.0 * risk["steel"].rates["scores"]
    # What comes goes one of these ways.
    ways = ("passed", "in_cell", "rejected", "held")
    assert sum(risk.total[way] for way in ways) < risk.total["offered"]
    with pytest.raises(KeyError):
        risk["dust"]
    text = repr(risk)
    assert "first score after" in text
    assert "um deep" in text
    assert all(len(line) < 200 for line in text.splitlines())


def test_the_first_of_steady_scores_is_exponential(moved):
    # A filter that keeps everything: the chamber holds what is shed there, always. Poisson: mean 1 / rate, half by ln 2 / rate.
    shed = GRIT.replace(tank_rate=0.0, chamber_rate="200 1/h")
    steady = lb.InkLoop(filter=lb.Filter("0.1 um", beta=1e9))
    risk = lb.scoring(moved, [shed], steady)
    rate = risk.total["scores"]
    assert risk.first_score.mean == pytest.approx(1.0 / rate, rel=1e-5)
    assert risk.first_score.p50 == pytest.approx(math.log(2.0) / rate, rel=1e-5)
    assert risk.first_score.p10 == pytest.approx(-math.log(0.9) / rate, rel=1e-5)
    assert risk[shed.name].chamber_number == pytest.approx(shed.chamber_rate / steady.flow, rel=1e-5)


def test_the_chamber_fills_as_the_balance_says(case):
    # V dn/dt = s_t + C fresh + (Q - C) n_c - Q n, n_c = (1 - E) n, integrated by scipy: one size, no settling.
    one = lb.Particles("dust", size_spread=1.0, median_size="30 um", fresh_number="2 1/ml", tank_rate="5000 1/h")
    loop = lb.InkLoop(consumption="20 L/h", filter=lb.Filter("60 um", beta=20.0, sharpness=3.0, bypass=0.1))
    caught = 0.9 * (1.0 - 1.0 / (1.0 + 19.0 * 0.5**3))
    Q, C, V = loop.flow, loop.consumption, loop.tank_volume

    def balance(_t, y):
        n_c = (1.0 - caught) * y[0]
        return [(one.tank_rate + C * one.fresh_number + (Q - C) * n_c - Q * y[0]) / V, n_c]

    run = solve_ivp(balance, (0.0, 3600.0), [one.fresh_number, 0.0], rtol=1e-11, atol=1e-3)
    found = lb.scoring(case, [one], loop, run_time="1 h")["dust"]
    assert found.chamber_number == pytest.approx(run.y[1, -1] / 3600.0, rel=1e-9)
    assert loop.caught(one, "30 um", "0.1 Pa s") == pytest.approx([caught], rel=1e-12)


def test_a_finer_filter_and_a_better_one_score_less(moved):
    def scores(**changes):
        return lb.scoring(moved, [GRIT], lb.InkLoop(filter=lb.Filter(**changes))).total["scores"]

    falling = [lb.scoring(moved, [GRIT]).total["scores"], *(scores(size=f"{d} um") for d in (100, 50, 25, 10))]
    assert all(0.0 < b < 0.999 * a for a, b in itertools.pairwise(falling))
    better = [scores(size="25 um", beta=beta) for beta in (2.0, 20.0, 200.0, 1000.0)]
    assert all(b < 0.9 * a for a, b in itertools.pairwise(better))
    assert scores(size="25 um", bypass=0.2) > 1.05 * scores(size="25 um")
    # ISO 16889: a ratio of counts beta keeps 1 - 1 / beta, at the filter's own size.
    kept = lb.InkLoop(filter=lb.Filter("25 um", beta=75.0)).caught(GRIT, "25 um", "0.1 Pa s")
    assert kept == pytest.approx([1.0 - 1.0 / 75.0], rel=1e-12)


def test_a_magnet_holds_what_is_ferrous_and_nothing_else(moved):
    plain = lb.scoring(moved, [GRIT, STEEL], lb.InkLoop())
    held = lb.scoring(moved, [GRIT, STEEL], lb.InkLoop(magnet=lb.Magnet(area="0.2 m2")))
    assert held["alumina grit"] == plain["alumina grit"]
    assert 0.0 < held["steel"].rates["scores"] < 0.99 * plain["steel"].rates["scores"]
    # v = chi d^2 grad(B^2) / (36 mu0 eta) against Stokes' drag, 1 - exp(-v A / Q) as in a precipitator (Deutsch 1922): from memory.
    d, eta = 20e-6, 0.12
    drift = 3.0 * d**2 * 20.0 / (36.0 * 4e-7 * math.pi * eta)
    share = 1.0 - math.exp(-drift * 0.2 / 1.5e-4)
    loop = lb.InkLoop(flow=1.5e-4, magnet=lb.Magnet(area="0.2 m2"))
    assert loop.caught(STEEL, d, eta, ferrous=True) == pytest.approx([share], rel=1e-8)
    assert loop.caught(STEEL, d, eta)[0] == 0.0


@UNUSUAL
def test_an_unsolved_nip_is_told(case):
    flat = case.replace(FLAT)
    with pytest.raises(lb.NotSolved, match="lying_flat") as error:
        lb.scoring(flat, [GRIT])
    risk = error.value.result
    assert risk.convergence.status == "lying_flat"
    assert repr(risk).startswith("not solved: lying_flat")
    assert math.isnan(risk.total["scores"])
    assert math.isnan(risk.first_score.p50)
    assert math.isnan(risk.mouth.gap)
    assert math.isnan(risk.classes[0].entry_size)
    told = lb.scoring(flat, [GRIT], on_failure="flag", samples=5)
    assert (told.convergence.status, told.uncertain) == ("lying_flat", None)


# Slivers


def test_slivers_of_a_case_are_those_that_the_core_sheds(case):
    shed = lb.slivers(case, face_width="1.3 m", fraction=0.02)
    twin = shed.replace(chamber_rate=0.0, worn_blade_share=0.02)
    a, b = (lb.scoring(case, [p], face_width="1.3 m").classes[0] for p in (shed, twin))
    assert a.chamber_number > 0.0
    for name in ("offered", "props", "rejected"):
        assert a.rates[name] == pytest.approx(
            b.rates[name], rel=1e-6, abs=0.0
        )  # the nip solved with and without its section
    # Lognormal moments: E d^2 = median^2 exp(2 ln(spread)^2), of a plate breadth x thickness.
    volume = 0.3 * 3e-6 * 40e-6**2 * math.exp(2.0 * math.log(2.2) ** 2)
    assert shed.mean_volume == pytest.approx(volume, rel=1e-12)
    told = lb.sliver_source(case, fraction=0.02).volume * case["setting.surface_speed"] * 1.3 / volume
    assert shed.chamber_rate == pytest.approx(told, rel=1e-12)


def test_slivers_of_a_history_are_its_mean(case):
    story = lb.wear(case, "300 m", sliver_fraction=0.02)
    shed = lb.slivers(story, face_width="1.3 m")
    volume = float(story.dataset.sliver_volume[-1]) * 1.3  # of slivers over the whole width
    seconds = 300.0 / case["setting.surface_speed"]
    assert shed.chamber_rate * shed.mean_volume * seconds == pytest.approx(volume, rel=1e-12)
    # The first metre of a blade on a true roll: that of the case.
    still = case.replace({"roll.run_out": 0.0})
    first = lb.slivers(lb.wear(still, "1 m", sliver_fraction=0.02))
    assert first.chamber_rate == pytest.approx(lb.slivers(still, fraction=0.02).chamber_rate, rel=0.02)
    with pytest.raises(lb.InvalidInput, match="works out"):
        lb.slivers(case, chamber_rate=1.0)


# What is not known


def test_draws_are_the_same_for_any_threads_and_seed_again(moved):
    one = lb.scoring(moved, [GRIT], samples=24, rng=7, threads=1)
    two = lb.scoring(moved, [GRIT], samples=24, rng=7, threads=2)
    assert one == two
    assert one.uncertain.draws.tobytes() == two.uncertain.draws.tobytes()
    assert one.uncertain.seed == 7
    other = lb.scoring(moved, [GRIT], samples=24, rng=8)
    assert not np.array_equal(other.uncertain.draws, one.uncertain.draws, equal_nan=True)
    fresh = lb.scoring(moved, [GRIT], samples=4)
    again = lb.scoring(moved, [GRIT], samples=4, rng=fresh.uncertain.seed)
    assert fresh == again
    dice = [lb.scoring(moved, [GRIT], samples=4, rng=np.random.default_rng(3)).uncertain for _ in range(2)]
    assert dice[0] == dice[1]


def test_bands_are_in_order_and_told(moved):
    found = lb.scoring(moved, [GRIT], samples=40, rng=1).uncertain
    for column, (name, band) in zip(found.draws.T, found.rates.items(), strict=True):
        assert band.p10 <= band.p50 <= band.p90, name
        assert np.sum(column < band.p50) <= 20 <= np.sum(column <= band.p50), name  # half of the 40
    assert found.rates["scores"].p10 < found.rates["scores"].p90
    assert found.first_score.p10 < found.first_score.p50 < found.first_score.p90
    assert found.draws.shape == (40, 13)
    assert found.unsolved == np.isnan(found.draws[:, 0]).mean()
    assert repr(found).startswith("40 draws (seed 1): scores ")


def test_nothing_unknown_gives_the_plain_rates(moved):
    risk = lb.scoring(moved, [GRIT, STEEL], samples=3, rng=5, spread=lb.RiskSpread.none())
    for draw in risk.uncertain.draws:
        assert draw.tolist() == list(risk.total.values())
    assert risk.uncertain.unsolved == 0.0
    assert risk.uncertain.expected_first.p50 == risk.first_score.mean


def test_an_unknown_number_alone_is_a_lognormal_factor(moved):
    # Rates go as the number that comes: their logarithm is normal with ln(spread). 200 draws: mean to 4 standard errors.
    spread = dataclasses.replace(lb.RiskSpread.none(), number=3.0, set_angle="0 rad")
    risk = lb.scoring(moved, [GRIT], samples=200, rng=11, spread=spread)
    factor = np.log(risk.uncertain.draws[:, 11] / risk.total["scores"]) / math.log(3.0)
    assert abs(factor.mean()) < 4.0 / math.sqrt(200)
    assert abs(factor.std(ddof=1) - 1.0) < 4.0 / math.sqrt(400)
    band = risk.uncertain.rates["scores"]
    assert math.log(band.p90 / band.p10) / math.log(3.0) == pytest.approx(2.0 * norm.ppf(0.9), rel=0.2)


def test_draws_that_do_not_solve_are_counted_and_left_out(case):
    edge = lb.run_in_once(case).replace({"blade.free_length": "20 mm", "setting.line_load": "200 N/m"})
    found = lb.scoring(edge, [GRIT], samples=30, rng=2, spread=lb.RiskSpread(set_angle="4 deg")).uncertain
    assert 0.0 < found.unsolved < 1.0
    assert math.isfinite(found.rates["scores"].p50)


def test_bands_hold_what_never_comes():
    from libblade._scoring import Band

    never = Band.of(np.array([5.0, math.inf, 3.0, math.inf, 4.0]))
    assert (never.p10, never.p50, never.p90) == (3.0, 5.0, math.inf)
    assert math.isnan(Band.of(np.array([])).p50)


# Maps


def test_a_map_is_its_single_calls(moved):
    loop = lb.InkLoop(filter=lb.Filter("50 um"))
    fields = {
        "setting.set_angle_deg": [29.0, 31.0],
        "loop.filter.size": ["20 um", "60 um"],
        "particles.alumina_grit.tank_rate": ["10 1/h", "100 1/h"],
    }
    grid = lb.scoring_map(moved, [GRIT, STEEL], fields, loop=loop, run_time="2 h", threads=2)
    assert grid.sizes == {"set_angle": 2, "filter_size": 2, "alumina_grit_tank_rate": 2, "particles": 2}
    for i, angle in enumerate(("29 deg", "31 deg")):
        for j, size in enumerate(("20 um", "60 um")):
            for k, rate in enumerate(("10 1/h", "100 1/h")):
                classes = [GRIT.replace(tank_rate=rate), STEEL]
                risk = lb.scoring(
                    moved.replace({"setting.set_angle": angle}),
                    classes,
                    lb.InkLoop(filter=lb.Filter(size)),
                    run_time="2 h",
                )
                at = grid.isel(set_angle=i, filter_size=j, alumina_grit_tank_rate=k)
                for name, value in risk.total.items():
                    assert float(at[name]) == value
                assert at.scores_by_class.values.tolist() == [one.rates["scores"] for one in risk.classes]
                assert float(at.entry_size) == risk[GRIT.name].entry_size
                assert float(at.first_score) == risk.first_score.mean
                assert float(at.film_on_lands) == risk.film_on_lands
                assert float(at.excess_ink) == risk.excess_ink
                assert float(at.facet_tilt) == risk.mouth.facet_tilt
    assert grid.scores.attrs["units"] == "1/s"
    assert grid.scores.attrs["display_units"] == "1/h"
    assert grid.filter_size.attrs["field"] == "loop.filter.size"
    assert grid.filter_size.attrs["display_scale"] == pytest.approx(1e6)
    assert grid.set_angle.attrs["display_units"] == "deg"
    assert lb.scoring_map(moved, [GRIT, STEEL], fields, loop=loop, run_time="2 h", threads=1).identical(grid)


@UNUSUAL
def test_a_map_marks_what_does_not_solve(case):
    case = case.replace({"setting.line_load": "300 N/m"})
    grid = lb.scoring_map(case, [GRIT], {"blade.free_length": ["12 mm", "24 mm"]}, edge_toughness="60 N/mm")
    assert grid.status.values.tolist()[0] == grid.status.flag_meanings.split().index("converged")
    assert grid.status.flag_meanings.split()[int(grid.status[1])] == "lying_flat"
    assert str(grid.reason[1].values)
    assert np.isnan(grid.scores[1])
    assert np.isnan(grid.entry_size[1])
    assert np.isfinite(grid.scores[0])


def test_entry_size_of_a_map_is_that_of_the_class_asked_for(moved):
    loose = STEEL.replace(friction=0.3)
    fields = {"face_width": ["1 m", "2 m"]}
    grid = lb.scoring_map(moved, [GRIT, loose], fields)
    tight = lb.scoring_map(moved, [GRIT, loose], fields, entry_of="alumina grit")
    assert float(grid.entry_size[0]) == lb.scoring(moved, [loose])["steel"].entry_size
    assert float(tight.entry_size[0]) == lb.scoring(moved, [GRIT])["alumina grit"].entry_size
    # Twice the face meets twice the particles.
    assert float(grid.offered[1]) == pytest.approx(2.0 * float(grid.offered[0]), rel=1e-12)
    with pytest.raises(lb.InvalidInput, match="must be one of"):
        lb.scoring_map(moved, [GRIT], fields, entry_of="dust")


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "at least one path"),
        ({"setting.set_angel": [1.0]}, "setting.set_angle"),
        ({"setting.set_angle": [30.0]}, "degrees and radians"),
        ({"loop.filter.sise": ["1 um"]}, "filter.size"),
        ({"loop.filter.size": ["1 Pa"]}, "unit of pressure"),
        ({"loop.filter.size": "1 um"}, "must be a list"),
        ({"loop.filter.beta": [0.5, 2.0]}, "above 1"),
        ({"particles.grit.hardness": ["10 GPa"]}, "alumina grit"),
        ({"particles.alumina_grit.colour": [1.0]}, "is no number of Particles"),
        ({"particles.alumina_grit.hardness": ["-1 GPa"]}, "particles.alumina grit.hardness: must be from 1 kPa"),
        ({"face_width": ["1 m", "1 m"]}, "holds a value twice"),
        ({"face_width": []}, "at least one value"),
        ({"face_widht": ["1 m"]}, "the nearest is face_width"),
    ],
)
def test_bad_maps_are_refused_before_any_solve(moved, fields, words):
    with pytest.raises(lb.InvalidInput, match=words):
        lb.scoring_map(moved, [GRIT], fields, progress=lambda done, total: pytest.fail("solved"))


def test_progress_is_told_and_may_stop(moved):
    told = []
    lb.scoring_map(
        moved, [GRIT], {"face_width": [1.0, 2.0, 3.0]}, progress=lambda done, total: told.append((done, total))
    )
    assert told[-1] == (3, 3)
    lb.scoring(moved, [GRIT], samples=5, rng=1, progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (5, 5)

    def bad(done, total):
        raise ZeroDivisionError("in the callback")

    with pytest.raises(ZeroDivisionError, match="in the callback"):
        lb.scoring(moved, [GRIT], samples=400, rng=1, progress=bad)
    with pytest.raises(ZeroDivisionError, match="in the callback"):
        lb.scoring_map(moved, [GRIT], {"setting.set_angle_deg": np.linspace(28, 32, 200)}, progress=bad)


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT for another process")
def test_ctrl_c_ends_the_draws():
    code = textwrap.dedent("""
        import signal, time
        import libblade as lb
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a job in the background is born deaf to it
        case = lb.run_in_once(lb.example_case("folding_carton_water"))
        told = []
        def say(done, total):
            if not told:
                told.append(time.process_time())
                print("running", flush=True)
        try:
            lb.scoring(case, lb.example_particles(), samples=100000, rng=1, progress=say)
        except KeyboardInterrupt:
            print("stopped", time.process_time() - told[0], flush=True)
    """)
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout.readline().strip() == "running"
        process.send_signal(signal.SIGINT)
        word, used = process.stdout.readline().split()
        assert word == "stopped"
        assert float(used) < 5.0  # s of processor time; the draws take half an hour
        assert process.wait(60) == 0


# Levers


def test_levers_are_solved_anew_and_ranked(moved):
    found = lb.scoring_levers(moved, [GRIT, STEEL], lb.InkLoop(filter=lb.Filter("50 um", bypass=0.2)))
    rates = [lever.risk.total["scores"] for lever in found if lever.risk.convergence.ok]
    assert rates == sorted(rates)
    names = {lever.name for lever in found}
    assert names == {
        *("angle down", "angle up", "load down", "load up", "slower", "fresh blade", "run in", "finer filter"),
        *("no bypass", "magnet", "fewer alumina grit", "fewer steel"),
    }
    # Each is a call of its own.
    alone = lb.scoring(moved.replace({"tip.bedding": "here"}), [GRIT, STEEL], found.before.loop)
    assert found["run in"].risk == alone
    assert found["run in"].score_ratio == alone.total["scores"] / found.before.total["scores"]
    assert found["run in"].chip_ratio == alone.total["chips"] / found.before.total["chips"]
    assert found["run in"].score_ratio < 1e-3  # it closes the mouth: what pressing harder had opened
    assert found["load up"].score_ratio > 1.5
    assert found["finer filter"].risk.loop.filter.size == pytest.approx(25e-6)
    assert found["no bypass"].risk.loop.filter.bypass == 0.0
    assert 0.5 * moved["setting.line_load"] < found["load down"].risk.case["setting.line_load"]
    # A tenth of the grit leaves a tenth of its scores.
    grit, steel = (found.before[name].rates["scores"] for name in ("alumina grit", "steel"))
    left = (0.1 * grit + steel) / (grit + steel)
    assert found["fewer alumina grit"].score_ratio == pytest.approx(left, rel=1e-9)
    assert found["run in"].risk.film_on_lands < found.before.film_on_lands
    text = repr(found)
    assert "riding to wiping" in text
    assert "the nip stays as it is" in text
    told = found.to_dict()
    assert [row["name"] for row in told["levers"]] == [lever.name for lever in found]
    json.dumps(told)


def test_levers_of_a_blade_that_is_bedded_here(case):
    found = lb.scoring_levers(case, [STEEL], lb.InkLoop(magnet=lb.Magnet()))
    assert {"pressed harder", "no magnet", "filter"} <= {lever.name for lever in found}
    assert "run in" not in {lever.name for lever in found}
    harder = lb.run_in_once(case).replace({"setting.line_load": 1.2 * case["setting.line_load"]})
    risk = lb.scoring(harder, [STEEL], found.before.loop)
    assert found["pressed harder"].risk.total["scores"] == pytest.approx(risk.total["scores"], rel=1e-9)
    assert found["no magnet"].score_ratio > 1.0
    assert "run in there" in found["load up"].words
    half = found["fresh blade"].risk.case["tip.facet_length"]
    assert half == pytest.approx(0.5 * lb.solve(case).facet_length, rel=1e-9)


def test_levers_of_other_ways_to_press(case):
    advance = lb.solve(case).interference
    held = lb.scoring_levers(case.replace({"setting.interference": advance}), [STEEL])
    assert held["load up"].words == "interference +20 %, and run in there"
    assert held["load up"].risk.case["setting.interference"] == pytest.approx(1.2 * advance)
    assert held["pressed harder"].risk.mouth.facet_tilt > 0.005
    air = {
        "kind": "air",
        "piston_area": "40 cm2",
        "blade_width": "1.4 m",
        "air_pressure": "0.4 bar",
        "lever_ratio": 1.0,
    }
    pushed = lb.scoring_levers(
        case.replace({f"setting.actuator.{name}": value for name, value in air.items()}), [STEEL]
    )
    assert pushed["load down"].words == "gauge pressure at the pistons -20 %, and run in there"
    assert pushed["load down"].risk.mouth.line_load == pytest.approx(0.8 * pushed.before.mouth.line_load, rel=1e-6)
    edge = lb.scoring_levers(case.replace({"tip.kind": "square_edge"}), [STEEL])
    assert edge["load up"].words == "line load +20 %"
    assert "fresh blade" not in {lever.name for lever in edge}


@UNUSUAL
def test_levers_of_a_case_that_does_not_solve(case):
    with pytest.raises(lb.NotSolved, match="lying_flat"):
        lb.scoring_levers(case.replace(FLAT), [STEEL])
    found = lb.scoring_levers(case.replace(FLAT), [STEEL], on_failure="flag")
    assert repr(found).startswith("as it is: not solved: lying_flat")
    assert all(math.isnan(lever.score_ratio) for lever in found)
    assert repr(found.before.total) == "not known"


@UNUSUAL
def test_own_levers(moved):
    own = {
        "calm": {"setting.surface_speed": "200 m/min", "loop.filter.size": "25 um", "run_time": "1 h"},
        "flat": FLAT,
        "fitted": {"loop.magnet": {"area": "0.5 m2"}, "particles.steel.ferrous_share": 0.5},
    }
    found = lb.scoring_levers(moved, [STEEL], levers=own)
    assert len(found) == 3
    calm = lb.scoring(
        moved.replace({"setting.surface_speed": "200 m/min"}),
        [STEEL],
        lb.InkLoop(filter=lb.Filter("25 um")),
        run_time="1 h",
    )
    assert found["calm"].risk == calm
    assert next(reversed(list(found))).name == "flat"
    assert "lying_flat" in repr(found["flat"])
    assert found["fitted"].risk.particles[0].ferrous_share == 0.5
    assert found["fitted"].risk.loop.magnet.area == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("levers", "words"),
    [
        ({}, "must map names"),
        ({"a": {}}, "levers.a: must map paths"),
        ({"a": {"setting.line_load": "5 kg"}}, r"levers\.a\.setting\.line_load: "),
        ({"a": {"loop.filter": "fine"}}, r"levers\.a\.loop\.filter: must be a Filter"),
        ({"a": {"loop.filter.beta": 0.1}}, r"levers\.a\.loop\.filter\.beta: must be above 1"),
        ({"a": {"particles.steel.hardness": "0 GPa"}}, r"levers\.a\.particles\.steel\.hardness: must be from"),
        ({"a": {"particles.stel.hardness": "1 GPa"}}, "the nearest is steel"),
        ({"a": {"run_time": "1 m"}}, r"levers\.a\.run_time: "),
    ],
)
def test_bad_levers_are_named(moved, levers, words):
    with pytest.raises(lb.InvalidInput, match=words):
        lb.scoring_levers(moved, [STEEL], levers=levers)


# Files


def test_particles_and_loop_are_read_back(tmp_path):
    classes, loop = lb.example_particles(), lb.InkLoop(filter=lb.Filter("50 um"), magnet=lb.Magnet())
    path = tmp_path / "ink.json"
    path.write_text(json.dumps({"particles": [p.to_dict() for p in classes], "loop": loop.to_dict()}), encoding="utf-8")
    assert lb.load_particles(path) == (classes, loop)
    assert lb.read_particles('{"particles": [{"name": "a"}]}') == ((lb.Particles("a"),), lb.InkLoop())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "line 1, column 2"),
        ("[]", "at least one class"),
        ('{"particles": []}', "at least one class"),
        ('{"particles": [{"name": "a"}], "lop": {}}', "the nearest is loop"),
        ('{"particles": [{"nam": "a"}]}', r"particles\.0\.nam: is no field of Particles; the nearest is name"),
        ('{"particles": [{"median_size": "1 um"}]}', r"particles\.0\.name: is missing"),
        ('{"particles": [{"name": "a", "hardness": "1 um"}]}', r"particles\.0\.hardness: the unit"),
        ('{"particles": [{"name": "a"}, {"name": "a"}]}', "name of two classes"),
        ('{"particles": [{"name": "a"}], "loop": {"flow": "9 m"}}', r"loop\.flow: "),
        ('{"particles": [{"name": "a"}], "loop": {"filter": {"bta": 2}}}', r"loop\.filter\.bta: .*nearest is beta"),
    ],
)
def test_bad_files_are_refused(text, words):
    with pytest.raises(lb.InvalidInput, match=words):
        lb.read_particles(text)
    with pytest.raises(lb.InvalidInput, match="cannot be read"):
        lb.load_particles("no such file.json")
