"""What holds for any input: balances, scaling laws, symmetries, limits, order that does not matter. Cases are drawn at random."""

import json
import math

import hypothesis.strategies as st
import numpy as np
import pint
import pytest
from hypothesis import HealthCheck, assume, given, settings

import libblade as lb


def some(count):
    """The same examples every time; their number decides the time."""
    return settings(
        max_examples=count,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    )


def between(low, high):
    return st.floats(low, high, allow_nan=False)


def near(factor=1.4):
    return between(1.0 / factor, factor)


def close(a, b, rel=1e-9, floor=0.0):
    np.testing.assert_allclose(a, b, rtol=rel, atol=floor)


SMOOTH = lb.example_case("folding_carton_water").replace(
    {"roll.engraving.pattern": "smooth", "ink.viscosity": "30 mPa s", "tip.facet_length": "0.2 mm", "setting.friction": 0.12}
)
CELLS = lb.example_case("folding_carton_water")


@st.composite
def nips(draw, base=SMOOTH):
    """Operating points about a usual one, both orientations."""
    fields = {
        "setting.orientation": draw(st.sampled_from(["doctoring", "trailing"])),
        "setting.line_load": 110.0 * draw(near()),
        "setting.surface_speed": 5.0 * draw(near(2.0)),
        "setting.set_angle_deg": draw(between(26.0, 38.0)),
        "blade.thickness": 2e-4 * draw(near(1.2)),
        "roll.land_roughness": 2.4e-7 * draw(near()),
    }
    if base is SMOOTH:
        fields["ink.viscosity"] = 0.03 * draw(near(2.0))
    return base.replace(fields)


@pytest.fixture(autouse=True)
def unusual_values_are_meant():
    import warnings  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", lb.LibbladeWarning)
        yield


# --- change of units: no law has a number in it that is not a quantity ------------------------------------------------

UNITS = pint.UnitRegistry()
BASE = ("[length]", "[time]", "[mass]")


def exponents(unit):
    words = unit.replace("W s^0.5/(m2 K)", "W*s**0.5/(m**2*K)").replace("m3/m2", "m").replace("m/m", "1")
    for short, full in (("Pa s", "Pa*s"), ("(m K)", "(m*K)"), ("(kg K)", "(kg*K)"), ("m2", "m**2"), ("m3", "m**3")):
        words = words.replace(short, full) if "**" not in words or short.startswith("(") else words
    powers = UNITS.Quantity(1.0, UNITS.parse_expression(words or "1").units if words not in ("", "1") else "").dimensionality
    return [float(powers.get(name, 0)) for name in BASE]


def times(unit, scale):
    return math.prod(factor**power for factor, power in zip(scale, exponents(unit), strict=True))


FIELD_UNITS = {field.path: field.unit for field in lb.field_table()}
# exp(-(h + 3 sigma)), tables between 1e-8 and 1e-3 m and the like would show here.
SCALED = [o for o in lb.output_table() if o.unit != "K"]


def in_other_units(case, scale):
    """The case as somebody with another metre, second and kilogram would state it."""
    changes = {}
    for path, unit in FIELD_UNITS.items():
        value = case.get(path) if hasattr(case, "get") else case[path]
        if isinstance(value, float) and unit not in ("", "1", "rad", "K") and math.isfinite(value):
            changes[path] = value * times(unit, scale)
    return case.replace(changes)
