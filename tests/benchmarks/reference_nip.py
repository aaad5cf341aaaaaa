"""The nip solved a second time, in NumPy/SciPy, without the library.

Written from the equations alone, so that the compiled core can be compared with something that shares no line with it.
It is also the yardstick of ``bench_map.py``: the same equations, vectorised where NumPy can vectorise.

What it covers: a uniform strip, a facet of given length, a Newtonian ink without heat, doctoring and trailing,
fixed and floating holding. SI units, angles in radians, loads per metre of width.

Coordinates: x downstream along the roll from the facet's centre, z away from the roll. The strip is solved in a
frame whose X axis points from the tip to the body (X = x doctoring, X = -x trailing), so one solver serves both.

The equilibria of a bedded blade form one curve in the plane of tilt and gap: on each of its points the strip, bent by
what film and asperities do there, has just that tilt. A step follows this curve to the held load or interference;
folds are the extrema of the load along it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos, degrees, pi, radians, sin, sqrt

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize_scalar, root
from scipy.special import gamma, ndtr, pbdv

DOCTORING, TRAILING = 1.0, -1.0


@dataclass(frozen=True)
class ReferenceCase:
    """The base case (water ink). Change fields with ``dataclasses.replace`` or pass a dict to the functions."""

    orientation: float = DOCTORING
    # strip
    youngs_modulus: float = 205e9  # Pa
    poissons_ratio: float = 0.29
    hardness: float = 5.5e9  # Pa
    thickness: float = 0.2e-3  # m
    free_length: float = 12e-3  # m, clamp to facet centre
    # tip
    facet_length: float = 200e-6  # m
    edge_radius: float = 1e-6  # m
    # roll
    roll_radius: float = 70e-3  # m
    roll_modulus: float = 200e9  # Pa
    roll_poissons_ratio: float = 0.25
    roll_hardness: float = 12e9  # Pa
    sigma: float = 0.30e-6  # m, combined rms roughness
    asperity_product: float = 0.05
    asperity_ratio: float = 0.01
    land_fraction: float = 0.25
    flow_factor: float | None = 4.0  # constant on the facet, 1 on the flanks; None: the law below everywhere
    deep_flow_factor: float = 4.0  # phi = 1 + (deep - 1) / (1 + h / wall)
    wall_width: float = 5e-6  # m
    # ink
    viscosity: float = 0.03  # Pa s
    density: float = 1100.0  # kg/m3
    # setting
    set_angle: float = radians(30.0)
    line_load: float = 100.0  # N/m
    surface_speed: float = 5.0  # m/s
    friction: float = 0.12
    wetted_length: float = 0.1e-3  # m
    chamber_pressure: float = 0.0  # Pa, on the face away from the roll and at the film's inlet
    holding: str = "fixed"  # or "floating"
    # choices a second author could make differently; the defaults are the conventions of the comparison
    constant_friction: float | None = None  # T / N, replaces the friction law
    drag_land_fraction_on: str = "shear"  # "shear", "all" (pressure term too), "none"
    edges: bool = True  # edge parabolas at both facet ends
    flow_factor_on_edges: bool = True  # the facet's factor on the parabolas as well
    facet_offset: str = "centre"  # "centre": t/2 - (b/2) sin a, "corner": t/2, "none": 0
    film_lifts_blade: bool = False  # subtract the gap at the facet centre from the interference
    outer_wedge: bool = True  # load and moment from r_i to the wetted length
    inlet_pressure: bool = True  # p(r_i) from the inertial part
    mesh: float = 1.0  # factor on the number of film panels


HIGH_VISCOSITY = {"viscosity": 0.3, "surface_speed": 3.0}


def as_case(case: ReferenceCase | dict | None) -> ReferenceCase:
    if isinstance(case, ReferenceCase):
        return case
    return ReferenceCase(**(case or {}))


# --- strip --------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=8)
def _chebyshev(n: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes on [0, 1] and the matrix of the integral from 0 to each node (exact for polynomials of degree n)."""
    y = 0.5 * (1.0 - np.cos(pi * np.arange(n + 1) / n))
    powers = np.arange(n + 1)
    to_coefficients = np.linalg.inv(np.polynomial.chebyshev.chebvander(2.0 * y - 1.0, n))
    integral = np.zeros((n + 1, n + 1))
    for k in powers:
        unit = np.zeros(n + 1)
        unit[k] = 1.0
        integral[:, k] = np.polynomial.chebyshev.chebval(
            2.0 * y - 1.0, np.polynomial.chebyshev.chebint(unit, lbnd=-1.0, scl=0.5)
        )
    return y, integral @ to_coefficients


class Strip:
    """Planar elastica under a dead force at the facet centre, a couple there, and a pressure on the far face."""

    def __init__(self, case: ReferenceCase, offset: float, nodes: int = 14):
        self.case, self.offset = case, offset
        self.rigidity = case.youngs_modulus * case.thickness**3 / (12.0 * (1.0 - case.poissons_ratio**2))
        _, integral = _chebyshev(nodes)
        self.from_tip = case.free_length * integral  # integral from the tip to s
        self.to_clamp = self.from_tip[-1][None, :] - self.from_tip  # integral from s to the clamp
        self.psi = np.full(nodes + 1, case.set_angle)
        self.turn = 0.0

    def bend(self, load: float, tangential: float, couple: float) -> tuple[float, float]:
        """(effective angle, interference) for N, T [N/m] and the couple about the facet centre [N], T and couple
        in the strip's own frame. psi(s) = a0 + (1/D) int_s^L m ds with m the section moment, by Newton."""
        case, off = self.case, self.offset
        a0, radius, pressure = case.set_angle, case.roll_radius, case.chamber_pressure
        clamp_x = case.free_length * cos(a0) - off * sin(a0)  # clamp seen from the facet centre, unbent
        clamp_z = case.free_length * sin(a0) + off * cos(a0)
        psi, turn = self.psi, self.turn
        identity = np.eye(psi.size)
        for _ in range(60):
            # the roll's tangent at the contact is turned by `turn` (contact travel / R, towards the body)
            fx = load * sin(turn) + tangential * cos(turn)
            fz = load * cos(turn) - tangential * sin(turn)
            c, s = np.cos(psi), np.sin(psi)
            x, z = self.from_tip @ c, self.from_tip @ s  # section seen from the tip's mid-plane
            moment = off * (s[0] * fz + c[0] * fx) + couple - (x * fz - z * fx) + 0.5 * pressure * (x * x + z * z)
            residual = psi - a0 - self.to_clamp @ moment / self.rigidity
            jac_moment = (fz - pressure * x)[:, None] * self.from_tip * s[None, :] + (fx + pressure * z)[
                :, None
            ] * self.from_tip * c[None, :]
            jac_moment[:, 0] += off * (c[0] * fz - s[0] * fx)
            step = np.linalg.solve(identity - self.to_clamp @ jac_moment / self.rigidity, residual)
            psi = psi - step
            c, s = np.cos(psi), np.sin(psi)
            reach_x = self.from_tip[-1] @ c - off * s[0]  # clamp seen from the facet centre, bent
            reach_z = self.from_tip[-1] @ s + off * c[0]
            new_turn = np.arcsin(np.clip((clamp_x - reach_x) / radius, -1.0, 1.0))
            change = max(np.abs(step).max(), abs(new_turn - turn))
            turn = float(new_turn)
            if change < 1e-13:
                break
        else:
            raise ArithmeticError("the strip did not converge")
        self.psi, self.turn = psi, turn
        return psi[0] + turn, clamp_z - reach_z + radius * (1.0 - cos(turn))


# --- contact ------------------------------------------------------------------------------------------------------


def corner_constant(angle: float) -> float:
    """Taylor (1962) scraper: pressure on the roll p = C eta U / r."""
    return 2.0 * sin(angle) ** 2 / (angle**2 - sin(angle) ** 2)


@lru_cache(maxsize=1)
def _log_f52() -> CubicSpline:
    """ln F_5/2(H), F_n = Gamma(n+1) exp(-H^2/4) D_{-n-1}(H) / sqrt(2 pi) (Greenwood & Tripp 1971)."""
    h = np.linspace(-6.0, 14.0, 1601)
    return CubicSpline(h, np.log(gamma(3.5) * pbdv(-3.5, h)[0] / sqrt(2.0 * pi)) - h * h / 4.0)


def f52(h: np.ndarray) -> np.ndarray:
    return np.where(h < 14.0, np.exp(_log_f52()(np.clip(h, -6.0, 14.0))), 0.0)


def filled_gap(h: np.ndarray, sigma: float) -> np.ndarray:
    """Mean gap filled with ink between Gaussian rough surfaces: sigma (H + F_1(H)) = sigma (H Phi(H) + phi(H))."""
    u = h / sigma
    return sigma * (u * ndtr(u) + np.exp(-0.5 * u * u) / sqrt(2.0 * pi))


def facet_offset(case: ReferenceCase, angle: float) -> float:
    """Facet centre below the strip's mid-plane [m]."""
    if case.facet_offset == "none":
        return 0.0
    if case.facet_offset == "corner":
        return 0.5 * case.thickness
    return 0.5 * case.thickness - 0.5 * case.facet_length * sin(angle)


def flank_angles(case: ReferenceCase, angle: float) -> tuple[float, float]:
    """Angles of the (ink-side, downstream) flanks to the roll."""
    worn_away = case.facet_length * sin(angle) >= 0.999 * case.thickness
    cut = pi - angle if worn_away else 0.5 * pi - angle
    return (cut, angle) if case.orientation > 0.0 else (angle, cut)


_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(6)
_GAUSS_X, _GAUSS_W = 0.5 * (1.0 + _GAUSS_X), 0.5 * _GAUSS_W
_NODES_AND_END = np.append(_GAUSS_X, 1.0)


@dataclass
class Load:
    """What film and asperities do to the blade at one gap and tilt."""

    load: float
    tangential: float
    moment: float  # about the facet centre, sum of p x dx [N]
    film_on_lands: float
    asperity_load: float
    outer_load: float
    min_gap: float
    centre_gap: float


def entry_lengths(angle: float, radius: float) -> tuple[float, float]:
    """Gaps of facet that the turn of the flow into it stands for, in the pure shear and in the pressure flow; the fits to Stokes
    flow of tests/reference/stokes_facet_entry (README). `radius`: of the edge over the gap."""
    b, x = angle, radius * angle**1.353
    turn = 0.298 * b / (1 + (0.3996 * radius * b**2.8377) ** 0.8758 + (0.3566 * radius * b**0.7304) ** 2) ** 0.518
    sharp = 0.01879 * b + 0.01179 * b**3 - 0.000434 * b**5
    above = sharp + 0.02916 * b**1.7821 * x + 0.009897 * x * x
    return turn, turn - above / (1 + 0.14665 * b**2.2489 * x + 0.20648 * x**1.5 + 0.24437 * x * x)


class Gap:
    """The gap's shape at one tilt and effective angle; `at(min_gap)` integrates film and asperities over it.

    Every panel between two break points lies on one piece (flank, edge parabola, facet), so the gap is a quadratic
    in each: rise + slope s + curvature s^2 with s from the panel's upstream end.
    """

    def __init__(self, case: ReferenceCase, tilt: float, angle: float):
        self.case = case
        self.half = half = 0.5 * case.facet_length
        self.tilt = tilt
        up, down = flank_angles(case, angle)
        self.corner = corner_constant(up)
        self.inertial_radius = case.viscosity / (case.density * case.surface_speed)
        length = min(self.inertial_radius, case.wetted_length)
        n = max(2, round(4 * case.mesh))
        slope_in, slope_out = sqrt(6.0 / self.corner), sqrt(6.0 / corner_constant(down))
        # Rounding takes metal away: on the ink side a circle between facet and flank, downstream the parabola, which meets its
        # flank as far outside as it begins inside the facet.
        r_e = case.edge_radius if case.edges else 0.0
        half_arc, cut_down = 0.5 * r_e * max(slope_in - tilt, 0.0), 0.5 * r_e * max(slope_out + tilt, 0.0)
        cut_up = r_e * max(np.tan(0.5 * up) - 0.5 * tilt, 0.0)
        s_up, rise_up, slope_up, bend_up, edge_up = self._flank(slope_in, tilt, length + half_arc, n)
        s_down, rise_down, slope_down, bend_down, edge_down = self._flank(
            slope_out, -tilt, case.wetted_length + cut_down, n
        )
        from_x, to_x = -half + cut_up, half - cut_down
        flat = to_x - from_x
        on_facet = from_x + 0.5 * flat * (1.0 - np.cos(np.linspace(0.0, pi, 2 * n + 1)))
        high_up, high_down = max(tilt, 0.0) * flat, max(-tilt, 0.0) * flat
        self.breaks = np.concatenate([from_x - s_up[::-1], on_facet[1:-1], to_x + s_down])
        self.break_rise = np.concatenate(
            [high_up + rise_up[::-1], high_up - tilt * (on_facet[1:-1] - from_x), high_down + rise_down]
        )
        facet_panels = np.zeros(2 * n)
        # the upstream flank is described from the facet outwards; turned round, its end slopes change sign
        widths_up = np.diff(s_up)
        self.slope = np.concatenate([-(slope_up + 2.0 * bend_up * widths_up)[::-1], facet_panels - tilt, slope_down])
        self.bend = np.concatenate([bend_up[::-1], facet_panels, bend_down])
        self.width = np.diff(self.breaks)
        s = self.width[:, None] * _GAUSS_X
        self.x = (self.breaks[:-1, None] + s).ravel()
        self.w = (self.width[:, None] * _GAUSS_W).ravel()
        self.shape = (self.break_rise[:-1, None] + s * (self.slope[:, None] + s * self.bend[:, None])).ravel()
        self.first = int(np.argmin(self.break_rise[: s_up.size]))
        self.start, self.entry = s_up.size - 1, up if flat > 0.0 else None
        edge = case.flow_factor_on_edges
        self.walled = np.concatenate([edge_up[::-1] & edge, facet_panels == 0.0, edge_down & edge])
        self.walled_nodes = np.repeat(self.walled, _GAUSS_X.size)
        self._outer(length)

    def _flank(self, slope: float, start: float, reach: float, n: int) -> tuple[np.ndarray, ...]:
        """One flank seen outwards from the facet's end, where the gap's slope is `start`: a parabola of the edge
        radius until the flank's slope is met, straight from there. Breaks; rise at the breaks; slope at each panel's
        inner end; half the curvature; whether the panel is on the parabola."""
        r_e = self.case.edge_radius if self.case.edges else 0.0
        end = min(max(0.0, (slope - start) * r_e), reach)
        near = np.linspace(0.0, end, n + 1) if end > 0.0 else np.zeros(1)
        if start < 0.0 and 0.0 < -start * r_e < end:
            near = np.unique(np.append(near, -start * r_e))  # lowest point of the edge
        far = np.zeros(0)
        if reach > end:
            scale = max(end, 0.2e-6)
            far = end + scale * np.expm1(np.linspace(0.0, np.log1p((reach - end) / scale), 2 * n + 1))[1:]
        curvature = 0.5 / r_e if end > 0.0 else 0.0
        rise_near = near * (start + near * curvature)
        rise = np.concatenate([rise_near, rise_near[-1] + slope * (far - end)])
        slopes = np.concatenate([start + 2.0 * curvature * near[:-1], np.full(far.size, slope)])
        on_edge = np.concatenate([np.ones(near.size - 1, bool), np.zeros(far.size, bool)])
        return np.concatenate([near, far]), rise, slopes, np.where(on_edge, curvature, 0.0), on_edge

    def rise(self, x: np.ndarray) -> np.ndarray:
        """Gap above that at the facet's lower end."""
        k = np.clip(np.searchsorted(self.breaks, x, side="right") - 1, 0, self.width.size - 1)
        s = x - self.breaks[k]
        return self.break_rise[k] + s * (self.slope[k] + s * self.bend[k])

    def resistance(self, walled, h):
        """1 / phi where walls oppose the pressure flow or not, at the gap h."""
        case = self.case
        if case.flow_factor is not None:
            return np.where(walled, 1.0 / case.flow_factor, 1.0)
        return 1.0 / (1.0 + (case.deep_flow_factor - 1.0) / (1.0 + np.maximum(h, 0.0) / case.wall_width))

    def _outer(self, start: float) -> None:
        """Inertial part of the wedge, p = min(rho U^2, C eta U / r) + chamber, closed form in r."""
        case, chamber = self.case, self.case.chamber_pressure
        stagnation = case.density * case.surface_speed**2
        strength = self.corner * case.viscosity * case.surface_speed
        end = case.wetted_length
        beyond = end > start
        self.p_in = chamber + (min(stagnation, strength / start) if beyond and case.inlet_pressure else 0.0)
        self.outer_load = self.outer_moment = 0.0
        if not (beyond and case.outer_wedge):
            return
        change = min(max(strength / stagnation, start), end)  # where the corner law takes over
        capped, tail = change - start, end - change
        log_part = strength * np.log(end / change)
        self.outer_load = stagnation * capped + log_part + chamber * (end - start)
        lever = stagnation * (change**2 - start**2) / 2.0 + strength * tail + chamber * (end**2 - start**2) / 2.0
        self.outer_moment = -(self.half * self.outer_load + lever)

    def at(self, min_gap: float) -> Load:  # noqa: PLR0915  one pass, in the order of the equations
        case, x, w = self.case, self.x, self.w
        eta_u = case.viscosity * case.surface_speed
        h = min_gap + self.shape
        hf = filled_gap(h, case.sigma)
        inv = 1.0 / hf
        i2 = 6.0 * eta_u * self.resistance(self.walled_nodes, h) * w * inv * inv
        i3 = i2 * inv
        # one pass: p(x_r) = 0 and p'(x_r) = 0 at the rupture x_r, reduced gap h_r = h_f(x_r)
        m = _GAUSS_X.size
        panels = self.width.size
        cum2, cum3 = np.zeros(panels + 1), np.zeros(panels + 1)
        np.cumsum(i2.reshape(panels, m).sum(axis=1), out=cum2[1:])
        np.cumsum(i3.reshape(panels, m).sum(axis=1), out=cum3[1:])
        hf_breaks = filled_gap(min_gap + self.break_rise, case.sigma)
        shear_gaps = pressure_gaps = 0.0
        if self.entry is not None:
            h_a = hf_breaks[self.start]
            shear_gaps, pressure_gaps = entry_lengths(self.entry, case.edge_radius / h_a)
            k_a = (
                6.0 * eta_u * float(self.resistance(self.walled[self.start - 1], min_gap + self.break_rise[self.start]))
            )
            cum2[self.start :] += k_a * shear_gaps / h_a
            cum3[self.start :] += k_a * pressure_gaps / h_a**2
        past = self.p_in + cum2[self.first :] - hf_breaks[self.first :] * cum3[self.first :]
        k = self.first + int(np.argmax(past < 0.0)) - 1
        if k < self.first:
            raise ArithmeticError("the film does not rupture inside the downstream flank")
        lo, width, walled = self.breaks[k], self.width[k], self.walled[k]
        base, slope, bend = min_gap + self.break_rise[k], self.slope[k], self.bend[k]

        def partial(s: float):
            """Filled gaps at s of the panel and at the nodes up to it, and 6 eta U / (phi h_f^2) times weights."""
            points = s * _NODES_AND_END
            gaps = base + points * (slope + points * bend)
            filled = filled_gap(gaps, case.sigma)
            fs = filled[:-1]
            p2 = 6.0 * eta_u * self.resistance(walled, gaps[:-1]) * s * _GAUSS_W / (fs * fs)
            return filled[-1], fs, p2

        # Newton, kept inside the panel: d(end pressure)/ds = -h_r' (integral of the h^-3 term)
        below, above = 0.0, width
        s = width * past[k - self.first] / (past[k - self.first] - past[k + 1 - self.first])
        for _ in range(60):
            hr, fs, p2 = partial(s)
            third = cum3[k] + (p2 / fs).sum()
            end = self.p_in + cum2[k] + p2.sum() - hr * third
            below, above = (s, above) if end > 0.0 else (below, s)
            filling = ndtr((base + s * (slope + s * bend)) / case.sigma) * (slope + 2.0 * s * bend)
            new = s + end / (filling * third) if filling > 0.0 else 0.5 * (below + above)
            if not below <= new <= above:
                new = 0.5 * (below + above)
            done = abs(new - s) <= 1e-9 * width
            s = new
            if done:
                break
        hr, fs, p2 = partial(s)
        xr = lo + s
        full = k * m
        xa = np.concatenate([x[:full], lo + s * _GAUSS_X])
        fa = np.concatenate([hf[:full], fs])
        gradient = np.concatenate([i2[:full] - hr * i3[:full], p2 - hr * p2 / fs])  # dp over each quadrature weight
        wa = np.concatenate([w[:full], s * _GAUSS_W])
        x_in = self.breaks[0]
        film = self.p_in * (xr - x_in) + np.dot(xr - xa, gradient)
        moment = 0.5 * (self.p_in * (xr**2 - x_in**2) + np.dot(xr**2 - xa**2, gradient))
        turned = 0.0
        if self.entry is not None and k >= self.start:
            jump, x_a = k_a * (shear_gaps - hr / h_a * pressure_gaps) / h_a, self.breaks[self.start]
            film += (xr - x_a) * jump
            moment += 0.5 * (xr**2 - x_a**2) * jump
            turned = 0.5 * h_a * jump
        # asperities
        modulus = 1.0 / (
            (1.0 - case.poissons_ratio**2) / case.youngs_modulus
            + (1.0 - case.roll_poissons_ratio**2) / case.roll_modulus
        )
        strength = 16.0 * sqrt(2.0) * pi / 15.0 * case.asperity_product**2 * sqrt(case.asperity_ratio) * modulus
        pa = case.land_fraction * np.minimum(strength * f52(h / case.sigma), min(case.hardness, case.roll_hardness)) * w
        asperity = pa.sum()
        # tangential: shear on the blade eta U / h - h p'/2 and the pressure on its slope -p h', by parts
        shear = eta_u * np.dot(wa, 1.0 / fa)
        rest = full + m  # panels behind the one with the rupture
        behind = np.dot(w[rest:], inv[rest:] ** 2)
        sb = s + (width - s) * _GAUSS_X
        behind += (width - s) * np.dot(_GAUSS_W, filled_gap(base + sb * (slope + sb * bend), case.sigma) ** -2.0)
        shear += eta_u * (hr * behind + shear_gaps)  # filled share h_r / h_f
        pressure_term = 0.5 * np.dot(fa, gradient) + turned + self.p_in * hf_breaks[0]
        f_shear, f_pressure = {
            "shear": (case.land_fraction, 1.0),
            "all": (case.land_fraction,) * 2,
            "none": (1.0, 1.0),
        }[case.drag_land_fraction_on]
        tangential = case.friction * asperity + f_shear * shear + f_pressure * pressure_term
        total = film + self.outer_load + asperity
        if case.constant_friction is not None:
            tangential = case.constant_friction * total
        return Load(
            total,
            tangential,
            moment + self.outer_moment + np.dot(pa, x),
            0.5 * hr,
            asperity,
            self.outer_load,
            min_gap,
            min_gap + abs(self.tilt) * self.half,
        )


# --- operating point ----------------------------------------------------------------------------------------------


@dataclass
class Point:
    tilt: float  # rad
    effective_angle: float  # rad
    interference: float  # m
    line_load: float
    tangential_load: float
    film_on_lands: float
    asperity_load: float
    outer_load: float
    moment: float
    min_gap: float

    @property
    def asperity_share(self) -> float:
        return self.asperity_load / self.line_load

    @property
    def friction_coefficient(self) -> float:
        return self.tangential_load / self.line_load


class Nip:
    """A blade bedded at its setting, and the equilibria it can take from there.

    Equilibria form a curve in the plane (tilt times half the facet, lowest gap), both in units of sigma. It is traced
    by arc length: at high viscosity it turns back in the tilt, and at a given small negative tilt the load is not
    monotone in the gap, so neither alone can number its points. `opening` is the way of growing tilt and gap.
    """

    def __init__(self, case: ReferenceCase | dict | None = None, tolerance: float = 1e-12):
        """`tolerance`: of the bedded angle [rad]; a tenth of it of the gap, relative."""
        self.case = case = as_case(case)
        self.tolerance = tolerance
        self._scale = np.array([0.5 * case.facet_length / case.sigma, 1.0 / case.sigma])
        self._bed()

    def _bed(self) -> None:
        """d = 0 at the line load; flank slopes and facet offset follow the angle found."""
        case, low, angle = self.case, -2.5 * self.case.sigma, self.case.set_angle - 0.04
        guess, rtol = 0.0, 0.1 * self.tolerance
        for _ in range(60):
            gap = Gap(case, 0.0, angle)

            def surplus(g: float, gap: Gap = gap) -> float:
                return gap.at(g).load - case.line_load

            # the load falls with the gap at d = 0
            if guess and surplus(0.999 * guess) > 0.0 > surplus(1.001 * guess):
                guess = brentq(surplus, 0.999 * guess, 1.001 * guess, xtol=1e-18, rtol=rtol)
            else:
                high = 2.0 * case.sigma
                while surplus(high) > 0.0:
                    low, high = high, 2.0 * high
                guess = brentq(surplus, low, high, xtol=1e-18, rtol=rtol)
            load = gap.at(guess)
            self.strip = Strip(case, facet_offset(case, angle))
            new, advance = self._bend(load)
            change, angle = abs(new - angle), new
            if change < self.tolerance:
                break
        self.bedded_angle = angle
        self.bedded = self._point(0.0, angle, advance, load)
        self.origin = self._scale * (0.0, load.min_gap)

    def _bend(self, load: Load) -> tuple[float, float]:
        o = self.case.orientation
        angle, advance = self.strip.bend(load.load, o * load.tangential, o * load.moment)
        return angle, advance - (load.centre_gap if self.case.film_lifts_blade else 0.0)

    @staticmethod
    def _point(tilt: float, angle: float, advance: float, load: Load) -> Point:
        return Point(
            tilt,
            angle,
            advance,
            load.load,
            load.tangential,
            load.film_on_lands,
            load.asperity_load,
            load.outer_load,
            load.moment,
            load.min_gap,
        )

    def state(self, y: np.ndarray) -> tuple[float, Point]:
        """(elastic minus actual tilt, point) at a tilt and gap in the curve's plane."""
        tilt, min_gap = y / self._scale
        target = self.bedded_angle - self.case.orientation * tilt
        load = Gap(self.case, tilt, target).at(min_gap)
        angle, advance = self._bend(load)
        return self.case.orientation * (target - angle), self._point(tilt, angle, advance, load)

    def _onto_curve(
        self, y: np.ndarray, normal: np.ndarray, reach: float, tolerance: float = 1e-13
    ) -> tuple[np.ndarray, Point]:
        """The equilibrium on the line through y along the normal, by the secant method."""
        s, t = 0.0, 0.02 * reach
        r, point = self.state(y)
        for _ in range(25):
            if abs(r) < tolerance:
                return y + s * normal, point
            r_t, point_t = self.state(y + t * normal)
            if r_t == r:
                break
            s, t, r, point = t, t - r_t * (t - s) / (r_t - r), r_t, point_t
            if not abs(t) <= reach:
                break
        raise ArithmeticError("no equilibrium on this line")

    def held(self, point: Point) -> float:
        return point.line_load if self.case.holding == "floating" else point.interference

    def _tangent(self, y: np.ndarray) -> np.ndarray:
        """Unit tangent at a point of the curve, towards opening."""
        e = 1e-5
        gradient = np.array([self.state(y + e * axis)[0] - self.state(y - e * axis)[0] for axis in np.eye(2)])
        tangent = np.array([-gradient[1], gradient[0]]) / np.hypot(*gradient)
        return tangent if tangent.sum() > 0.0 else -tangent

    def trace(self, start: np.ndarray, direction: float, step: float = 0.2, longest: float = 2.0):
        """Yields (y, point) along the curve, first the start, towards opening (+1) or closing (-1)."""
        y, tangent = start, direction * self._tangent(start)
        yield y, self.state(y)[1]
        while True:
            try:
                new, point = self._onto_curve(y + step * tangent, np.array([-tangent[1], tangent[0]]), step, 1e-10)
                chord = (new - y) / np.hypot(*(new - y))
                turned = np.dot(chord, tangent) < 0.95
            except ArithmeticError:
                turned = True
            if turned:
                step *= 0.5
                if step < 1e-5:
                    raise ArithmeticError("the branch of equilibria ends")
                exact = self._tangent(y)
                tangent = exact if np.dot(exact, tangent) > 0.0 else -exact
                continue
            yield new, point
            # secant predictor bent on by the last turn
            tangent = 2.0 * chord * np.dot(chord, tangent) - tangent
            y, step = new, min(2.0 * step, longest)

    def between(self, a: np.ndarray, b: np.ndarray, t: float) -> tuple[np.ndarray, Point]:
        """Point of the curve abreast of the chord's point a + t (b - a)."""
        chord = b - a
        length = np.hypot(*chord)
        return self._onto_curve(a + t * chord, np.array([-chord[1], chord[0]]) / length, length)

    def _meet(self, held: float, start: np.ndarray, direction: float) -> tuple[np.ndarray, Point]:
        """First point along the curve, after the start, with the held quantity."""
        before = None
        for y, point in self.trace(start, direction):
            miss = held - self.held(point)
            if before is not None and miss * before[1] <= 0.0:
                return self._meet_between(before, (y, miss), held)
            if abs(point.tilt) > 0.2:
                raise ArithmeticError("the tilt left its range")
            before = (y, miss)
        raise ArithmeticError("the branch of equilibria ends")

    def _meet_between(
        self, before: tuple[np.ndarray, float], after: tuple[np.ndarray, float], held: float
    ) -> tuple[np.ndarray, Point]:
        """The held quantity met between two points of the curve, each with what is missing there: both equations
        at once; where that leaves the stretch, one inside the other."""
        a, chord = before[0], after[0] - before[0]
        axes = np.stack([chord, [-chord[1], chord[0]]], axis=1)

        def equations(u: np.ndarray) -> tuple[float, float]:
            try:
                r, point = self.state(a + axes @ u)
            except ArithmeticError:
                return 1.0, 1.0
            return 100.0 * r, (self.held(point) - held) / held

        t = before[1] / (before[1] - after[1])
        found = root(equations, (t, 0.0), method="hybr", options={"xtol": 1e-11})
        if np.abs(found.fun).max() < 1e-10 and -1e-9 <= found.x[0] <= 1.0 + 1e-9 and abs(found.x[1]) < 0.5:
            y = a + axes @ found.x
            return y, self.state(y)[1]
        t = brentq(lambda t: held - self.held(self.between(a, after[0], t)[1]), 0.0, 1.0, xtol=1e-9, rtol=1e-12)
        return self.between(a, after[0], t)

    def follow(self, held: float, start: np.ndarray | None = None) -> tuple[np.ndarray, Point]:
        """Quasi-static: the tilt moves towards the elastic one until the held load or interference is met. A larger
        one bends the strip further: towards opening doctoring, towards closing trailing."""
        start = self.origin if start is None else start
        miss = held - self.held(self.state(start)[1])
        if abs(miss) <= 1e-12 * abs(held):
            return start, self.state(start)[1]
        return self._meet(held, start, self.case.orientation * (1.0 if miss > 0.0 else -1.0))

    def bedded_stable(self) -> bool:
        """Sign of the held quantity's slope along the curve at d = 0."""
        e = 1e-4 * self._tangent(self.origin)
        slope = np.subtract(*(self.held(self.state(self.origin + sign * e)[1]) for sign in (1.0, -1.0)))
        return bool(self.case.orientation * slope > 0.0)

    def resting(self) -> tuple[np.ndarray, Point]:
        """The bedded state where it is stable, else its stable neighbour at the same setting on the closing side."""
        if self.bedded_stable():
            return self.origin, self.bedded
        # a step away first: the bedded state itself has the held value too
        tangent = self._tangent(self.origin)
        y = self._onto_curve(self.origin - 1e-3 * tangent, np.array([-tangent[1], tangent[0]]), 1e-2)[0]
        return self._meet(self.held(self.bedded), y, -1.0)


def solve_bedded(case: ReferenceCase | dict | None = None) -> Point:
    """The equilibrium at d = 0 and the set load."""
    return Nip(case).bedded


def step(case: ReferenceCase | dict | None, relative: float) -> Point:
    """From the bedded state (its stable neighbour where it is unstable), the held interference (fixed) or load
    (floating) times 1 + relative, quasi-statically."""
    nip = Nip(case)
    return nip.follow((1.0 + relative) * nip.held(nip.bedded), nip.resting()[0])[1]


def floating_hysteresis(case: ReferenceCase | dict | None, load_range: tuple[float, float] = (0.6, 1.9)) -> dict:
    """Loads at which a floating blade, bedded at the case's load, jumps to riding and back to wiping (doctoring: up
    on raising the load; trailing: up on lowering it).

    Folds of the load along the curve of equilibria, which is searched in both directions until the load leaves
    `load_range` (relative to the set load). No jumps in the result: one state.
    """
    nip = Nip(replace(as_case(case), holding="floating"))
    o = nip.case.orientation
    branch: list[tuple[np.ndarray, Point]] = []
    for direction in (-1.0, 1.0):
        part = []
        for y, point in nip.trace(nip.origin, direction, longest=0.4):
            part.append((y, point))
            if not load_range[0] < point.line_load / nip.case.line_load < load_range[1] or abs(point.tilt) > 0.03:
                break
        branch = part[:0:-1] if direction < 0.0 else branch + part
    loads = np.array([point.line_load for _, point in branch])
    result = {"bedded_stable": nip.bedded_stable(), "branch": branch}
    for name, sign in (("up", o), ("down", -o)):
        # a stable branch ends where o N stops growing (opening) or, seen from the riding side, where it starts again
        tops = [i for i in range(1, loads.size - 1) if sign * loads[i] >= max(sign * loads[i - 1], sign * loads[i + 1])]
        if not tops:
            continue
        around = [y for y, _ in branch[tops[0] - 1 : tops[0] + 2]]

        def along(t: float, around: list[np.ndarray] = around) -> Point:
            i = min(int(t), 1)
            return nip.between(around[i], around[i + 1], t - i)[1]

        found = minimize_scalar(
            lambda t, sign=sign, along=along: -sign * along(t).line_load,
            bounds=(0.0, 2.0),
            method="bounded",
            options={"xatol": 1e-6},
        )
        result[name] = along(found.x)
    return result


def describe(point: Point) -> str:
    return (
        f"film {point.film_on_lands * 1e6:.5f} um  tilt {degrees(point.tilt):+.5f} deg  "
        f"angle {degrees(point.effective_angle):.5f} deg  interference {point.interference * 1e3:.6f} mm  "
        f"N {point.line_load:.4f}  T {point.tangential_load:.4f}  T/N {point.friction_coefficient:.5f}  "
        f"asperity share {point.asperity_share:.5f}"
    )


def base_case_table(mesh: float = 1.0) -> None:
    """Every line of the base case."""
    for name, o in (("doctoring", DOCTORING), ("trailing", TRAILING)):
        for ink, fields in (("water", {}), ("high viscosity", HIGH_VISCOSITY)):
            nip = Nip({**fields, "orientation": o, "mesh": mesh})
            print(f"{name}, {ink}, bedded:  {describe(nip.bedded)}")
            for r in (-0.05, 0.05, 0.5):
                print(f"    interference {r:+.0%}:  {describe(nip.follow((1.0 + r) * nip.bedded.interference)[1])}")
    for name, fields in (("water", {}), ("eta U = 1 N/m", {"viscosity": 0.2})):
        for law in ({}, {"constant_friction": 0.12}):
            found = floating_hysteresis({**fields, **law, "line_load": 90.0, "mesh": mesh})
            print(
                f"floating, {name}, {'T = 0.12 N' if law else 'friction law'}, bedded at 90 N/m, d = 0 "
                f"{'stable' if found['bedded_stable'] else 'unstable'}"
            )
            for way in ("up", "down"):
                print(f"    jumps {way}:  {describe(found[way])}" if way in found else f"    no jump {way}")


if __name__ == "__main__":
    base_case_table()
