"""Writes plane_flow.csv: plane Couette-Poiseuille flow of thinning fluids with SciPy. Run: python plane_flow.py

Each case is solved twice: quadrature of the inverted flow curve (root finding for the stress half-way, adaptive
quadrature), and the momentum equation as an initial-value problem through the gap (DOP853) started from the stress
found. They must agree.
"""

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

COLUMNS = ["law", "a", "b", "c", "d", "e", "gap", "speed", "pressure_gradient", "flow", "moving_wall_stress"]


def viscosity(law, p, rate):
    if law == "power_law":
        return p[0] * rate ** (p[1] - 1.0)
    if law == "cross":
        return p[1] + (p[0] - p[1]) / (1.0 + (p[2] * rate) ** p[3])
    return p[1] + (p[0] - p[1]) * (1.0 + (p[2] * rate) ** p[4]) ** ((p[3] - 1.0) / p[4])


def shear_rate(law, p, stress):
    """Inverse of the flow curve, odd."""
    size = abs(stress)
    if size < 1e-14:
        return 0.0
    if law == "power_law":
        return np.copysign((size / p[0]) ** (1.0 / p[1]), stress)
    low, high = np.log(size / p[0]), np.log(size / p[1])  # the viscosity lies between the two plateaus
    root = brentq(
        lambda x: x + np.log(viscosity(law, p, np.exp(x))) - np.log(size),
        low - 1e-9,
        high + 1e-9,
        xtol=1e-15,
        rtol=1e-15,
    )
    return np.copysign(np.exp(root), stress)


def solve(law, p, gap, speed, gradient):
    rise = -gap * gradient

    def mean(middle, power):
        def integrand(w):
            return w**power * shear_rate(law, p, middle + rise * w)

        zero = -middle / rise
        cuts = [-0.5, zero, 0.5] if abs(zero) < 0.5 else [-0.5, 0.5]
        return sum(quad(integrand, a, b, epsabs=0.0, epsrel=1e-12, limit=400)[0] for a, b in pairwise(cuts))

    nominal = speed / gap
    top = nominal * viscosity(law, p, nominal)
    middle = brentq(lambda t: mean(t, 0) / nominal - 1.0, 0.0, 1.0001 * top, xtol=1e-13 * top, rtol=1e-13)
    flow = 0.5 * speed * gap + gap**2 * mean(middle, 1)

    def march(w, y):  # velocity over U, flow over U h
        return [-shear_rate(law, p, middle + rise * w) / nominal, y[0]]

    end = solve_ivp(march, (-0.5, 0.5), [1.0, 0.0], method="DOP853", rtol=1e-11, atol=1e-13, max_step=0.01).y[:, -1]
    assert abs(end[0]) < 2e-9, end
    assert abs(end[1] * speed * gap / flow - 1.0) < 2e-8, (end, flow)
    return flow, middle - 0.5 * rise


def main():
    dice = np.random.default_rng(1987)
    rows = []
    for i in range(30):
        law = ["power_law", "cross", "carreau_yasuda"][i % 3]
        if law == "power_law":
            p = [10 ** dice.uniform(-1, 1), dice.uniform(0.4, 1.0)]
        else:
            low = 10 ** dice.uniform(-2, -0.5)
            p = [low * 50 ** dice.uniform(), low, 10 ** dice.uniform(-6, -2)]
            p += [dice.uniform(0.1, 0.7)] if law == "cross" else [dice.uniform(0.3, 0.9), dice.uniform(0.7, 2.5)]
        p = [float(f"{v:.6g}") for v in p]
        gap = float(f"{10 ** dice.uniform(-6.3, -4):.6g}")
        speed = float(f"{10 ** dice.uniform(-1, 1):.6g}")
        # pressure flow from a tenth of to ten times the Newtonian flow of that nominal viscosity
        scale = 6.0 * viscosity(law, p, speed / gap) * speed / gap**2
        gradient = float(f"{dice.choice([-1, 1]) * scale * 10 ** dice.uniform(-1, 1):.6g}")
        flow, stress = solve(law, p, gap, speed, gradient)
        rows.append([law, *p, *[0.0] * (5 - len(p)), gap, speed, gradient, f"{flow:.12g}", f"{stress:.12g}"])
    with (Path(__file__).parent / "plane_flow.csv").open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(rows)


if __name__ == "__main__":
    main()
