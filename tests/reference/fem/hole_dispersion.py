"""How the shunt of one open hole changes with frequency: Helmholtz's equation on the meshes of hole_static.

A sphere with the first-order absorbing condition ends the air; the bore's plane waves are taken off as in the
lossless chain. Printed for each wave number (times the bore radius): the shunt's inertance over density, complex
where sound is radiated.
"""

from __future__ import annotations

import json
import sys

import numpy as np
from hole_static import SOURCE, SPHERE, Case, build
from meshing import curved_mesh
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm
from skfem.helpers import dot, grad


def shunt(case: Case, numbers: list[float], fineness: float = 1.5) -> list[complex]:
    """Return the symmetric inertance over density at each wave number (bore radius 1), hole seen from its centre."""
    build(case, fineness)
    mesh = curved_mesh()
    element = ElementTetP2()
    basis = Basis(mesh, element, intorder=4)
    boundary = mesh.boundary_facets()
    mid = mesh.p[:, mesh.facets].mean(axis=1)
    sphere = boundary[np.abs(np.linalg.norm(mid, axis=0)[boundary] - SPHERE) < 0.06 * SPHERE]
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
            (0.25 * load).astype(complex)
        )
        # p is pressure over j w rho; along the arm dp/dx = u / S and du/dx = -k^2 S p, u toward the hole
        cos, sin, area = np.cos(k * SOURCE), np.sin(k * SOURCE), np.pi
        at_hole = p * cos - 0.5 / (area * k) * sin
        flow = 0.5 * cos + k * area * p * sin
        found.append(complex(at_hole / (2.0 * flow)))
    return found


if __name__ == "__main__":
    numbers = [0.001, 0.125, 0.25]
    for line in sys.stdin:
        given = json.loads(line)
        case = Case(**{name: given[name] for name in Case.__dataclass_fields__ if name in given})
        try:
            values = shunt(case, numbers)
        except Exception as failed:  # a mesh that fails is reported and left out
            print(json.dumps({**case.__dict__, "failed": str(failed)}), flush=True)
            continue
        print(json.dumps({**case.__dict__, "ka": numbers, "shunt": [[v.real, v.imag] for v in values]}), flush=True)
