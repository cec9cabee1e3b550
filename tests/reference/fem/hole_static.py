"""One finger hole alone in a long straight bore: Laplace's equation, for its shunt and its series inertance.

Symmetric: half of a unit flow comes up the bore from either side and leaves through the hole. Antisymmetric: a unit
flow passes by. A quarter of the air is enough: x = 0 and y = 0 are planes of symmetry. All lengths in bore radii.
The shunt is that of the circuit (half series, shunt, half series), so that symmetric = shunt + series / 4.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import dataclass

import gmsh
import numpy as np
from meshing import curved_mesh, size_field, start
from scipy.sparse.linalg import LinearOperator, cg
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, Functional, LinearForm, condense
from skfem.helpers import dot, grad

SPHERE = 12.0
SOURCE = 3.5
FINE = 0.03


@dataclass(frozen=True)
class Case:
    """One hole, in bore radii: hole radius, wall, widening of the radius at the bore."""

    radius: float
    wall: float
    undercut: float = 0.0
    flat: bool = False
    is_open: bool = True


def build(case: Case, fineness: float) -> None:
    """Make the gmsh geometry: a quarter of the air."""
    start("hole")
    occ = gmsh.model.occ
    R, b = 1.0 + case.wall, case.radius
    if case.flat:
        body = occ.addBox(-2 * SPHERE, -R, -R, 4 * SPHERE, 2 * R, 2 * R)
    else:
        body = occ.addCylinder(-2 * SPHERE, 0, 0, 4 * SPHERE, 0, 0, R)
    bore = occ.addCylinder(-SOURCE, 0, 0, 2 * SOURCE, 0, 0, 1.0)
    tools = []
    if case.undercut:
        tools.append((3, occ.addCone(0, 0, 1.0, 0, 0, case.wall, b + case.undercut, b)))
        tools.append((3, occ.addCylinder(0, 0, 0, 0, 0, 1.0, b + case.undercut)))
        tools.append((3, occ.addCylinder(0, 0, 1.0, 0, 0, case.wall, b)))
    else:
        tools.append((3, occ.addCylinder(0, 0, 0, 0, 0, R, b)))
    if case.is_open:
        sphere = occ.addSphere(0, 0, 0, SPHERE)
        outside, _ = occ.cut([(3, sphere)], [(3, body)])
        air, _ = occ.fuse([(3, bore)], [*tools, *outside])
    else:
        inside, _ = occ.intersect(tools, [(3, body)])
        air, _ = occ.fuse([(3, bore)], inside)
    quarter = occ.addBox(0, 0, -3 * SPHERE, 3 * SPHERE, 3 * SPHERE, 6 * SPHERE)
    occ.intersect(air, [(3, quarter)])
    occ.synchronize()

    def curves(x0: float, x1: float, y1: float, z0: float, z1: float) -> list[int]:
        e = 0.01
        return [t for _, t in gmsh.model.getEntitiesInBoundingBox(x0 - e, -e, z0 - e, x1 + e, y1 + e, z1 + e, dim=1)]

    wide = b + case.undercut
    near = curves(0, wide, wide, 0.2, R)
    f = fineness
    scale = min(1.0, b / 0.5)
    rules = [(near, scale * FINE * f, scale * FINE * f + 0.4 * 8.0, 0.0, 8.0)]
    rules.append((curves(0, SOURCE, 1, -1, 1), 0.6, 4.0, 0.3, 8.0))
    if case.is_open:
        rules.append((curves(0, SPHERE, R, -R, R), 1.2, 4.0, 0.5, 8.0))
    size_field(rules, 3.5)


def solve(case: Case, fineness: float) -> dict[str, float]:
    """Return symmetric and antisymmetric inertance over density, and the wall-loss sum of either."""
    build(case, fineness)
    mesh = curved_mesh()
    element = ElementTetP2()
    basis = Basis(mesh, element, intorder=4)
    boundary = mesh.boundary_facets()
    mid = mesh.p[:, mesh.facets].mean(axis=1)
    distance = np.linalg.norm(mid, axis=0)
    sphere = boundary[np.abs(distance[boundary] - SPHERE) < 0.06 * SPHERE] if case.is_open else np.array([], dtype=int)
    inside = np.linalg.norm(mid[1:], axis=0) < 1.0
    source = boundary[(np.abs(mid[0, boundary] - SOURCE) < 1e-6) & inside[boundary]]
    middle = boundary[np.abs(mid[0, boundary]) < 1e-9]
    plane = boundary[np.abs(mid[1, boundary]) < 1e-9]
    walls = np.setdiff1d(boundary, np.concatenate([sphere, source, plane, middle]))
    A = BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(basis)
    if case.is_open:
        far = FacetBasis(mesh, element, facets=sphere, intorder=4)
        A = A + BilinearForm(lambda u, v, _: u * v / SPHERE).assemble(far)
    load = LinearForm(lambda v, _: v).assemble(FacetBasis(mesh, element, facets=source, intorder=4))
    load = load / load.sum()
    wall = FacetBasis(mesh, element, facets=walls, intorder=4)
    found = {}
    rows = (("symmetric", 0.25),) if case.is_open else ()
    for name, flow in (*rows, ("antisymmetric", 0.5)):
        fixed = basis.get_dofs(middle).flatten() if name == "antisymmetric" else np.array([], dtype=int)
        b = load * flow
        if len(fixed):
            K, rhs, phi, free = condense(A, b, D=fixed)
        else:
            K, rhs, phi, free = A, b, np.zeros(len(b)), slice(None)
        K = K.tocsr()
        diagonal = K.diagonal()
        M = LinearOperator(K.shape, matvec=lambda r, d=diagonal: r / d)
        x, info = cg(K, rhs, rtol=1e-9, maxiter=6000, M=M)
        if info:
            raise RuntimeError("no convergence")
        phi[free] = x
        pressure = load @ phi
        lost = Functional(lambda v: dot(grad(v["phi"]), grad(v["phi"]))).assemble(wall, phi=wall.interpolate(phi))
        if name == "symmetric":  # half a unit flow in each arm
            found[name] = pressure - 0.5 * SOURCE / math.pi
            found["loss_symmetric"] = 4 * lost - 2 * (2 * math.pi * SOURCE) * 0.25 / math.pi**2
        else:
            found[name] = 2 * (pressure - SOURCE / math.pi)
            found["loss_antisymmetric"] = 4 * lost - 2 * (2 * math.pi * SOURCE) / math.pi**2
    return found


def extrapolated(case: Case) -> dict[str, float]:
    """Return the limit of ever finer edges, as for the window; losses as they are on the finer mesh."""
    one, two = solve(case, 1.5), solve(case, 0.75)
    a, b = 1.5 ** (4 / 3), 0.75 ** (4 / 3)
    limit = {}
    for name, value in two.items():
        limit[name] = value if "loss" in name else (value * a - one[name] * b) / (a - b)
    return limit


if __name__ == "__main__":
    for line in sys.stdin:
        given = json.loads(line)
        case = Case(**{name: given[name] for name in Case.__dataclass_fields__ if name in given})
        try:
            print(json.dumps({**case.__dict__, **extrapolated(case)}), flush=True)
        except Exception as failed:  # a mesh that fails is reported and left out
            print(json.dumps({**case.__dict__, "failed": str(failed)}), flush=True)
