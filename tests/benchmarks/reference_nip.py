"""The nip solved a second time, in NumPy/SciPy, without the library.

Written from the equations alone, so that the compiled core can be compared with something that shares no line with it.
It is also the yardstick of ``bench_map.py``: the same equations, vectorised where NumPy can vectorise.

What it covers: a uniform strip, a facet of given length, a Newtonian ink without heat, doctoring and trailing,
fixed and floating holding. SI units, angles in radians, loads per metre of width.

Coordinates: x downstream along the roll from the facet's centre, z away from the roll. The strip is solved in a
frame whose X axis points from the tip to the body (X = x doctoring, X = -x trailing), so one solver serves both.

Every equilibrium belongs to one tilt d. For a given d the gap is found where the bent strip has just that tilt;
the point so found says which load, and which interference, keep it there. N(d) and interference(d) are then smooth
curves: a step follows them, folds are their extrema.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos, degrees, pi, radians, sin, sqrt

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize_scalar
from scipy.special import gamma, ndtr, pbdv

DOCTORING, TRAILING = 1.0, -1.0


@dataclass(frozen=True)
class ReferenceCase:
    """The base case (water ink). Change fields with ``dataclasses.replace`` or pass a dict to the functions."""

    orientation: float = DOCTORING
    # strip
    youngs_modulus: float = 205e9      # Pa
    poissons_ratio: float = 0.29
    hardness: float = 5.5e9            # Pa
    thickness: float = 0.2e-3          # m
    free_length: float = 12e-3         # m, clamp to facet centre
    # tip
    facet_length: float = 200e-6       # m
    edge_radius: float = 1e-6          # m
    # roll
    roll_radius: float = 70e-3         # m
    roll_modulus: float = 200e9        # Pa
    roll_poissons_ratio: float = 0.25
    roll_hardness: float = 12e9        # Pa
    sigma: float = 0.30e-6             # m, combined rms roughness
    asperity_product: float = 0.05
    asperity_ratio: float = 0.01
    land_fraction: float = 0.25
    flow_factor: float | None = 4.0    # constant on the facet, 1 on the flanks; None: the law below everywhere
    deep_flow_factor: float = 4.0      # phi = 1 + (deep - 1) / (1 + h / wall)
    wall_width: float = 5e-6           # m
    # ink
    viscosity: float = 0.03            # Pa s
    density: float = 1100.0            # kg/m3
    # setting
    set_angle: float = radians(30.0)
    line_load: float = 100.0           # N/m
    surface_speed: float = 5.0         # m/s
    friction: float = 0.12
    wetted_length: float = 0.1e-3      # m
    chamber_pressure: float = 0.0      # Pa, on the face away from the roll and at the film's inlet
    holding: str = "fixed"
    # choices a second author could make differently; the defaults are the conventions of the comparison
    constant_tangential_load: float | None = None   # N/m, replaces the friction law
    drag_land_fraction_on: str = "shear"            # "shear", "all" (pressure term too), "none"
    edges: bool = True                              # edge parabolas at both facet ends
    flow_factor_on_edges: bool = False              # the facet's factor on the parabolas as well
    facet_offset: str = "centre"                    # "centre": t/2 - (b/2) sin a, "corner": t/2, "none": 0
    film_lifts_blade: bool = False                  # subtract the gap at the facet centre from the interference
    outer_wedge: bool = True                        # load and moment from r_i to the wetted length
    inlet_pressure: bool = True                     # p(r_i) from the inertial part
    mesh: float = 1.0                               # factor on the number of film panels


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
            2.0 * y - 1.0, np.polynomial.chebyshev.chebint(unit, lbnd=-1.0, scl=0.5))
    return y, integral @ to_coefficients


class Strip:
    """Planar elastica under a dead force at the facet centre, a couple there, and a pressure on the far face."""

    def __init__(self, case: ReferenceCase, offset: float, nodes: int = 14):
        self.case, self.offset = case, offset
        self.rigidity = case.youngs_modulus * case.thickness**3 / (12.0 * (1.0 - case.poissons_ratio**2))
        _, integral = _chebyshev(nodes)
        self.from_tip = case.free_length * integral                     # integral from the tip to s
        self.to_clamp = self.from_tip[-1][None, :] - self.from_tip      # integral from s to the clamp
        self.psi = np.full(nodes + 1, case.set_angle)
        self.turn = 0.0

    def bend(self, load: float, tangential: float, couple: float) -> tuple[float, float]:
        """(effective angle, interference) for N, T [N/m] and the couple about the facet centre [N], T and couple
        in the strip's own frame. psi(s) = a0 + (1/D) int_s^L m ds with m the section moment, by Newton."""
        case, off = self.case, self.offset
        a0, radius, pressure = case.set_angle, case.roll_radius, case.chamber_pressure
        clamp_x = case.free_length * cos(a0) - off * sin(a0)            # clamp seen from the facet centre, unbent
        clamp_z = case.free_length * sin(a0) + off * cos(a0)
        psi, turn = self.psi, self.turn
        identity = np.eye(psi.size)
        for _ in range(60):
            # the roll's tangent at the contact is turned by `turn` (contact travel / R, towards the body)
            fx = load * sin(turn) + tangential * cos(turn)
            fz = load * cos(turn) - tangential * sin(turn)
            c, s = np.cos(psi), np.sin(psi)
            x, z = self.from_tip @ c, self.from_tip @ s                 # section seen from the tip's mid-plane
            moment = (off * (s[0] * fz + c[0] * fx) + couple - (x * fz - z * fx)
                      + 0.5 * pressure * (x * x + z * z))
            residual = psi - a0 - self.to_clamp @ moment / self.rigidity
            jac_moment = (fz - pressure * x)[:, None] * self.from_tip * s[None, :] \
                + (fx + pressure * z)[:, None] * self.from_tip * c[None, :]
            jac_moment[:, 0] += off * (c[0] * fz - s[0] * fx)
            step = np.linalg.solve(identity - self.to_clamp @ jac_moment / self.rigidity, residual)
            psi = psi - step
            c, s = np.cos(psi), np.sin(psi)
            reach_x = self.from_tip[-1] @ c - off * s[0]                # clamp seen from the facet centre, bent
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


@dataclass
class Load:
    """What film and asperities do to the blade at one gap and tilt."""

    load: float
    tangential: float
    moment: float            # about the facet centre, sum of p x dx [N]
    film_on_lands: float
    asperity_load: float
    outer_load: float
    min_gap: float
    centre_gap: float


class Gap:
    """The gap's shape at one tilt and effective angle; `at(min_gap)` integrates film and asperities over it."""

    def __init__(self, case: ReferenceCase, tilt: float, angle: float):
        self.case = case
        self.half = half = 0.5 * case.facet_length
        self.tilt = tilt
        up, down = flank_angles(case, angle)
        self.corner = corner_constant(up)
        slope_up, slope_down = sqrt(6.0 / self.corner), sqrt(6.0 / corner_constant(down))
        r_e = case.edge_radius if case.edges else 0.0
        self.inertial_radius = case.viscosity / (case.density * case.surface_speed)
        length = min(self.inertial_radius, case.wetted_length)
        n = max(2, round(8 * case.mesh))

        def flank(slope: float, start: float, reach: float) -> tuple[np.ndarray, float]:
            """Break points of one flank as distances from the facet's end; where the parabola ends."""
            end = min(max(0.0, (slope - start) * r_e), reach)
            points = np.linspace(0.0, end, n + 1) if end > 0.0 else np.zeros(1)
            if start < 0.0 and 0.0 < -start * r_e < end:
                points = np.sort(np.append(points, -start * r_e))       # lowest point of the edge
            if reach > end:
                scale = max(end, 0.2e-6)
                rest = scale * np.expm1(np.linspace(0.0, np.log1p((reach - end) / scale), 2 * n + 1))
                points = np.append(points, end + rest[1:])
            return points, end

        up_points, self.up_edge = flank(slope_up, tilt, length)
        down_points, self.down_edge = flank(slope_down, -tilt, case.wetted_length)
        facet = -half * np.cos(np.linspace(0.0, pi, 2 * n + 1))
        self.breaks = np.concatenate([-half - up_points[::-1], facet[1:-1], half + down_points])
        self._slopes, self._r_e = (slope_up, slope_down), r_e
        left, width = self.breaks[:-1], np.diff(self.breaks)
        self.x = (left[:, None] + width[:, None] * _GAUSS_X).ravel()
        self.w = (width[:, None] * _GAUSS_W).ravel()
        self.shape = self.rise(self.x)
        self.break_rise = self.rise(self.breaks)
        self.first = int(np.argmin(self.break_rise[: up_points.size])) if tilt < 0.0 else up_points.size - 1
        self.on_facet = self._on_facet(self.x)
        self._outer(length)

    def rise(self, x: np.ndarray | float) -> np.ndarray:
        """Gap above that at the facet's lower end."""
        on = np.clip(x, -self.half, self.half)
        s_up, s_down = np.maximum(-self.half - x, 0.0), np.maximum(x - self.half, 0.0)
        base = abs(self.tilt) * self.half - self.tilt * on
        for s, start, slope, edge in ((s_up, self.tilt, self._slopes[0], self.up_edge),
                                      (s_down, -self.tilt, self._slopes[1], self.down_edge)):
            near = np.minimum(s, edge)
            base = base + start * near + (near * near / (2.0 * self._r_e) if self._r_e > 0.0 else 0.0)
            base = base + slope * np.maximum(s - edge, 0.0)
        return base

    def _on_facet(self, x):
        up, down = (self.up_edge, self.down_edge) if self.case.flow_factor_on_edges else (0.0, 0.0)
        return (x >= -self.half - up) & (x <= self.half + down)

    def resistance(self, x, h):
        """1 / phi at x with the gap h."""
        case = self.case
        if case.flow_factor is not None:
            return np.where(self._on_facet(x), 1.0 / case.flow_factor, 1.0)
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
        change = min(max(strength / stagnation, start), end)            # where the corner law takes over
        capped, tail = change - start, end - change
        log_part = strength * np.log(end / change)
        self.outer_load = stagnation * capped + log_part + chamber * (end - start)
        lever = stagnation * (change**2 - start**2) / 2.0 + strength * tail + chamber * (end**2 - start**2) / 2.0
        self.outer_moment = -(self.half * self.outer_load + lever)

    def at(self, min_gap: float) -> Load:
        case, x, w = self.case, self.x, self.w
        eta_u = case.viscosity * case.surface_speed
        h = min_gap + self.shape
        hf = filled_gap(h, case.sigma)
        inv = 1.0 / hf
        if case.flow_factor is not None:
            res = np.where(self.on_facet, 1.0 / case.flow_factor, 1.0)
        else:
            res = self.resistance(x, h)
        i2 = 6.0 * eta_u * res * w * inv * inv
        i3 = i2 * inv
        # one pass: p(x_r) = 0 and p'(x_r) = 0 at the rupture x_r, reduced gap h_r = h_f(x_r)
        m = _GAUSS_X.size
        panels = self.breaks.size - 1
        cum2 = np.concatenate([[0.0], np.cumsum(i2.reshape(panels, m).sum(axis=1))])
        cum3 = np.concatenate([[0.0], np.cumsum(i3.reshape(panels, m).sum(axis=1))])
        hf_breaks = filled_gap(min_gap + self.break_rise, case.sigma)
        past = self.p_in + cum2[self.first:] - hf_breaks[self.first:] * cum3[self.first:]
        k = self.first + int(np.argmax(past < 0.0)) - 1
        if k < self.first:
            raise ArithmeticError("the film does not rupture inside the downstream flank")
        lo, hi = self.breaks[k], self.breaks[k + 1]

        def partial(xr: float):
            xs = lo + (xr - lo) * _GAUSS_X
            hs = min_gap + self.rise(xs)
            fs = filled_gap(hs, case.sigma)
            p2 = 6.0 * eta_u * self.resistance(xs, hs) * (xr - lo) * _GAUSS_W / fs**2
            return xs, fs, p2

        def end_pressure(xr: float) -> float:
            _, fs, p2 = partial(xr)
            hr = float(filled_gap(min_gap + self.rise(xr), case.sigma))
            return self.p_in + cum2[k] + p2.sum() - hr * (cum3[k] + (p2 / fs).sum())

        xr = lo if end_pressure(lo) <= 0.0 else brentq(end_pressure, lo, hi, xtol=1e-16, rtol=1e-13)
        hr = float(filled_gap(min_gap + self.rise(xr), case.sigma))
        xs, fs, p2 = partial(xr)
        full = k * m
        xa = np.concatenate([x[:full], xs])
        fa = np.concatenate([hf[:full], fs])
        gradient = np.concatenate([i2[:full] - hr * i3[:full], p2 - hr * p2 / fs])   # dp over each quadrature weight
        wa = np.concatenate([w[:full], (xr - lo) * _GAUSS_W])
        x_in = self.breaks[0]
        film = self.p_in * (xr - x_in) + np.dot(xr - xa, gradient)
        moment = 0.5 * (self.p_in * (xr**2 - x_in**2) + np.dot(xr**2 - xa**2, gradient))
        # asperities
        modulus = 1.0 / ((1.0 - case.poissons_ratio**2) / case.youngs_modulus
                         + (1.0 - case.roll_poissons_ratio**2) / case.roll_modulus)
        strength = 16.0 * sqrt(2.0) * pi / 15.0 * case.asperity_product**2 * sqrt(case.asperity_ratio) * modulus
        pa = case.land_fraction * np.minimum(strength * f52(h / case.sigma), min(case.hardness, case.roll_hardness)) * w
        asperity = pa.sum()
        # tangential: shear on the blade eta U / h - h p'/2 and the pressure on its slope -p h', by parts
        shear_full = eta_u * np.dot(wa, 1.0 / fa)
        rest = full + m                                                 # panels behind the one with the rupture
        behind = eta_u * hr * np.dot(w[rest:], inv[rest:] ** 2)
        xb = xr + (hi - xr) * _GAUSS_X
        behind += eta_u * hr * (hi - xr) * np.dot(_GAUSS_W, filled_gap(min_gap + self.rise(xb), case.sigma) ** -2.0)
        pressure_term = 0.5 * np.dot(fa, gradient) + self.p_in * hf_breaks[0]
        share = {"shear": (case.land_fraction, 1.0), "all": (case.land_fraction,) * 2, "none": (1.0, 1.0)}
        f_shear, f_pressure = share[case.drag_land_fraction_on]
        tangential = case.friction * asperity + f_shear * (shear_full + behind) + f_pressure * pressure_term
        if case.constant_tangential_load is not None:
            tangential = case.constant_tangential_load
        return Load(film + self.outer_load + asperity, tangential, moment + self.outer_moment + np.dot(pa, x),
                    0.5 * hr, asperity, self.outer_load, min_gap, min_gap + abs(self.tilt) * self.half)


# --- operating point ----------------------------------------------------------------------------------------------

@dataclass
class Point:
    tilt: float              # rad
    effective_angle: float   # rad
    interference: float      # m
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


def _log_root(f, guess: float, floor: float, low: float, high: float) -> float:
    """Root of f over a minimum gap, searched in ln(gap + floor) outwards from the guess."""
    def g(u):
        return f(np.exp(u) - floor)
    u = np.log(guess + floor)
    step, gu = 0.1, g(u)
    if abs(gu) < 1e-14:                                                 # the warm start is the root to rounding
        return guess
    direction = 1.0 if gu > 0.0 else -1.0                               # f falls with the gap
    limits = np.log(low + floor), np.log(high + floor)
    while True:
        v = min(max(u + direction * step, limits[0]), limits[1])
        gv = g(v)
        if gu * gv <= 0.0:
            return guess if gu == 0.0 else np.exp(brentq(g, u, v, xtol=1e-12, rtol=1e-13)) - floor
        if v in limits:
            raise ArithmeticError("no gap balances this tilt")
        u, gu, step = v, gv, 2.0 * step


class Nip:
    """A blade bedded at its setting, and the equilibria it can take from there."""

    def __init__(self, case: ReferenceCase | dict | None = None):
        self.case = case = as_case(case)
        self._guess = 1.5 * case.sigma
        self._bed()

    def _balance(self, f) -> float:
        sigma = self.case.sigma
        self._guess = _log_root(f, self._guess, 3.0 * sigma, -2.5 * sigma, 200e-6)
        return self._guess

    def _bend(self, strip: Strip, load: Load) -> tuple[float, float]:
        o = self.case.orientation
        angle, advance = strip.bend(load.load, o * load.tangential, o * load.moment)
        return angle, advance - (load.centre_gap if self.case.film_lifts_blade else 0.0)

    def _bed(self) -> None:
        """d = 0 at the line load; flank slopes and facet offset follow the angle found."""
        case = self.case
        angle = case.set_angle - 0.04
        for _ in range(60):
            gap = Gap(case, 0.0, angle)
            self._balance(lambda g, gap=gap: gap.at(g).load - case.line_load)
            load = gap.at(self._guess)
            self.strip = Strip(case, facet_offset(case, angle))
            new, advance = self._bend(self.strip, load)
            change, angle = abs(new - angle), new
            if change < 1e-12:
                break
        self.bedded_angle = angle
        self.bedded = self._point(0.0, angle, advance, load)

    @staticmethod
    def _point(tilt, angle, advance, load: Load) -> Point:
        return Point(tilt, angle, advance, load.load, load.tangential, load.film_on_lands, load.asperity_load,
                     load.outer_load, load.moment, load.min_gap)

    def equilibrium(self, tilt: float) -> Point:
        """The one gap at which the strip, under what film and asperities then do, has this very tilt."""
        target = self.bedded_angle - self.case.orientation * tilt
        gap = Gap(self.case, tilt, target)
        self._balance(lambda g: target - self._bend(self.strip, gap.at(g))[0])
        load = gap.at(self._guess)
        angle, advance = self._bend(self.strip, load)
        return self._point(tilt, angle, advance, load)

    def residual_at(self, tilt: float, load: float) -> float:
        """Elastic minus actual tilt at a held load: positive drives the tilt up."""
        target = self.bedded_angle - self.case.orientation * tilt
        gap = Gap(self.case, tilt, target)
        self._balance(lambda g: gap.at(g).load - load)
        return self.case.orientation * (target - self._bend(self.strip, gap.at(self._guess))[0])

    def _held(self, point: Point) -> float:
        return point.line_load if self.case.holding == "floating" else point.interference

    def follow(self, held: float, start: float = 0.0, step: float = 2e-5, limit: float = 0.2) -> Point:
        """Moves the tilt from `start` towards the elastic one until the held load or interference is met.

        At a given tilt a larger load bends the strip further: towards larger d doctoring, smaller d trailing.
        """
        o = self.case.orientation
        point = self.equilibrium(start)
        miss = held - self._held(point)
        if abs(miss) <= 1e-12 * abs(held):
            return point
        direction = o * (1.0 if miss > 0.0 else -1.0)
        tilt = start
        while abs(tilt) < limit:
            after = tilt + direction * step
            new = held - self._held(self.equilibrium(after))
            if new * miss <= 0.0:
                root = brentq(lambda d: held - self._held(self.equilibrium(d)), tilt, after, xtol=1e-13, rtol=1e-12)
                return self.equilibrium(root)
            tilt, miss, step = after, new, min(1.3 * step, 1e-3)
        raise ArithmeticError("the tilt left its range")

    def bedded_stable(self) -> bool:
        """Sign of the slope of the held quantity over the tilt at d = 0."""
        e = 2e-7
        slope = self._held(self.equilibrium(e)) - self._held(self.equilibrium(-e))
        return self.case.orientation * slope > 0.0


def solve_bedded(case: ReferenceCase | dict | None = None) -> Point:
    """The equilibrium at d = 0 and the set load."""
    return Nip(case).bedded


def step(case: ReferenceCase | dict | None, relative: float) -> Point:
    """From the bedded state, the held interference (fixed) or load (floating) times 1 + relative."""
    nip = Nip(case)
    return nip.follow((1.0 + relative) * nip._held(nip.bedded))


def floating_hysteresis(case: ReferenceCase | dict | None, span: float = 0.006, count: int = 121) -> dict:
    """Loads at which a floating blade, bedded at the case's load, jumps to riding and back to wiping.

    Folds of N(d): its local maximum on the way up and the local minimum that follows at larger opening.
    Empty where N(d) rises all along (one state).
    """
    nip = Nip(replace(as_case(case), holding="floating"))
    o = nip.case.orientation
    # cubic spacing: fine about d = 0 where the wiping fold sits
    tilts = span * np.linspace(-1.0, 1.0, count) ** 3
    loads = np.full(count, np.nan)
    for half in (range(count // 2, count), range(count // 2 - 1, -1, -1)):
        nip._guess = nip.bedded.min_gap
        for i in half:
            try:
                loads[i] = nip.equilibrium(tilts[i]).line_load
            except ArithmeticError:
                break
    rising = o * np.diff(loads) > 0.0
    known = np.isfinite(np.diff(loads))
    tops = [i for i in range(1, count - 1) if known[i] and known[i - 1] and rising[i - 1] and not rising[i]]
    floors = [i for i in range(1, count - 1) if known[i] and known[i - 1] and not rising[i - 1] and rising[i]]
    if o < 0.0:
        tops, floors = floors, tops                                     # N falls with d: extrema change roles

    def extremum(i: int, sign: float) -> tuple[float, float]:
        found = minimize_scalar(lambda d: -sign * nip.equilibrium(d).line_load, bounds=(tilts[i - 1], tilts[i + 1]),
                                method="bounded", options={"xatol": 1e-9})
        return float(found.x), float(sign * -found.fun)

    result = {"bedded_stable": nip.bedded_stable(), "tilt": tilts, "load": loads}
    if tops and floors:
        result["tilt_up"], result["jump_up"] = extremum(tops[0], 1.0)
        result["tilt_down"], result["jump_down"] = extremum(floors[0], -1.0)
    return result


def describe(point: Point) -> str:
    return (f"film {point.film_on_lands * 1e6:.5f} um  tilt {degrees(point.tilt):+.5f} deg  "
            f"angle {degrees(point.effective_angle):.5f} deg  interference {point.interference * 1e3:.6f} mm  "
            f"N {point.line_load:.4f}  T {point.tangential_load:.4f}  T/N {point.friction_coefficient:.5f}  "
            f"asperity share {point.asperity_share:.5f}")
