"""The blade pressed on a roll as a boundary-value problem of the elastica, by SciPy's `solve_bvp`; without the library.

Written from the equations so that the compiled core has something to be compared with that shares no line with it: clear and
slow. Inextensible, shear-stiff, plane strain (Frisch-Fay 1962, Flexible Bars). Frame (o, z): o along the roll tangent at first
touch from body to tip, z away from the roll; mid-plane r' = (cos q, -sin q), slope q = set angle at the clamp; side away
from the roll n = (sin q, cos q). With F the force that everything beyond a section exerts on it and M = D q',

    M' = F_o sin q + F_z cos q,    F' = p n.

Joints: at a step the mid-plane jumps by e n, M by e (F_z sin q - F_o cos q); at the plate's edge F by -P n (no friction,
so normal to the strip). The contact lies half a thickness below the mid-plane. On the tip: the section's end is the
corner. Lying flat: the section of contact is tangent to the roll, and its place is unknown. One line of contact is all
there is: beyond it the strip is straight, before it bent away from the roll. Lengths are scaled by the free length L, forces
by D / L^2.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import asin, cos, isfinite, sin, tan
from typing import Any

import numpy as np
from scipy.integrate import solve_bvp
from strip_model import StripResult, StripSpec

Q, M, PO, PZ, FO, FZ = range(6)  # slope, moment, place (o, z), force (o, z)
STATES = 6
Start = tuple[np.ndarray, np.ndarray, np.ndarray]  # mesh, states, parameters


def joint_compliance(ratio: float) -> float:
    """Turn of a step level on one side, over t M / D of its thinner section, at a ratio of thicknesses.

    The stress of the thin section spreads into the thick one over about a thickness: what a beam does not know. Measured with
    tests/finite_elements (small deflection, 4 rows, nu 0.29; 0.390 to 0.395 for nu 0.4 to 0 at ratio 2). The re-entrant corner
    converges slowly: 0.375, 0.394, 0.408 with 2, 4, 8 rows. A beam built into a half-plane has 16.67 / (12 pi) = 0.44
    (O'Donnell 1960, from memory).
    """
    return float(np.interp(ratio, [1.0, 1.25, 1.5, 2.0, 3.0, 4.0], [0.0, 0.113, 0.238, 0.393, 0.515, 0.558]))


@dataclass
class _Problem:
    """One topology (tip or flat, plate touched or not) of a strip, scaled."""

    spec: StripSpec
    flat: bool
    plate: bool
    offset: float | None  # contact below the mid-plane [m]; default half the last thickness
    joints: bool = False  # steps turn by their own stress flow

    def __post_init__(self) -> None:
        spec, L = self.spec, self.spec.length
        self.stiffness = spec.stiffness(spec.sections[0][1])
        self.unit_force = self.stiffness / L**2
        self.a0, self.pressure = spec.set_angle, spec.pressure * L / self.unit_force
        self.ends = np.cumsum([length for length, _ in spec.sections]) / L
        self.thickness = [t / L for _, t in spec.sections]
        self.below = 0.5 * self.thickness[-1] if self.offset is None else self.offset / L
        self.curved = L / spec.roll_radius
        self.place = (spec.plate_length or 0.0) / L
        # pieces: (section, starts at the plate's edge)
        self.plate_section = int(np.searchsorted(self.ends, self.place, side="left")) if self.plate else -1
        self.pieces: list[tuple[int, bool]] = []
        for k in range(len(spec.sections)):
            self.pieces.append((k, False))
            if k == self.plate_section:
                self.pieces.append((k, True))
        self.rigidity = [spec.stiffness(spec.sections[k][1]) / self.stiffness for k, _ in self.pieces]
        # tip corner of the unbent strip, seen from the clamp's mid-plane
        height = sum(self.step(k) for k in range(1, len(spec.sections))) - self.below
        a0 = self.a0
        self.corner = (cos(a0) + height * sin(a0), -sin(a0) + height * cos(a0))
        back = 0.5 * self.thickness[0] + spec.plate_gap / L
        self.edge = (self.place * cos(a0) + back * sin(a0), -self.place * sin(a0) + back * cos(a0))

    def step(self, k: int) -> float:
        """Mid-plane of section k away from the roll, seen from that of section k - 1."""
        thinner = 0.5 * (self.thickness[k - 1] - self.thickness[k])
        return -thinner if self.spec.flush == "roll" else thinner

    def joint(self, i: int, before: np.ndarray, after: np.ndarray) -> float:
        """Extra turn at the step between pieces i - 1 and i; 0 for a plain beam."""
        if not self.joints:
            return 0.0
        at, other = (i, i - 1) if self.rigidity[i] < self.rigidity[i - 1] else (i - 1, i)
        thin, thick = (self.thickness[self.pieces[k][0]] for k in (at, other))
        return joint_compliance(thick / thin) * thin * (after if at == i else before)[M] / self.rigidity[at]

    def names(self) -> list[str]:
        """Unknown parameters: N, turn of the roll's tangent, plate force and place, place of contact."""
        return ["N", "turn"] + ["P", "sp"] * self.plate + ["sc"] * self.flat

    def arcs(self, p: dict[str, float]) -> np.ndarray:
        """Arc length of the ends of the pieces, clamp first."""
        ends = []
        for k, after_edge in self.pieces:
            end = self.ends[k]
            if k == self.plate_section and not after_edge:
                end = p["sp"]
            ends.append(end)
        if self.flat:
            ends[-1] = p["sc"]
        return np.array([0.0, *ends])

    def rates(self, x: np.ndarray, y: np.ndarray, values: np.ndarray) -> np.ndarray:
        arcs = self.arcs(dict(zip(self.names(), values, strict=True)))
        out = np.empty_like(y)
        for i in range(len(self.pieces)):
            u, length = y[STATES * i : STATES * (i + 1)], arcs[i + 1] - arcs[i]
            c, s = np.cos(u[Q]), np.sin(u[Q])
            rate = (
                u[M] / self.rigidity[i],
                u[FO] * s + u[FZ] * c,
                c,
                -s,
                self.pressure * s,
                self.pressure * c,
            )
            out[STATES * i : STATES * (i + 1)] = length * np.array(rate)
        return out

    def mismatch(self, load: float | None, advance: float | None) -> Callable[..., np.ndarray]:
        """Boundary conditions at a held load or advance (scaled)."""

        def conditions(left: np.ndarray, right: np.ndarray, values: np.ndarray) -> np.ndarray:
            p = dict(zip(self.names(), values, strict=True))
            at = [left[STATES * i : STATES * (i + 1)] for i in range(len(self.pieces))]
            to = [right[STATES * i : STATES * (i + 1)] for i in range(len(self.pieces))]
            out = [at[0][Q] - self.a0, at[0][PO], at[0][PZ]]
            for i in range(1, len(self.pieces)):
                before, after = to[i - 1], at[i]
                jump = after - before
                n_o, n_z = sin(before[Q]), cos(before[Q])
                k, at_edge = self.pieces[i]
                if at_edge:
                    jump = jump - np.array([0, 0, 0, 0, p["P"] * n_o, p["P"] * n_z])
                    half = 0.5 * self.thickness[k]
                    out += [before[PO] + half * n_o - self.edge[0], before[PZ] + half * n_z - self.edge[1]]
                else:
                    e = self.step(k)
                    turned = e * (before[FZ] * n_o - before[FO] * n_z)
                    jump = jump - np.array([self.joint(i, before, after), turned, e * n_o, e * n_z, 0, 0])
                out += list(jump)
            end, turn = to[-1], p["turn"]
            N, T = p["N"], self.spec.tangential_ratio * p["N"]
            F_o, F_z = N * sin(turn) + T * cos(turn), N * cos(turn) - T * sin(turn)
            out += [end[FO] - F_o, end[FZ] - F_z]
            out.append(end[M] - self.below * (F_z * sin(end[Q]) - F_o * cos(end[Q])))
            o, z = self.contact(end)
            out.append(sin(turn) - o * self.curved)
            if self.flat:
                out.append(end[Q] - turn)
            out.append(p["N"] - load if load is not None else self.advance(o, z, turn) - advance)
            return np.array(out)

        return conditions

    def contact(self, end: np.ndarray) -> tuple[float, float]:
        """Contact seen from the unbent corner."""
        o, z = end[PO] - self.below * sin(end[Q]), end[PZ] - self.below * cos(end[Q])
        return o - self.corner[0], z - self.corner[1]

    @staticmethod
    def advance(o: float, z: float, turn: float) -> float:
        """The contact sinks R (1 - cos turn) below the roll's crown; R sin turn = o."""
        return z + o * tan(0.5 * turn)

    def unbent(self, load: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """A start: the straight strip under a small load."""
        x = np.linspace(0.0, 1.0, 21)
        values = {"N": load, "turn": 0.0, "P": 0.0, "sp": self.place, "sc": 1.0}
        arcs = self.arcs(values)
        y = np.zeros((STATES * len(self.pieces), x.size))
        for i in range(len(self.pieces)):
            s = arcs[i] + (arcs[i + 1] - arcs[i]) * x
            y[STATES * i + Q] = self.a0
            y[STATES * i + M] = -load * cos(self.a0) * (1.0 - s)
            y[STATES * i + PO], y[STATES * i + PZ] = s * cos(self.a0), -s * sin(self.a0)
            y[STATES * i + FO], y[STATES * i + FZ] = self.spec.tangential_ratio * load, load
        return x, y, np.array([values[name] for name in self.names()])


def _solve(problem: _Problem, start: Start, load: float | None, advance: float | None, tolerance: float) -> Any:
    x, y, values = start
    solution = solve_bvp(
        problem.rates,
        problem.mismatch(load, advance),
        x,
        y,
        p=values,
        tol=tolerance,
        bc_tol=1e-3 * tolerance,
        max_nodes=20000,
    )
    if not solution.success:
        raise ArithmeticError(f"solve_bvp: {solution.message}")
    return solution


def _follow(problem: _Problem, start: Start, share_from: float, tolerance: float) -> Any:
    """Raises load or advance from a share of it to the whole, each step beginning with the last; halves a step that fails."""
    spec = problem.spec
    load = None if spec.line_load is None else spec.line_load / problem.unit_force
    advance = None if spec.advance is None else spec.advance / spec.length
    share, step, solution = share_from, 0.25, None
    while share < 1.0:
        trial = min(1.0, share + step)
        fine = tolerance if trial == 1.0 else 1e-4
        try:
            solution = _solve(
                problem,
                start,
                None if load is None else trial * load,
                None if advance is None else trial * advance,
                fine,
            )
        except ArithmeticError:
            step *= 0.5
            if step < 1e-3:
                raise
            continue
        share = trial
        start = (solution.x, solution.y, solution.p)
    return solution


def _penetrates(problem: _Problem, solution: Any) -> bool:
    """Whether the strip's back, solved without the plate, passes the plate's edge."""
    a0, place = problem.a0, problem.place
    back = []
    for i, (k, _) in enumerate(problem.pieces):
        u = solution.sol(np.linspace(0.0, 1.0, 201))[STATES * i : STATES * (i + 1)]
        half = 0.5 * problem.thickness[k]
        back.append((u[PO] + half * np.sin(u[Q]), u[PZ] + half * np.cos(u[Q])))
    o, z = np.concatenate([b[0] for b in back]), np.concatenate([b[1] for b in back])
    along, away = o * cos(a0) - z * sin(a0), o * sin(a0) + z * cos(a0)
    limit = 0.5 * problem.thickness[0] + problem.spec.plate_gap / problem.spec.length
    return bool(np.interp(place, along, away) > limit + 1e-12)


def _digs_in(problem: _Problem, solution: Any, result: StripResult) -> bool:
    """Whether the roll-side face up to the contact enters the roll (shoulders of sections level on the far side)."""
    L = problem.spec.length
    crown = np.array(problem.corner) + np.array([0.0, result.advance / L])
    for i, (k, _) in enumerate(problem.pieces):
        u = solution.sol(np.linspace(0.0, 1.0, 201))[STATES * i : STATES * (i + 1)]
        half = 0.5 * problem.thickness[k]
        o = u[PO] - half * np.sin(u[Q]) - crown[0]
        z = u[PZ] - half * np.cos(u[Q]) - crown[1]
        # above the cylinder z = sqrt(R^2 - o^2) - R
        surface = -o * o * problem.curved / (1.0 + np.sqrt(np.maximum(1.0 - (o * problem.curved) ** 2, 0.0)))
        if np.any(z < surface - 1e-7):
            return True
    return False


def solve_strip(
    spec: StripSpec,
    *,
    offset: float | None = None,
    mode: str | None = None,
    joints: bool = False,
    tolerance: float = 1e-8,
) -> StripResult:
    """The strip at its load or advance. `offset` [m] replaces half the tip's thickness as distance of the contact from the
    mid-plane; `mode` "tip" keeps the corner as contact whatever the angle; `joints` adds `joint_compliance`. Raises
    ArithmeticError when not solved."""
    if spec.plate_length is not None and spec.plate_length > spec.sections[0][0] and spec.flush == "roll":
        raise ValueError("a plate past a step on its side would touch the step as well as its edge: not modelled")
    small = (
        1e-6 if spec.line_load is None else 1e-3 * spec.line_load * spec.length**2 / spec.stiffness(spec.sections[0][1])
    )
    flat = plate = False
    for _ in range(4):
        problem = _Problem(spec, flat, plate, offset, joints)
        if flat:
            solution = _lay_down(spec, plate, offset, joints, tolerance)
        else:
            solution = _follow(problem, problem.unbent(small), 0.0, tolerance)
        values = dict(zip(problem.names(), solution.p, strict=True))
        end = solution.y[-STATES:, -1]
        if spec.plate_length is not None and not plate and _penetrates(problem, solution):
            plate = True
        elif mode is None and not flat and end[Q] < values["turn"]:
            flat = True
        else:
            break
    if plate and values["P"] < 0.0:
        raise ArithmeticError("the plate would have to pull")
    if flat and not problem.ends[-2:-1].sum() < values["sc"] <= 1.0:
        raise ArithmeticError("contact beyond the last section")
    result = _describe(problem, solution, values)
    if mode is None and offset is None and _digs_in(problem, solution, result):
        raise ArithmeticError("the roll-side face or a step's shoulder would pass into the roll")
    return result


def _lay_down(spec: StripSpec, plate: bool, offset: float | None, joints: bool, tolerance: float) -> Any:
    """Flat contact, begun where the tip's corner lies at angle zero: the load or advance there by bisection on the corner."""
    low, high = 0.0, 1.0
    held = "line_load" if spec.line_load is not None else "advance"
    full = getattr(spec, held)
    start = None
    for _ in range(7):
        share = 0.5 * (low + high)
        part = _Problem(replace(spec, **{held: share * full}), False, plate, offset, joints)
        solution = _follow(part, part.unbent(1e-6), 0.0, 1e-6)
        values = dict(zip(part.names(), solution.p, strict=True))
        if solution.y[-STATES:, -1][Q] < values["turn"]:
            high = share
        else:
            low, start = share, (solution, values)
    problem = _Problem(spec, True, plate, offset, joints)
    if start is None:
        raise ArithmeticError("no start for lying flat")
    solution, values = start
    values = {**values, "sc": 1.0}
    first = np.array([values[name] for name in problem.names()])
    return _follow(problem, (solution.x, solution.y, first), low, tolerance)


def _describe(problem: _Problem, solution: Any, values: dict[str, float]) -> StripResult:
    spec, L = problem.spec, problem.spec.length
    end, turn = solution.y[-STATES:, -1], values["turn"]
    o, z = problem.contact(end)
    arcs = problem.arcs(values)
    stress, place = 0.0, 0.0
    for i, (k, _) in enumerate(problem.pieces):
        x = np.linspace(0.0, 1.0, 2001)
        moment = np.abs(solution.sol(x)[STATES * i + M]) * problem.unit_force * L
        j = int(np.argmax(moment))
        here = 6.0 * moment[j] / spec.sections[k][1] ** 2
        if here > stress:
            stress, place = here, (arcs[i] + (arcs[i + 1] - arcs[i]) * x[j]) * L
    load = values["N"] * problem.unit_force
    return StripResult(
        line_load=float(load),
        tangential_load=float(spec.friction * load),
        advance=float(problem.advance(o, z, turn) * L),
        tip_rotation=float(spec.set_angle - end[Q]),
        effective_angle=float(0.0 if problem.flat else end[Q] - turn),
        travel=spec.roll_radius * asin(o * problem.curved) if isfinite(spec.roll_radius) else o * L,
        contact_place=float(values.get("sc", 1.0) * L),
        max_bending_stress=float(stress),
        max_stress_place=float(place),
        plate_force=float(values.get("P", 0.0) * problem.unit_force),
        mode="flat" if problem.flat else "tip",
    )
