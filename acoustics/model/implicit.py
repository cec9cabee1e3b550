"""Resonances near known ones, and how they move, from the characteristic function alone.

At a zero F(w, v) = 0 the implicit function theorem gives dw/dv = -(dF/dv) / (dF/dw): no resonance has to be searched
for again. Frequencies are complex and angular, rad/s; arrays (flutes, fingerings, modes) as in
`acoustics.model.network`.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.model.network import Network

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Bool = NDArray[np.bool_]

CENTS: Final = 1200.0 / np.log(2.0)
W_STEP: Final = 1e-6
"""Relative step of frequency for the derivative of F by w."""


def slope(network: Network, w: Complex, is_open: Bool) -> Complex:
    """dF/dw at `w` (n, f, m), by central differences."""
    m = w.shape[2]
    F = network.characteristic(np.concatenate([w * (1.0 + W_STEP), w * (1.0 - W_STEP)], axis=2), is_open)
    return np.asarray((F[..., :m] - F[..., m:]) / (2.0 * W_STEP * w))


def rates(moved: Network, step: Array, slopes: Complex, w: Complex, is_open: Bool) -> Array:
    """Cents per unit (f, m, d) of the resonances `w` (f, m) of one flute under d changes of it.

    `moved` holds the flute with each change made by +`step`, then each by -`step` (2 d flutes); `step` is (d,) in
    units of the change, `slopes` (f, m) is dF/dw at `w`.
    """
    d = len(step)
    F = moved.characteristic(np.broadcast_to(w, (2 * d, *w.shape)), is_open)
    dF_dv = (F[:d] - F[d:]) / (2.0 * step[:, None, None])
    dw_dv = -dF_dv / slopes
    return np.asarray(CENTS * np.moveaxis(dw_dv.real / w.real, 0, -1))


def corrected(network: Network, w: Complex, slopes: Complex, is_open: Bool) -> Complex:
    """One step of Newton's method from `w` (n, f, m) with slopes that are known, perhaps of a flute close by.

    With the slope of a neighbour that differs by a share e, the error left is e times that before the step.
    """
    return np.asarray(w - network.characteristic(w, is_open) / slopes)
