"""Where a flute resonates: geometry, air and fingering to frequency and quality factor, many at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from acoustics.errors import InvalidInput
from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.ducts import Complex, line
from acoustics.model.network import Bool, Network

Real = NDArray[np.floating[Any]]

MAX_MODES = 8
_GRID = 12
_SECTIONS = 3
_PARTS = 8
_SMALL = 1e-6
"""Product of the last two relative steps at which Muller's rule stops: what is left is that times the one before."""
CHUNK = 1536
"""Resonances that are solved together: bounds the memory and stays within the processor's cache."""


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
    value (m - 1) pi at mode ``m``: counting by phase neither misses nor doubles one. From there Muller's rule
    in the complex plane places the zero of ``Network.characteristic``. A zero that strays more than 15 %
    from its start, further than losses and interaction can move it, is refused.

    Raises
    ------
    InvalidInput : a fingering that does not fit the holes, or modes out of range
    """
    is_open = open_nodes(fingerings, geometry)
    if isinstance(modes, bool) or not isinstance(modes, int) or not 1 <= modes <= MAX_MODES:
        raise InvalidInput("modes", modes, f"must be a whole number, 1 to {MAX_MODES}")
    rows = max(1, CHUNK // (len(is_open) * modes))
    parts = [
        _solve(Network(geometry[start : start + rows], air, losses), is_open, modes)
        for start in range(0, len(geometry), rows)
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
    """Return the frequency [Hz] (n,) up to which the plane-wave model holds.

    The bore's first cross mode at 1.8412 c / (2 pi a) (first zero of J1'), or nine tenths of the quarter-wave
    resonance of the tallest chimney, whichever is lower.
    """
    c = air.speed_of_sound
    limit = 1.8412 * c / (2.0 * np.pi * geometry.bore_r.max(axis=1))
    if geometry.hole_x.shape[1]:
        tallest = (geometry.hole_wall + 0.9 * (geometry.hole_r + geometry.undercut)).max(axis=1)
        limit = np.minimum(limit, 0.9 * c / (4.0 * tallest))
    return np.asarray(limit)


def _solve(network: Network, is_open: Bool, modes: int) -> Complex:
    """Return complex angular frequencies (n, f, m) [rad/s], NaN where there is no such mode."""
    start, exists = _start(network, is_open, modes)
    start = np.where(exists, start, start[..., :1])  # modes that do not exist follow the first, and are removed below
    with np.errstate(over="ignore", invalid="ignore"):  # where not even the first is there
        w = _settle(network, is_open, 2.0 * np.pi * start)
    f = w.real / (2.0 * np.pi)
    exists = exists & (f < mode_limit(network.geometry, network.air)[:, None, None])
    astray = exists & ~(np.abs(f / start - 1.0) < 0.15)
    w[astray | ~exists] = np.nan
    return w


def _start(network: Network, is_open: Bool, modes: int) -> tuple[Real, Bool]:
    """Return lossless frequencies (n, f, m) [Hz], good to a third of a per cent, and which of them exist.

    The phase is taken on a grid up to the limit; its first value beyond that of a mode brackets it, and the bracket is
    cut up twice more. Open holes make steps of the phase, on which cleverer rules than cutting up are slower.
    """
    g = network.geometry
    limit = mode_limit(g, network.air)
    lowest = 0.2 * network.air.speed_of_sound / (2.0 * (g.bore_x[:, -1] - g.bore_x[:, 0]))
    steps = np.linspace(0.0, 1.0, _GRID + 4 * modes)
    grid = lowest[:, None] * (limit / lowest)[:, None] ** steps
    grid = np.concatenate([np.ones_like(lowest)[:, None], grid], axis=1)
    grid = np.broadcast_to(grid[:, None, None], (len(g), is_open.shape[0], 1, grid.shape[1]))
    target = np.pi * np.arange(modes)[:, None]
    exists: Bool | None = None
    for _ in range(_SECTIONS):
        flat = grid.reshape(*grid.shape[:2], -1)
        above = network.phase(flat, is_open).reshape(grid.shape) > target
        exists = above[..., -1] if exists is None else exists
        first = np.maximum(np.argmax(above, axis=-1), 1)[..., None]
        full = np.broadcast_to(grid, above.shape)
        low, high = (np.take_along_axis(full, at, axis=-1) for at in (first - 1, first))
        grid = low + (high - low) * np.linspace(0.0, 1.0, _PARTS + 1)
    assert exists is not None
    return np.sqrt(low * high)[..., 0], exists


def _settle(network: Network, is_open: Bool, start: Real) -> Complex:
    """Return the zeros (n, f, m) [rad/s] next to lossless ``start`` [rad/s]."""
    w: Complex = start.astype(complex)
    if network.losses:
        radius = network.chain.node_r.mean(axis=1)[:, None, None]
        w = w / (line(w, radius, network.air, losses=True).gamma * network.air.speed_of_sound / (1j * w))
    points = [w * (1.0 + 2e-3j), w]
    values = [network.characteristic(point, is_open) for point in points]
    done = np.zeros(w.shape, dtype=bool)
    for _ in range(12):
        # a zero once found stays put, so that it does not depend on what else is solved beside it
        step = np.where(done, 0.0, _muller(points[-3:], values[-3:]))
        moved = np.abs(step / w)
        if len(points) > 2:
            done |= moved * np.abs((points[-1] - points[-2]) / w) <= _SMALL
        points.append(points[-1] + step)
        if done.all():
            break
        values.append(network.characteristic(points[-1], is_open))
    return points[-1]


def _muller(points: list[Complex], values: list[Complex]) -> Complex:
    """Return the step from the last point to the nearest zero of the parabola (line, for two points) through them.

    Muller 1956, Math. Tables Aids Comput. 10, 208.
    """

    def slope(i: int, j: int) -> Complex:
        change = points[j] - points[i]
        return np.asarray((values[j] - values[i]) / np.where(change == 0, 1.0, change))

    last = slope(-2, -1)
    if len(points) < 3:
        return np.asarray(-values[-1] / np.where(last == 0, 1.0, last))
    bend = (last - slope(-3, -2)) / (points[-1] - points[-3] + (points[-1] == points[-3]))
    half = 0.5 * (last + bend * (points[-1] - points[-2]))
    root = np.sqrt(half * half - values[-1] * bend)
    root = np.where((half.conj() * root).real < 0, -root, root)
    below = half + root
    return np.asarray(-values[-1] / np.where(below == 0, 1.0, below))
