"""One or two channels mixed to the one that is analysed."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.errors import InvalidInput
from acoustics.listening.pitch import Framer, Singles

LOUDEST: Final = 16.0
"""Samples beyond this many times full scale are refused."""

_BLOCK = 0.02
_MEMORY = 1.0
_CHUNK = 128


class Mixer:
    """Weighs channels by their first principal component, so that a tone is kept whatever its polarity in each.

    A plain sum would lose a tone whose channels are of opposite sign. The weights follow the covariance of the last
    second (Hotelling 1933, J. Educ. Psychol. 24, 417) and move a little in each 20 ms; of two channels, less than that
    waits for the next samples.
    """

    def __init__(self, rate: int) -> None:
        self._block = max(1, round(_BLOCK * rate))
        self._rest = np.zeros((0, 2), np.float32)
        self._covariance = np.zeros((2, 2))
        self._weights = np.zeros(2)

    def mix(self, samples: NDArray[np.floating[Any]]) -> Singles:
        """One channel, (m,), of `samples`, (m,) or (m, channels). Raises InvalidInput."""
        if samples.ndim not in (1, 2) or (samples.ndim == 2 and samples.shape[1] not in (1, 2)):
            raise InvalidInput("samples", samples.shape, "must have one or two channels")
        peak = float(np.max(np.abs(samples))) if samples.size else 0.0
        if not peak <= LOUDEST:
            raise InvalidInput("samples", peak, f"must be numbers up to {LOUDEST:g} times full scale")
        sound = samples.astype(np.float32, copy=False)
        if sound.ndim == 1:
            return sound
        if sound.shape[1] == 1:
            return sound[:, 0]
        sound = np.concatenate((self._rest, sound))
        whole = len(sound) // self._block * self._block
        self._rest = sound[whole:].copy()
        mixed = [self._weighed(sound[i : i + self._block]) for i in range(0, whole, self._block)]
        return np.concatenate(mixed) if mixed else np.zeros(0, np.float32)

    def _weighed(self, block: Singles) -> Singles:
        """A block under weights that move from the last ones to those of the sound by now."""
        keep = np.exp(-_BLOCK / _MEMORY)
        self._covariance = keep * self._covariance + block.T.astype(np.float64) @ block
        weights = np.linalg.eigh(self._covariance)[1][:, -1]
        before = self._weights
        if not before.any():
            before = weights = weights * (np.sign(weights.sum()) or 1.0)
        elif before @ weights < 0.0:
            weights = -weights
        self._weights = weights
        ramp = (np.arange(1, len(block) + 1) / len(block))[:, None]
        mixed: Singles = np.sum(block * (before + (weights - before) * ramp), axis=1).astype(np.float32)
        return mixed


class Stream:
    """Sound as it comes, cut for a framer: what does not fill a frame waits for the next samples."""

    def __init__(self, framer: Framer) -> None:
        self._framer = framer
        self._mixer = Mixer(framer.rate)
        self._rest = np.zeros(0, np.float32)

    def take(self, samples: NDArray[np.floating[Any]]) -> list[Singles]:
        """Stretches of at most 128 whole frames, of `samples`, (m,) or (m, channels). Raises InvalidInput."""
        framer = self._framer
        sound = np.concatenate((self._rest, self._mixer.mix(samples)))
        whole = max(0, (len(sound) - framer.length) // framer.hop + 1)
        self._rest = sound[whole * framer.hop :].copy()
        stretches = []
        for first in range(0, whole, _CHUNK):
            begin, count = first * framer.hop, min(_CHUNK, whole - first)
            stretches.append(sound[begin : begin + (count - 1) * framer.hop + framer.length])
        return stretches
