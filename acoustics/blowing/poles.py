"""The flute as its jet sees it: the admittance at the window by its poles and their residues."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.ducts import Complex
from acoustics.model.network import Bool, Network
from acoustics.model.resonance import open_nodes, resonances

Real = NDArray[np.floating[Any]]

MODES: Final = 4
"""Resonances of each fingering that stand for the flute: what lies above moves the first two by less than a cent."""
_STEP = 1e-5


class Poles(NamedTuple):
    """``Y(s) = sum A / (s - pole)`` with the conjugates, flow into the window over the pressure step across it.

    Attributes
    ----------
    pole : (f, m) complex [rad/s]: minus the decay rate, and the resonance's angular frequency; NaN where there is none
    residue : (f, m) complex [m4/kg]
    still : (f,) residue at 0 Hz, where air flows through the flute as one mass [m4/kg]
    """

    pole: Complex
    residue: Complex
    still: Real

    def admittance(self, w: Real) -> Complex:
        """Return Y (f, ...) [m3/(Pa s)] at real angular frequencies ``w`` (f, ...) [rad/s]."""
        rows = (slice(None), *([None] * (w.ndim - 1)))
        total = self.still[rows] / (1j * w)
        for pole, residue in zip(self.pole.T, self.residue.T, strict=True):
            total += np.nan_to_num((residue[rows] / (1j * w - pole[rows])), nan=0.0)
            total += np.nan_to_num((residue.conj()[rows] / (1j * w - pole.conj()[rows])), nan=0.0)
        return total


class _Sealed(Network):
    """The same flute with its window stopped at the bore."""

    def admittances(self, w: Complex | Real, is_open: Bool, losses: bool | None = None) -> Complex:
        Y = super().admittances(w, is_open, losses)
        Y[0] = 0.0
        return Y


def poles(instrument: Instrument, air: Air, fingerings: Sequence[str]) -> Poles:
    """Return the poles of one flute for ``f`` fingerings.

    The flow through the window is the pressure step across it over the window's own impedance plus that of the bore
    behind it. With ``F`` the characteristic function of the network and ``F0`` the same with the window stopped, that
    is Y = Y_window F0 / F: its poles are the engine's resonances, a residue is Y_window F0 over the slope of F there.

    Raises
    ------
    InvalidInput : a fingering that does not fit the holes
    """
    geometry = Geometry.of([instrument])
    is_open = open_nodes(fingerings, geometry)
    found = resonances(geometry, air, fingerings, MODES)
    w = 2.0 * np.pi * found.frequency * (1.0 + 0.5j / found.q)
    missing = np.isnan(w.real)
    at = np.where(missing, 2.0 * np.pi * (200.0 + 2.0j), w)
    network, sealed = Network(geometry, air), _Sealed(geometry, air)
    slopes = network.characteristic(np.concatenate([at * (1.0 - _STEP), at * (1.0 + _STEP)], axis=2), is_open)
    slope = (slopes[..., MODES:] - slopes[..., :MODES]) / (2.0 * _STEP * at)
    window = network.admittances(at, is_open)[0]
    residue = 1j * window * sealed.characteristic(at, is_open) / slope
    gone = np.where(missing, np.nan, 1.0)
    apart = Poles((1j * at * gone)[0], (residue * gone)[0], np.zeros(len(is_open)))
    half: Real = 0.5 * at[0, :, :1].real
    below = half[None].astype(complex)
    exact = network.admittances(below, is_open)[0] * sealed.characteristic(below, is_open)
    exact /= network.characteristic(below, is_open)
    left = (exact[0] - apart.admittance(half)) * 1j * half
    return apart._replace(still=left[:, 0].real)
