"""Where a flute resonates: geometry, air and fingering to frequency and quality factor, many at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from acoustics.air import Air
from acoustics.errors import InvalidInput
from acoustics.geometry import Geometry
from acoustics.instrument import Instrument
from acoustics.network import Bool, Network

Real = NDArray[np.floating[Any]]

MAX_MODES = 8
CHUNK = 128
"""Flutes that are solved together: bounds the memory and stays within the processor's cache."""


@dataclass(frozen=True, slots=True)
class Mode:
    """A resonance of the passive instrument: frequency [Hz] and quality factor."""

    frequency: float
    q: float


@dataclass(frozen=True, slots=True)
class NoMode:
    """Why there is no such resonance."""

    reason: str


@dataclass(frozen=True, slots=True)
class NotePrediction:
    """The modes of one fingering, lowest first."""

    fingering: str
    modes: tuple[Mode | NoMode, ...]


class Resonances(NamedTuple):
    """Batched result; NaN where a mode does not exist.

    Attributes
    ----------
    frequency : (n, f, m) [Hz]
    q : (n, f, m) quality factor; infinite only if neither walls nor radiation took energy
    """

    frequency: Real
    q: Real


def predict(
    instrument: Instrument, air: Air, fingerings: Sequence[str], modes: int = 2, losses: bool = True
) -> tuple[NotePrediction, ...]:
    """Return the resonances of one flute for each fingering.

    Parameters
    ----------
    fingerings : strings of ``x`` (closed) and ``o`` (open), hole 1 first
    modes : how many resonances of each, 1 to 8
    losses : viscous and thermal losses at the walls

    Raises
    ------
    InvalidInput : a fingering that does not fit the holes, or modes out of range

    A mode above the bore's first cross mode, where plane waves say nothing, is a ``NoMode`` with the reason.
    """
    geometry = Geometry.of([instrument])
    found = resonances(geometry, air, fingerings, modes, losses)
    limit = float(mode_limit(geometry, air)[0])
    reason = f"above {limit:.0f} Hz, where the bore's first cross mode or a hole's own resonance begins"
    return tuple(
        NotePrediction(
            fingering,
            tuple(
                NoMode(reason) if np.isnan(f) else Mode(float(f), float(q))
                for f, q in zip(found.frequency[0, i], found.q[0, i], strict=True)
            ),
        )
        for i, fingering in enumerate(fingerings)
    )


def resonances(
    geometry: Geometry, air: Air, fingerings: Sequence[str], modes: int = 2, losses: bool = True
) -> Resonances:
    """Return the resonances of ``n`` flutes for ``f`` fingerings: the batched core, arrays (n, f, m).

    Each mode is first found as a root of the phase of the lossless chain, which grows with frequency and takes the
    value (m - 1) pi at mode ``m``: counting by phase neither misses nor doubles one. From there a secant iteration
    in the complex plane places the zero of ``Network.characteristic``. A zero that strays more than a fifth of an
    octave from its start, further than losses and interaction can move it, is refused.

    Raises
    ------
    InvalidInput : a fingering that does not fit the holes, or modes out of range
    """
    is_open = open_nodes(fingerings, geometry)
    if isinstance(modes, bool) or not isinstance(modes, int) or not 1 <= modes <= MAX_MODES:
        raise InvalidInput("modes", modes, f"must be a whole number, 1 to {MAX_MODES}")
    parts = [
        _solve(Network(geometry[start : start + CHUNK], air, losses), is_open, modes)
        for start in range(0, len(geometry), CHUNK)
    ]
    w = np.concatenate(parts)
    with np.errstate(divide="ignore"):
        return Resonances(w.real / (2.0 * np.pi), np.abs(w.real) / (2.0 * np.abs(w.imag)))


def open_nodes(fingerings: Sequence[str], geometry: Geometry) -> Bool:
    """Return which nodes (window, holes, foot) are open, (f, N). Raises InvalidInput where a fingering does not fit."""
    extra = geometry.hole_x.shape[1] - geometry.fingers
    rows = []
    for i, fingering in enumerate(fingerings):
        field = f"fingerings[{i}]"
        if not isinstance(fingering, str) or set(fingering) - {"x", "o"}:
            raise InvalidInput(field, fingering, "must be a string of x (closed) and o (open)")
        if len(fingering) != geometry.fingers:
            raise InvalidInput(field, fingering, f"must have {geometry.fingers} letters, one for each finger hole")
        rows.append([True, *(letter == "o" for letter in fingering), *[True] * (extra + 1)])
    if not rows:
        raise InvalidInput("fingerings", [], "must name at least one fingering")
    return np.array(rows, dtype=bool)


def mode_limit(geometry: Geometry, air: Air) -> Real:
    """Return the frequency [Hz] (n,) up to which plane waves tell the truth.

    The bore's first cross mode at 1.8412 c / (2 pi a) (first zero of J1'), or nine tenths of the quarter-wave
    resonance of the tallest chimney, whichever is lower.
    """
    c = air.speed_of_sound
    limit = 1.8412 * c / (2.0 * np.pi * geometry.bore_r.max(axis=1))
    if geometry.hole_x.shape[1]:
        tallest = (geometry.hole_wall + 0.9 * (geometry.hole_r + geometry.undercut)).max(axis=1)
        limit = np.minimum(limit, 0.9 * c / (4.0 * tallest))
    return np.asarray(limit)


def _solve(network: Network, is_open: Bool, modes: int) -> NDArray[np.complexfloating[Any, Any]]:
    """Return complex angular frequencies (n, f, m) [rad/s], NaN where there is no such mode."""
    start, exists = _start(network, is_open, modes)
    w = _secant(network, is_open, 2.0 * np.pi * start)
    f = w.real / (2.0 * np.pi)
    exists = exists & (f < mode_limit(network.geometry, network.air)[:, None, None])
    astray = exists & ~(np.abs(np.log2(f / start)) < 0.2)
    w[astray | ~exists] = np.nan
    return w


def _start(network: Network, is_open: Bool, modes: int) -> tuple[Real, Bool]:
    """Return lossless frequencies (n, f, m) [Hz] and which of them exist, by bracketing the phase (Illinois rule)."""
    limit = mode_limit(network.geometry, network.air)[:, None, None]
    shape = (len(network.geometry), is_open.shape[0], modes)
    target = np.broadcast_to(np.pi * np.arange(modes), shape)
    high = np.broadcast_to(limit, shape).copy()
    low = np.full(shape, 1.0)
    g_high = network.phase(high[..., :1], is_open) - target
    exists = g_high > 0
    g_low = network.phase(low[..., :1], is_open) - target
    guess: Real = low
    for _ in range(60):
        guess = high - g_high * (high - low) / np.where(exists, g_high - g_low, 1.0)
        guess = np.where(exists, guess, limit)
        g = network.phase(guess, is_open) - target
        if (np.abs(g)[exists] < 1e-4).all():
            break
        above = g > 0
        g_low = np.where(above, 0.5 * g_low, g)
        g_high = np.where(above, g, 0.5 * g_high)
        low, high = np.where(above, low, guess), np.where(above, guess, high)
    return guess, exists


def _secant(network: Network, is_open: Bool, start: Real) -> NDArray[np.complexfloating[Any, Any]]:
    w: NDArray[np.complexfloating[Any, Any]] = start.astype(complex)
    before = w * (1.0 - 0.004 + 0.004j)
    F_before = network.characteristic(before, is_open)
    for _ in range(12):
        F = network.characteristic(w, is_open)
        change = F - F_before
        step = np.where(change == 0, 0.0, F * (w - before) / np.where(change == 0, 1.0, change))
        before, F_before, w = w, F, w - step
        if (np.abs(step) <= 1e-7 * np.abs(w)).all():
            break
    return w
