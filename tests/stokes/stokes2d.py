"""Steady creeping flow in two dimensions by finite elements (scikit-fem), without the library.

Taylor-Hood elements (biquadratic velocity, bilinear pressure) on one structured sheet of quadrilaterals, graded towards
the gap; sparse direct solve. Viscosity 1 and wall speed 1 everywhere: creeping flow scales, so only shapes matter. x
downstream, z away from the moving wall. Pressure positive in compression; forces are those of the liquid on the wall named.

What is checked of it: plane Couette and Poiseuille flow, Taylor's corner (1962), the slit in a thin plate (Hasimoto 1958).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import bmat, diags
from scipy.sparse.linalg import splu
from skfem import (
    Basis,
    BilinearForm,
    ElementQuad1,
    ElementQuad2,
    ElementVector,
    FacetBasis,
    Functional,
    LinearForm,
    MeshQuad,
    asm,
)
from skfem.helpers import ddot, div, dot, sym_grad
from skfem.mapping import MappingIsoparametric

Array = np.ndarray
Field = Callable[[Array, Array], Array]


def graded(first: float, ratio: float, length: float) -> Array:
    """Places from 0 to ``length``, the first step about ``first``, steps growing by about ``ratio``."""
    n = max(1, int(np.ceil(np.log(1.0 + length * (ratio - 1.0) / first) / np.log(ratio))))
    steps = ratio ** np.arange(n)
    return np.concatenate(([0.0], np.cumsum(steps))) * (length / steps.sum())


def graded_both(first: float, ratio: float, length: float) -> Array:
    """The same, fine at both ends."""
    half = graded(first, ratio, 0.5 * length)
    return np.concatenate((half, length - half[-2::-1]))


def sheet(points: Array, keep: Array | None = None) -> MeshQuad:
    """Quadrilaterals of a grid of points (ni, nj, 2), i along +x, j along +z; ``keep`` (ni-1, nj-1) drops some."""
    ni, nj, _ = points.shape
    number = np.arange(ni * nj).reshape(ni, nj)
    corners = np.stack((number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    cells = corners.reshape(4, -1) if keep is None else corners[:, keep]
    used, renumbered = np.unique(cells, return_inverse=True)
    return MeshQuad(points.reshape(-1, 2)[used].T.copy(), renumbered.reshape(cells.shape))


class _Mapping(MappingIsoparametric):
    """Small cells far from the origin: places inside a cell cannot be told apart to the 1e-12 asked for by default."""

    def invF(self, x, tind=None, newton_max_iters=50, newton_tol=1e-8):  # noqa: N802
        return super().invF(x, tind, newton_max_iters, newton_tol)


@BilinearForm
def _viscous(u, v, _):
    return 2.0 * ddot(sym_grad(u), sym_grad(v))


@BilinearForm
def _divergence(u, q, _):
    return -div(u) * q


@dataclass
class Flow:
    """A solved flow. Boundaries are named by sets of mesh facets."""

    mesh: MeshQuad
    velocity_basis: Basis
    pressure_basis: Basis
    velocity: Array
    pressure: Array
    reaction: Array  # of the velocity's unknowns

    @property
    def unknowns(self) -> int:
        return self.velocity.size + self.pressure.size

    def _on(self, facets: Array) -> FacetBasis:
        basis = self.velocity_basis
        return FacetBasis(self.mesh, basis.elem, mapping=basis.mapping, facets=facets, intorder=12)

    def flux(self, facets: Array) -> float:
        """Volume flow out through a boundary."""
        basis = self._on(facets)
        return float(Functional(lambda w: dot(w["u"], w.n)).assemble(basis, u=basis.interpolate(self.velocity)))

    def force(self, facets: Array) -> Array:
        """(x, z) force of the liquid on a whole wall, from the residual of the momentum balance (exact in the discrete sense)."""
        basis = self.velocity_basis
        return np.array(
            [
                -self.reaction[basis.get_dofs(facets).all(["u^1", "u^1"])].sum(),
                -self.reaction[basis.get_dofs(facets).all(["u^2", "u^2"])].sum(),
            ]
        )

    def pressure_load(self, facets: Array, where: Field | None = None) -> float:
        """Integral of the pressure along a boundary, weighted by ``where(x, z)``."""
        return self._on_wall(facets, lambda w: w["p"] * (1.0 if where is None else where(w.x[0], w.x[1])))

    def stress_load(self, facets: Array) -> float:
        """z-force of the liquid on a boundary by integrating the stress; converges more slowly than `force`."""

        def integrand(w):
            strain = sym_grad(w["u"])
            return w["p"] * w.n[1] - 2.0 * (strain[1, 0] * w.n[0] + strain[1, 1] * w.n[1])

        return self._on_wall(facets, integrand)

    def _on_wall(self, facets: Array, integrand: Callable) -> float:
        v = self._on(facets)
        p = v.with_element(self.pressure_basis.elem)
        return float(Functional(integrand).assemble(v, u=v.interpolate(self.velocity), p=p.interpolate(self.pressure)))

    def wall_pressure(self, facets: Array) -> tuple[Array, Array]:
        """Places (2, n) of the mesh nodes of a boundary and the pressure there."""
        nodes = np.unique(self.mesh.facets[:, facets])
        return self.mesh.p[:, nodes], self.pressure[self.pressure_basis.nodal_dofs[0, nodes]]


def solve(
    mesh: MeshQuad,
    fixed: list[tuple[Array, str, float | Field]],
    tractions: list[tuple[Array, Callable[[Array, Array], tuple[Array, Array, Array]]]] = (),
) -> Flow:
    """``fixed``: (facets, "x" or "z", velocity). ``tractions``: (facets, stress(x, z) -> (s_xx, s_xz, s_zz)), tension positive.
    Boundaries named by neither, and components not fixed, carry no traction."""
    velocity = Basis(mesh, ElementVector(ElementQuad2()), mapping=_Mapping(mesh, mesh.elem(), mesh.bndelem), intorder=5)
    pressure = velocity.with_element(ElementQuad1())
    A, B = asm(_viscous, velocity), asm(_divergence, velocity, pressure)
    load = np.zeros(velocity.N)
    for facets, stress in tractions:

        @LinearForm
        def pull(v, w, stress=stress):
            s_xx, s_xz, s_zz = stress(w.x[0], w.x[1])
            return (s_xx * w.n[0] + s_xz * w.n[1]) * v[0] + (s_xz * w.n[0] + s_zz * w.n[1]) * v[1]

        load += asm(pull, FacetBasis(mesh, velocity.elem, mapping=velocity.mapping, facets=facets, intorder=9))
    u = np.zeros(velocity.N)
    held = np.zeros(velocity.N, dtype=bool)
    for facets, component, value in fixed:
        name = {"x": "u^1", "z": "u^2"}[component]
        dofs = velocity.get_dofs(facets).all([name, name])
        held[dofs] = True
        u[dofs] = value(*velocity.doflocs[:, dofs]) if callable(value) else value
    free = np.flatnonzero(~held)
    n = free.size
    B_free = B[:, free]
    K = bmat([[A[free][:, free], B_free.T], [B_free, None]], format="csc")
    right = np.concatenate((load[free] - A[free] @ u, -(B @ u)))
    # A little compressibility lets the factorisation do without pivoting (10 times faster); refinement takes it out again.
    mass = B_free.multiply(B_free) @ (1.0 / A.diagonal()[free])
    factors = splu(
        (K - diags(np.concatenate((np.zeros(n), 1e-11 * mass)))).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        options={"SymmetricMode": True},
        diag_pivot_thresh=0.0,
    )
    solution = factors.solve(right)
    for _ in range(20):
        step = factors.solve(right - K @ solution)
        solution += step
        if np.abs(step).max() < 1e-9 * np.abs(solution).max():
            break
    else:
        raise RuntimeError(f"refinement does not converge: last step {np.abs(step).max():.1e}")
    u[free], p = solution[:n], solution[n:]
    return Flow(mesh, velocity, pressure, u, p, A @ u + B.T @ p - load)
