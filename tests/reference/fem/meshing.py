"""From a gmsh model to a scikit-fem mesh of curved ten-node tetrahedra."""

from __future__ import annotations

import gmsh
import numpy as np
from skfem import MeshTet, MeshTet2
from skfem.mapping import MappingIsoparametric

# Points on a face are found by Newton's method to an absolute 1e-12, which rounding forbids in a thin element.
MappingIsoparametric.invF.__defaults__ = (None, 50, 1e-8)


def start(name: str) -> None:
    """Begin a silent gmsh model."""
    if not gmsh.isInitialized():
        gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    gmsh.option.setNumber("General.NumThreads", 1)
    gmsh.option.setNumber("Mesh.Algorithm3D", 1)
    gmsh.option.setNumber("Mesh.MeshSizeExtendFromBoundary", 0)
    gmsh.option.setNumber("Mesh.MeshSizeFromPoints", 0)
    gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 0)
    gmsh.clear()
    gmsh.model.add(name)


def size_field(rules: list[tuple[list[int], float, float, float, float]], most: float) -> None:
    """Set mesh sizes: near the curves of a rule (tags, fine, coarse, near, far) from fine to coarse."""
    tags = []
    for curves, fine, coarse, near, far in rules:
        d = gmsh.model.mesh.field.add("Distance")
        gmsh.model.mesh.field.setNumbers(d, "CurvesList", curves)
        gmsh.model.mesh.field.setNumber(d, "Sampling", 60)
        t = gmsh.model.mesh.field.add("Threshold")
        for key, value in (("InField", d), ("SizeMin", fine), ("SizeMax", coarse), ("DistMin", near), ("DistMax", far)):
            gmsh.model.mesh.field.setNumber(t, key, value)
        tags.append(t)
    constant = gmsh.model.mesh.field.add("MathEval")
    gmsh.model.mesh.field.setString(constant, "F", str(most))
    smallest = gmsh.model.mesh.field.add("Min")
    gmsh.model.mesh.field.setNumbers(smallest, "FieldsList", [*tags, constant])
    gmsh.model.mesh.field.setAsBackgroundMesh(smallest)


def curved_mesh() -> MeshTet2:
    """Mesh the model and return it; edges on curved surfaces carry their midpoint on the surface."""
    gmsh.model.mesh.generate(3)
    gmsh.model.mesh.setOrder(2)
    gmsh.model.mesh.optimize("HighOrder")
    tags, coordinates, _ = gmsh.model.mesh.getNodes()
    where = np.zeros(int(tags.max()) + 1, dtype=int)
    where[tags] = np.arange(len(tags))
    points = coordinates.reshape(-1, 3).T
    _, _, nodes = gmsh.model.mesh.getElements(3)
    tets = where[nodes[0].reshape(-1, 10).T.astype(int)]
    used, inverse = np.unique(tets[:4], return_inverse=True)
    linear = MeshTet(np.ascontiguousarray(points[:, used]), inverse.reshape(4, -1))
    mesh = MeshTet2.from_mesh(linear)
    # gmsh numbers the edges of a tetrahedron 01 12 02 03 23 13
    number = np.full(points.shape[1], -1)
    number[used] = np.arange(len(used))
    middle = {}
    for row, (i, j) in enumerate(((0, 1), (1, 2), (0, 2), (0, 3), (2, 3), (1, 3))):
        ends = np.sort(number[tets[[i, j]]], axis=0)
        for a, b, m in zip(ends[0], ends[1], tets[4 + row], strict=True):
            middle[a, b] = m
    doflocs = mesh.doflocs.copy()
    edges = np.sort(linear.edges, axis=0)
    doflocs[:, linear.p.shape[1] :] = points[:, [middle[a, b] for a, b in edges.T]]
    _straighten(linear, doflocs)
    return MeshTet2(doflocs, linear.t)


def _straighten(linear: MeshTet, doflocs: np.ndarray) -> None:
    """Put the midpoints of elements that fold over, or nearly, back on the straight edge."""
    vertices = linear.p.shape[1]
    ends = linear.edges
    straight = linear.p[:, ends].mean(axis=1)
    x0 = linear.p[:, linear.t]
    volume = np.linalg.det(np.moveaxis(x0[:, 1:] - x0[:, :1], 2, 0))
    pairs = ((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))  # order of t2e
    barycentric = [np.eye(4)[i] for i in range(4)] + [0.5 * (np.eye(4)[i] + np.eye(4)[j]) for i, j in pairs]
    dl = np.array([[-1.0, -1, -1], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    for _ in range(20):
        middles = doflocs[:, vertices + linear.t2e]
        worst = np.full(linear.t.shape[1], np.inf)
        for L in barycentric:
            jacobian = np.zeros((linear.t.shape[1], 3, 3))
            for i in range(4):
                jacobian += np.einsum("ct,d->tcd", x0[:, i], (4 * L[i] - 1) * dl[i])
            for row, (i, j) in enumerate(pairs):
                jacobian += np.einsum("ct,d->tcd", middles[:, row], 4 * (L[i] * dl[j] + L[j] * dl[i]))
            worst = np.minimum(worst, np.linalg.det(jacobian) / volume)
        bad = worst < 0.3
        if not bad.any():
            return
        edges = np.unique(linear.t2e[:, bad])
        doflocs[:, vertices + edges] = straight[:, edges]
