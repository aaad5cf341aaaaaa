"""A flexographic press unit over a shift of eight hours: two blades on one chamber, and ink that warms.

    python examples/python/press_unit.py [--hours 8] [--out out]

Draws out/press_unit.png and prints a few sentences. `examples/cpp/press_unit.cpp` is the same model; its head states the
equations with their signs. Every number of the unit is invented.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import matplotlib.pyplot as plt
import numpy as np

import libblade as lb

if TYPE_CHECKING:
    from matplotlib.axes import Axes

HOUR, DEGREE, KELVIN = 3600.0, math.pi / 180.0, 273.15
STEP, PARTS = 150.0, 30  # s: both nips are solved once a step, the heat takes so many parts of it
SHEAR = 1e6  # 1/s, at which the viscosity is told
CONTAIN = ("line_load", "power_per_width", "wear_rate")  # what the unit takes from the nips
METER = (*CONTAIN, "film_on_lands", "film_over_turn", "ink_carried", "run_out_load")


@dataclass(frozen=True)
class Mount:
    """A blade on the chamber."""

    name: str
    case: lb.Case
    place: float = 35.0 * DEGREE
    """Of the contact round the roll from the line of advance [rad]."""
    later: float = 0.0
    """Advance of the chamber at which this blade first touches [m]."""

    def seen(self, advance: float, lost: float) -> dict[str, float]:
        """Fields of its nip at an advance of the chamber and a loss of blade length [m]; SI."""
        past, steep = advance - self.later, self.case["setting.set_angle"]
        steep += past * math.sin(self.place) / self.case["roll.radius"]
        return {
            "setting.interference": past * math.cos(self.place) - lost * math.sin(steep),
            "setting.set_angle_deg": steep / DEGREE,
            "blade.free_length": self.case["blade.free_length"] - lost,
        }


def _mounts() -> tuple[Mount, Mount]:
    case = lb.example_case("folding_carton_water").replace(
        {"setting.interference": "0.3 mm", "setting.pressure_side": "away_from_roll"}
    )
    containment = case.replace({"setting.orientation": "trailing", "blade.free_length": "14 mm"})
    return Mount("metering", case), Mount("containment", containment, later=0.05e-3)


@dataclass(frozen=True)
class PressUnit:
    """The unit and its shift: invented. SI."""

    mounts: tuple[Mount, Mount] = field(default_factory=_mounts)
    width: float = 1.3
    speeds: tuple[tuple[float, float], ...] = (
        (0.0, 0.2), (0.5, 0.2), (0.75, 3.0), (1.25, 3.0), (1.5, 5.0),
        (4.0, 5.0), (4.25, 0.2), (4.75, 0.2), (5.0, 6.5), (8.0, 6.5),
    )  # fmt: skip
    """(hour, m/s); straight between."""
    standing: float = 0.5
    """Below this speed the web stands: nothing is printed, and the roll turns on lest ink dries in its cells [m/s]."""
    change: float = 4.5 * HOUR
    """The crew moves the chamber in and opens the cooler [s]."""
    advances: tuple[float, float] = (0.39e-3, 0.44e-3)
    coolers: tuple[float, float] = (0.0, 40.0)
    """Conductance to the cooling water [W/K]."""
    ink_share: float = 0.1
    """Of the friction power; the rest goes into the roll, the far better conductor (libblade/heat.hpp)."""
    circulation: float = 10e-3 / 60.0
    """Tank to chamber [m3/s]."""
    chamber: float = 3e-3
    """Ink in the chamber [m3]."""
    tank: float = 20e-3
    roll_capacity: float = 29e3
    """Heat capacity of the roll [J/K]."""
    losses: tuple[float, float, float] = (3.0, 8.0, 5.0)
    """To the room, of chamber, roll and tank [W/K]."""
    room: float = 24.0 + KELVIN
    water: float = 16.0 + KELVIN
    transfer: float = 0.3
    """Share of the roll's ink that reaches the print."""
    density: float = 1.4
    """Of the solid when the first sheet is passed."""

    @property
    def ink_heat(self) -> float:
        """rho c [J/(m3 K)]."""
        case = self.mounts[0].case
        return float(case["ink.density"] * case["ink.heat_capacity"])

    @property
    def capacities(self) -> tuple[float, float, float]:
        """Of chamber, roll and tank [J/K]."""
        return (self.ink_heat * self.chamber, self.roll_capacity, self.ink_heat * self.tank)

    def speed(self, time: float) -> float:
        hours, speeds = zip(*self.speeds, strict=True)
        return float(np.interp(time / HOUR, hours, speeds))


class NotSolved(RuntimeError):
    """A nip without a solution; a sentence says which and why."""


def solve_nip(mount: Mount, outputs: tuple[str, ...], hours: float, fields: dict[str, float]) -> dict[str, float]:
    """The outputs of a blade's nip, SI. Raises NotSolved, also where the blade no longer reaches the roll."""
    try:
        found = lb.evaluate(mount.case, outputs, on_failure="raise", threads=1, **fields)
    except (lb.NotSolved, lb.InvalidInput) as error:
        raise NotSolved(f"the {mount.name} blade at {hours:.2f} h: {error}") from error
    return {name: float(value) for name, value in found.items()}


class Heat(NamedTuple):
    """Temperatures [K], and heat that came in by friction and went out of the unit since the start [J]."""

    chamber: float
    roll: float
    tank: float
    came: float = 0.0
    went: float = 0.0


class Drive(NamedTuple):
    """What drives the heat during a step."""

    power: float
    """Friction of both blades [W]."""
    round_trip: float
    """Ink that leaves the chamber in the cells and on the lands [m3/s]."""
    printed: float
    """What of it does not come back [m3/s]."""
    cooler: float
    """[W/K]."""


def heat_rates(unit: PressUnit, drive: Drive, y: Heat) -> Heat:
    """Rates of a ``Heat``, per second."""
    c, q, p = unit.ink_heat, drive.round_trip, drive.printed
    lost = [k * (t - unit.room) for k, t in zip(unit.losses, y[:3], strict=True)]
    cooled = drive.cooler * (y.tank - unit.water)
    back = unit.circulation - p  # chamber to tank: the chamber stays as full as it is
    chamber = c * (unit.circulation * y.tank - back * y.chamber - q * y.chamber + (q - p) * y.roll)
    roll = c * q * (y.chamber - y.roll)
    tank = c * (back * y.chamber + p * unit.room - unit.circulation * y.tank)  # topped up with fresh ink
    flows = (
        unit.ink_share * drive.power + chamber - lost[0],
        (1.0 - unit.ink_share) * drive.power + roll - lost[1],
        tank - lost[2] - cooled,
    )
    temperatures = (flow / capacity for flow, capacity in zip(flows, unit.capacities, strict=True))
    return Heat(*temperatures, drive.power, sum(lost) + cooled + c * p * (y.roll - unit.room))


def heated(unit: PressUnit, drive: Drive, y: Heat, duration: float) -> Heat:
    """``duration`` seconds later: Runge and Kutta's fourth order, in PARTS steps."""

    def moved(slope: Heat, by: float) -> Heat:
        return Heat(*(a + by * s for a, s in zip(y, slope, strict=True)))

    h = duration / PARTS
    for _ in range(PARTS):
        k1 = heat_rates(unit, drive, y)
        k2 = heat_rates(unit, drive, moved(k1, 0.5 * h))
        k3 = heat_rates(unit, drive, moved(k2, 0.5 * h))
        k4 = heat_rates(unit, drive, moved(k3, h))
        y = moved(Heat(*((a + 2.0 * b + 2.0 * c + d) / 6.0 for a, b, c, d in zip(k1, k2, k3, k4, strict=True))), h)
    return y


def run_shift(unit: PressUnit, hours: float = 8.0, step: float = STEP) -> dict[str, np.ndarray]:
    """The series over the shift, SI but for ``hours``, one entry at the start of every step and one at the end. ``came``, ``went``
    and ``stored`` are the heat's books. Raises NotSolved."""
    rows: list[dict[str, float]] = []
    heat, lost, law = Heat(unit.room, unit.room, unit.room), [0.0, 0.0], None
    for k in range(round(hours * HOUR / step) + 1):
        time = k * step
        speed, late = unit.speed(time), time >= unit.change
        advance, printing = unit.advances[late], speed >= unit.standing
        share = unit.transfer if printing else 0.0
        given = {"setting.surface_speed": speed, "ink.temperature": heat.chamber}
        metering, containment = unit.mounts
        meter = solve_nip(metering, METER, time / HOUR, given | metering.seen(advance, lost[0]))
        # On the lands comes back to the containment blade what the print has left there.
        supply = {"setting.film_supply": (1.0 - share) * meter["film_on_lands"]}
        contain = solve_nip(containment, CONTAIN, time / HOUR, given | containment.seen(advance, lost[1]) | supply)
        power = unit.width * (meter["power_per_width"] + contain["power_per_width"])
        carried, densities = meter["ink_carried"], [math.nan, math.nan]
        if printing:
            law = law or lb.density_law(lb.ink_transfer(carried, unit.transfer), unit.density)
            most = carried + meter["film_over_turn"] - meter["film_on_lands"]
            densities = [lb.print_density(lb.ink_transfer(x, unit.transfer), law) for x in (carried, most)]
        rows.append(
            {
                "hours": time / HOUR, "speed": speed, "advance": advance,
                "chamber": heat.chamber, "roll": heat.roll, "tank": heat.tank,
                "viscosity": float(lb.shear_viscosity(metering.case, SHEAR, heat.chamber)), "power": power,
                "metering_load": meter["line_load"], "metering_run_out_load": meter["run_out_load"],
                "metering_lost": lost[0], "containment_load": contain["line_load"], "containment_lost": lost[1],
                "film": meter["film_on_lands"], "film_over_turn": meter["film_over_turn"],
                "density": densities[0], "density_over_turn": densities[1],
                "came": heat.came, "went": heat.went,
                "stored": sum(c * (t - unit.room) for c, t in zip(unit.capacities, heat[:3], strict=True)),
            }
        )  # fmt: skip
        round_trip = carried * speed * unit.width
        heat = heated(unit, Drive(power, round_trip, share * round_trip, unit.coolers[late]), heat, step)
        slid = 0.5 * (speed + unit.speed(time + step)) * step
        lost = [lost[0] + meter["wear_rate"] * slid, lost[1] + contain["wear_rate"] * slid]
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


BLUE, ORANGE, GREEN, DARK = "#0072b2", "#d55e00", "#009e73", "#33373d"  # Okabe & Ito


def draw(series: dict[str, np.ndarray]) -> plt.Figure:
    """Six panels against the hours of the shift."""
    hours, micro = series["hours"], "\N{MICRO SIGN}m"
    stands = np.isnan(series["density"])
    celsius = {name: series[name] - KELVIN for name in ("roll", "chamber", "tank")}
    panels: list[tuple[str, str, list[tuple[np.ndarray, str, str, str]]]] = [
        ("Speed", "m/s", [(series["speed"], DARK, "-", "")]),
        (
            "Temperature", "\N{DEGREE SIGN}C",
            [(celsius["roll"], ORANGE, "--", "roll"), (celsius["chamber"], BLUE, "-", "ink in the chamber"),
             (celsius["tank"], GREEN, ":", "ink in the tank")],
        ),
        ("Viscosity at 10\N{SUPERSCRIPT SIX} 1/s", "mPa s", [(series["viscosity"] * 1e3, BLUE, "-", "")]),
        (
            "Line load", "N/m",
            [(series["metering_load"], BLUE, "-", "metering blade"),
             (series["containment_load"], ORANGE, "--", "containment blade")],
        ),
        (
            "Ink on the lands", micro,
            [(series["film_over_turn"] * 1e6, ORANGE, "--", "most over a turn"),
             (series["film"] * 1e6, BLUE, "-", "roll without run-out")],
        ),
        (
            "Density of a solid", "",
            [(series["density_over_turn"], ORANGE, "--", "most over a turn"),
             (series["density"], BLUE, "-", "roll without run-out")],
        ),
    ]  # fmt: skip
    with lb.plot_style():
        figure, grid = plt.subplots(3, 2, figsize=(9.6, 8.4), layout="constrained", sharex=True)
        for axis, (title, unit, lines) in zip(grid.T.flat, panels, strict=True):
            _panel(axis, title, unit, hours, lines)
            across = axis.get_xaxis_transform()
            axis.fill_between(hours, 0.0, 1.0, where=stands, transform=across, color="#eceef1", lw=0, zorder=0)
        figure.suptitle("A press unit over a shift, invented data; grey: the web stands, the roll turns on")
    return figure


def _panel(axis: Axes, title: str, unit: str, hours: np.ndarray, lines: list[tuple[np.ndarray, str, str, str]]) -> None:
    for values, colour, style, label in lines:
        axis.plot(hours, values, color=colour, ls=style, label=label or None)
    axis.set_title(title)
    axis.set_ylabel(f"[{unit}]" if unit else "[-]")
    axis.set_xlim(hours[0], hours[-1])
    if axis.get_subplotspec().is_last_row():
        axis.set_xlabel("hours of the shift [h]")
    if len(lines) > 1:
        axis.margins(y=0.25)
        axis.legend(loc="best")


def describe(series: dict[str, np.ndarray]) -> str:
    """What the picture shows, from its numbers."""
    printed = np.flatnonzero(np.isfinite(series["density"]))

    def ends(name: str, scale: float = 1.0, shift: float = 0.0) -> str:
        first, last = (series[name][k] * scale + shift for k in (0, -1))
        return f"from {first:.3g} to {last:.3g}"

    words = (
        f"Over {series['hours'][-1]:.3g} h the ink in the chamber goes {ends('chamber', shift=-KELVIN)} \N{DEGREE SIGN}C and its "
        f"viscosity {ends('viscosity', 1e3)} mPa s. The metering blade loses {series['metering_lost'][-1] * 1e3:.2g} mm, its load "
        f"goes {ends('metering_load')} N/m; the containment blade loses {series['containment_lost'][-1] * 1e3:.2g} mm, its load "
        f"goes {ends('containment_load')} N/m. Ink on the lands {ends('film', 1e6)} \N{MICRO SIGN}m."
    )
    if printed.size:
        first, last = (series["density"][printed[k]] for k in (0, -1))
        over = np.nanmax(series["density_over_turn"] - series["density"])
        words += f" Density of a solid from {first:.3f} to {last:.3f}, up to {over:.3f} more over a turn of the roll."
    return words


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, default=8.0, help="of the shift")
    parser.add_argument("--out", type=Path, default=Path("out"), help="folder for the picture")
    options = parser.parse_args(arguments)
    try:
        series = run_shift(PressUnit(), options.hours)
    except NotSolved as failed:
        raise SystemExit(f"the shift ends early: {failed}") from failed
    plt.switch_backend("Agg")
    options.out.mkdir(parents=True, exist_ok=True)
    words = describe(series)
    draw(series).savefig(options.out / "press_unit.png", metadata={"Description": words})
    print(words)


if __name__ == "__main__":
    main()
