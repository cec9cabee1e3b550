"""The note that sounds in each short frame, followed through glides and jumps that are no steady notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.listening.mixing import Stream
from acoustics.listening.pitch import Floats, Framer, Spectra
from acoustics.listening.tracks import Flags

BOTTOM: Final = 150.0
TOP: Final = 5200.0
"""Where the strongest partial is looked for, Hz: a flute's first two registers."""

_CLEAR_DB = 16.0
_FAINT_DB = 45.0
_FAINTEST_DB = -80.0
_TRACE_DB = 8.0  # next to the jump a trace may stand as high as 11 dB below
_BELOW = (1 / 2, 1 / 3)


@dataclass(frozen=True, slots=True)
class Sounding:
    """Frames of sound: `times` [s], `frequency` [Hz], `level` [dB against a sine at full scale], `sounds`: whether a
    tone stands out of the noise, all (n,). `step`: s from frame to frame."""

    times: Floats
    frequency: Floats
    level: Floats
    sounds: Flags
    step: float


def followed(blocks: Iterable[NDArray[np.floating[Any]]], rate: int) -> Sounding:
    """What sounds in each frame of a recording, full scale 1. Raises InvalidInput for anything that is not sound."""
    framer = Framer(rate)
    stream = Stream(framer)
    found = [_strongest(framer.transform(part), framer.hop) for block in blocks for part in stream.take(block)]
    empty = np.zeros(0)
    frequency, level, clear = (np.concatenate([part[i] for part in found]) if found else empty for i in range(3))
    times = (np.arange(len(level)) * framer.hop + 0.5 * framer.length) / rate
    loudest = float(level.max()) if len(level) else 0.0
    sounds = (clear > _CLEAR_DB) & (level > max(loudest - _FAINT_DB, _FAINTEST_DB))
    return Sounding(times, frequency, level, sounds, framer.hop / rate)


def _strongest(spectra: Spectra, hop: int) -> tuple[Floats, Floats, Floats]:
    """Frequency, level and height over the noise floor [dB] of each frame's note: its strongest partial, or the half or
    third of it where a partial of that stands too high to be a trace."""
    size = np.abs(spectra.values)
    first, end = int(BOTTOM / spectra.spacing), int(TOP / spectra.spacing)
    rows = np.arange(len(size))
    peak = size[:, first:end].argmax(axis=1) + first
    left, middle, right = (np.log(size[rows, peak + d] + 1e-12).astype(np.float64) for d in (-1, 0, 1))
    curve = np.minimum(left - 2.0 * middle + right, -1e-9)
    frequency = (peak + np.clip(0.5 * (left - right) / curve, -0.5, 0.5)) * spectra.spacing
    frequency = _by_phase(spectra, frequency, peak, hop)
    strongest = size[rows, peak]
    note = frequency.copy()
    for share in _BELOW:
        odd = [share * k for k in (1, 2, 3, 5) if (share * k) % 1.0 > 1e-6]
        places = np.rint(frequency[:, None] * np.array(odd) / spectra.spacing).astype(np.intp)
        inside = places < size.shape[1]
        here = np.where(inside, size[rows[:, None], np.where(inside, places, 0)], 0.0).max(axis=1)
        above = spectra.above_floor[rows[:, None], np.where(inside, places, 0)].max(axis=1)
        whole = (here > strongest * 10.0 ** (-_TRACE_DB / 20.0)) & (above > _CLEAR_DB) & (share * frequency > BOTTOM)
        note = np.where(whole & (note == frequency), share * frequency, note)
    level = 20.0 * np.log10(strongest * spectra.gain + 1e-15)
    return note, level.astype(np.float64), spectra.above_floor[rows, peak].astype(np.float64)


def _by_phase(spectra: Spectra, frequency: Floats, peak: NDArray[np.intp], hop: int) -> Floats:
    """The same frequencies from the phase's advance to the next frame, where that is the same partial."""
    if len(frequency) < 2:
        return frequency
    rows = np.arange(len(peak) - 1)
    rate = spectra.spacing * spectra.points
    # Both phases are read at one bin, whose own advance by a hop is known.
    turns = np.angle(spectra.values[rows + 1, peak[:-1]] * spectra.values[rows, peak[:-1]].conj()) / (2.0 * np.pi)
    # A frame's phase counts from its own start, so it advances by frequency times hop.
    about = 0.5 * (frequency[1:] + frequency[:-1]) * hop / rate
    near = np.abs(frequency[1:] / frequency[:-1] - 1.0) < 0.01
    refined = (about + (turns - about - np.rint(turns - about))) * rate / hop
    each = np.where(near, refined, frequency[:-1])
    return np.concatenate([each, frequency[-1:]])
