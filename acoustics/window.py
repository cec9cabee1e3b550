"""The window: what the opening that the jet crosses adds to the bore."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.openings import hole_inside_length, hole_outside_length, saddle_length

Real = NDArray[np.floating[Any]]


def window_inertance(length: Real, width: Real, wall: Real, bore: Real, outside: Real) -> Real:
    """Return the inertance of a window over the density [1/m], as that of the round hole of equal area [m]."""
    area = length * width
    radius = np.sqrt(area / np.pi)
    delta = np.minimum(radius, 0.95 * bore)
    height = wall + saddle_length(radius, bore)
    return (height + hole_inside_length(delta, bore) + hole_outside_length(radius, outside)) / area
