"""Blades on which beam, elastica and finite elements are compared, with what a beam can meet (model: 0.1 % uniform, 0.5 % with
a backing plate, 1 % with a step; place of a flat contact 0.5 %). Two strips whose step lies close to a stiff part need 2 %: a
beam has no step compliance (`joint_compliance` in tests/benchmarks/reference_strip.py; with it all agree to 0.1 %)."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians
from typing import Any

from strip_model import StripSpec


@dataclass(frozen=True)
class Entry:
    name: str
    spec: StripSpec
    way: str = "corner"  # "corner": force on the corner; "rolled corner", "flat": a cylinder; "point": a needle
    tolerance: float = 1e-3  # relative, of load or advance, tip rotation, bending stress and plate force
    usual: bool = False  # runs in every test run


def _thin_tip(flush: str, **options: Any) -> StripSpec:
    return StripSpec(sections=((10.5e-3, 0.15e-3), (1.5e-3, 0.075e-3)), flush=flush, **options)


STEP, SHORT_STEP, PLATE = 1e-2, 2e-2, 5e-3
FLAT = ((20e-3, 0.15e-3),)

CATALOGUE = (
    Entry("uniform", StripSpec(line_load=100.0)),
    Entry(
        "uniform doctoring, friction, large rotation",
        StripSpec(set_angle=radians(58.0), line_load=1800.0, friction=0.3),
        usual=True,
    ),
    Entry(
        "uniform trailing, friction, 40 deg",
        StripSpec(set_angle=radians(60.0), line_load=1400.0, friction=0.3, orientation="trailing"),
    ),
    Entry("uniform doctoring, advance", StripSpec(advance=0.5e-3, friction=0.12)),
    Entry(
        "uniform trailing, advance", StripSpec(advance=1.2e-3, friction=0.2, orientation="trailing", roll_radius=30e-3)
    ),
    Entry(
        "long and thin", StripSpec(sections=((25e-3, 0.15e-3),), set_angle=radians(40.0), line_load=80.0, friction=0.1)
    ),
    Entry("on a plane", StripSpec(roll_radius=float("inf"), line_load=200.0, friction=0.15)),
    Entry("chamber pressure", StripSpec(line_load=100.0, friction=0.12, pressure=5e3)),
    Entry("rolled corner", StripSpec(advance=0.5e-3), "rolled corner"),
    Entry("rolled corner, doctoring friction", StripSpec(advance=0.5e-3, friction=0.2), "rolled corner"),
    Entry(
        "rolled corner, trailing friction",
        StripSpec(advance=1.0e-3, friction=0.3, orientation="trailing"),
        "rolled corner",
    ),
    Entry(
        "thin tip flush on the roll side, trailing",
        _thin_tip("roll", line_load=60.0, friction=0.2, orientation="trailing"),
        tolerance=STEP,
        usual=True,
    ),
    Entry(
        "thin tip flush on the far side, trailing",
        _thin_tip("away", line_load=60.0, friction=0.2, orientation="trailing"),
        tolerance=STEP,
    ),
    Entry(
        "thin tip flush on the roll side, doctoring", _thin_tip("roll", line_load=80.0, friction=0.3), tolerance=STEP
    ),
    Entry("thin tip flush on the far side, doctoring", _thin_tip("away", advance=0.4e-3), tolerance=STEP),
    Entry(
        "thin tip, 40 deg",
        _thin_tip("away", set_angle=radians(60.0), line_load=590.0, friction=0.1, orientation="trailing"),
        tolerance=STEP,
    ),
    Entry(
        "three sections",
        StripSpec(sections=((8e-3, 0.3e-3), (3e-3, 0.2e-3), (1.2e-3, 0.1e-3)), line_load=200.0, friction=0.12),
        tolerance=SHORT_STEP,
    ),
    Entry(
        "backing plate touching",
        StripSpec(line_load=200.0, friction=0.1, plate_length=8e-3),
        tolerance=PLATE,
        usual=True,
    ),
    Entry(
        "backing plate with a gap",
        StripSpec(line_load=200.0, friction=0.1, plate_length=8e-3, plate_gap=0.1e-3),
        tolerance=PLATE,
    ),
    Entry(
        "backing plate not reached", StripSpec(line_load=100.0, plate_length=8e-3, plate_gap=0.5e-3), tolerance=PLATE
    ),
    Entry(
        "backing plate, trailing, advance",
        StripSpec(advance=0.8e-3, friction=0.3, orientation="trailing", plate_length=6e-3, plate_gap=0.05e-3),
        tolerance=PLATE,
    ),
    Entry(
        "backing plate, large rotation",
        StripSpec(
            sections=((15e-3, 0.2e-3),),
            set_angle=radians(55.0),
            line_load=1500.0,
            friction=0.1,
            plate_length=6e-3,
            plate_gap=0.1e-3,
        ),
        tolerance=PLATE,
    ),
    Entry(
        "backing plate and thin tip",
        _thin_tip("roll", line_load=80.0, friction=0.12, plate_length=8e-3, plate_gap=0.03e-3),
        tolerance=SHORT_STEP,
    ),
    Entry("lying flat", StripSpec(sections=FLAT, set_angle=radians(20.0), advance=5e-3), "flat", usual=True),
    Entry(
        "lying flat, doctoring friction",
        StripSpec(sections=FLAT, set_angle=radians(20.0), advance=5e-3, friction=0.2),
        "flat",
    ),
    Entry(
        "lying flat, trailing friction",
        StripSpec(sections=FLAT, set_angle=radians(20.0), advance=5e-3, friction=0.2, orientation="trailing"),
        "flat",
    ),
    Entry(
        "lying flat, far back",
        StripSpec(sections=FLAT, set_angle=radians(15.0), advance=5e-3, roll_radius=0.15),
        "flat",
    ),
    Entry(
        "lying flat, thin tip",
        StripSpec(sections=((16e-3, 0.2e-3), (6e-3, 0.15e-3)), flush="roll", set_angle=radians(20.0), advance=6e-3),
        "flat",
        tolerance=STEP,
    ),
    Entry(
        "lying flat, backing plate",
        StripSpec(sections=FLAT, set_angle=0.3, advance=3.5e-3, plate_length=8e-3, plate_gap=0.3e-3),
        "point",
        tolerance=PLATE,
    ),
)
