"""A wall (land) between two grooves under a flat blade: half a period, from mid-wall to mid-groove.

Mirrored in a middle plane, creeping flow runs backwards: on the planes v_z = 0 and the pressure is uniform, so half a period
with given pressures there is the periodic groove. Lengths in units of the gap over the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from stokes2d import Array, Flow, graded, graded_both, sheet, solve


@dataclass(frozen=True)
class Groove:
    """Gap 1; wall and groove widths and depth in gaps. ``mirror``: the blade slips (a second groove opposite)."""

    wall: float
    width: float
    depth: float
    mirror: bool = False
    fine: float = 0.005
    ratio: float = 1.4

    def flow(self, pressure: float, blade_speed: float) -> tuple[Flow, dict[str, Array]]:
        a, b = 0.5 * self.wall, 0.5 * self.width
        edge = self.fine * min(1.0, 2.0 * a)
        x = np.concatenate((a - graded(edge, self.ratio, a)[::-1], a + graded(edge, self.ratio, b)[1:]))
        below = graded_both(edge, self.ratio, self.depth) - self.depth if self.depth > 0.0 else np.zeros(1)
        z = np.concatenate((below, graded_both(edge, self.ratio, 1.0)[1:]))
        points = np.stack(np.meshgrid(x, z, indexing="ij"), -1)
        middle = 0.25 * (points[1:, 1:] + points[:-1, 1:] + points[1:, :-1] + points[:-1, :-1])
        mesh = sheet(points, (middle[..., 1] > 0.0) | (middle[..., 0] > a))
        tiny = 1e-9
        side = {
            "mid-wall": lambda c: c[0] < tiny,
            "mid-groove": lambda c: c[0] > a + b - tiny,
            "blade": lambda c: c[1] > 1.0 - tiny,
            "texture": lambda c: (c[0] > tiny) & (c[0] < a + b - tiny) & (c[1] < 1.0 - tiny),
        }
        facets = {name: mesh.facets_satisfying(test, boundaries_only=True) for name, test in side.items()}
        fixed = [(facets[name], "z", 0.0) for name in facets] + [(facets["texture"], "x", 0.0)]
        if not self.mirror:
            fixed.append((facets["blade"], "x", blade_speed))
        tractions = [(facets["mid-wall"], lambda x, z: (-pressure + 0.0 * x, 0.0 * x, 0.0 * x))]
        return solve(mesh, fixed, tractions), facets

    def pressure_driven(self) -> dict[str, float]:
        """Length of plane channel of gap 1 that passes the same flow, for the whole period and per edge of the wall."""
        flow, facets = self.flow(1.0, 0.0)
        q = flow.flux(facets["mid-groove"])
        channel = 3.0 if self.mirror else 12.0  # gap 1 is half the channel when mirrored
        length = 2.0 / (channel * q)
        rest = self.wall + self.width / (1.0 + self.depth) ** 3
        return {"length": length, "end": 0.5 * (length - rest), "flux": q, "leak": abs(flow.flux(facets["blade"]))}

    def shear_driven(self) -> dict[str, float]:
        """Blade moving at speed 1 over the resting texture, no pressure difference over the period: flow over the Couette flow
        1/2; drag on the blade over that of a gap 1 of unit length. Ends: what the Reynolds equation with steps lacks."""
        flow, facets = self.flow(0.0, 1.0)
        q, drag = flow.flux(facets["mid-groove"]), -2.0 * flow.force(facets["blade"])[0]
        w, g, H = self.wall, self.width, 1.0 + self.depth
        length = self.pressure_driven()["length"]
        return {
            "flux_ratio": 2.0 * q,
            "drag": drag,
            "end": 0.5 * (2.0 * q * length - w - g / H**2),  # q L / 12 = (w + 2 s + g / H^2) / 24
            "drag_end": 0.5 * (drag - w * (4.0 - 6.0 * q) - g * (4.0 / H - 6.0 * q / H**2)),
        }
