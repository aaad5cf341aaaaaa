"""The engine of the page against the native core: the same source, two compilers, two mathematical libraries."""

import json
import math

import pytest

import libblade as lb
from libblade import _core

ELSEWHERE = {"set_angle_deg": 33, "line_load": 100}
INKS = {"thin": {"ink.viscosity": "8 mPa s"}, "thick": {"ink.viscosity": "150 mPa s"}}
ROLLS = {"coarse": {"roll.engraving.screen": "80 lines/cm"}, "channels": {"roll.engraving.pattern": "channel"}}
RELATIVE = 1e-9
# Where a number is a difference of larger ones, or zero but for rounding, the larger ones count: a tilt against a degree, a
# film against one of 10 nm, the share of a torn film (1 - film / gap) and pressures against what the nip has of them.
FLOOR = {
    "facet_tilt": 0.017,
    "tilt": 0.017,
    "run_out_tilt": 0.017,
    "run_out_angle": 0.017,
    "excess_ink": 1e-8,
    "excess": 1e-8,
    "excess_after_step": 1e-8,
    "contrast": 1.0,
    "visibility": 1.0,
    "film_pressure": 1e4,
    "asperity_pressure": 1e4,
    "x": 1e-5,
    "mid": 1e-4,
    "roll_side": 1e-4,
    "away_side": 1e-4,
    "free_mid": 1e-4,
    "contact": 1e-4,
    "void_fraction": 30.0,
    "run_out_load": 1.0,
}
# In proportion to the tilt, which may be zero but for rounding; and the far tail of a distribution.
PROPORTIONAL = {"rebed": 1.0, "enters_share": 1e-3}


def requests() -> list[dict]:
    case = lb.example_case("folding_carton_water").to_dict()
    other = lb.example_case("narrow_web_curing").to_dict()
    out = [{"case": case}, {"case": other}, {"case": lb.example_case("corrugated_coarse").to_dict()}]
    for orientation in ("doctoring", "trailing"):
        for holding in ("fixed", "floating"):
            base = {"setting.orientation": orientation, "setting.holding": holding}
            out += [
                {"case": case, "set": base, "run_in": True, "step": 0.1},
                {"case": case, "set": base, "run_in": True, "step": -0.2},
                {"case": case, "set": base, "run_in": ELSEWHERE},
                {"case": case, "set": {**base, "setting.set_angle_deg": 36}, "run_in": ELSEWHERE, "step": 0.05},
                {"case": case, "set": base, "run_in": {"bedded_angle_deg": 28, "facet_length": "0.2 mm"}},
                {"case": case, "set": base, "run_in": True, "start": "riding"},
                {"case": case, "set": {**base, "tip.kind": "square_edge"}},
                {"case": other, "set": base, "run_in": True},
            ]
            out += [{"case": case, "set": {**base, **ink}, "run_in": True} for ink in INKS.values()]
            out += [
                {"case": case, "set": {**base, **roll}, "run_in": True, "drawing": False} for roll in ROLLS.values()
            ]
    bad = [{"set": {"setting.set_angle_deg": 95}}, {"set": {"blade.thicknes": 1}}, {"step": 7}, {"run_in": []}]
    flat = {"setting.orientation": "trailing", "setting.set_angle_deg": 15, "setting.line_load": 1900}
    out += [{"case": case, **request} for request in bad]
    return [*out, {"case": case, "set": flat}, {}, {"case": {"schema": "libblade-case-1"}}]


def differences(native, web, path=()):
    """Path and difference over what is allowed, of every number; anything else must be the same."""
    if isinstance(native, dict):
        assert native.keys() == web.keys(), path
        for key in native:
            yield from differences(native[key], web[key], (*path, key))
    elif isinstance(native, list):
        assert len(native) == len(web), path
        for here, there in zip(native, web, strict=True):
            yield from differences(here, there, path)
    elif isinstance(native, float) and isinstance(web, int | float):
        scale = max(abs(native), max((size for name, size in FLOOR.items() if name == path[-1]), default=0.0))
        scale = max([scale, *(size for name, size in PROPORTIONAL.items() if name in path)])
        assert math.isfinite(native)
        yield path, abs(native - web) / (RELATIVE * scale) if scale else 0.0
    else:
        assert native == web, path


def test_the_engine_answers_as_the_native_core(ask):
    asked = [json.dumps(request) for request in requests()]
    assert len(asked) >= 50
    compared = 0
    for text, web in zip(asked, ask(asked), strict=True):
        native = json.loads(_core.lesson_answer(text))
        for path, times in differences(native, json.loads(web)):
            compared += 1
            assert times <= 1.0, (path, times, text[-200:])
    assert compared > 20_000


def test_the_comparison_itself_refuses():
    native = json.loads(_core.lesson_answer(json.dumps(requests()[0])))
    other = json.loads(json.dumps(native))
    other["point"]["film_on_lands"] *= 1.0 + 3e-9
    assert max(times for _, times in differences(native, other)) > 1.0
    other["point"]["regime"] = "asleep"
    with pytest.raises(AssertionError):
        list(differences(native, other))


def test_a_life_is_the_native_one(ask):
    case = lb.example_case("folding_carton_water").to_dict()
    text = json.dumps({"ask": "life", "case": case, "run_in": {"set_angle_deg": 29.5, "line_load": 110}})
    native, web = json.loads(_core.lesson_answer(text)), json.loads(ask([text])[0])
    assert native["life"]["bedded_again"] is not None
    # The steps of the integrator follow the error it finds, to 1e-6: the ends agree to that, their number need not.
    for name, rel in (("distance", 1e-3), ("time", 1e-3)):
        assert web["life"]["bedded_again"][name] == pytest.approx(native["life"]["bedded_again"][name], rel=rel)
    assert web["life"]["film_on_lands"][-1] == pytest.approx(native["life"]["film_on_lands"][-1], rel=1e-3)


def test_texts_of_any_letters_and_lengths_pass_the_door(ask):
    case = {**lb.example_case("folding_carton_water").to_dict(), "name": "Größe \N{GREEK SMALL LETTER MU} \U0001f5a8"}
    answer, long, empty = ask([json.dumps({"case": case}, ensure_ascii=False), " " * (1 << 21), ""])
    assert json.loads(answer)["case"]["name"] == case["name"]
    assert json.loads(long)["status"] == json.loads(empty)["status"] == "bad_input"
