"""The air outside: what the flow out of one opening adds to the pressure at another."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.geometry import Geometry

Real = NDArray[np.floating[Any]]


def mutual_inertance(geometry: Geometry, node_x: Real) -> Real:
    """Return the mutual inertance over the density [1/m] of every two openings (n, N, N), zero on the diagonal.

    Two small sources in free air: 1 / (4 pi d).
    """
    d = np.abs(node_x[:, :, None] - node_x[:, None, :])
    same = np.eye(node_x.shape[1], dtype=bool)
    return np.where(same, 0.0, 1.0 / (4.0 * np.pi * np.where(same, 1.0, d)))
