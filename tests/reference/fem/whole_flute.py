"""Resonances of a whole flute without losses: Helmholtz's equation in the flute and in a sphere of air around it.

Reads one JSON document {"instrument", "fingerings", "near": [[[Hz, Hz], ...], ...]} with complex starts as pairs and
prints the complex frequencies. c = 343.2 m/s. Lengths in mm; y = 0 is a plane of symmetry; 30 mm of body stand beyond
the plug's face.
"""

from __future__ import annotations

import json
import math
import sys
from itertools import pairwise

import gmsh
import numpy as np
from meshing import curved_mesh, size_field, start
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementTetP2, FacetBasis, LinearForm
from skfem.helpers import dot, grad

C = 343200.0  # mm/s
MARGIN = 110.0
LID = 0.05


def build(flute: dict, fingering: str) -> tuple[float, float]:
    """Make half of the air; return the sphere's middle and radius."""
    start("flute")
    occ = gmsh.model.occ
    bore, wall = flute["bore"], flute["body"]["wall"]
    flat = flute["body"]["outside"] == "flat"
    window = flute["window"]
    W, B = window["length"], window["width"]
    plug, foot = bore[0][0], bore[-1][0]
    left = plug - 30.0
    middle, radius = 0.5 * (left + foot), 0.5 * (foot - left) + MARGIN
    sphere = occ.addSphere(middle, 0, 0, radius)

    def r_at(x: float) -> float:
        return 0.5 * float(np.interp(x, [p[0] for p in bore], [p[1] for p in bore]))

    pieces = list(pairwise(bore))
    if flat:
        R = r_at(0) + wall
        body = [(3, occ.addBox(left, -R, -R, foot - left, 2 * R, 2 * R))]
    else:
        body = [(3, _frustum(left, plug, r_at(plug) + wall, r_at(plug) + wall))]
        body += [(3, _frustum(x1, x2, d1 / 2 + wall, d2 / 2 + wall)) for (x1, d1), (x2, d2) in pieces]
    outside, _ = occ.cut([(3, sphere)], body)
    inside = [(3, _frustum(x1, x2, d1 / 2, d2 / 2)) for (x1, d1), (x2, d2) in pieces]
    a0 = r_at(0)
    R = a0 + wall
    top = R if flat else R + 0.4
    inside.append((3, occ.addBox(-W, -B / 2, 0, W, B, top)))
    angle = window.get("edge_angle", 30)
    ramp = 0.0
    if angle < 89.9:
        slope = 1.0 / math.tan(math.radians(angle))
        high = top - a0
        ramp = high * slope
        corners = [(-0.5 * W, a0), (0.0, a0), (ramp, a0 + high), (-0.5 * W, a0 + high)]
        points = [occ.addPoint(x, -B / 2, z) for x, z in corners]
        face = occ.addPlaneSurface([occ.addCurveLoop([occ.addLine(points[i], points[(i + 1) % 4]) for i in range(4)])])
        inside += [e for e in occ.extrude([(2, face)], 0, B, 0) if e[0] == 3]
    for hole, state in zip(flute.get("holes", []), fingering, strict=True):
        x, b, Rh = hole["x"], hole["diameter"] / 2, r_at(hole["x"]) + wall
        if state == "o":
            inside.append((3, occ.addCylinder(x, 0, 0, 0, 0, Rh if flat else Rh + 0.4, b)))
            continue
        # a finger, thin as paper, that follows the outside
        chimney = (3, occ.addCylinder(x, 0, 0, 0, 0, Rh - LID, b))
        if not flat:
            within = (3, occ.addCylinder(x - 2 * b, 0, 0, 4 * b, 0, 0, Rh - LID))
            (chimney,), _ = occ.intersect([chimney], [within])
        inside.append(chimney)
    air, _ = occ.fuse([inside[0]], [*inside[1:], *outside])
    half = occ.addBox(-3000, 0, -3000, 6000, 3000, 6000)
    occ.intersect(air, [(3, half)])
    occ.synchronize()

    def curves(x0: float, x1: float, y1: float, z0: float, z1: float) -> list[int]:
        e = 0.05
        return [t for _, t in gmsh.model.getEntitiesInBoundingBox(x0 - e, -e, z0 - e, x1 + e, y1 + e, z1 + e, dim=1)]

    rules = [(curves(-W, max(0.0, ramp), B / 2, 0.3 * a0, top + 0.1), 0.5, 0.5 + 0.45 * 60, 0.0, 60.0)]
    for hole in flute.get("holes", []):
        b = hole["diameter"] / 2
        tags = curves(hole["x"] - b, hole["x"] + b, b, 0.2 * a0, R + 0.5)
        rules.append((tags, 0.6, 0.6 + 0.45 * 60, 0.0, 60.0))
    rules.append((curves(foot, foot, R * 1.5, -R * 1.5, R * 1.5), 0.8, 0.8 + 0.45 * 60, 0.0, 60.0))
    rules.append((curves(left, foot, R * 1.5, -R * 1.5, R * 1.5), 6.0, 28.0, 3.0, 80.0))
    size_field(rules, 25.0)
    return middle, radius


def _frustum(x1: float, x2: float, r1: float, r2: float) -> int:
    if r1 == r2:
        return int(gmsh.model.occ.addCylinder(x1, 0, 0, x2 - x1, 0, 0, r1))
    return int(gmsh.model.occ.addCone(x1, 0, 0, x2 - x1, 0, 0, r1, r2))


def resonances(flute: dict, fingering: str, near: list[complex]) -> list[complex]:
    """Return complex frequencies [Hz] next to ``near``."""
    middle, radius = build(flute, fingering)
    mesh = curved_mesh()
    basis = Basis(mesh, ElementTetP2(), intorder=4)
    boundary = mesh.boundary_facets()
    mid = mesh.p[:, mesh.facets].mean(axis=1) - np.array([[middle], [0], [0]])
    sphere = boundary[np.abs(np.linalg.norm(mid, axis=0)[boundary] - radius) < 0.05 * radius]
    K = BilinearForm(lambda u, v, _: dot(grad(u), grad(v))).assemble(basis)
    M = BilinearForm(lambda u, v, _: u * v).assemble(basis)
    S = BilinearForm(lambda u, v, _: u * v).assemble(FacetBasis(mesh, ElementTetP2(), facets=sphere, intorder=4))
    x0 = 0.31 * flute["bore"][-1][0]
    load = LinearForm(lambda v, w: v * np.exp(-((w.x[0] - x0) ** 2 + w.x[1] ** 2 + w.x[2] ** 2) / 60.0)).assemble(basis)
    print(len(load), "unknowns", file=sys.stderr, flush=True)

    def g(f: complex) -> complex:
        k = 2 * np.pi * f / C
        A = (K - k**2 * M + (1 / radius + 1j * k) * S).tocsc()
        x = splu(A, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(load.astype(complex))
        return complex(1.0 / (load @ x))

    found = []
    for f in near:
        before, g_before, f = f, g(f), f * 1.0005
        for _ in range(4):
            g_here = g(f)
            step = g_here * (f - before) / (g_here - g_before)
            before, g_before, f = f, g_here, f - step
            if abs(step) < 2e-5 * abs(f):
                break
        found.append(f)
    return found


if __name__ == "__main__":
    given = json.load(sys.stdin)
    for fingering, near in zip(given["fingerings"], given["near"], strict=True):
        values = resonances(given["instrument"], fingering, [complex(*pair) for pair in near])
        print(json.dumps({"fingering": fingering, "found": [[v.real, v.imag] for v in values]}), flush=True)
