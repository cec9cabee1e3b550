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

FOOT_LOSS = 0.5
"""Length, in bore radii, whose boundary layer equals that about the foot's rim (own finite elements of hole rims)."""

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


def hole_outside_length(radius: Real, outside: Real, flat: NDArray[np.bool_]) -> Real:
    """Return the outer end correction of a hole in the side of the body.

    Parameters
    ----------
    radius : of the hole
    outside : outer radius of the body, or half its width
    flat : whether the body is square there

    Form of Dalmont, Nederveen and Joly 2001, J. Sound Vib. 244, 505, who give 0.822 - 0.47 (b / R)^0.8 hole radii for a
    round body whose hole has a level rim. For a rim that follows the body, and for a square body, the factor is
    from own finite elements (``tests/reference/data/hole_static.jsonl``): 0.444 round, 0.100 square, for b / R of 0.15
    to 0.55, residual 0.004 hole radii.
    """
    return radius * (0.822 - np.where(flat, 0.100, 0.444) * (radius / outside) ** 0.8)


def top_sag(radius: Real, outside: Real, flat: NDArray[np.bool_]) -> Real:
    """Return how much lower the rim of a closed hole lies, on average, than its highest point (geometry, to b^2)."""
    return np.where(flat, 0.0, radius**2 / (8.0 * outside))


def hole_loss_length(radius: Real, inner: Real, bore: Real) -> Real:
    """Return the length of chimney, beside the wall itself, whose boundary layer equals that about both its ends.

    Own finite elements: the square of the flow along bore, rim and outside, summed over the walls. Round and square
    bodies, radius / bore of 0.25 to 0.8: 1.69 - 0.25 b / a hole radii with edges resolved to a hundredth of the
    bore radius, residual 0.05. Sharp edges hold a fifth of that within the boundary layer's own thickness, where it
    cannot follow them: that fifth is left out. An undercut spares its edge.
    """
    return radius * (1.35 - 0.20 * radius / bore) * (radius / inner) ** 3


def hole_dispersion(bore: Real, height: Real, flat: NDArray[np.bool_]) -> Real:
    """Return the coefficient of k^2 by which the inertance over density of an open hole grows [unit of length].

    Air next to the hole, inside and outside, that does not follow at once. Fit to own finite elements
    (``tests/reference/data/hole_dispersion.jsonl``) at k a = 0.25: 0.098 a + 0.19 t, and 0.055 a more beside a flat
    body, for radius / bore of 0.25 to 0.8 and walls of 0.25 to 0.8 bore radii, residual 0.03 a.
    """
    return 0.098 * bore + 0.19 * height + np.where(flat, 0.055, 0.0) * bore


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


def cone_length(height: Real, slope: Real) -> Real:
    """Return the length of the cylinder, of geometric mean radius, whose inertance is that of an undercut hole's cone.

    Parameters
    ----------
    height : of the wall
    slope : of the cone's side, undercut over height

    Textbook cone: height / (pi b1 b2) along plane fronts, (1 + 1 / cos) / 2 times that along spherical ones. Own finite
    elements of undercut holes (``tests/reference/data/hole_undercut.jsonl``) agree with the latter to 0.6 %.
    """
    return np.asarray(0.5 * height * (1.0 + np.sqrt(1.0 + slope**2)))


def cone_volume(radius: Real, inner: Real, height: Real) -> Real:
    """Return the volume of a cone's frustum (geometry)."""
    return np.asarray(np.pi / 3.0 * height * (radius**2 + radius * inner + inner**2))


def undercut_series(slope: Real) -> Real:
    """Return what an undercut leaves of the series correction of a hole as wide as its inner end.

    Fit to own finite elements of slopes up to 0.36, open and closed, residual 2 %.
    """
    return np.asarray(1.0 - 0.27 * np.minimum(slope, 1.0))


def rim_sag(radius: Real, slope: Real, outside: Real, flat: NDArray[np.bool_]) -> Real:
    """Return by how much the outer end of an undercut hole acts wider because a round body falls away at its sides.

    There the cone is cut lower and is wider: by slope times the mean fall b^2 / (4 R) if it were so all along. Half of
    that agrees with own finite elements.
    """
    return np.where(flat, 0.0, 0.5 * slope * radius**2 / (4.0 * outside))


def rim_length(radius: Real, rim: Real, flat: NDArray[np.bool_]) -> Real:
    """Return by how much an outer rim rounded to radius ``rim`` shortens an open hole.

    Fit to own finite elements of single holes (``tests/reference/data/hole_rims.json``), rims up to 0.45 hole radii.
    On a round body whole flutes show a tenth less of it. A rim wider than the hole's radius acts like one as wide.
    """
    rounded = np.minimum(rim, radius)
    part = rounded / radius
    return rounded * np.where(flat, 0.44 * part**0.31, 0.67 * part**0.34)


def pad_volume(radius: Real, depth: Real, outside: Real, flat: NDArray[np.bool_]) -> Real:
    """Return the volume that the pad of a closing finger takes of a hole.

    Parameters
    ----------
    radius : of the hole where the finger closes it
    depth : by which the pad bulges into it, a spherical cap; never more than a half ball
    outside, flat : radius of the body, and whether it is square

    Geometry: pi d (3 b^2 + d^2) / 6 under a level rim. A round body falls away at the sides, where the pad then lies
    outside: 1 / sqrt(1 + b^2 / (2 R d)) of it is left, exact for small depths. That the pad acts by its volume alone is
    a finding of own finite elements (0.2 cent).
    """
    d = np.minimum(depth, radius)
    cap = np.pi / 6.0 * d * (3.0 * radius**2 + d**2)
    left = np.sqrt(d / (d + radius**2 / (2.0 * outside)))
    return np.asarray(np.where(flat, cap, cap * left))
