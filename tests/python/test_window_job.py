"""The window of a job: any fields, blade life, scoring, the steps of a shift, its card, and the nearest change that opens one."""

import dataclasses
import itertools

import numpy as np
import pytest
import xarray as xr
from libblade._openings import _relaxed
from libblade._window_rule import Held, choose

import libblade as lb
from libblade import _core

CASE = lb.example_case("folding_carton_water").replace({"setting.load_step": "2 %"})
FIELDS = {"setting.set_angle_deg": [26.0, 30.0, 34.0, 38.0], "setting.line_load": [60.0, 90.0, 120.0, 150.0, 180.0]}
LIMITS = {"film_on_lands": "6 %", "excess_after_step": "12 %", "mean_pressure": "0.5 MPa"}
SPEEDS = {"speed": ("-20 %", "20 %")}

AXES = {
    "set_angle": (np.radians(np.arange(24.0, 37.0)), "rad", "deg", "setting.set_angle"),
    "line_load": (np.arange(60.0, 221.0, 10.0), "N/m", "N/m", "setting.line_load"),
    "surface_speed": (np.arange(2.0, 7.1, 0.5), "m/s", "m/min", "setting.surface_speed"),
}


def invented(good, dims=("set_angle", "line_load", "surface_speed")) -> xr.Dataset:
    """Like a sweep: excess ink 0.1 um where good, else 1 um (invented)."""
    coords = {
        d: (d, AXES[d][0], dict(zip(("units", "display_units", "field"), AXES[d][1:], strict=True))) for d in dims
    }
    mesh = dict(zip(dims, np.meshgrid(*(AXES[d][0] for d in dims), indexing="ij"), strict=True))
    mask = good(**mesh)
    return xr.Dataset(
        {"excess_ink": (dims, np.where(mask, 1e-7, 1e-6)), "status": (dims, np.ones(mask.shape, dtype=np.int8))}, coords
    )


def box(set_angle, line_load, surface_speed):
    angle = np.degrees(set_angle)
    room = (angle > 26.5) & (angle < 33.5) & (line_load > 75.0) & (line_load < 205.0)
    return room & (surface_speed > 2.9) & (surface_speed < 6.1)


def test_three_fields_by_hand():
    window = lb.process_window(invented(box), {"excess_ink": "0.3 um"})
    # Good: 27..33 deg, 80..200 N/m, 3..6 m/s. Load N - 80 >= 0.1 N: 90. Speed v - 3 >= 0.1 v: 3.5 to 5 (6 - v >= 0.1 v: 5.45).
    # The load's margin, 10 / 9, is the least wherever the others have more: speed 3.5 has 0.5 / 0.35, 5 has 1 / 0.5.
    assert window.recommended_with_margin
    assert window.recommended.line_load == 90.0
    assert 3.5 <= window.recommended.surface_speed <= 5.0
    assert window.margins.load_down == pytest.approx(10.0 / 9.0)
    assert window.margins.smallest == pytest.approx(10.0 / 9.0)
    assert window.limiting["surface_speed_up"] == ("excess_ink",)
    assert window.last_good["load_down"] == pytest.approx(80.0)
    assert window.last_good["surface_speed_up"] == pytest.approx(6.0)
    assert window.tolerances == {"set_angle": "1 deg", "line_load": "10 %", "surface_speed": "10 %"}
    assert "higher surface speed" in repr(window)
    # Held to 1 m/s, only 4 and 4.5 and 5 m/s are far enough from both ends.
    tight = lb.process_window(invented(box), {"excess_ink": "0.3 um"}, tolerances={"setting.surface_speed": "1 m/s"})
    assert tight.recommended.surface_speed in (4.0, 4.5, 5.0)
    # An amount for the load: N - 80 >= 25 N/m.
    assert (
        lb.process_window(invented(box), {"excess_ink": "0.3 um"}, load_tolerance="25 N/m").recommended.line_load
        == 110.0
    )


def test_without_a_load_the_most_room_decides():
    grid = invented(
        lambda set_angle, surface_speed: box(set_angle, 100.0, surface_speed), ("set_angle", "surface_speed")
    )
    window = lb.process_window(grid, {"excess_ink": "0.3 um"})
    assert np.degrees(window.recommended.set_angle) == pytest.approx(30.0)
    # min((v - 3) / 0.1 v, (6 - v) / 0.1 v) on the grid: 4 gives 2.5, 4.5 gives 3.33, 5 gives 2; the angle's is 3.
    assert window.recommended.surface_speed == 4.5
    assert window.margins.smallest == pytest.approx(3.0)


def naive(axes, inside, tolerances, place):
    """Smallest margin of a point, walked step by step."""
    sides = []
    for k, (values, held) in enumerate(zip(axes, tolerances, strict=True)):
        unit = held.amount * (values[place[k]] if held.relative else 1.0)
        for step in (-1, 1):
            i = place[k]
            while 0 <= i + step < values.size and inside[(*place[:k], i + step, *place[k + 1 :])]:
                i += step
            sides.append(abs(values[i] - values[place[k]]) / unit)
    return min(sides)


@pytest.mark.parametrize("seed", range(12))
def test_no_point_of_the_grid_is_better(seed):
    """Brute force over all points of random maps of three fields."""
    rng = np.random.default_rng(seed)
    axes = [AXES[d][0] for d in AXES]
    shape = tuple(a.size for a in axes)
    inside = rng.random(shape) > (0.02, 0.1, 0.5)[seed % 3]
    held = [Held(np.radians(1.0), False, ""), Held(0.1, True, ""), Held(0.1, True, "")]
    choice = choose(axes, inside, held, 1)
    margins = {p: naive(axes, inside, held, p) for p in itertools.product(*map(range, shape)) if inside[p]}
    best = margins[choice.place]
    assert choice.margins[choice.place].min() == pytest.approx(best)
    holding = {p: m for p, m in margins.items() if m >= 1.0 - 1e-9}
    assert choice.with_margin == bool(holding)
    if holding:
        assert choice.place[1] == min(p[1] for p in holding)
        assert best >= max(m for p, m in holding.items() if p[1] == choice.place[1]) / 1.05
    else:
        assert best >= max(margins.values()) / 1.05


@pytest.mark.parametrize("seed", range(6))
def test_two_fields_agree_with_the_library_for_programs(seed):
    rng = np.random.default_rng(100 + seed)
    axes = [AXES["set_angle"][0], AXES["line_load"][0]]
    inside = rng.random((axes[0].size, axes[1].size)) > (0.05, 0.5)[seed % 2]
    choice = choose(axes, inside, [Held(np.radians(1.0), False, ""), Held(0.1, True, "")], 1)
    _, with_margin, i, j, sides, smallest = _core.process_window(*axes, inside.astype(np.uint8), np.radians(1.0), 0.1)
    assert (choice.place, choice.with_margin) == ((i, j), with_margin)
    assert choice.margins[choice.place].ravel() == pytest.approx(sides)
    assert choice.margins.min(axis=(-1, -2)) == pytest.approx(smallest)


def test_states_after_a_step_count_as_much():
    grid, limits = invented(box), {"excess_ink": "0.3 um"}
    worse = invented(
        lambda set_angle, line_load, surface_speed: box(set_angle, line_load, surface_speed) & (line_load > 115.0)
    )
    window = lb.process_window(grid, limits, after={"after a step": worse})
    assert window.recommended.line_load == 140.0  # N - 120 >= 0.1 N: 133.3
    assert window.limiting["load_down"] == ("excess_ink after a step",)
    stuck = grid.assign(status=grid.status.where(grid.line_load > 115.0, 0).astype(np.int8))
    assert lb.process_window(grid, limits, after={"after a step": stuck}).recommended.line_load == 140.0
    with pytest.raises(lb.InvalidInput, match=r"after\.x"):
        lb.process_window(grid, limits, after={"x": worse.isel(line_load=slice(3, None))})


def test_a_smallest_value_may_never_come():
    grid = invented(box)
    about = {
        "units": "s",
        "display_units": "h",
        "display_scale": 1.0 / 3600.0,
        "long_name": "mean time to the first score",
    }
    late = np.broadcast_to(np.where(grid.line_load.values > 155.0, 3600.0, np.inf)[:, None], grid.excess_ink.shape)
    grid["first_score"] = (grid.excess_ink.dims, late, about)
    window = lb.process_window(grid, {"excess_ink": "0.3 um", "first_score": ("100 h", None)})
    assert window.limiting["load_up"] == ("first_score",)
    assert window.last_good["load_up"] == pytest.approx(150.0)


@pytest.mark.parametrize(
    ("tolerances", "name"),
    [
        ({"ink.temperature": "1 K"}, "tolerances.ink.temperature"),
        ({"setting.surface_speed": "1 deg"}, "tolerances.setting.surface_speed"),
        ({"setting.set_angle": "10 %"}, "tolerances.setting.set_angle"),
        ({"setting.surface_speed": 0.0}, "tolerances.setting.surface_speed"),
    ],
)
def test_bad_tolerances_are_refused(tolerances, name):
    with pytest.raises(lb.InvalidInput) as error:
        lb.process_window(invented(box), {"excess_ink": "1 um"}, tolerances=tolerances)
    assert error.value.problems[0].path == name


@pytest.fixture(scope="module")
def window() -> lb.ProcessWindow:
    return lb.find_window(CASE, FIELDS, LIMITS, shift=SPEEDS)


def test_the_order_of_fields_and_limits_does_not_matter(window):
    turned = lb.find_window(CASE, dict(reversed(FIELDS.items())), dict(reversed(LIMITS.items())), shift=SPEEDS)
    assert turned.contains.equals(window.contains)
    assert turned.margin_map.equals(window.margin_map)
    assert turned.recommended == window.recommended
    assert {k: set(v) for k, v in turned.limiting.items()} == {k: set(v) for k, v in window.limiting.items()}


@pytest.mark.parametrize("holding", ["fixed", "floating"])
def test_a_step_is_the_same_blade_pressed_harder(holding):
    """Against a solve made by hand for each point."""
    case = CASE.replace({"setting.holding": holding})
    names = ["bedded_angle", "facet_length", "interference", "line_load", "excess_ink"]
    grid = lb.sweep(case, {"setting.set_angle_deg": [28.0, 34.0], "setting.line_load": [90.0, 130.0]}, outputs=names)
    states = lb.after_shift(grid, {"excess_ink": "1 um"}, {"load": 0.05, "speed": "-20 %"})
    assert list(states) == ["after speed -20 %", "after load +5 %"]
    for i, angle in enumerate((28.0, 34.0)):
        for j, load in enumerate((90.0, 130.0)):
            here = case.replace({"setting.set_angle": f"{angle} deg", "setting.line_load": load})
            before, harder = lb.pressed_harder(here, 0.05)
            assert states["after load +5 %"].excess_ink.values[i, j] == pytest.approx(
                harder.excess_ink, rel=1e-6, abs=1e-13
            )
            held = (
                {"setting.line_load": load} if holding == "floating" else {"setting.interference": before.interference}
            )
            worn = {
                "tip.bedding": "angle",
                "tip.bedded_angle": f"{before.bedded_angle!r} rad",
                "tip.facet_length": before.facet_length,
            }
            slower = lb.solve(here.replace({**worn, **held, "setting.surface_speed": 4.0}))
            assert states["after speed -20 %"].excess_ink.values[i, j] == pytest.approx(
                slower.excess_ink, rel=1e-6, abs=1e-13
            )


def test_life_is_that_of_wear_and_its_reciprocal_between():
    grid = lb.sweep(
        CASE,
        {"setting.set_angle_deg": [28.0, 34.0], "setting.line_load": [100.0, 130.0, 200.0]},
        outputs=["excess_ink"],
    )
    whole = lb.add_life(grid, "20 km", points=2, facet_limit="60 um")
    for i, angle in enumerate((28.0, 34.0)):
        ends = []
        for j, load in ((0, 100.0), (2, 200.0)):
            new = CASE.replace(
                {"tip.kind": "square_edge", "setting.set_angle": f"{angle} deg", "setting.line_load": load}
            )
            story = lb.wear(new, "20 km", facet_limit="60 um", tolerance=1e-4)
            assert story.life.limit == "facet_limit"
            assert whole.life_distance.values[i, j] == pytest.approx(story.life.distance, rel=1e-9)
            assert whole.life_time.values[i, j] == pytest.approx(3600.0 * story.life.hours, rel=1e-9)
            ends.append(story.life.distance)
        between = 1.0 / (0.7 / ends[0] + 0.3 / ends[1])  # 130 N/m lies at 0.3 of the way
        assert whole.life_distance.values[i, 1] == pytest.approx(between, rel=1e-9)
    assert "interpolated between 2 x 2 wear histories" in whole.life_distance.long_name
    # Archard: under an asperity-borne load life goes as 1 / load, so the interpolated one is near the history's own.
    own = lb.add_life(grid, "20 km", points=0, facet_limit="60 um")
    assert whole.life_distance.values[:, 1] == pytest.approx(own.life_distance.values[:, 1], rel=0.1)
    assert "interpolated" not in own.life_distance.long_name
    short = lb.add_life(grid, "1 km", points=2, facet_limit="60 um")
    assert short.life_distance.values == pytest.approx(1000.0)  # the schedule's end: at least
    with pytest.raises(lb.InvalidInput, match="life"):
        lb.add_life(grid, "1 km")


def test_scoring_risk_is_that_of_its_map():
    grid = lb.sweep(
        CASE, {"setting.set_angle_deg": [28.0, 34.0], "setting.line_load": [100.0, 200.0]}, outputs=["excess_ink"]
    )
    risky = lb.add_scoring(grid, lb.example_particles(), edge_toughness="60 N/mm")
    for i, angle in enumerate((28.0, 34.0)):
        here = CASE.replace({"setting.set_angle": f"{angle} deg", "setting.line_load": 200.0})
        one = lb.scoring(here, lb.example_particles(), edge_toughness="60 N/mm")
        assert risky.scores.values[i, 1] == pytest.approx(one.total["scores"], rel=1e-6)
        assert risky.first_score.values[i, 1] == pytest.approx(one.first_score.mean, rel=1e-6)
    window = lb.process_window(risky, {"excess_ink": "5 um", "scores": "1e-9 1/h", "first_score": ("1 h", None)})
    expected = (
        (risky.scores.values <= 1e-9 / 3600.0)
        & (risky.first_score.values >= 3600.0)
        & (risky.excess_ink.values <= 5e-6)
    )
    assert (window.contains.values == expected).all()


def test_limits_on_life_and_scoring_ask_for_what_they_need():
    for limits, name in (({"life_distance": ("300 km", None)}, "life"), ({"scores": "1 1/h"}, "scoring")):
        with pytest.raises(lb.InvalidInput) as error:
            lb.find_window(CASE, FIELDS, limits)
        assert error.value.problems[0].path == name


def test_the_card_tells_the_setting_in_shop_units(window):
    card = window.card()
    text = str(card)
    assert card.title == "Folding carton, water ink: setting"
    angle = f"{np.degrees(window.recommended.set_angle):.3g} deg"
    load = f"{window.recommended.line_load:.3g} N/m"
    assert text.splitlines()[2].startswith(f"Recommended: set angle {angle} and line load {load}.")
    assert "after speed -20 %, speed +20 % before it has run in anew" in text
    rows = {row[0]: row for row in card.tables[0].rows}
    assert rows["line load"][1:4] == (load, "10 %", f"{window.last_good['load_down']:.3g} N/m")
    notes = dict(card.notes)
    assert "extension 12 mm" in notes["Fixed"]
    assert "set angle" not in notes["Fixed"]
    assert "no limit on blade life was asked" in notes["Not modelled"]
    assert "razor-sharp" in notes["Care"]
    assert "Local codes and site rules come first." in notes["Care"]
    assert card._repr_html_().count("<table>") == 2
    assert "&lt;= 6 % of the ink carried" in card._repr_html_()
    assert card.openings == ()


@pytest.fixture(scope="module")
def closed() -> lb.ProcessWindow:
    return lb.find_window(CASE, FIELDS, {**LIMITS, "film_on_lands": "4.8 %"})


def test_no_window_names_the_hardest_limit_and_a_change_that_opens_one(closed):
    assert not closed.exists
    card = closed.card({"roll.land_roughness": "roughness", "ink": "ink viscosity"})
    assert "The hardest to meet is ink left on the lands" in card.paragraph
    found = {opening.lever: opening for opening in card.openings}
    rough = found["roll.land_roughness"]
    assert rough.factor < 1.0  # a smoother roll leaves less ink
    assert card.openings == tuple(sorted(card.openings, key=lambda o: o.size))
    # Solved again: with the change there is a window, with half of it there is none.
    now = float(CASE["roll.land_roughness"])
    assert lb.find_window(CASE.replace({"roll.land_roughness": rough.factor * now}), FIELDS, closed.job.limits).exists
    assert not lb.find_window(
        CASE.replace({"roll.land_roughness": rough.factor**0.5 * now}), FIELDS, closed.job.limits
    ).exists
    limit = found["limit film_on_lands"]
    for factor, exists in ((limit.factor * 1.0001, True), (limit.factor * 0.9999, False)):
        assert lb.find_window(CASE, FIELDS, {**LIMITS, "film_on_lands": f"{4.8 * factor} %"}).exists == exists
    assert card.openings[0].words in card.paragraph


def test_openings_need_a_job(closed):
    with pytest.raises(lb.InvalidInput, match="find_window"):
        lb.openings(lb.process_window(closed.grid, {"film_on_lands": "4.8 %"}))


def test_a_limit_is_relaxed_by_what_is_missing_where_all_others_hold():
    """By hand: after the step 0.6 um is left where the pressure holds, and the limit is 0.4 um: 1.5 times."""
    grid = invented(box).rename(excess_ink="excess_after_step")
    dims = grid.status.dims
    for name, good, bad in (("excess_ink", 1e-7, 1e-7), ("mean_pressure", 1e6, 2e6)):
        grid[name] = (dims, np.where(box(*np.meshgrid(*(AXES[d][0] for d in dims), indexing="ij")), good, bad))
    moved = grid.assign(excess_ink=(dims, np.full(grid.status.shape, 6e-7)))
    limits = {"excess_after_step": "0.4 um", "excess_ink": "0.2 um", "mean_pressure": "1.5 MPa"}
    window = lb.process_window(grid, limits, after={"after a step": moved})
    assert not window.exists
    found = {opening.lever: opening.factor for opening in _relaxed(window)}
    assert found == {"limit excess_after_step": pytest.approx(1.5)}


def test_a_choice_opens_a_window():
    """Of a floating blade a step of 10 % leaves 0.46 um at least, of one held fixed 0.32 um, of a floating trailing one 0.73 um."""
    floating = CASE.replace({"setting.load_step": "10 %", "setting.holding": "floating"})
    window = lb.find_window(floating, FIELDS, {"excess_after_step": "0.4 um"})
    assert not window.exists
    found = lb.openings(window, {"setting.holding": "holding", "setting.orientation": "orientation"}, limits=False)
    assert [opening.words for opening in found] == ["holding fixed instead of floating"]
    assert found[0].window.case["setting.holding"] == "fixed"


def test_the_card_says_when_the_own_life_passes_the_limit():
    """The map's life is made longer than the blade's own, as a poor interpolation would."""
    life = {"schedule": "20 km", "facet_limit": "60 um", "points": 2}
    fields = {"setting.set_angle_deg": [28.0, 34.0], "setting.line_load": [100.0, 130.0]}
    window = lb.find_window(CASE, fields, {"life_distance": ("0.5 km", None)}, life=life)
    rows = {row[0]: row for row in window.card().tables[1].rows}
    assert rows["blade life"][1].endswith("by its own history (the facet limit)")
    longer = dataclasses.replace(window, job=dataclasses.replace(window.job, limits={"life_distance": ("19 km", None)}))
    rows = {row[0]: row for row in longer.card().tables[1].rows}
    assert rows["blade life"][1].endswith("PASSES ITS LIMIT")
