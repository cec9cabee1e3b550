"""What an opening adds to the bore: published lengths for finger holes and the foot.

All lengths in metres (any one unit does), arrays broadcast. A finger hole is the circuit of two series impedances with
a shunt between them; each is given by the length of bore or of hole whose inertance it equals.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.floating[Any]]

UNFLANGED = 0.6127
"""End correction of a thin-walled pipe over its radius: Levine and Schwinger 1948, Phys. Rev. 73, 383, static."""

FLANGED = 0.8217
"""End correction in an infinite wall over the radius: Norris and Sheng 1989, J. Sound Vib. 135, 85."""


def foot_length(radius: Real, outside: Real) -> Real:
    """Return the end correction of an open end whose wall is thick.

    Parameters
    ----------
    radius, outside : inner and outer radius, outside >= radius

    Dalmont, Nederveen and Joly 2001, J. Sound Vib. 244, 505 (circular flange); within 0.004 radius of finite elements.
    """
    q = radius / outside
    return radius * (FLANGED + q * (UNFLANGED - FLANGED) + 0.057 * q * (1.0 - q**5))


def foot_dispersion(radius: Real, outside: Real) -> Real:
    """Return the coefficient of (k radius)^2 by which the end correction of the foot falls, times the radius.

    Low-frequency fit to the exact unflanged pipe (Levine and Schwinger 1948) and to Norris and Sheng (1989) in a wall,
    good to 0.002 radius up to k radius 0.4; between the two, in proportion to radius over outside.
    """
    q = radius / outside
    return radius * (0.39 + q * (0.157 - 0.39))


def hole_outside_length(radius: Real, outside: Real) -> Real:
    """Return the outer end correction of a hole in the side of a round body.

    Parameters
    ----------
    radius : of the hole
    outside : outer radius of the body

    Dalmont, Nederveen and Joly 2001, J. Sound Vib. 244, 505: 0.822 - 0.47 (b / R)^0.8 hole radii.
    """
    return radius * (0.822 - 0.47 * (radius / outside) ** 0.8)


def hole_inside_length(radius: Real, bore: Real) -> Real:
    """Return the inner correction of the shunt, open or closed, as a length of hole.

    Lefebvre and Scavone 2012, J. Acoust. Soc. Am. 131, 3153, for radius / bore up to 0.95.
    """
    d = radius / bore
    return radius * (0.822 - 0.095 * d - 1.566 * d**2 + 2.138 * d**3 - 1.640 * d**4 + 0.502 * d**5)


def saddle_length(radius: Real, bore: Real) -> Real:
    """Return the height that fills the saddle between the top of the bore and the hole.

    Nederveen 1998, Acoustical Aspects of Woodwind Instruments; Dubos and others 1999, Acustica 85, 153.
    """
    d = radius / bore
    return 0.125 * radius * d * (1.0 + 0.207 * d**3)


def series_length(radius: Real, bore: Real, height: Real, is_open: NDArray[np.bool_]) -> Real:
    """Return the (negative) series correction as a length of bore.

    Lefebvre and Scavone 2012, J. Acoust. Soc. Am. 131, 3153: open -(0.35 - 0.06 tanh(2.7 t/b)) b d^2, closed
    -(0.12 + 0.17 tanh(2.4 t/b)) b d^2. Height 0 and closed gives none of the tone hole: then there is no hole.
    """
    d = radius / bore
    slender = height / radius
    return (
        -radius * d**2 * np.where(is_open, 0.35 - 0.06 * np.tanh(2.7 * slender), 0.12 + 0.17 * np.tanh(2.4 * slender))
    )
