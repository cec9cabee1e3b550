"""The window: what the opening that the jet crosses adds to the bore.

No published formula holds for it: those for organ pipes suppose a thin wall, those for finger holes suppose bore on
both sides. Where the window touches the plug, air comes to it from one side only and has to turn; a hole of equal area
is then up to a quarter too light, which is 20 cents. This module is a chain of three parts with constants from
finite elements of Laplace's equation (``tests/reference/fem/window_static.py``), fitted by ``fit_window.py`` beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acoustics.model.openings import hole_inside_length
from acoustics.model.window_fit import FORMULA, POLYNOMIAL

Real = NDArray[np.floating[Any]]
Bool = NDArray[np.bool_]

WINDOW_DISPERSION = 0.45
"""Growth of the window's inertance over density with k^2, in bore radii (own finite elements, k a up to 0.25)."""

RANGE = {
    "length": (0.22, 1.23),
    "width": (0.55, 1.83),
    "wall": (0.18, 0.95),
    "stub": (0.0, 1.7),
    "edge_angle": (20, 90),
}
"""The computed range, in bore radii and degrees. Beyond it the formula goes on, the polynomial stays at its edge."""


def window_inertance(
    length: Real, width: Real, wall: Real, bore: Real, stub: Real, edge_angle: Real, flat: Bool
) -> Real:
    """Return the inertance over density [1/m] of window and stub, seen by plane waves at the splitting edge.

    Parameters
    ----------
    length, width : of the window, along and across the bore [m]
    wall : its height in the middle [m]
    bore : radius of the bore [m]
    stub : from the plug's face to the window [m], 0 or more; more than 1.7 radii acts like 1.7
    edge_angle : of the ramp that ends in the splitting edge, 20 to 90 (no ramp) [degrees]
    flat : whether the outside is square

    Residual against the 67 of 397 cases kept out of the fit: 0.3 % rms, 0.9 % at most (1 % is 2 cents on a usual
    flute). Thin walls beside wide ramps are the worst: 3 % at one corner of ``RANGE``.
    """
    scaled = (length / bore, width / bore, wall / bore, stub / bore, cotangent(edge_angle), flat)
    polynomial = terms(*scaled) @ np.array(POLYNOMIAL)
    return np.asarray(formula(FORMULA, *scaled) * np.exp(polynomial) / bore)


def formula(p: Sequence[float], W: Real, B: Real, t: Real, s: Real, ramp: Real, flat: Bool) -> Real:
    """Return the inertance over density in bore radii; ``ramp`` is the cotangent of the edge angle.

    In series: the wall's chimney, which a ramp widens outward; the outside, a rectangle in a body; the inside, where
    the stub counts. The first terms of each are those of a round hole of equal area.
    """
    R = 1.0 + t
    slant = ramp / (1.0 + ramp)
    height = wall_height(B, t, flat)
    radius = np.sqrt(W * B / np.pi)
    log_aspect = np.log(B / W)
    growth = ramp * height / (W * (1.0 + p[0] * ramp))
    chimney = height * _log_mean(growth)
    open_length = W * (1.0 + p[1] * growth)
    open_radius = np.sqrt(open_length * B / np.pi)
    open_aspect = np.log(B / open_length)
    outside = 0.822 * (1.0 - 0.055 * open_aspect**2) - np.where(flat, 0.100, 0.444) * (open_radius / R) ** 0.8
    outside = outside + np.where(flat, p[2], p[3]) * (B / R) ** 2 + p[4] * open_aspect
    narrow = np.minimum(radius, 0.95)
    inside = hole_inside_length(narrow, np.ones_like(narrow)) / narrow
    inside = inside + p[6] + p[7] * radius + p[8] * radius**2 + p[9] * log_aspect + p[10] * log_aspect**2
    inside = inside + p[11] * B**2 + p[20] * W**2 + p[21] * radius * B**2 + p[22] * W * B**2
    beside_plug = p[12] + p[13] * W + p[14] * B + p[15] * B**2 + p[23] * W * B + p[19] * slant
    inside = inside + np.exp(-p[5] * s) * beside_plug
    inside = inside + slant * (p[16] + p[17] * W + p[18] * B + p[24] * B**2 + p[25] * t + p[26] * slant)
    inside = inside + p[27] * np.exp(-2.0 * t / radius)
    total = chimney / (W * B) + open_radius * outside / (open_length * B) + radius * inside / (W * B)
    return np.asarray(total - 0.5 * W / np.pi)


_CUBES = ("000 111 001 011 005 115 015 013 113 003 440 441 442 401 411 402 412 425 415 405 215 211 221 331 330 430 431 "
          "432")  # fmt: skip
POWERS: tuple[tuple[int, ...], ...] = (
    (),
    *((i,) for i in range(6)),
    *((i, j) for i in range(6) for j in range(i, 6) if i < 5),
    *(tuple(int(digit) for digit in cube) for cube in _CUBES.split()),
)
"""Which of length, width, wall, nearness of the plug, ramp, flatness are multiplied in each term."""

_FACTORS = np.array([(*power, 6, 6, 6)[:3] for power in POWERS])


def terms(W: Real, B: Real, t: Real, s: Real, ramp: Real, flat: Bool) -> Real:
    """Return the terms (..., len(POWERS)) of the polynomial that corrects the logarithm of ``formula``."""
    sizes = []
    for value, name, middle in ((W, "length", 0.6), (B, "width", 1.1), (t, "wall", 0.5)):
        sizes.append(np.log(np.clip(value, *RANGE[name]) / middle))
    slant = np.minimum(ramp, 2.75)
    sizes += [np.exp(-3.0 * s), slant / (1.0 + slant), np.asarray(flat, dtype=float), np.ones_like(W)]
    factors = np.stack(sizes, axis=-1)[..., _FACTORS]
    return np.asarray(factors[..., 0] * factors[..., 1] * factors[..., 2])


def window_loss(length: Real, width: Real, wall: Real, bore: Real, stub: Real, edge_angle: Real, flat: Bool) -> Real:
    """Return the squared flow along the walls, summed over them, for a unit flow out of the window [1/m2].

    Parameters as for ``window_inertance``. The viscous boundary layer adds sqrt(viscosity / (j w density)) times this
    to the inertance over density. Fit to own finite elements, residual 1.3 % rms, 5 % at most.
    """
    W, B, t, s = length / bore, width / bore, wall / bore, stub / bore
    ramp = cotangent(edge_angle)
    height = wall_height(B, t, flat)
    radius = np.sqrt(W * B / np.pi)
    near = np.exp(-5.0 * s)
    growth = ramp * height / (W * (1.0 + 0.933 * ramp))
    ends = 1.187 + 1.058 * radius - 0.223 * np.log(B / W) - 0.122 * B**2 + near * (0.279 - 0.188 * W - 0.005 * B)
    ends = ends + ramp / (1.0 + ramp) * (-0.099 + 0.158 * B - 0.081 * W)
    around = 1.014 * height / (1.0 + 1.242 * growth) + radius * ends
    return np.asarray(2.0 * (W + B) * around / (W * B) ** 2 / bore**2)


def cotangent(edge_angle: Real) -> Real:
    """Return the cotangent of the edge angle [degrees], 0 for no ramp."""
    return np.where(edge_angle > 89.99, 0.0, 1.0 / np.tan(np.radians(edge_angle)))


def wall_height(width: Real, wall: Real, flat: Bool) -> Real:
    """Return the mean height of the window's walls over its width, all in bore radii."""
    top = np.where(flat, 1.0 + wall, _mean_height(1.0 + wall, width))
    return np.asarray(top - _mean_height(np.ones_like(width), width))


def _mean_height(radius: Real, width: Real) -> Real:
    """Return the mean of sqrt(radius^2 - y^2) over a strip of ``width``."""
    q = np.minimum(0.5 * width / radius, 1.0)
    return 0.5 * radius * (np.sqrt(1.0 - q * q) + np.arcsin(q) / q)


def _log_mean(growth: Real) -> Real:
    """Return ln(1 + g) / g, which is 1 at 0."""
    safe = np.where(growth > 1e-6, growth, 1.0)
    return np.where(growth > 1e-6, np.log1p(safe) / safe, 1.0)
