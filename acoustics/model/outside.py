"""What the flow out of one opening adds to the pressure at another, through the air outside and through the bore.

Without it, a flute is predicted sharper the more holes are open (5 cents and more): the flows of window, open holes
and foot leave together, and each has to move the air that the others move.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry

Real = NDArray[np.floating[Any]]

# Own finite elements: a square body acts like a round one that is this much thicker.
FLAT_AS_ROUND = 1.4

_P = (0.91584, -0.03868, -0.00266, 1.13656, 0.07664, 0.03746)

# First two cross modes of the bore at a source on its wall: zeros of J1' and J2', and psi^2 / (2 S kappa) of the
# textbook modal sum.
_CROSS = ((1.8412, 0.2456), (3.0542, 0.1825))


def along_body(ratio: Real) -> Real:
    """Return by how much a rigid round body raises the pressure of a small source on it, along its length.

    Parameters
    ----------
    ratio : distance over the body's radius, any shape, > 0

    Near by the body is a wall (2), far off it is thin (1). Fit to the exact integral over the waves of an infinite
    cylinder, G = 1/(pi^3 R) sum over m of the integral of exp(-x d/R) / (x^2 (J_m'^2 + Y_m'^2)), recomputed in
    ``tests/acoustics/model/test_outside.py``; within 0.001 for ratios of 0.4 to 50.
    """
    return 1.0 + (_P[0] + ratio * (_P[1] + ratio * _P[2])) / (1.0 + ratio * (_P[3] + ratio * (_P[4] + ratio * _P[5])))


def lag(ratio: Real) -> Real:
    """Return the part of the outer coupling that grows as frequency squared, times 4 pi / (k^2 R).

    Parameters
    ----------
    ratio : distance over the body's radius R

    What the integral of ``along_body`` at k R of 0.1 to 0.4 has beside its static near field and a free wave, which is
    0.75 at no distance and 0.07 at 8 radii; within 0.05.
    """
    return 0.72 / (1.0 + ratio * (0.5 + 0.06 * ratio))


class Coupling(NamedTuple):
    """Mutual inertance over density of every two openings (n, N, N), zero on the diagonal [1/m].

    ``near`` + ``rise`` k^2 + ``free`` exp(-j k d): the near field does not travel, what goes off freely does.
    """

    near: Real
    rise: Real
    free: Real


def coupling(geometry: Geometry, node_x: Real, node_r: Real, reach: Real) -> Coupling:
    """Return how the openings act on each other.

    Parameters
    ----------
    node_x, node_r : (n, N) position and bore radius at window, holes and foot [m]
    reach : (n, N) acoustic height of each opening, inside to outside [m]: more flow leaves than enters it, by the
        factor 1 / cos(k reach)

    Openings on the side of the body see each other along it; the foot, on the body's axis, as in free air.
    """
    body = (node_r + geometry.wall[:, None]) * np.where(geometry.flat, FLAT_AS_ROUND, 1.0)[:, None]
    outside = 0.5 * (body[:, :, None] + body[:, None, :])
    bore = 0.5 * (node_r[:, :, None] + node_r[:, None, :])
    same = np.eye(node_x.shape[1], dtype=bool)
    d = np.where(same, 1.0, np.abs(node_x[:, :, None] - node_x[:, None, :]))
    free = 1.0 / (4.0 * np.pi * d)
    near = free * (along_body(d / outside) - 1.0)
    for kappa, strength in _CROSS:
        near += strength / bore * np.exp(-kappa * d / bore)
    rise = outside / (4.0 * np.pi) * lag(d / outside)
    to_foot = 1.0 / (4.0 * np.pi * np.hypot(d[:, -1, :], body[:, -1:]))
    for part, value in ((free, to_foot), (near, np.zeros_like(to_foot)), (rise, np.zeros_like(to_foot))):
        part[:, -1, :] = value
        part[:, :, -1] = value
    rise += (near + free) * 0.5 * (reach[:, :, None] ** 2 + reach[:, None, :] ** 2)
    return Coupling(*(np.where(same, 0.0, part) for part in (near, rise, free)))
