"""How the window changes with frequency: Helmholtz's equation on the meshes of window_static.

Printed for each wave number (times the bore radius): the inertance over density from the splitting edge on, and the
coefficient of (k a)^2 by which it exceeds the static one.
"""

from __future__ import annotations

import json
import sys

import numpy as np
from meshing import curved_mesh
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm
from skfem.helpers import dot, grad
from window_static import SOURCE, SPHERE, Case, build


def inertance(case: Case, numbers: list[float], fineness: float = 2.0) -> list[complex]:
    """Return the inertance over density at each wave number (bore radius 1), from x = 0 on."""
    build(case, fineness)
    mesh = curved_mesh()
    element = ElementTetP2()
    basis = Basis(mesh, element, intorder=4)
    centre = np.array([-case.length / 2, 0.0, 0.0])
    boundary = mesh.boundary_facets()
    mid = mesh.p[:, mesh.facets].mean(axis=1)
    sphere = boundary[np.abs(np.linalg.norm(mid - centre[:, None], axis=0)[boundary] - SPHERE) < 0.06 * SPHERE]
    inside = np.linalg.norm(mid[1:], axis=0) < 1.0
    source = boundary[(np.abs(mid[0, boundary] - SOURCE) < 1e-6) & inside[boundary]]
    K = BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(basis)
    M = BilinearForm(lambda u, v, _: u * v).assemble(basis)
    S = BilinearForm(lambda u, v, _: u * v).assemble(FacetBasis(mesh, element, facets=sphere, intorder=4))
    load = LinearForm(lambda v, _: v).assemble(FacetBasis(mesh, element, facets=source, intorder=4))
    load = load / load.sum()
    found = []
    for k in numbers:
        A = (K - k**2 * M + (1 / SPHERE + 1j * k) * S).tocsc()
        p = load @ splu(A, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(
            (0.5 * load).astype(complex)
        )
        # p is pressure over j w rho; along the bore dp/dx = u / S and du/dx = -k^2 S p, u toward the window
        cos, sin, area = np.cos(k * SOURCE), np.sin(k * SOURCE), np.pi
        found.append(complex((p * cos - sin / (area * k)) / (cos + k * area * p * sin)))
    return found


if __name__ == "__main__":
    numbers = [0.001, 0.125, 0.25]
    for line in sys.stdin:
        case = Case(**{k: v for k, v in json.loads(line).items() if k in Case.__dataclass_fields__})
        try:
            values = inertance(case, numbers)
        except Exception as failed:  # a mesh that fails is reported and left out
            print(json.dumps({**case.__dict__, "failed": str(failed)}), flush=True)
            continue
        rise = [(v.real - values[0].real) / k**2 for v, k in zip(values[1:], numbers[1:], strict=True)]
        print(
            json.dumps({**case.__dict__, "ka": numbers, "inertance": [[v.real, v.imag] for v in values], "rise": rise}),
            flush=True,
        )
