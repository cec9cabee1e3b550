"""A pitch followed from frame to frame, and refined from the phases of its partials."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from acoustics.listening.pitch import BETWEEN, HARMONICS, PLACES, Floats, Phasors, Singles

Flags = NDArray[np.bool_]

_ORDERS: Final = np.arange(1, HARMONICS + 1)
_HALVES = np.array([(2 * place) % 2 == 1 for place in BETWEEN])
_READABLE_DB = 13.0
_INDEPENDENT = 0.1
_LOCKED = 14.0
_FAINTEST = 0.01
_TRACE_DB = 13.0
_REGISTERS = (2, 3)


@dataclass(frozen=True, slots=True)
class Track:
    """Consecutive frames in which one pitch was followed.

    `times`: middle of each frame, s, (n,). `coarse`: supposed fundamental from the peaks of the spectrum, Hz, (n,).
    `phasor`, `above_floor`: partials at `pitch.PLACES`, (n, 15). `loudness`: mean square of the sound, (n,).
    `step`: s from frame to frame.
    """

    times: Floats
    coarse: Floats
    phasor: Phasors
    above_floor: Singles
    loudness: Floats
    step: float

    def __len__(self) -> int:
        return len(self.times)

    @property
    def seconds(self) -> float:
        return len(self.times) * self.step

    @property
    def power(self) -> Floats:
        """Mean square of each partial, (n, 8)."""
        power: Floats = 0.5 * np.abs(self.phasor[:, :HARMONICS]).astype(np.float64) ** 2
        return power

    def part(self, first: int, last: int) -> Track:
        """Frames `first` to `last - 1`."""
        cut = slice(first, last)
        return Track(
            self.times[cut], self.coarse[cut], self.phasor[cut], self.above_floor[cut], self.loudness[cut], self.step
        )

    @staticmethod
    def joined(parts: Sequence[Track]) -> Track:
        """One track of consecutive parts, at least one."""
        return Track(
            np.concatenate([part.times for part in parts]),
            np.concatenate([part.coarse for part in parts]),
            np.concatenate([part.phasor for part in parts]),
            np.concatenate([part.above_floor for part in parts]),
            np.concatenate([part.loudness for part in parts]),
            parts[0].step,
        )


@dataclass(frozen=True, slots=True)
class Advance:
    """Pitch from phases: `each`, (n - 1, 8), every partial's frequency over its order from one frame to the next, Hz;
    `weight`, (8,), adds up to 1 and is each partial's share of what is known of the fundamental; `strongest`: the
    column of the strongest partial."""

    each: Floats
    weight: Floats
    strongest: int

    @property
    def pitch(self) -> Floats:
        """Fundamental from one frame to the next, Hz, (n - 1,)."""
        pitch: Floats = self.each @ self.weight
        return pitch

    def frequency(self) -> float:
        """The fundamental over the whole of it, Hz: the regression of every partial's phase on time, weighted."""
        return float(slope_weights(len(self.each)) @ self.each @ self.weight)


def advance(track: Track, orders: Flags | None = None) -> Advance:
    """Frequencies of at least two frames from the advance of phases between them (Flanagan & Golden 1966, Bell Syst.
    Tech. J. 45, 1493; Brown & Puckette 1993, J. Acoust. Soc. Am. 94, 662): the strongest partial unwrapped about the
    coarse frequency, the others about multiples of it.

    The partials are weighted by order^2 times signal to noise, their share of Fisher's information on the fundamental
    (Nehorai & Porat 1986, IEEE Trans. Acoust. Speech Signal Process. 34, 1124). `orders`, (8,): partials to be used,
    all that can be read where absent.
    """
    strongest = int(track.power.mean(axis=0).argmax())
    phase = np.angle(track.phasor[:, :HARMONICS]).astype(np.float64)
    turns = np.diff(phase, axis=0) / (2.0 * np.pi)
    about = 0.5 * (track.coarse[1:] + track.coarse[:-1])
    about = _unwrapped(turns[:, strongest], about * _ORDERS[strongest], track.step) / _ORDERS[strongest]
    each = _unwrapped(turns, about[:, None] * _ORDERS, track.step) / _ORDERS
    middle: Floats = np.median(track.above_floor[:, :HARMONICS].astype(np.float64), axis=0)
    clear = 10.0 ** (middle / 10.0)
    readable = clear > 10.0 ** (_READABLE_DB / 10.0)
    if orders is not None:
        readable &= orders
    readable[strongest] = True
    weight = np.where(readable, clear * _ORDERS**2, 0.0)
    return Advance(each, weight / weight.sum(), strongest)


def _unwrapped(turns: Floats, about: Floats, step: float) -> Floats:
    """The frequency nearest `about` (Hz) that gives the phase's advance of `turns` in `step` s."""
    off = turns - about * step
    frequency: Floats = about + (off - np.rint(off)) / step
    return frequency


def slope_weights(n: int) -> Floats:
    """Weights (n,), adding up to 1, that make a mean of n steps of phase the least-squares slope through n + 1 phases:
    a parabola. Regression of phase on time reaches the Cramer-Rao bound of a tone's frequency (Tretter 1985, IEEE
    Trans. Inf. Theory 31, 832); small at both ends, it also forgives what is left there of an onset.

    >>> [round(float(w), 3) for w in slope_weights(3)]
    [0.3, 0.4, 0.3]
    """
    k = np.arange(1.0, n + 1.0)
    weights: Floats = 6.0 * k * (n + 1 - k) / (n * (n + 1.0) * (n + 2.0))
    return weights


@dataclass(frozen=True, slots=True)
class Locked:
    """`orders`, (8,): which partials of the supposed fundamental keep step with the strongest; `multiple`: what sounds
    over the supposed fundamental; `overblown`: whether a trace of a lower fundamental sounds with it."""

    orders: Flags
    multiple: float
    overblown: bool = False


def locked(track: Track) -> Locked:
    """Tell partials from noise that a resonance of the bore shapes into a peak: only partials keep step.

    The phasor at each place, turned back by the phase of the strongest partial times their ratio, has a mean that
    stands out of its scatter only where it belongs to the same periodic sound: an F test, frames 0.1 s apart counted as
    independent. What keeps step half-way or at thirds between shows that the octave or the twelfth was followed; where
    only multiples keep step, a subharmonic was. A fundamental of which only a trace is left is no longer what sounds:
    the note is overblown.
    """
    power = np.mean(np.abs(track.phasor.astype(np.complex128)) ** 2, axis=0)
    rise = advance(track)
    phase = 2.0 * np.pi * track.step * np.concatenate(([0.0], np.cumsum(rise.each[:, rise.strongest])))
    still = track.phasor * np.exp(-1j * phase[:, None] * PLACES)
    mean = np.abs(still.mean(axis=0)) ** 2
    scatter = np.maximum(power - mean, 1e-12 * power.max() + 1e-30)
    keeps = (mean * track.seconds / _INDEPENDENT > _LOCKED * scatter) & (power > _FAINTEST**2 * power.max())
    keeps[rise.strongest] = True
    orders, between = keeps[:HARMONICS], keeps[HARMONICS:]
    if between[_HALVES].any():
        multiple = 0.5
    elif between[~_HALVES].sum() >= 2:
        multiple = 1.0 / 3.0
    else:
        multiple = float(np.gcd.reduce(_ORDERS[orders]))
    register = _register(np.where(keeps, mean, 0.0), multiple)
    return Locked(orders, multiple * register, register > 1)


def _register(power: Floats, multiple: float) -> int:
    """The partial of the fundamental, at `multiple` times the supposed one, that sounds as the note: 1 as a rule.

    `power`, (15,): of what keeps step at the places. An overblown note of a duct flute keeps a trace of its lower
    octave, 14 to 30 dB down or less, at the fundamental and half-way between the partials of the note (measured on the
    recordings published with arXiv:2107.08727); in the first register the second partial does not stand so far above
    all odd ones.
    """
    order = PLACES / multiple
    nearest = np.rint(order).astype(np.intp)
    belongs = (np.abs(order - nearest) < 1e-6) & (power > 0.0)
    for register in _REGISTERS:
        sounds = belongs & (nearest % register == 0)
        trace = belongs & ~sounds
        if sounds.any() and trace.any() and power[sounds].max() > 10.0 ** (_TRACE_DB / 10.0) * power[trace].max():
            return register
    return 1
