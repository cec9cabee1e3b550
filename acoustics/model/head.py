"""The head as it is made: a flat planed around the window, an edge raised above the bore, a block that stands there.

Together they are worth 25 to 40 cents, and they do not add: one formula for all. It starts from the bare window
(``acoustics.model.window``) and lets the flat take the place of the round outside, the raised edge take the ramp away
from below (where the edge is as high as the wall none is left), and the block stand as an image source upstream. Its
form is made to fit; its constants come from finite elements of 96 heads, by ``tests/reference/fem/fit_head.py``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry
from acoustics.model.window import cotangent, window_inertance, window_loss

Real = NDArray[np.floating[Any]]
Bool = NDArray[np.bool_]

HEAD = (1.287, 2.531, 1.211, 0.141, 0.33, 1.496, 5.693, 2.183, 0.183, 0.325, 1.124)
"""Width of flat (2), raised edge (2), ramp, block (6). Residual: 0.37 % rms of the inertance, 0.48 % on the 20 heads
that were kept out of the fit, at most 1.0 % (1 % is 1.5 to 2 cents with all holes closed)."""


def flatness(bore: Real, wall: Real, window_wall: Real, width: Real, square: Bool, planed: Bool) -> Real:
    """Return how flat (0 round, 1 flat) the outside of the body acts around a window of ``width``.

    Lengths in one unit. A flat that lies ``window_wall`` above a bore of radius ``bore`` in a round body is
    2 sqrt((bore + wall)^2 - (bore + window_wall)^2) wide.
    """
    flat = 2.0 * np.sqrt(np.maximum((bore + wall) ** 2 - (bore + window_wall) ** 2, 0.0))
    grown = 1.0 - np.exp(-HEAD[0] * (flat / width) ** HEAD[1])
    return np.asarray(np.where(square, 1.0, np.where(planed, grown, 0.0)))


def raised(low: Real, top: Real, edge: Real, chimney: Real, ramp: Real) -> Real:
    """Return the inertance over density with the edge at ``edge`` walls (0 at the bore to 1 at the flat).

    Parameters
    ----------
    low, top : the same without a raised edge, and without a ramp
    chimney : wall over the window's area, in the unit of the others
    ramp : cotangent of the edge angle; without a ramp there is no edge to raise
    """
    more = HEAD[3] * edge * (1.0 - edge) * chimney * np.minimum(2.0 * ramp, 1.0)
    return np.asarray(top - (top - low) * (1.0 - edge) ** HEAD[2] + more)


def block_inertance(
    length: Real, width: Real, free_wall: Real, ramp: Real, flat: Real, height: Real, across: Real, setback: Real
) -> Real:
    """Return the inertance over density [1/length] that a block adds.

    Parameters
    ----------
    length, width : of the window
    free_wall : from the tip of the edge up to the flat
    ramp, flat : cotangent of the edge angle; ``flatness``
    height, across, setback : of the block; a height of 0 is no block. How long it is does not matter

    An image source one and a half outer window lengths away, which a low or a narrow block shows only in part.
    """
    outer = length + HEAD[4] * ramp * free_wall
    away = HEAD[5] * outer + HEAD[6] * setback
    high = 1.0 - np.exp(-HEAD[7] * height / (outer + 2.0 * setback))
    wide = 1.0 - HEAD[9] * np.exp(-HEAD[10] * (across / width - 1.0))
    return np.asarray(high * (1.0 - HEAD[8] * (1.0 - flat)) * np.maximum(wide, 0.0) / (2.0 * np.pi * away))


class Head:
    """The heads of ``n`` flutes.

    Attributes
    ----------
    inertance : over density [1/m] (n,), as ``acoustics.model.window.window_inertance``
    loss : squared flow along the walls [1/m2] (n,), as ``window_loss``: that of the bare window. Edge and block were
        not looked at: near their edges the flow is finer than the boundary layer
    """

    def __init__(self, geometry: Geometry, bore: Real) -> None:
        g = geometry
        stub = -g.window_length - g.bore_x[:, 0]
        flat = flatness(bore, g.wall, g.window_wall, g.window_width, g.flat, g.planed)
        sizes = (g.window_length, g.window_width, g.window_wall, bore, stub)
        self.inertance: Real = _between(window_inertance, sizes, g.edge_angle, flat)
        self.loss: Real = _between(window_loss, sizes, g.edge_angle, flat)
        ramp = cotangent(g.edge_angle)
        if g.edge_height.any():
            top = _between(window_inertance, sizes, np.full_like(g.edge_angle, 90.0), flat)
            edge = np.clip(g.edge_height / g.window_wall, 0.0, 1.0)
            chimney = g.window_wall / (g.window_length * g.window_width)
            self.inertance = raised(self.inertance, top, edge, chimney, ramp)
        if g.block_height.any():
            free = np.maximum(g.window_wall - g.edge_height, 0.0)
            self.inertance = self.inertance + block_inertance(
                g.window_length, g.window_width, free, ramp, flat, g.block_height, g.block_width, g.setback
            )


_FEW: Final = 64
"""Of so many flutes at once heads are kept: holes and foot are cut again and again under the same one."""
_KEPT: Final = 200
_heads: dict[tuple[bytes, ...], Head] = {}


def head_of(geometry: Geometry, bore: Real) -> Head:
    """The heads of some flutes, not worked out again where only the rest of the flutes has changed."""
    if len(geometry) > _FEW:
        return Head(geometry, bore)
    g = geometry
    key = tuple(
        value.tobytes()
        for value in (
            bore, g.bore_x[:, 0], g.window_length, g.window_width, g.window_wall, g.edge_angle, g.edge_height, g.planed,
            g.block_height, g.block_width, g.setback, g.wall, g.flat,
        )
    )  # fmt: skip
    found = _heads.get(key)
    if found is None:
        if len(_heads) >= _KEPT:
            _heads.clear()
        found = _heads[key] = Head(geometry, bore)
    return found


def _between(value: Any, sizes: tuple[Real, ...], angle: Real, flat: Real) -> Real:
    """Return a value of the bare window between that of a round and that of a flat outside."""
    if (flat == 0.0).all() or (flat == 1.0).all():
        return np.asarray(value(*sizes, angle, flat > 0.5))
    round_, square = value(
        *(np.stack([size, size]) for size in (*sizes, angle)), np.array([[False], [True]]) | (flat < 0)
    )
    return np.asarray(round_ + flat * (square - round_))
