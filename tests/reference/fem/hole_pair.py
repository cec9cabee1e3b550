"""Two like holes in one bore, in phase: what the flow of one adds to the pressure at the other, through the air
outside and the bore.

The plane half way between them is a plane of symmetry, so one hole beside a wall stands for both. The mutual
inertance is what it takes above the hole alone (hole_static, same mesh sizes). All lengths in bore radii.
"""

from __future__ import annotations

import json
import math
import sys

import gmsh
import hole_static
import numpy as np
from meshing import curved_mesh, size_field, start
from scipy.sparse.linalg import LinearOperator, cg
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm
from skfem.helpers import dot, grad

SPHERE = 14.0


def pair(radius: float, wall: float, apart: float, flat: bool, fineness: float) -> float:
    """Return the inertance over density seen from one arm, from the middle of the hole on."""
    start("pair")
    occ = gmsh.model.occ
    R, b, h = 1.0 + wall, radius, 0.5 * apart
    far = h + hole_static.SOURCE
    if flat:
        body = occ.addBox(-2 * SPHERE, -R, -R, 4 * SPHERE, 2 * R, 2 * R)
    else:
        body = occ.addCylinder(-2 * SPHERE, 0, 0, 4 * SPHERE, 0, 0, R)
    bore = occ.addCylinder(0, 0, 0, far, 0, 0, 1.0)
    chimney = occ.addCylinder(h, 0, 0, 0, 0, R, b)
    sphere = occ.addSphere(0, 0, 0, SPHERE)
    outside, _ = occ.cut([(3, sphere)], [(3, body)])
    air, _ = occ.fuse([(3, bore)], [(3, chimney), *outside])
    quarter = occ.addBox(0, 0, -3 * SPHERE, 3 * SPHERE, 3 * SPHERE, 6 * SPHERE)
    occ.intersect(air, [(3, quarter)])
    occ.synchronize()

    def curves(x0: float, x1: float, y1: float, z0: float, z1: float) -> list[int]:
        e = 0.01
        return [t for _, t in gmsh.model.getEntitiesInBoundingBox(x0 - e, -e, z0 - e, x1 + e, y1 + e, z1 + e, dim=1)]

    fine = min(1.0, b / 0.5) * hole_static.FINE * fineness
    rules = [
        (curves(h - b, h + b, b, 0.2, R), fine, fine + 3.2, 0.0, 8.0),
        (curves(0, far, 1, -1, 1), 0.6, 4.0, 0.3, 8.0),
    ]
    rules.append((curves(0, SPHERE, R, -R, R), 1.2, 4.0, 0.5, 8.0))
    size_field(rules, 3.5)
    mesh = curved_mesh()
    basis = Basis(mesh, ElementTetP2(), intorder=4)
    boundary = mesh.boundary_facets()
    mid = mesh.p[:, mesh.facets].mean(axis=1)
    outer = boundary[np.abs(np.linalg.norm(mid, axis=0)[boundary] - SPHERE) < 0.06 * SPHERE]
    inside = np.linalg.norm(mid[1:], axis=0) < 1.0
    source = boundary[(np.abs(mid[0, boundary] - far) < 1e-6) & inside[boundary]]
    A = BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(basis)
    A = A + BilinearForm(lambda u, v, _: u * v / SPHERE).assemble(FacetBasis(mesh, ElementTetP2(), facets=outer))
    load = LinearForm(lambda v, _: v).assemble(FacetBasis(mesh, ElementTetP2(), facets=source, intorder=4))
    load = load / load.sum()
    A = A.tocsr()
    diagonal = A.diagonal()
    x, info = cg(A, 0.5 * load, rtol=1e-10, maxiter=6000, M=LinearOperator(A.shape, matvec=lambda r: r / diagonal))
    if info:
        raise RuntimeError("no convergence")
    return float(load @ x - hole_static.SOURCE / math.pi)


if __name__ == "__main__":
    fineness = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    for radius, wall, flat in ((0.5, 0.63, False), (0.35, 0.4, False), (0.5, 0.63, True)):
        alone = hole_static.solve(hole_static.Case(radius, wall, flat=flat), fineness)
        one = alone["symmetric"] + alone["antisymmetric"] / 4
        for apart in (2.0, 3.0, 4.5, 7.0):
            mutual = pair(radius, wall, apart, flat, fineness) - one
            print(
                json.dumps({"radius": radius, "wall": wall, "flat": flat, "apart": apart, "mutual": mutual}), flush=True
            )
