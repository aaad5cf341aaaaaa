"""The wear coefficient from measured blades: one history for every k_b, honest intervals, what a record cannot say."""

import math
import subprocess
import sys

import numpy as np
import pytest
import xarray as xr

import libblade as lb

pytest.importorskip("scipy")
pytestmark = pytest.mark.filterwarnings("ignore::libblade.LibbladeWarning")

K = "blade.specific_wear"
DISTANCE = np.linspace(20e3, 240e3, 12)


def near(value, rel):
    """Without the 1e-12 that pytest.approx allows in any unit: these numbers are SI and small."""
    return pytest.approx(value, rel=rel, abs=0.0)


@pytest.fixture(scope="module")
def edge() -> lb.Case:
    """A new blade in a floating holder, in an ink too thin and slow to lift it: its facet grows all the time."""
    return lb.example_case("folding_carton_water").replace(
        {
            "tip.kind": "square_edge",
            "blade.thickness": "0.25 mm",
            "roll.run_out": 0.0,
            "ink.viscosity": "2 mPa s",
            "setting.surface_speed": "0.5 m/s",
            "setting.line_load": 60.0,
            "setting.holding": "floating",
        }
    )


def solved(case: lb.Case, kind: str, distance: np.ndarray) -> np.ndarray:
    """By solving the case itself, its steps ending at the distances."""
    steps = np.diff(distance, prepend=0.0)
    data = lb.wear(case, [lb.ScheduleStep(float(step)) for step in steps]).dataset
    ends = [int(np.flatnonzero(data.schedule_step.values == k)[-1]) for k in range(distance.size)]
    begun = data[kind].values[0] if kind == "length_lost" and case["tip.kind"] == "facet" else 0.0
    return data[kind].values[ends] - begun


@pytest.mark.parametrize("kind", ["facet_length", "length_lost"])
def test_a_fit_finds_what_a_solve_was_made_with(kind, edge):
    """Histories at other k_b, each solved by itself, read through the one history at the case's own."""
    for factor in (0.4, 1.0, 2.5, 8.0):
        truth = factor * edge[K]
        exact = solved(edge.replace({K: truth}), kind, DISTANCE)
        found = lb.fit(edge, {"distance": DISTANCE, kind: exact})
        assert found.values[0] == near(truth, 1e-4)
        assert np.abs(found.residuals).max() < 1e-4 * exact.max()
        assert found.case[K] == found.values[0]
        assert found.convergence.ok


@pytest.mark.parametrize(
    ("kind", "absolute", "relative"),
    [("facet_length", 6e-6, None), ("facet_length", None, 0.03), ("length_lost", 10e-6, None)],
)
@pytest.mark.parametrize("stated", [True, False])
def test_intervals_hold_the_truth_as_often_as_they_say(kind, absolute, relative, stated, edge):
    """100 records of 12 readings with noise of a known size: binomial, 90 -/+ 7 is 2.3 standard deviations of 3."""
    truth = 1.3 * edge[K]
    exact = solved(edge.replace({K: truth}), kind, DISTANCE)
    noise = np.full(12, absolute) if absolute else relative * exact
    errors = {"absolute_error": absolute, "relative_error": relative} if stated else {}
    held, widths, inside = 0, [], 0
    for seed in range(100):
        random = np.random.default_rng(seed)
        found = lb.fit(edge, {"distance": DISTANCE, kind: exact + noise * random.standard_normal(12)}, **errors)
        held += bool(found.lower[0] <= truth <= found.upper[0])
        widths.append(found.upper[0] / found.lower[0] - 1.0)
        if seed < 20:
            band = found.predict(DISTANCE)
            more = exact + noise * random.standard_normal(12)
            inside += int(np.sum((band.lower_reading <= more) & (more <= band.upper_reading)))
    assert 83 <= held <= 97
    # Linear propagation, 2 t_95 % times the standard error, with the slopes of two histories solved by themselves.
    ends = [solved(edge.replace({K: factor * truth}), kind, DISTANCE) for factor in (0.98, 1.02)]
    slope = (ends[1] - ends[0]) / math.log(1.02 / 0.98)
    assert np.median(widths) < 1.15 * 2.0 * 1.796 / np.sqrt(np.sum((slope / noise) ** 2))
    assert 0.80 < inside / 240 < 0.98


def test_a_prediction_is_the_fitted_history(edge):
    exact = solved(edge, "facet_length", DISTANCE)
    found = lb.fit(edge, {"distance_km": DISTANCE * 1e-3, "facet_length_um": exact * 1e6}, absolute_error="5 um")
    band = found.predict("300 km")
    told = lb.wear(found.case, "300 km").dataset.facet_length.values[-1]
    assert band.value == near(told, 1e-3)
    assert band.lower < band.value < band.upper
    assert band.lower_reading < band.lower
    # By hand: what the ends of the interval give.
    high = lb.wear(found.case.replace({K: found.upper[0]}), "300 km").dataset.facet_length.values[-1]
    assert band.upper - band.value == near(high - told, 0.1)
    several = found.predict([100e3, 300e3])
    assert several.value[1] == band.value
    with pytest.raises(lb.InvalidInput, match="at least 0"):
        found.predict(-1.0)


def test_archard_by_hand():
    """While touching lands carry all: b^2 = 2 k N s / (sin a cos a), so that k comes from one reading."""
    dry = lb.example_case("folding_carton_water").replace(
        {
            "tip.kind": "square_edge",
            "tip.edge_radius": "0.1 um",
            "blade.thickness": "1 mm",
            "roll.run_out": 0.0,
            "ink.viscosity": "0.1 mPa s",
            "setting.surface_speed": "0.01 m/s",
            "setting.holding": "floating",
            "setting.line_load": 100.0,
            "setting.chamber_pressure": 0.0,
        }
    )
    a = float(lb.wear(dry, "20 km").dataset.effective_angle[-1])
    s, b = np.array([30e3, 60e3]), np.array([0.2e-3, 0.2e-3 * math.sqrt(2.0)])
    found = lb.fit(dry, {"distance": s, "facet_length": b}, relative_error=0.01)
    assert found.values[0] == near(b[0] ** 2 * math.sin(a) * math.cos(a) / (2.0 * 100.0 * s[0]), 1e-3)
    # One per cent of b is two of k; two readings.
    assert found.standard_error[0] == near(0.02 / math.sqrt(2.0), 0.01)
    assert found.notes[-1].startswith("only the product")
    twice = lb.fit(dry.replace({"setting.line_load": 200.0}), {"distance": s, "facet_length": b}, relative_error=0.01)
    assert twice.values[0] == near(0.5 * found.values[0], 0.01)  # a wrong load is a wrong k


def test_a_worn_facet_says_nothing(edge):
    """After the cut face is gone the facet is t / sin a for every k_b."""
    late = np.array([4e6, 5e6, 6e6])
    quick = edge.replace({"tip.kind": "facet", "tip.facet_length": "worn"})
    worn = lb.solve(quick).facet_length
    found = lb.fit(
        quick, {"distance": late * 1e-2, "facet_length": np.full(3, worn)}, absolute_error="5 um", on_failure="flag"
    )
    assert found.undetermined == (K,)
    assert any("says nothing" in note for note in found.notes)


def test_length_lost_before_the_cut_face_is_gone(edge):
    lost = solved(edge, "length_lost", DISTANCE)
    notes = lb.fit(edge, {"distance": DISTANCE, "length_lost": lost}).notes
    assert any("12 of 12 readings come before" in note for note in notes)
    worn = edge.replace({"tip.kind": "facet", "tip.facet_length": "worn"})
    lost = solved(worn, "length_lost", DISTANCE)
    found = lb.fit(worn.replace({K: 2.0 * worn[K]}), {"distance": DISTANCE, "length_lost": lost})
    assert found.values[0] == near(worn[K], 1e-3)
    assert not any("come before" in note for note in found.notes)


def test_a_riding_blade_is_told():
    rides = lb.example_case("folding_carton_water").replace(
        {
            "tip.facet_length": "200 um",
            "roll.run_out": 0.0,
            "roll.engraving.pressure_flow_factor": 4.0,
            "roll.engraving.land_fraction": 0.25,
            "ink.viscosity": "30 mPa s",
            "setting.line_load": 100.0,
            "setting.holding": "floating",
        }
    )
    data = {"distance": [50e3, 100e3], "facet_length": [200.4e-6, 200.5e-6]}
    found = lb.fit(rides, data, absolute_error="2 um", on_failure="flag")
    assert any("rides on the ink" in note for note in found.notes)
    assert found.undetermined == (K,)


def test_ways_to_give_a_record(edge):
    exact = solved(edge, "facet_length", DISTANCE)
    plain = lb.fit(edge, {"distance": DISTANCE, "facet_length": exact})
    texts = {"distance": [f"{s * 1e-3:.17g} km" for s in DISTANCE], "facet_length": exact}
    data = xr.Dataset(
        {"facet_length": ("distance", exact * 1e3, {"units": "mm"})},
        {"distance": ("distance", DISTANCE * 1e-3, {"units": "km"})},
    )
    for record in (texts, data):
        assert lb.fit(edge, record).values[0] == near(plain.values[0], 1e-9)
    assert lb.fit(edge, {"distance": DISTANCE, "facet_length": exact}) == plain


@pytest.mark.parametrize(
    ("data", "options", "words"),
    [
        ([1.0], {}, "dictionary"),
        ({"distance": [1e3, 2e3]}, {}, "one of facet_length and length_lost"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4, 2e-4], "length_lost": [1e-4, 2e-4]}, {}, "one of"),
        ({"distance": [1e3, 2e3], "facet": [1e-4, 2e-4]}, {}, "data.facet"),
        ({"distance": [1e3], "facet_length": [1e-4]}, {}, "at least 2"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4]}, {}, "as many"),
        ({"distance": [0.0, 2e3], "facet_length": [1e-4, 2e-4]}, {}, "above 0"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4, math.nan]}, {}, "finite"),
        ({"distance": ["1 km", "2 kg"], "facet_length": [1e-4, 2e-4]}, {}, "kg"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4, 2e-4]}, {"relative_error": 0.0}, "relative_error"),
        ({"distance": [1e3, 2e3], "length_lost": [0.0, 2e-4]}, {"relative_error": 0.1}, "absolute_error too"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4, 2e-4]}, {"fields": ["setting.holding"]}, "choice"),
        ({"distance": [1e3, 2e3], "facet_length": [1e-4, 2e-4]}, {"on_failure": 1}, "on_failure"),
    ],
)
def test_it_refuses(data, options, words, edge):
    with pytest.raises(lb.InvalidInput, match=words):
        lb.fit(edge, data, **options)


def test_without_scipy_the_command_is_named():
    code = """
import sys; sys.modules["scipy"] = None
import libblade as lb
try:
    lb.fit(lb.example_case("folding_carton_water"), {"distance": [1e3, 2e3], "facet_length": [1e-4, 2e-4]})
except ImportError as error:
    print(error)
"""
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == 'fitting needs scipy: pip install "libblade[statistics]"'
