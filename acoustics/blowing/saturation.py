"""How a jet that swings wide across the edge drives less than in proportion: describing functions of tanh."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.floating[Any]]

_SWINGS = np.geomspace(1e-3, 300.0, 90)
_TURN = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)


class Saturation:
    """For tanh(u sin t - offset), ``offset`` in half thicknesses: gains over those of an infinitely small swing at an
    edge in the middle (Gelb and Vander Velde 1968, Multiple-Input Describing Functions, ch. 2 and 5).

    Attributes
    ----------
    swings, gains : a table of `own`
    """

    def __init__(self, offset: float) -> None:
        inside = _SWINGS[:, None] * np.sin(_TURN)
        bent = np.tanh(inside - offset)
        self._log = np.log(_SWINGS)
        self.swings = _SWINGS
        self.gains = 2.0 * np.mean(bent * np.sin(_TURN), axis=1) / _SWINGS
        self._other = np.mean(1.0 - bent**2, axis=1)

    def own(self, swing: Real) -> Real:
        """Gain for the note itself, of swing ``u``."""
        gain: Real = np.interp(np.log(swing), self._log, self.gains)
        return gain

    def other(self, swing: Real) -> Real:
        """Gain for a small wave of another, unrelated frequency on a jet that swings by ``u`` already."""
        gain: Real = np.interp(np.log(swing), self._log, self._other)
        return gain
