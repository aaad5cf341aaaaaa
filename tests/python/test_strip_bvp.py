"""The elastica by SciPy's `solve_bvp` (tests/benchmarks/reference_strip.py) against published figures and closed forms; then the
library against it."""

import sys
from dataclasses import replace
from math import atan, cos, degrees, inf, isfinite, radians, sqrt, tan
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / "finite_elements"), str(TESTS / "benchmarks")]
from catalogue import CATALOGUE  # noqa: E402
from library_strip import library_strip  # noqa: E402
from reference_strip import solve_strip  # noqa: E402
from strip_model import StripSpec  # noqa: E402

LENGTH = 12e-3
D = StripSpec(line_load=1.0).stiffness(0.2e-3)


@pytest.mark.parametrize(
    ("load", "angle", "rotation", "curvature"),
    [
        (1.0, 45.0, 0.2660399426, 0.5675052548),
        (1.0, 135.0, 0.4575102391, 0.8775677605),
        (3.0, 120.0, 1.253253702, 2.645689841),
        (2.0, 60.0, 0.5479486246, 1.229540399),
    ],
)
def test_dead_load_of_fixed_direction(load, angle, rotation, curvature):
    # P L^2 / D and the load's angle from the unbent axis (class of Frisch-Fay 1962, Flexible Bars); recomputed by Taylor series
    # and DOP853 shooting. The direction is made of set angle and friction, the force acts on the mid-plane.
    set_angle = max(angle - 90.0, 0.0) or 30.0
    friction = tan(radians(90.0 - angle + set_angle))
    spec = StripSpec(
        set_angle=radians(set_angle),
        friction=friction,
        orientation="trailing",
        roll_radius=inf,
        line_load=load * D / LENGTH**2 * cos(atan(friction)),
    )
    result = solve_strip(spec, offset=0.0, mode="tip")
    assert result.tip_rotation == pytest.approx(rotation, rel=1e-8)
    assert result.max_bending_stress * 0.2e-3**2 / 6.0 * LENGTH / D == pytest.approx(curvature, rel=1e-8)


@pytest.mark.parametrize(
    ("setting", "expected"),
    [
        ((30.0, 0.02, 0.0, "trailing"), (0.07817101856, 28.02935719, 0.8772085032)),
        ((30.0, 0.05, 0.2, "trailing"), (0.1724502135, 25.12586956, 0.8926680063)),
        ((45.0, 0.1, 0.2, "doctoring"), (0.5707664343, 33.60595785, 0.7923848448)),
    ],
)
def test_tip_on_a_plane_with_friction(setting, expected):
    # N L^2 / D, tip angle and tip place over L of a strip pressed by depth * L; recomputed by DOP853 shooting and Taylor series.
    (angle, depth, friction, orientation), (load, tip, reach) = setting, expected
    spec = StripSpec(
        set_angle=radians(angle),
        friction=friction,
        orientation=orientation,
        roll_radius=inf,
        advance=depth * LENGTH,
    )
    result = solve_strip(spec, offset=0.0)
    assert result.line_load * LENGTH**2 / D == pytest.approx(load, rel=1e-7)
    assert degrees(result.effective_angle) == pytest.approx(tip, abs=1e-6)
    assert cos(radians(angle)) + result.travel / LENGTH == pytest.approx(reach, rel=1e-8)


def test_two_thicknesses():
    # Unit load: w = P ((L^3 - b^3) / (3 D1) + b^3 / (3 D2)), slope = P ((L^2 - b^2) / (2 D1) + b^2 / (2 D2)), b = L - a.
    thickness = [(12.0 * (1.0 - 0.29**2) * d / 205e9) ** (1.0 / 3.0) for d in (0.1, 0.02)]
    load, length, tip = 1e-3, 0.02, 0.008
    for flush in ("roll", "away"):
        spec = StripSpec(
            sections=((length - tip, thickness[0]), (tip, thickness[1])),
            flush=flush,
            set_angle=0.0,
            roll_radius=inf,
            line_load=load,
        )
        result = solve_strip(spec, mode="tip")
        w = load * ((length**3 - tip**3) / 0.3 + tip**3 / 0.06)
        assert result.advance == pytest.approx(w, rel=1e-6)
        assert result.tip_rotation == pytest.approx(load * ((length**2 - tip**2) / 0.2 + tip**2 / 0.04), rel=1e-6)


@pytest.mark.parametrize("gap", [0.0, 1e-4])
def test_stop_behind_a_cantilever(gap):
    # Force method, compatibility at the stop (exact for small deflection): R = (P a^2 (3L - a) / (6 D) - g) 3 D / a^3,
    # w = P L^3 / (3 D) - R a^2 (3 L - a) / (6 D).
    load, length, a, d, small = 200.0, 0.015, 0.009, 0.05, 1e-5
    thickness = (12.0 * (1.0 - 0.29**2) * d / 205e9) ** (1.0 / 3.0)
    spec = StripSpec(
        sections=((length, thickness),),
        set_angle=0.0,
        roll_radius=inf,
        line_load=small * load,
        plate_length=a,
        plate_gap=small * gap,
    )
    result = solve_strip(spec, mode="tip")
    lever = a**2 * (3.0 * length - a) / (6.0 * d)
    stop = (load * lever - gap) * 3.0 * d / a**3
    assert result.plate_force == pytest.approx(small * stop, rel=1e-6)
    assert result.advance == pytest.approx(small * (load * length**3 / (3.0 * d) - stop * lever), rel=1e-6)


def test_lying_flat_of_a_shallow_strip():
    # Small angles on a plane, no friction: the free part is a cantilever whose end turns by the set angle, N s^2 = 2 D a0;
    # the edge is left at N = 2 D a0 / L^2.
    a0 = radians(0.5)
    onset = 2.0 * D * a0 / LENGTH**2
    for load in (1.5 * onset, 4.0 * onset):
        result = solve_strip(StripSpec(set_angle=a0, roll_radius=inf, line_load=load))
        assert result.mode == "flat"
        assert result.contact_place == pytest.approx(sqrt(2.0 * D * a0 / load), rel=2e-4)
        assert result.effective_angle == 0.0
    assert solve_strip(StripSpec(set_angle=a0, roll_radius=inf, line_load=0.95 * onset)).mode == "tip"


def test_shoulder_of_a_step():
    # Level on the far side, the step's shoulder hangs 0.075 mm below the tip's face, 1.5 mm from the contact. It meets the roll at
    # atan(0.05), less the 1.5 / (2 * 70) by which the roll falls away, less N l^2 / (6 D) by which the tip is bent, 0.24 deg at
    # 90 N/m: 2.0 deg.
    spec = StripSpec(sections=((10.5e-3, 0.15e-3), (1.5e-3, 0.075e-3)), flush="away", set_angle=0.15, line_load=88.0)
    assert 2.05 < degrees(solve_strip(spec).effective_angle) < 2.2
    lower = replace(spec, line_load=91.0)
    with pytest.raises(ArithmeticError, match="shoulder"):
        solve_strip(lower)
    assert 1.8 < degrees(solve_strip(replace(lower, flush="roll")).effective_angle) < 1.95


def test_chamber_pressure_on_a_held_tip():
    # Clamped at one end, supported at the other: reaction 3 p L / 8, rotation p L^3 / (48 D) (Timoshenko & Gere 1961).
    p = 20.0
    spec = StripSpec(set_angle=0.0, roll_radius=inf, advance=0.0, pressure=p)
    result = solve_strip(spec, mode="tip")
    assert result.line_load == pytest.approx(3.0 * p * LENGTH / 8.0, rel=1e-6)
    assert -result.tip_rotation == pytest.approx(-p * LENGTH**3 / (48.0 * D), rel=1e-6)


def uniform(length_mm: float = 12.0, thickness_mm: float = 0.2, angle: float = 30.0, **options) -> StripSpec:
    return StripSpec(sections=((length_mm * 1e-3, thickness_mm * 1e-3),), set_angle=radians(angle), **options)


UNIFORM = [
    uniform(line_load=100.0),
    uniform(line_load=100.0, friction=0.3),
    uniform(line_load=100.0, friction=0.3, orientation="trailing"),
    uniform(line_load=400.0, friction=0.12, pressure=5e3),
    uniform(line_load=60.0, friction=0.2, pressure=10e3, orientation="trailing"),
    uniform(angle=58.0, line_load=1800.0, friction=0.3),
    uniform(angle=60.0, line_load=1400.0, friction=0.3, orientation="trailing"),
    uniform(25.0, 0.15, 40.0, line_load=80.0, friction=0.1, roll_radius=30e-3),
    uniform(advance=0.5e-3, friction=0.12),
    uniform(advance=1.2e-3, friction=0.2, orientation="trailing", roll_radius=30e-3),
    uniform(20.0, 0.1, 45.0, advance=5e-3, friction=0.25),
    uniform(6.0, 0.3, 55.0, advance=0.5e-3, friction=0.3, roll_radius=0.15),
    uniform(
        8.0, 0.5, 20.0, line_load=300.0, friction=0.1, orientation="trailing", youngs_modulus=3e9, poissons_ratio=0.4
    ),
]


@pytest.mark.parametrize("spec", UNIFORM, ids=range(len(UNIFORM)))
def test_library(spec):
    # The same equations, solved to about 1e-8 here and there; 2.4e-7 is the largest difference seen.
    ours, theirs = library_strip(spec), solve_strip(spec)
    assert theirs.mode == "tip"
    assert ours is not None
    errors = ours.errors_against(theirs, spec.advance is not None)
    assert max(map(abs, errors.values())) < 1e-6, errors
    assert ours.travel == pytest.approx(theirs.travel, rel=1e-5)
    assert ours.max_stress_place == pytest.approx(theirs.max_stress_place, abs=1e-3 * spec.length)


BUILT = [e for e in CATALOGUE if isfinite(e.spec.roll_radius) and (e.spec.plate_length or len(e.spec.sections) > 1)]


@pytest.mark.parametrize("entry", BUILT, ids=[e.name for e in BUILT])
def test_library_with_steps_and_plates(entry):
    # Plates to 1e-8; steps to 1e-5, since the turn of the joint is read off a line here and off a polynomial there.
    ours, theirs = library_strip(entry.spec), solve_strip(entry.spec, joints=True)
    assert ours is not None
    assert ours.mode == theirs.mode
    errors = ours.errors_against(theirs, entry.spec.advance is not None)
    assert max(map(abs, errors.values())) < (2e-5 if len(entry.spec.sections) > 1 else 1e-7), errors
