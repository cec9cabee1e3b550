"""The bore of many flutes cut at the openings: which pieces of duct lie between which nodes."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry

Bool = NDArray[np.bool_]
Real = NDArray[np.floating[Any]]

STEEPEST = 0.06
"""Change of log radius within one lossy cone: keeps its error, which goes as the square, under 0.03 cent."""


class Chain:
    """Nodes and pieces of ``n`` flutes.

    Attributes
    ----------
    node_x, node_r : (n, N) position and bore radius at the window's middle, the holes and the foot [m]
    piece_node : for each of P pieces, mouth to foot, the node that it leads to
    piece_length, piece_r1, piece_r2 : (P, n, 1, 1) [m]; a piece may have no length in some of the flutes
    last_piece : for each node the piece that ends there; hole_pieces : the same for the holes, in order
    straight : whether every bore is a plain cylinder
    """

    def __init__(self, geometry: Geometry) -> None:
        g = geometry
        self.node_x: Real = np.concatenate([-0.5 * g.window_length[:, None], g.hole_x, g.bore_x[:, -1:]], axis=1)
        self.node_r: Real = g.radius_at(self.node_x)
        self.straight = bool((g.bore_r == g.bore_r[:, :1]).all())
        self.piece_node: list[int] = []
        lengths: list[Real] = []
        firsts: list[Real] = []
        lasts: list[Real] = []
        edges = [g.bore_x[:, 0], *self.node_x.T]
        for node, (start, end) in enumerate(pairwise(edges)):
            cuts = [start, end]
            if not self.straight:
                cuts[1:1] = [np.clip(g.bore_x[:, i], start, end) for i in range(1, g.bore_x.shape[1] - 1)]
            for i, (left, right) in enumerate(pairwise(cuts)):
                if i and (right <= left).all():
                    continue
                if self.straight:
                    r1 = r2 = g.bore_r[:, 0]
                    count = 1
                else:
                    r1, r2 = (g.radius_at(x[:, None])[:, 0] for x in (left, right))
                    count = 1 + int(np.abs(np.log(r2 / r1)).max() / STEEPEST)
                for part in range(count):
                    self.piece_node.append(node)
                    lengths.append((right - left) / count)
                    firsts.append(r1 + (r2 - r1) * (part / count))
                    lasts.append(r1 + (r2 - r1) * ((part + 1) / count))
        self.last_piece = {node: i for i, node in enumerate(self.piece_node)}
        self.hole_pieces = [self.last_piece[node] for node in range(1, self.node_x.shape[1] - 1)]
        self.piece_length, self.piece_r1, self.piece_r2 = (
            np.stack(values)[:, :, None, None] for values in (lengths, firsts, lasts)
        )


def spread(values: Real) -> Real:
    """(n,) to (n, 1, 1)."""
    return values[:, None, None]


def nodes_first(values: Real) -> Real:
    """(n, h) to (h, n, 1, 1)."""
    return values.T.copy()[:, :, None, None]
