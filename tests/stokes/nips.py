"""Creeping flow under a facet behind a flank of any angle: the film model's gap, without its thin-film assumption.

Lengths in gaps at the upstream facet end, viscosity 1, wall speed 1. x = 0 at the upstream facet end, z = 0 on the roll.
The flank of liquid-side angle b starts at (0, 1); its line meets the roll at the apex (cot b, 0). The reservoir is cut on an arc
about the apex, `reach` from the facet end along the roll. On the arc acts the traction of Taylor's corner flow (1962) with its
pressure level shifted so that the roll's pressure there is `pressure_in`, or, `free`, nothing at all.
Downstream: cut at the facet's end with no normal traction (an ambient pressure there), or, `far_angle`, a wetted far flank with
its own arc and the reversed corner flow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from stokes2d import Array, Flow, graded, graded_both, sheet, solve


def corner_stream(angle: float) -> Array:
    """f(t) = [sin t, cos t, t sin t, t cos t] . k of the stream function r f(t) in a corner of `angle`, t from the roll, the roll
    moving into the corner at speed 1: v_r = f', v_t = -f; f = 0 on both walls, f' = -1 at t = 0, f' = 0 at t = angle."""
    b, s, c = angle, np.sin(angle), np.cos(angle)
    rows = [[0, 1, 0, 0], [1, 0, 0, 1], [s, c, b * s, b * c], [c, -s, s + b * c, c - b * s]]
    return np.linalg.solve(np.array(rows, dtype=float), [0.0, -1.0, 0.0, 0.0])


def corner_factor(angle: float) -> float:
    """Pressure on the roll times r."""
    return float(2.0 * corner_stream(angle)[3])


def corner_stress(angle: float, x: Array, z: Array) -> tuple[Array, Array, Array]:
    """Stress (xx, xz, zz) of the corner flow with its apex at the origin and the liquid at x < 0. With biharmonic r f:
    p = -(f' + f''') / r, shear stress (f + f'') / r, and no viscous normal stress along r."""
    k = corner_stream(angle)
    r, t = np.hypot(x, z), np.arctan2(z, -x)
    p = 2.0 * (k[2] * np.sin(t) + k[3] * np.cos(t)) / r
    tau = 2.0 * (k[2] * np.cos(t) - k[3] * np.sin(t)) / r
    e_r, e_t = (x / r, z / r), (np.sin(t), np.cos(t))  # t grows from the roll at -x towards +z
    return (
        -p + 2.0 * tau * e_r[0] * e_t[0],
        tau * (e_r[0] * e_t[1] + e_r[1] * e_t[0]),
        -p + 2.0 * tau * e_r[1] * e_t[1],
    )


@dataclass(frozen=True)
class Nip:
    angle: float  # of the ink-side flank [rad]
    facet: float  # length [gaps]
    reach: float  # of the reservoir along the roll, from the upstream facet end [gaps]
    tilt: float = 0.0  # positive: the gap closes downstream
    pressure_in: float | None = None  # at the arc's foot; None: Taylor's
    free: bool = False  # arc without traction
    far_angle: float | None = None
    edge_radius: float = 0.0  # circle between flank and facet; 0: sharp
    pressure_out: float = 0.0  # at the foot of the far arc
    fine: float = 0.01
    ratio: float = 1.35

    @property
    def end_gap(self) -> float:
        return 1.0 - self.tilt * self.facet

    def _side(self, angle: float, gap: float, fall: float, across: Array) -> tuple[Array, float]:
        """Grid (n, m, 2) from the arc to the facet end (0, gap), liquid at x < 0, and the arc's radius. The facet's wall falls by
        the angle ``fall`` beyond. Around the edge the grid turns by half the angle that the wall turns by."""
        r = self.edge_radius
        n = int(np.ceil(angle / 0.1)) if r > 0.0 else 0
        turned = np.linspace(angle, fall, n + 1)[:, None]
        if r == 0.0:
            turned[:] = angle
        cut = r * np.tan(0.5 * (angle - fall))  # off the facet
        top = (
            cut * np.cos(fall) + r * (np.sin(fall) - np.sin(turned)),
            gap - cut * np.sin(fall) + r * (np.cos(fall) - np.cos(turned)),
        )
        lean = top[1] * np.tan(0.5 * turned)
        bend = np.stack((top[0] - lean * (1.0 - across), top[1] * across), -1)
        apex = gap / np.tan(angle)
        radius = self.reach + apex
        rim = np.stack((apex - radius * np.cos(angle * across), radius * np.sin(angle * across)), -1)
        places = graded(max(self.fine * gap, 0.1 * r), self.ratio, self.reach) / self.reach
        fan = (bend[0] + (rim - bend[0]) * places[:, None, None])[::-1]
        return np.concatenate((fan, bend[1:])), radius

    def solve(self) -> tuple[Flow, dict[str, Array]]:
        across = graded_both(self.fine, self.ratio, 1.0)
        fall = np.arctan(self.tilt)
        ink, radius = self._side(self.angle, 1.0, fall, across)
        far = self.far_angle
        if far is None:
            behind = np.stack((np.full_like(across, self.facet), self.end_gap * across), -1)[None]
        else:
            behind, far_radius = self._side(far, self.end_gap, -fall, across)
            behind = behind[::-1] * [-1.0, 1.0] + [self.facet, 0.0]
        first, last = ink[-1], behind[0]
        along = graded_both(self.fine, self.ratio, self.facet) / self.facet
        parts = [ink[:-1], first + (last - first) * along[:, None, None], behind[1:]]
        points = np.concatenate(parts)
        mesh = sheet(points)
        ni, nj = points.shape[:2]
        boundary = mesh.boundary_facets()
        i, j = np.divmod(mesh.facets[:, boundary], nj)  # the sheet keeps the grid's numbering
        n_in, n_facet = ink.shape[0] - 1, ink.shape[0] + along.size - 2
        top = (j == nj - 1).all(0)
        where = {
            "arc": (i == 0).all(0),
            "outlet": (i == ni - 1).all(0),
            "roll": (j == 0).all(0),
            "flank": top & (i <= n_in).all(0),
            "facet": top & (i >= n_in).all(0) & (i <= n_facet).all(0),
            "far flank": top & (i >= n_facet).all(0),
        }
        facets = {name: boundary[test] for name, test in where.items()}
        fixed = [(facets["roll"], "x", 1.0), (facets["roll"], "z", 0.0)]
        fixed += [(facets[name], c, 0.0) for name in ("flank", "facet", "far flank") for c in "xz" if facets[name].size]
        tractions = []
        if not self.free:
            apex = 1.0 / np.tan(self.angle)
            natural = corner_factor(self.angle) / radius
            shift = 0.0 if self.pressure_in is None else self.pressure_in - natural

            def upstream(x, z):
                xx, xz, zz = corner_stress(self.angle, x - apex, z)
                return xx - shift, xz, zz - shift

            tractions.append((facets["arc"], upstream))
        if far is None:
            fixed.append((facets["outlet"], "z", 0.0))
            p_out = self.pressure_out
            tractions.append((facets["outlet"], lambda x, z: (-p_out + 0.0 * x, 0.0 * x, -p_out + 0.0 * x)))
        else:
            far_apex = self.facet - self.end_gap / np.tan(far)
            far_shift = self.pressure_out + corner_factor(far) / far_radius

            def downstream(x, z):  # mirror image in x, wall leaving: the corner flow with its sign reversed
                xx, xz, zz = corner_stress(far, -(x - far_apex), z)
                return -xx - far_shift, xz, -zz - far_shift

            tractions.append((facets["outlet"], downstream))
        return solve(mesh, fixed, tractions), facets

    def answer(self) -> dict[str, float]:
        """flow; load: z-force on the roll; its parts ahead of, under and behind the facet (by the roll's pressure); their moment
        about the upstream facet end; drag on the roll; z-force on flank and facet by their stresses."""
        flow, facets = self.solve()
        roll = facets["roll"]
        b = self.facet
        force = -flow.force(roll)
        return {
            "flow": flow.flux(facets["outlet"]),
            "inflow": -flow.flux(facets["arc"]),
            "load": flow.pressure_load(roll),
            "load_by_reaction": float(force[1]),
            "load_ahead": flow.pressure_load(roll, lambda x, z: 1.0 * (x < 0.0)),
            "load_under": flow.pressure_load(roll, lambda x, z: 1.0 * ((x >= 0.0) & (x <= b))),
            "moment": flow.pressure_load(roll, lambda x, z: x),
            "drag": float(force[0]),
            "on_facet": flow.stress_load(facets["facet"]),
            "on_flank": flow.stress_load(facets["flank"]),
            "unknowns": flow.unknowns,
        }


def entry(angle: float, edge_radius: float = 0.0, *, fine: float = 0.0005, ratio: float = 1.3) -> tuple[float, float]:
    """(S, C) of the inlet between flank and facet: the facet's parallel flow, carried back to the facet's nominal end, begins at
    the pressure p = eta U / h (6 S) - eta q / h^2 (12 C), gap h, flow q, above that of an endless reservoir. In the Reynolds
    equation S = int dx / h^2 and C = int dx / h^3 ahead of that end (in gaps)."""
    slope = np.sqrt(6.0 / corner_factor(angle))
    facet = 8.0 + edge_radius * np.tan(0.5 * angle)  # end effects die away as exp(-4.2 x / h)
    reach = 300.0 + 100.0 / slope + 20.0 * edge_radius
    flows, starts = [], []
    for p_out in (0.0, 5.0):
        nip = Nip(angle, facet, reach, edge_radius=edge_radius, pressure_out=p_out, fine=fine, ratio=ratio)
        flow, facets = nip.solve()
        flows.append(flow.flux(facets["outlet"]))
        starts.append(p_out + 12.0 * facet * (flows[-1] - 0.5))
    C = -(starts[1] - starts[0]) / (12.0 * (flows[1] - flows[0]))
    return float((starts[0] + 12.0 * C * flows[0]) / 6.0), float(C)
