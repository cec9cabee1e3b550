"""The pitch of each short frame of sound: spectra, candidates for the fundamental, partials with their phases.

A frame is 60 ms under a Hann window, a new one every 10 ms. All arrays have frames on the first axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Phasors = NDArray[np.complex64]
Places = NDArray[np.intp]

WINDOW: Final = 0.060
"""Length of a frame, s: resolves partials 55 Hz apart, and is centred 30 ms ago."""
HOP: Final = 0.010
"""From one frame to the next, s."""
LOWEST: Final = 45.0
"""Lowest fundamental that is looked for, Hz: below any flute, so that voices and hum are recognised."""
HIGHEST: Final = 2600.0
RUMBLE: Final = 150.0
"""Sound below this does not count against a note, Hz."""
TOP: Final = 8000.0
"""Partials above this are not looked at, Hz."""

LEAST_SCORE: Final = 12.0
"""dB by which a fundamental must be clearer than chance."""

HARMONICS: Final = 8
BETWEEN: Final = (1 / 2, 3 / 2, 5 / 2, 1 / 3, 2 / 3, 4 / 3, 5 / 3)
"""Where partials would lie if the true fundamental were a half or a third of the one supposed."""
PLACES: Final = np.array([*range(1, HARMONICS + 1), *BETWEEN])
"""Multiples of the supposed fundamental at which partials are read, shape (15,)."""

_PEAKS = 4
_DIVISORS = np.arange(1, 6)
_ORDERS = np.arange(1.0, HARMONICS + 1.0)
_HALF_WAY = np.array([0.5, 1.5, 2.5])
_BAND = 500.0
_QUANTILE = 0.35
_DYNAMIC_RANGE = 1e-6
_CHANCE_DB = 11.0
_ENOUGH_DB = 40.0
_MISSING_DB = 5.0
_FROM_LESSER = 0.5


@dataclass(frozen=True, slots=True)
class Spectra:
    """Short-time spectra of `n` frames up to `TOP`.

    `values`: complex spectrum, (n, bins); `above_floor`: power over the local noise floor, dB, (n, bins);
    `spacing`: Hz from bin to bin; `centre`: the window's middle in samples from its start; `points`: length
    of the transform; `gain`: peak amplitude of a sinusoid per unit of |values|; `loudness`: mean square of the
    sound above `RUMBLE`, (n,).
    """

    values: Phasors
    above_floor: Singles
    spacing: float
    centre: float
    points: int
    gain: float
    loudness: Floats


@dataclass(frozen=True, slots=True)
class Candidates:
    """Possible fundamentals: `frequency` in Hz and `score` in dB, both (n, 20); `best`: (n,) index or -1 for none."""

    frequency: Floats
    score: Floats
    best: Places


@dataclass(frozen=True, slots=True)
class Partials:
    """What was read at the `PLACES` of each frame's fundamental.

    `phasor`: amplitude (peak) and phase at the middle of the frame, (n, 15); `above_floor`: dB, (n, 15).
    """

    phasor: Phasors
    above_floor: Singles


class Framer:
    """Cuts a stream into frames and transforms them.

    The spectrum is that of a Hann window of `WINDOW` (Harris 1978, Proc. IEEE 66, 51), zero-padded to twice its length.
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.length = round(WINDOW * rate)
        self.hop = round(HOP * rate)
        self._points = int(fft.next_fast_len(2 * self.length, real=True))
        window = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(self.length) + 0.5) / self.length)
        self._window = window.astype(np.float32)
        self._gain = 2.0 / float(window.sum())
        self.spacing = rate / self._points
        self._bins = int(min(TOP, 0.46 * rate) / self.spacing)
        self._band = max(8, round(_BAND / self.spacing))

    def transform(self, samples: Singles) -> Spectra:
        """Spectra of every whole frame in `samples`, shape (m,)."""
        frames = sliding_window_view(samples, self.length)[:: self.hop]
        values = fft.rfft(frames * self._window, self._points, axis=1)[:, : self._bins]
        power = values.real**2 + values.imag**2
        above = 10.0 * np.log10(np.maximum(power, 1e-20) / self._floor(power))
        centre = 0.5 * (self.length - 1)
        ratio = 1.5 * self._points / self.length
        loudness = power[:, int(RUMBLE / self.spacing) :].sum(axis=1, dtype=np.float64) * (0.5 * self._gain**2 / ratio)
        return Spectra(values, above, self.spacing, centre, self._points, self._gain, loudness)

    def _floor(self, power: Singles) -> Singles:
        """Noise floor of each bin: a low quantile within bands of 500 Hz, so that partials do not count."""
        whole = self._bins // self._band
        bands = power[:, : whole * self._band].reshape(len(power), whole, self._band)
        rank = int(_QUANTILE * self._band)
        level = np.partition(bands, rank, axis=2)[:, :, rank]
        strongest = power.max(axis=1, keepdims=True)
        level = np.maximum(level, _DYNAMIC_RANGE * strongest + 1e-14)
        floor: Singles = level[:, np.minimum(np.arange(self._bins) // self._band, whole - 1)]
        return floor


def candidates(spectra: Spectra, low: float = LOWEST, high: float = HIGHEST) -> Candidates:
    """Possible fundamentals of each frame between `low` and `high` Hz.

    Each of the four clearest peaks is taken for the first to fifth partial of a fundamental. The score is what a
    fundamental explains (dB over what chance gives, at its partials), less what it leaves out half-way between
    its partials, less a fine for each partial that is absent below its last one: what it leaves out guards
    against the octave above, the fine against the octave below.
    """
    rows, ranks, peaks, height = _peaks(spectra)
    frequency = peaks[:, None] / _DIVISORS
    usable = (frequency >= low) & (frequency <= high)
    evidence = _evidence(spectra, rows, frequency, _ORDERS)
    left_out = _evidence(spectra, rows, frequency, _HALF_WAY)
    present = evidence > 0.0
    last = np.where(present, _ORDERS, 0).max(axis=2)
    absent = last - present.sum(axis=2)
    score = evidence.sum(axis=2) - left_out.sum(axis=2) - _MISSING_DB * absent
    n = len(spectra.values)
    clearest = np.zeros(n)
    np.maximum.at(clearest, rows, height)
    score -= _FROM_LESSER * (clearest[rows] - height)[:, None]
    shape = (n, _PEAKS, len(_DIVISORS))
    frequencies, scores = np.zeros(shape), np.full(shape, -np.inf)
    frequencies[rows, ranks] = frequency
    scores[rows, ranks] = np.where(usable, score, -np.inf)
    flat = scores.reshape(n, -1)
    best = flat.argmax(axis=1)
    clear = flat[np.arange(n), best] >= LEAST_SCORE
    return Candidates(frequencies.reshape(n, -1), flat, np.where(clear, best, -1))


def partials(spectra: Spectra, frequency: Floats) -> Partials:
    """Partials at the `PLACES` of each frame's `frequency`, (n,) Hz; beyond the spectrum they are 0.

    A symmetric window's spectrum has the phase of the sinusoid at the window's middle throughout its main lobe,
    so the nearest bin will do.
    """
    places = frequency[:, None] * PLACES / spectra.spacing
    bins = np.rint(places).astype(np.intp)
    inside = bins < spectra.values.shape[1]
    bins = np.where(inside, bins, 0)
    rows = np.arange(len(frequency))[:, None]
    turn = np.exp(2j * np.pi * np.mod(bins * (spectra.centre / spectra.points), 1.0))
    phasor = np.where(inside, spectra.values[rows, bins] * turn * spectra.gain, 0.0)
    above = np.where(inside, spectra.above_floor[rows, bins], 0.0)
    return Partials(phasor.astype(np.complex64), above.astype(np.float32))


def _peaks(spectra: Spectra) -> tuple[Places, Places, Floats, Floats]:
    """The clearest peaks, at most four a frame: frame, rank within it, frequency in Hz by a parabola through the log
    spectrum (Smith & Serra 1987), all (peaks,)."""
    first, end = max(1, int(LOWEST / spectra.spacing)), int(2.1 * HIGHEST / spectra.spacing)
    above = spectra.above_floor[:, first - 1 : end + 1]
    inner = above[:, 1:-1]
    rows, bins = np.nonzero((inner > _CHANCE_DB) & (inner > above[:, :-2]) & (inner >= above[:, 2:]))
    order = np.lexsort((-inner[rows, bins], rows))
    rows, bins = rows[order], bins[order] + first
    begins = np.searchsorted(rows, rows)
    ranks = np.arange(len(rows)) - begins
    kept = ranks < _PEAKS
    rows, bins, ranks = rows[kept], bins[kept], ranks[kept]
    power = np.log(np.abs(spectra.values[rows, bins + np.array([[-1], [0], [1]])]) + 1e-20)
    left, middle, right = power.astype(np.float64)
    curve = np.minimum(left - 2.0 * middle + right, -1e-9)
    shift = np.clip(0.5 * (left - right) / curve, -0.5, 0.5)
    return rows, ranks, (bins + shift) * spectra.spacing, spectra.above_floor[rows, bins].astype(np.float64)


def _evidence(spectra: Spectra, rows: Places, frequency: Floats, multiples: Floats) -> Floats:
    """How far the spectrum rises over chance at `multiples` of `frequency`, dB, (peaks, divisors, multiples)."""
    bins = np.rint(frequency[:, :, None] * (multiples / spectra.spacing)).astype(np.intp)
    inside = bins < spectra.above_floor.shape[1]
    above = spectra.above_floor[rows[:, None, None], np.where(inside, bins, 0)]
    return np.where(inside, np.clip(above - _CHANCE_DB, 0.0, _ENOUGH_DB), 0.0)
