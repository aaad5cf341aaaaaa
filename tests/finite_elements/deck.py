"""The same blade as a two-dimensional elastic body, by the general-purpose finite-element program CalculiX (`ccx`).

Plane strain, eight-node elements with reduced integration, large deflection. What it shares with the beam is Hooke's law, nothing
else: thickness, shear, the stress flow at a step and the place of the force come out of the body. Blade frame: X from clamp to tip
along the unbent strip, Y away from the roll, Y = 0 on the roll side of the first section. Decks are written in mm, N and MPa for
a width of 1 mm.

The clamp holds X over the whole section and Y at one node, so Poisson's effect is free. Two ways of contact:

- `corner`: the force N, T on the corner node, at the turn of the roll's tangent that follows from where the corner comes to lie;
  exact for a line contact on a corner that slides, and repeated until turn and load (or advance) agree.
- `rolled`: a rigid cylinder advanced against the strip; for lying flat, and to see that the first way is right. Friction by
  turning the cylinder under the blade until everything slides.

A backing plate is a rigid block whose edge touches the strip's back by contact, without friction.

Beam and body differ by shear, of order (t / L)^2 (3e-4 of the deflection of a 0.2 x 12 mm strip), and by the stress flow at steps
(`joint_compliance` in tests/benchmarks/reference_strip.py).
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from itertools import pairwise
from math import asin, cos, inf, isfinite, sin, tan
from pathlib import Path

import numpy as np
from strip_model import StripResult, StripSpec

MM = 1e3
TIME_LIMIT = 120.0  # [s] for one run of the program
# Residual over average force, correction over largest increment: tighter than the program's 5e-3 and 1e-2.
CONTROLS = "1e-5,1e-3"
# A cylinder's contact uses the normals of the beginning of an increment: the last one is this share of the motion, so that
# what they lag behind (4e-4 rad at a tenth) does not show.
LAST = 0.01
STIFF_POINT = 1e6  # [N/mm] per mm of width at a node in contact: sinks below 1e-6 mm under the loads of a blade
STIFF_NEEDLE = 3e4  # the same for a node that travels past many elements: softer, or it hardly converges
CLEAR = 1.5  # thicknesses from a corner, step or point force beyond which a section bends as a beam's does
STICK = 0.01  # slope of friction against slip before it slides, over the contact's stiffness


def program() -> str | None:
    """Path of the finite-element program, None when it is not installed."""
    return shutil.which("ccx")


# --- mesh ---------------------------------------------------------------------------------------------------------


@dataclass
class Mesh:
    """Columns by rows of quadrilaterals; `node[i, j]` on the grid of half element lengths, 0 where there is none."""

    x: np.ndarray  # half-element grid along the strip [mm]
    y: np.ndarray  # half-element grid through the thickness [mm]
    node: np.ndarray
    element: np.ndarray  # (columns, rows), 0 where there is none
    lower: np.ndarray  # first and last row of each column
    upper: np.ndarray
    section: np.ndarray  # of each column
    breaks: list[float]  # clamp, steps, tip [mm]

    @property
    def corner(self) -> int:
        """Node on the roll-side corner of the tip."""
        return int(self.node[-1][self.node[-1] > 0][0])


def _graded(length: float, first: float, last: float, largest: float) -> np.ndarray:
    """Element ends from 0 to length: sizes grow from both ends by a quarter each up to the largest."""
    position, ends = 0.0, [0.0]
    while position < length:
        size = min(first + 0.25 * position, last + 0.25 * (length - position), largest)
        position += max(size, 0.5 * min(first, last))
        ends.append(position)
    return np.array(ends) * (length / position)


def build_mesh(spec: StripSpec, rows: int = 2, slender: float = 1.5, largest: float = inf) -> Mesh:
    """At least `rows` elements through the thinnest section; columns up to `slender` thicknesses or `largest` [mm] long, finer
    at the ends."""
    thick = [t * MM for _, t in spec.sections]
    finest = min(thick) / rows
    faces = sorted({0.0, *thick})
    levels = [0.0]
    for low, high in pairwise(faces):
        n = max(1, round((high - low) / finest))
        levels += list(np.linspace(low, high, n + 1)[1:])
    depth = np.array(levels)  # from the side on which the sections are level
    total = thick[0] if spec.flush == "away" else 0.0
    level = depth if spec.flush == "roll" else total - depth[::-1]
    ends, section, at = [0.0], [], 0.0
    breaks = [0.0]
    for k, (length, _) in enumerate(spec.sections):
        near, far = 0.5 * min(thick[max(k - 1, 0) : k + 1]), 0.5 * min(thick[k : k + 2])
        part = _graded(length * MM, near, far, min(slender * thick[k], largest))
        section += [k] * (part.size - 1)
        ends += list(at + part[1:])
        at += length * MM
        breaks.append(at)
    columns = np.array(ends)
    x, y = _halved(columns), _halved(level)
    node = np.zeros((x.size, y.size), int)
    element = np.zeros((columns.size - 1, level.size - 1), int)
    lower, upper = np.zeros(columns.size - 1, int), np.zeros(columns.size - 1, int)
    for i, k in enumerate(section):
        span = (0.0, thick[k]) if spec.flush == "roll" else (total - thick[k], total)
        lower[i] = int(np.argmin(abs(level - span[0])))
        upper[i] = int(np.argmin(abs(level - span[1]))) - 1
        for j in range(lower[i], upper[i] + 1):
            element[i, j] = 1
            block = np.ones((3, 3), int)
            block[1, 1] = node[2 * i + 1, 2 * j + 1]
            node[2 * i : 2 * i + 3, 2 * j : 2 * j + 3] = np.maximum(node[2 * i : 2 * i + 3, 2 * j : 2 * j + 3], block)
            node[2 * i + 1, 2 * j + 1] = 0
    node[node > 0] = np.arange(1, np.count_nonzero(node) + 1)
    element[element > 0] = np.arange(1, np.count_nonzero(element) + 1)
    return Mesh(x, y, node, element, lower, upper, np.array(section), breaks)


def _halved(ends: np.ndarray) -> np.ndarray:
    out = np.empty(2 * ends.size - 1)
    out[::2], out[1::2] = ends, 0.5 * (ends[1:] + ends[:-1])
    return out


# --- deck ---------------------------------------------------------------------------------------------------------


@dataclass
class _Deck:
    """Lines of an input file; nodes and elements of further rigid bodies are numbered after the strip's."""

    spec: StripSpec
    mesh: Mesh
    lines: list[str] = field(default_factory=list)
    step: list[str] = field(default_factory=list)  # boundary and load lines
    early: list[str] = field(default_factory=list)  # further lines of a first step; empty: one step only
    late: list[str] = field(default_factory=list)  # of the second, short step
    prints: list[str] = field(default_factory=list)
    nodes: dict[int, tuple[float, float]] = field(default_factory=dict)
    blocks: dict[str, list[int]] = field(default_factory=dict)  # nodes, those of the surface first
    elements: int = 0

    def __post_init__(self) -> None:
        mesh = self.mesh
        self.lines.append("*NODE,NSET=STRIP")
        for i, j in np.argwhere(mesh.node):
            self._node(mesh.node[i, j], mesh.x[i], mesh.y[j])
        self.lines.append("*ELEMENT,TYPE=CPE8R,ELSET=STRIP")
        n = mesh.node
        for i, j in np.argwhere(mesh.element):
            a, b = 2 * i, 2 * j
            ring = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)]
            self._element(mesh.element[i, j], [n[a + p, b + q] for p, q in ring])
        clamp = n[0][n[0] > 0]
        self.lines += ["*NSET,NSET=CLAMP"] + [f"{k}," for k in clamp]
        self.step += ["*BOUNDARY", "CLAMP,1,1", f"{clamp[clamp.size // 2]},2,2"]
        self.prints += ["*NODE PRINT,NSET=STRIP,FREQUENCY=10000", "U", "*NODE PRINT,NSET=CLAMP,FREQUENCY=10000", "RF"]
        self.prints += ["*EL PRINT,ELSET=STRIP,FREQUENCY=10000", "S"]
        if self.spec.pressure:
            self.step.append("*DLOAD")
            for i, j in enumerate(mesh.upper):  # third side of an element: away from the roll
                self.step.append(f"{mesh.element[i, j]},P3,{self.spec.pressure * 1e-6:.9g}")

    def _node(self, number: int, x: float, y: float) -> None:
        self.lines.append(f"{number},{x:.12g},{y:.12g}")
        self.nodes[number] = (x, y)

    def _element(self, number: int, corners: list[int]) -> None:
        self.lines.append(f"{number}," + ",".join(map(str, corners)))
        self.elements = max(self.elements, number)

    def block(self, name: str, rows: list[np.ndarray]) -> None:
        """A rigid row of elements; `rows` = surface points and points below them, (2 n + 1, 2) each, the second to the left of
        the first as one goes along. The surface is side 1 of the elements."""
        first, n = max(self.nodes) + 1, (len(rows[0]) - 1) // 2
        near = [first + i for i in range(2 * n + 1)]
        far = [first + 2 * n + 1 + i for i in range(2 * n + 1)]
        side = [first + 4 * n + 2 + i for i in range(n + 1)]
        self.lines.append(f"*NODE,NSET={name}")
        for number, point in zip(near + far, [*rows[0], *rows[1]], strict=True):
            self._node(number, *point)
        for i, number in enumerate(side):
            self._node(number, *(0.5 * (rows[0][2 * i] + rows[1][2 * i])))
        self.lines.append(f"*ELEMENT,TYPE=CPE8R,ELSET={name}")
        base = self.elements
        for i in range(n):
            a = 2 * i
            ring = [near[a], near[a + 2], far[a + 2], far[a], near[a + 1], side[i + 1], far[a + 1], side[i]]
            self._element(base + 1 + i, ring)
        self.lines += [f"*SURFACE,NAME={name}FACE"] + [f"{base + 1 + i},S1" for i in range(n)]
        self.blocks[name] = near + far + side

    def touch(self, block: str, surface: str, place: int, stiff: float = STIFF_POINT) -> None:
        """Frictionless contact of one node of a block's surface with the strip."""
        self.lines += [f"*SURFACE,NAME={block}POINT,TYPE=NODE", f"{self.blocks[block][place]}"]
        self.lines += [f"*CONTACT PAIR,INTERACTION={block}HARD,TYPE=NODE TO SURFACE", f"{block}POINT,{surface}"]
        self.lines += _penalty(f"{block}HARD", stiff)

    def text(self, increment: float) -> str:
        sets = [line.split("ELSET=")[1] for line in self.lines if line.startswith("*ELEMENT")]
        material = ["*MATERIAL,NAME=STEEL", "*ELASTIC"]
        material.append(f"{self.spec.youngs_modulus * 1e-6:.12g},{self.spec.poissons_ratio:.12g}")
        for name in sets:
            material += [f"*SOLID SECTION,ELSET={name},MATERIAL=STEEL", "1."]
        head = ["*STEP,NLGEOM,INC=400", "*CONTROLS,PARAMETERS=FIELD", CONTROLS, "*STATIC"]
        first = [*head, f"{increment},1.,1e-6,{max(increment, 0.25)}"]
        if not self.early:
            return "\n".join([*self.lines, *material, *first, *self.step, *self.prints, "*END STEP", ""])
        first += [*self.step, *self.early, "*END STEP", *head, "1.,1.", *self.late]
        return "\n".join([*self.lines, *material, *first, *self.prints, "*END STEP", ""])


class NotSolved(RuntimeError):
    """The program did not reach the whole load, or its answers did not settle."""


def _run(text: str) -> dict[str, np.ndarray]:
    """Printed tables of the last increment: {"U STRIP": (n, 4), "RF ...": (n, 4), "S STRIP": (n, 8)}."""
    path = program()
    if path is None:
        raise NotSolved("ccx is not installed")
    with tempfile.TemporaryDirectory(prefix="strip-") as folder:
        Path(folder, "strip.inp").write_text(text)
        environment = {"OMP_NUM_THREADS": "1", "PATH": str(Path(path).parent)}
        done = subprocess.run(
            [path, "-i", "strip"],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            timeout=TIME_LIMIT,
            check=False,
        )
        status = Path(folder, "strip.sta")
        last = status.read_text().split()[-3:] if status.exists() else []
        reached = float(last[1]) if len(last) == 3 and last[1][0].isdigit() else 0.0  # time within the last step
        if done.returncode or "Job finished" not in done.stdout or abs(reached - 1.0) > 1e-9:
            raise NotSolved(f"ccx stopped at {reached:.3g} of the load: {done.stdout[-600:]}")
        return _tables(Path(folder, "strip.dat").read_text())


def _tables(text: str) -> dict[str, np.ndarray]:
    kinds = {"displacements": "U", "forces": "RF", "stresses": "S"}
    found: dict[str, list[str]] = {}
    current: list[str] = []
    for line in text.splitlines():
        words = line.split()
        if words and words[0] in kinds:
            current = found[f"{kinds[words[0]]} {words[words.index('set') + 1]}"] = []
        elif words:
            current.append(line)
    return {name: np.loadtxt(rows, ndmin=2) for name, rows in found.items()}


# --- reading the answer -------------------------------------------------------------------------------------------


class _Answer:
    """Displacements and stresses of one run as a beam sees them: turn of sections, section moments, places."""

    def __init__(self, spec: StripSpec, mesh: Mesh, tables: dict[str, np.ndarray]):
        self.spec, self.mesh, self.tables = spec, mesh, tables
        moved = tables["U STRIP"]
        u = np.zeros((mesh.node.max() + 1, 2))
        u[moved[:, 0].astype(int)] = moved[:, 1:3]
        self.u = u
        turns = []
        for i in range(0, mesh.x.size, 2):
            rows = np.flatnonzero(mesh.node[i])
            before, after = mesh.section[max(i // 2 - 1, 0)], mesh.section[min(i // 2, mesh.section.size - 1)]
            if before != after:  # at a step the thinner section counts
                thinner = after if spec.sections[after][1] < spec.sections[before][1] else before
                rows = rows[np.isin(rows, np.flatnonzero(mesh.node[i + 1 if thinner == after else i - 1]))]
                rows = np.arange(rows.min(), rows.max() + 1)
            y, v = mesh.y[rows], u[mesh.node[i, rows]]
            across = y - y.mean()
            turns.append(np.arctan2(-(across @ v[:, 0]), across @ (across + v[:, 1])))
        self.turn = np.array(turns)
        self.columns = mesh.x[::2]
        self.gauss, self.moment = self._section_moments()
        by_stress = _carry(self.gauss, self.moment, 0.0, 1, spec.sections[0][1] * MM)
        if abs(self.clamp_reaction()[1] - by_stress) > 5e-4 * np.abs(self.moment).max():
            raise NotSolved("the clamp's moments from reactions and from stresses differ")

    def tip_rotation(self) -> float:
        """Turn of the last section [rad], carried on from where the force on its corner is no longer felt."""
        t = self.spec.sections[-1][1] * MM
        return _carry(self.columns, self.turn, self.mesh.breaks[-1], -1, t)

    def corner_shift(self) -> np.ndarray:
        """Displacement of the roll-side corner of the tip [mm]."""
        return self.u[self.mesh.corner]

    def face(self, away: bool) -> tuple[np.ndarray, np.ndarray]:
        """Arc length and place of the nodes of one face [mm]; at a step the inner corner is passed over."""
        arcs, places = [], []
        for i in range(self.mesh.x.size):
            column = min(i // 2, self.mesh.section.size - 1)
            j = 2 * self.mesh.upper[column] + 2 if away else 2 * self.mesh.lower[column]
            k = self.mesh.node[i, j]
            arcs.append(self.mesh.x[i])
            places.append(np.array([self.mesh.x[i], self.mesh.y[j]]) + self.u[k])
        return np.array(arcs), np.array(places)

    def _section_moments(self) -> tuple[np.ndarray, np.ndarray]:
        """Arc length [mm] and section moment [N] of every column of Gauss points, from the stress along the turned section:
        the linear part of the axial stress in a section away from corners is 6 M / t^2."""
        mesh, s = self.mesh, self.tables["S STRIP"]
        s = s[s[:, 1] <= 4]  # the second layer of points repeats the first
        stress = np.zeros((mesh.element.max() + 1, 4, 3))
        stress[s[:, 0].astype(int), s[:, 1].astype(int) - 1] = s[:, [2, 3, 5]]
        places, moments = [], []
        g = 1.0 / np.sqrt(3.0)
        for i in range(mesh.element.shape[0]):
            x0, x1 = mesh.x[2 * i], mesh.x[2 * i + 2]
            low, high = mesh.y[2 * mesh.lower[i]], mesh.y[2 * mesh.upper[i] + 2]
            for side, sign in ((0, -g), (1, g)):
                x = 0.5 * (x0 + x1) + 0.5 * sign * (x1 - x0)
                turn = np.interp(x, self.columns, self.turn)
                c, n = np.cos(turn), np.sin(turn)
                total = 0.0
                for j in range(mesh.lower[i], mesh.upper[i] + 1):
                    y0, y1 = mesh.y[2 * j], mesh.y[2 * j + 2]
                    for point, eta in ((side, -g), (side + 2, g)):
                        xx, yy, xy = stress[mesh.element[i, j], point]
                        axial = c * c * xx + 2.0 * c * n * xy + n * n * yy
                        y = 0.5 * (y0 + y1) + 0.5 * eta * (y1 - y0)
                        total += 0.5 * (y1 - y0) * axial * (y - 0.5 * (low + high))
                places.append(x)
                moments.append(total)
        return np.array(places), np.array(moments)

    def largest_stress(self, kinks: list[float]) -> tuple[float, float]:
        """(6 |M| / t^2 [Pa], place [m]); beside clamp, steps and `kinks` [mm] M is carried on from CLEAR away."""
        places, moments = self.gauss, self.moment
        section = np.repeat(self.mesh.section, 2)
        best, where = 0.0, 0.0
        for k, (_, thickness) in enumerate(self.spec.sections):
            t = thickness * MM
            inside = section == k
            x, m = places[inside], moments[inside]
            ends = [self.mesh.breaks[k], *[p for p in kinks if self.mesh.breaks[k] < p < self.mesh.breaks[k + 1]]]
            ends.append(self.mesh.breaks[k + 1])
            for low, high in pairwise(ends):
                part = (x >= low) & (x <= high)
                candidates = [(_carry(x[part], m[part], low, 1, t), low), (_carry(x[part], m[part], high, -1, t), high)]
                clear = part & (x > low + CLEAR * t) & (x < high - CLEAR * t)
                candidates += list(zip(m[clear], x[clear], strict=True))
                for value, place in candidates:
                    stress = 6.0 * abs(value) / t**2
                    if stress > best:
                        best, where = stress, place
        return best * 1e6, where / MM

    def clamp_reaction(self) -> tuple[np.ndarray, float]:
        """Force of the clamp on the strip and its moment about the clamp's middle (counter-clockwise), [N/mm] and [N]."""
        rows = self.tables["RF CLAMP"]
        height = dict(zip(self.mesh.node[0], self.mesh.y, strict=True))
        lever = np.array([height[int(k)] for k in rows[:, 0]]) - 0.5 * (self.mesh.y[0] + self.mesh.y[-1])
        return rows[:, 1:3].sum(axis=0), float(-(lever @ rows[:, 1]))


def _carry(x: np.ndarray, values: np.ndarray, to: float, direction: int, thickness: float) -> float:
    """Quadratic through the values up to six thicknesses behind the disturbed end `to`, taken there."""
    distance = direction * (x - to) / thickness
    near = (distance > CLEAR) & (distance < CLEAR + 6.0)
    if np.count_nonzero(near) < 4:
        near = distance >= np.median(distance)
    return float(np.polyval(np.polyfit(x[near] - to, values[near], 2), 0.0))


# --- corner contact -----------------------------------------------------------------------------------------------


def _in_blade_frame(spec: StripSpec, o: float, z: float) -> np.ndarray:
    c, s = cos(spec.set_angle), sin(spec.set_angle)
    return np.array([o * c - z * s, o * s + z * c])


def _in_roll_frame(spec: StripSpec, vector: np.ndarray) -> tuple[float, float]:
    c, s = cos(spec.set_angle), sin(spec.set_angle)
    return float(c * vector[0] + s * vector[1]), float(-s * vector[0] + c * vector[1])


def _turn_and_advance(spec: StripSpec, o: float, z: float) -> tuple[float, float]:
    """Turn of the roll's tangent and advance [mm] from the displacement of the contact [mm]."""
    radius = spec.roll_radius * MM
    turn = asin(o / radius) if isfinite(radius) else 0.0
    return turn, z + o * tan(0.5 * turn)


def solve_corner(spec: StripSpec, rows: int = 2, slender: float = 1.5, increment: float = 0.25) -> StripResult:
    """The force on the corner node, repeated until its direction (and the advance) fits."""
    mesh = build_mesh(spec, rows, slender)
    load = spec.line_load
    if load is None:  # small deflection
        load = 3.0 * spec.stiffness(spec.sections[0][1]) * spec.advance / (spec.length**3 * cos(spec.set_angle) ** 2)
    turn = 0.0
    history: list[tuple[float, float]] = []
    for _ in range(12):
        answer = _corner_run(spec, mesh, load, turn, increment)
        o, z = _in_roll_frame(spec, answer.corner_shift())
        new_turn, advance = _turn_and_advance(spec, o, z)
        turned, turn = abs(new_turn - turn), new_turn
        history.append((load, advance / MM))
        if spec.advance is None:
            if turned < 3e-5:
                break
        else:
            if turned < 3e-5 and abs(advance / MM / spec.advance - 1.0) < 2e-5:
                break
            load = _next_load(history, spec.advance)
    else:
        raise NotSolved("turn and load at the corner did not settle")
    return _corner_result(spec, answer, history[-1], new_turn, o)


def _next_load(history: list[tuple[float, float]], advance: float) -> float:
    """Newton on the secant of the last two; proportion after the first."""
    load, there = history[-1]
    if len(history) == 1:
        return load * advance / there
    before, then = history[-2]
    slope = (load - before) / (there - then) if abs(there - then) > 1e-9 * advance else load / there
    return load + slope * (advance - there)


def _corner_run(spec: StripSpec, mesh: Mesh, load: float, turn: float, increment: float) -> _Answer:
    deck = _Deck(spec, mesh)
    force = _corner_force(spec, load, turn)
    deck.step += ["*CLOAD", f"{mesh.corner},1,{force[0]:.12g}", f"{mesh.corner},2,{force[1]:.12g}"]
    if spec.plate_length is not None:
        add_plate(deck)
    return _Answer(spec, mesh, _run(deck.text(increment)))


def _corner_force(spec: StripSpec, load: float, turn: float) -> np.ndarray:
    """[N/mm] in the blade's frame."""
    T = spec.tangential_ratio * load
    return _in_blade_frame(spec, load * sin(turn) + T * cos(turn), load * cos(turn) - T * sin(turn)) / MM


def _corner_result(spec: StripSpec, answer: _Answer, held: tuple[float, float], turn: float, o: float) -> StripResult:
    rotation = answer.tip_rotation()
    force, edge = plate_reaction(spec, answer, _corner_force(spec, held[0], turn))
    stress, place = answer.largest_stress([edge] if force > 0.0 else [])
    radius = spec.roll_radius
    return StripResult(
        line_load=held[0],
        tangential_load=spec.friction * held[0],
        advance=held[1],
        tip_rotation=rotation,
        effective_angle=spec.set_angle - rotation - turn,
        travel=radius * turn if isfinite(radius) else o / MM,
        contact_place=spec.length,
        max_bending_stress=stress,
        max_stress_place=place,
        plate_force=force,
    )


# --- backing plate ------------------------------------------------------------------------------------------------


def add_plate(deck: _Deck) -> None:
    """A rigid block behind the strip; the node on its edge touches the strip's back."""
    spec, mesh = deck.spec, deck.mesh
    x, y = spec.plate_length * MM, (spec.sections[0][1] + spec.plate_gap) * MM
    width, depth = 0.5, 0.5
    edge = np.array([[x, y], [x - 0.5 * width, y], [x - width, y]])[::-1]
    deck.block("PLATE", [edge, edge + [0.0, depth]])
    deck.lines += ["*SURFACE,NAME=BACK"] + [f"{mesh.element[i, j]},S3" for i, j in enumerate(mesh.upper)]
    deck.touch("PLATE", "BACK", 2)
    deck.step[1:1] = ["PLATE,1,2"]


def plate_reaction(spec: StripSpec, answer: _Answer, contact: np.ndarray) -> tuple[float, float]:
    """Force of the plate on the strip [N/m] and the arc length of its edge on the strip's back [mm]; what clamp and contact
    force [N/mm] leave over (the program prints no contact forces among the reactions)."""
    if spec.plate_length is None:
        return 0.0, 0.0
    if spec.pressure:
        raise NotImplementedError("plate and pressure together")
    force = float(np.hypot(*(answer.clamp_reaction()[0] + contact)))
    touches = force > 1e-4 * np.hypot(*contact)  # rounding of the printed reactions
    return force * MM * touches, _edge_place(spec, answer)


def _edge_place(spec: StripSpec, answer: _Answer) -> float:
    """Arc length of the point of the strip's back that is nearest to the plate's edge [mm]."""
    arcs, places = answer.face(away=True)
    edge = np.array([spec.plate_length, spec.sections[0][1] + spec.plate_gap]) * MM
    fine = np.linspace(0.0, spec.length * MM, 20001)
    line = np.column_stack([np.interp(fine, arcs, places[:, 0]), np.interp(fine, arcs, places[:, 1])])
    return float(fine[np.argmin(np.hypot(*(line - edge).T))])


# --- a cylinder against the strip ---------------------------------------------------------------------------------


def solve_rolled(
    spec: StripSpec, *, flat: bool, rows: int = 2, element: float = 0.25e-3, spread: float = 0.4e-3
) -> StripResult:
    """A rigid cylinder advanced by `spec.advance` and, with friction, turned under the blade.

    `flat`: surface to surface, the lower face on the cylinder, with a contact just soft enough to spread the load over about
    `spread` [m] of the strip (it sinks by spread^2 / (8 R), a fraction of a micrometre), so that the place does not hop from node
    to node; `element` [m]: length of the elements that may touch. Not `flat`: the corner node on the cylinder. Normal and
    tangential load follow from the clamp's reactions: friction is the moment about the cylinder's axis over its radius.
    """
    if spec.advance is None or spec.plate_length is not None or spec.pressure or not isfinite(spec.roll_radius):
        raise NotImplementedError("a cylinder's contact needs an advance, a finite radius, no plate and no pressure")
    mesh = build_mesh(spec, rows, largest=element * MM if flat else inf)
    deck = _Deck(spec, mesh)
    centre = _add_cylinder(deck, flat)
    _add_rolling_contact(deck, flat, spread)
    # A node that slides with friction does not converge from every increment: others are tried.
    tries = [0.5, 0.25] if flat else [0.05, 0.1, 0.2, 0.03]
    for k, increment in enumerate(tries):
        try:
            answer = _Answer(spec, mesh, _run(deck.text(increment)))
            break
        except NotSolved:
            if k + 1 == len(tries):
                raise

    radius = spec.roll_radius * MM
    force, moment = answer.clamp_reaction()
    arm = np.array([0.0, 0.5 * spec.sections[0][1] * MM]) - centre
    T = (moment + arm[0] * force[1] - arm[1] * force[0]) / radius  # the clamp's moment about the axis
    F_o, F_z = _in_roll_frame(spec, -force)
    N = float(np.sqrt(F_o**2 + F_z**2 - T**2))
    turn = float(np.arctan2(F_o, F_z) - np.arctan2(T, N))
    rotation = answer.tip_rotation()
    place = spec.length
    if flat:
        arcs, places = answer.face(away=False)
        along = [_in_roll_frame(spec, p - centre)[0] for p in places]
        place = float(np.interp(radius * sin(turn), along, arcs)) / MM
    stress, where = answer.largest_stress([place * MM] if flat else [])
    return StripResult(
        line_load=N * MM,
        tangential_load=abs(T) * MM,
        advance=spec.advance,
        tip_rotation=rotation,
        effective_angle=0.0 if flat else spec.set_angle - rotation - turn,
        travel=spec.roll_radius * turn,
        contact_place=place,
        max_bending_stress=stress,
        max_stress_place=where,
        mode="flat" if flat else "tip",
    )


def _add_cylinder(deck: _Deck, flat: bool) -> np.ndarray:
    """The part of the roll that may be touched, with its motion; returns where its axis ends [mm]."""
    spec, mesh = deck.spec, deck.mesh
    radius = spec.roll_radius * MM
    corner = np.array([mesh.x[-1], mesh.y[np.flatnonzero(mesh.node[-1])[0]]])
    centre = corner + _in_blade_frame(spec, 0.0, -radius)
    slide = 0.0  # of the surface along o, more than the contact travels
    if spec.friction:
        slide = (0.02 if flat else 0.01) * radius * (1.0 if spec.orientation == "trailing" else -1.0)
    reach = (0.8 * spec.length * MM + abs(slide)) / radius
    n = 2 * int(np.ceil(reach / 0.02))
    angles = np.linspace(reach, -reach, 2 * n + 1)
    arc = centre + np.array([_in_blade_frame(spec, radius * sin(b), radius * cos(b)) for b in angles])
    deck.block("ROLL", [arc, centre + (arc - centre) * (1.0 - 0.5 / radius)])
    move = _in_blade_frame(spec, 0.0, spec.advance * MM)
    for lines, share in ((deck.early, 1.0 - LAST), (deck.late, 1.0)):
        turn = -share * slide / radius  # counter-clockwise
        c, s = cos(turn), sin(turn)
        lines.append("*BOUNDARY")
        for k in deck.blocks["ROLL"]:
            shift = share * move + np.array([[c - 1.0, -s], [s, c - 1.0]]) @ (np.array(deck.nodes[k]) - centre)
            lines += [f"{k},1,1,{shift[0]:.12g}", f"{k},2,2,{shift[1]:.12g}"]
    return centre + move


def _add_rolling_contact(deck: _Deck, flat: bool, spread: float) -> None:
    spec, mesh = deck.spec, deck.mesh
    if flat:
        touching = np.flatnonzero(mesh.section == mesh.section[-1])
        surface = ["*SURFACE,NAME=UNDER"] + [f"{mesh.element[i, mesh.lower[i]]},S1" for i in touching]
        load = 3.0 * spec.stiffness(spec.sections[0][1]) * spec.advance / spec.length**3
        stiff = 12.0 * load * spec.roll_radius / spread**3 * 1e-9  # N/m3 to N/mm3
        kind = "SURFACE TO SURFACE"
    else:
        surface = ["*SURFACE,NAME=UNDER,TYPE=NODE", f"{mesh.corner}"]
        stiff, kind = STIFF_POINT, "NODE TO SURFACE"
    deck.lines += [*surface, f"*CONTACT PAIR,INTERACTION=ROLLING,TYPE={kind}", "UNDER,ROLLFACE"]
    deck.lines += _penalty("ROLLING", stiff)
    if spec.friction:
        deck.lines += ["*FRICTION", f"{spec.friction:.9g},{STICK * stiff:.6g}"]


def _penalty(name: str, stiff: float) -> list[str]:
    return [f"*SURFACE INTERACTION,NAME={name}", "*SURFACE BEHAVIOR,PRESSURE-OVERCLOSURE=LINEAR", f"{stiff:.6g}"]


# --- the roll as one point, for lying flat without friction -------------------------------------------------------


def solve_point(spec: StripSpec, rows: int = 2) -> StripResult:
    """Lying flat without friction: a needle where the cylinder would touch lifts the strip, and is moved along the cylinder until
    the strip is tangent to it. Sharper than a soft contact, and it goes with a backing plate."""
    if spec.advance is None or spec.friction or spec.pressure or not isfinite(spec.roll_radius):
        raise NotImplementedError("a needle needs an advance, a finite radius, no friction and no pressure")
    mesh = build_mesh(spec, rows)

    def lay(turn: float) -> tuple[float, _Answer]:
        answer = _point_run(spec, mesh, turn)
        return spec.set_angle - answer.tip_rotation() - turn, answer  # beyond the needle the strip is straight

    turns = [0.0, -0.1 * spec.length / spec.roll_radius]
    misses = [lay(turn)[0] for turn in turns]
    for _ in range(8):
        turn = turns[-1] - misses[-1] * (turns[-1] - turns[-2]) / (misses[-1] - misses[-2])
        miss, answer = lay(turn)
        turns.append(turn)
        misses.append(miss)
        if abs(miss) < 1e-5:
            break
    else:
        raise NotSolved("the needle did not find where the strip is tangent to the roll")
    arcs, places = answer.face(away=False)
    needle = _on_cylinder(spec, mesh, turn)
    along = [_in_roll_frame(spec, p - needle)[0] for p in places]
    place = float(np.interp(0.0, along, arcs))
    # needle and plate push normal to the strip; together they balance the clamp
    normals = [_in_blade_frame(spec, sin(turn), cos(turn))]
    kinks = [place]
    if spec.plate_length is not None:
        edge = _edge_place(spec, answer)
        across = np.interp(edge, answer.columns, answer.turn)
        normals.append(np.array([sin(across), -cos(across)]))
        kinks = [edge, place]
    forces = np.linalg.lstsq(np.array(normals).T, -answer.clamp_reaction()[0], rcond=None)[0]
    stress, where = answer.largest_stress(kinks)
    return StripResult(
        line_load=float(forces[0]) * MM,
        tangential_load=0.0,
        advance=spec.advance,
        tip_rotation=answer.tip_rotation(),
        effective_angle=0.0,
        travel=spec.roll_radius * turn,
        contact_place=place / MM,
        max_bending_stress=stress,
        max_stress_place=where,
        plate_force=float(forces[1]) * MM if spec.plate_length is not None else 0.0,
        mode="flat",
    )


def _on_cylinder(spec: StripSpec, mesh: Mesh, turn: float) -> np.ndarray:
    """Point of the advanced cylinder whose tangent is turned by `turn` [mm]."""
    corner = np.array([mesh.x[-1], mesh.y[np.flatnonzero(mesh.node[-1])[0]]])
    radius = spec.roll_radius * MM
    return corner + _in_blade_frame(spec, radius * sin(turn), radius * (cos(turn) - 1.0) + spec.advance * MM)


def _point_run(spec: StripSpec, mesh: Mesh, turn: float) -> _Answer:
    deck = _Deck(spec, mesh)
    end = _on_cylinder(spec, mesh, turn)
    lift = _in_blade_frame(spec, 0.0, 1.0)
    # from just below the unbent strip's lower face, whose height in the blade's frame the needle's path crosses
    under = mesh.y[2 * mesh.lower[-1]] - 0.01
    start = end - lift * (end[1] - under) / lift[1]
    back, down = _in_blade_frame(spec, -0.1, 0.0), _in_blade_frame(spec, 0.0, -0.1)
    top = np.array([start, start + 0.5 * back, start + back])
    deck.block("NEEDLE", [top, top + down])
    touching = np.flatnonzero(mesh.section == mesh.section[-1])
    deck.lines += ["*SURFACE,NAME=UNDER"] + [f"{mesh.element[i, mesh.lower[i]]},S1" for i in touching]
    deck.touch("NEEDLE", "UNDER", 0, STIFF_NEEDLE)
    if spec.plate_length is not None:
        add_plate(deck)
    shift = end - start
    deck.step += ["*BOUNDARY", f"NEEDLE,1,1,{shift[0]:.12g}", f"NEEDLE,2,2,{shift[1]:.12g}"]
    return _Answer(spec, mesh, _run(deck.text(0.1)))


def solve(spec: StripSpec, way: str) -> StripResult:
    """By the way of contact named in the catalogue."""
    if way == "corner":
        return solve_corner(spec)
    return solve_point(spec) if way == "point" else solve_rolled(spec, flat=way == "flat")
