"""The window: what the opening that the jet crosses adds to the bore.

No published formula holds for it: those for organ pipes suppose a thin wall, those for finger holes suppose bore on
both sides. Where the window touches the plug, air comes to it from one side only and has to turn; a hole of equal area
is then up to a quarter too light, which is 20 cents. Finite elements of Laplace's equation
(``tests/reference/fem/window_static.py``, data in ``tests/reference/data/window_static.jsonl``) gave the constants.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.openings import hole_inside_length

Real = NDArray[np.floating[Any]]
Bool = NDArray[np.bool_]

WINDOW_DISPERSION = 0.45
"""Growth of the window's inertance over density with k^2, in bore radii (own finite elements, k a up to 0.25)."""

_EDGE = 1.0
"""Part of the walls' sum that lies outside the boundary layer's own thickness at the sharp edges."""

_P = (0.692, 2.189, -0.021, -0.012, -0.08, 4.973, -0.048, 0.425, 1.39, -0.028, 0.018, -0.101, 0.247, -0.191, 0.119,
      -0.069, -0.024, 0.04, 0.136, -0.001)  # fmt: skip


def window_inertance(
    length: Real, width: Real, wall: Real, bore: Real, stub: Real, edge_angle: Real, flat: Bool
) -> Real:
    """Return the inertance over density [1/m] of window and stub, seen by plane waves at the splitting edge.

    Parameters
    ----------
    length, width : of the window, along and across the bore [m]
    wall : its height in the middle [m]
    bore : radius of the bore [m]
    stub : from the plug's face to the window [m], 0 or more
    edge_angle : of the ramp that ends in the splitting edge, 20 to 90 (no ramp) [degrees]
    flat : whether the outside is square

    Three parts in series: the wall's chimney, which a ramp widens outward; the outside, a rectangle in a body; the
    inside, where the stub counts.
    """
    W, B, t, s = length / bore, width / bore, wall / bore, stub / bore
    R = 1.0 + t
    ramp = _cotangent(edge_angle)
    height = np.where(flat, R, _mean_height(R, B)) - _mean_height(np.ones_like(B), B)
    radius = np.sqrt(W * B / np.pi)
    log_aspect = np.log(B / W)
    near = np.exp(-_P[5] * s)
    growth = ramp * height / (W * (1.0 + _P[0] * ramp))
    chimney = height * _log_mean(growth)
    open_length = W * (1.0 + _P[1] * growth)
    open_radius = np.sqrt(open_length * B / np.pi)
    open_aspect = np.log(B / open_length)
    outside = 0.822 * (1.0 - 0.055 * open_aspect**2) - np.where(flat, 0.100, 0.444) * (open_radius / R) ** 0.8
    outside = outside + np.where(flat, _P[2], _P[3]) * (B / R) ** 2 + _P[4] * open_aspect
    narrow = np.minimum(radius, 0.95)
    inside = hole_inside_length(narrow, np.ones_like(narrow)) / narrow + _P[6] + _P[7] * radius + _P[8] * radius**2
    inside = inside + _P[9] * log_aspect + _P[10] * log_aspect**2 + _P[11] * B**2
    inside = inside + near * (_P[12] + _P[13] * W + _P[14] * B + _P[15] * B**2 + _P[19] * ramp)
    inside = inside + ramp / (1.0 + ramp) * (_P[16] + _P[17] * W + _P[18] * B)
    total = chimney / (W * B) + open_radius * outside / (open_length * B) + radius * inside / (W * B)
    return np.asarray((total - 0.5 * W / np.pi) / bore)


def window_loss(length: Real, width: Real, wall: Real, bore: Real, stub: Real, edge_angle: Real, flat: Bool) -> Real:
    """Return the squared flow along the walls, summed over them, for a unit flow out of the window [1/m2].

    Parameters as for ``window_inertance``. The viscous boundary layer adds sqrt(viscosity / (j w density)) times this
    to the inertance over density. Fit to own finite elements, residual 1.3 % rms, 5 % at most.
    """
    W, B, t, s = length / bore, width / bore, wall / bore, stub / bore
    ramp = _cotangent(edge_angle)
    height = np.where(flat, 1.0 + t, _mean_height(1.0 + t, B)) - _mean_height(np.ones_like(B), B)
    radius = np.sqrt(W * B / np.pi)
    near = np.exp(-5.0 * s)
    growth = ramp * height / (W * (1.0 + 0.933 * ramp))
    ends = 1.187 + 1.058 * radius - 0.223 * np.log(B / W) - 0.122 * B**2 + near * (0.279 - 0.188 * W - 0.005 * B)
    ends = ends + ramp / (1.0 + ramp) * (-0.099 + 0.158 * B - 0.081 * W)
    around = 1.014 * height / (1.0 + 1.242 * growth) + radius * ends
    return _EDGE * 2.0 * (W + B) * around / (W * B) ** 2 / bore**2


def _cotangent(edge_angle: Real) -> Real:
    return np.where(edge_angle > 89.99, 0.0, 1.0 / np.tan(np.radians(edge_angle)))


def _mean_height(radius: Real, width: Real) -> Real:
    """Return the mean of sqrt(radius^2 - y^2) over a strip of ``width``."""
    q = np.minimum(0.5 * width / radius, 1.0)
    return 0.5 * radius * (np.sqrt(1.0 - q * q) + np.arcsin(q) / q)


def _log_mean(growth: Real) -> Real:
    """Return ln(1 + g) / g, which is 1 at 0."""
    safe = np.where(growth > 1e-6, growth, 1.0)
    return np.where(growth > 1e-6, np.log1p(safe) / safe, 1.0)
