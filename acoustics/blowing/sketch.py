"""A sketch in sound of what a flute would play: its pitch and speech as `sounding` has them, and no more of its tone.

The pitch is the model's own. A register comes and goes with the decay of its resonance, breath is noise through the
resonances; strengths of partials, noise and loudness are plain guesses. `static/flute.js` does the same in a browser.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from acoustics.blowing.sounding import Sounding

Floats = NDArray[np.floating[Any]]

RATE: Final = 44100
STEP: Final = 0.005
"""s between the breath's values."""
PARTIALS: Final = (1.0, 0.22, 0.1, 0.04)
"""Amplitudes of a tone's partials: a guess."""
BREATH_NOISE: Final = 0.012
"""Noise over tone: a guess."""
_FULL_DB = 72.0
_SEED = 20


def steady(pressure: float, seconds: float = 1.3) -> Floats:
    """Breath [Pa] at each `STEP` for one note that is blown at a pressure, with a soft beginning and end."""
    times = np.arange(0.0, seconds, STEP)
    breath: Floats = pressure * np.clip(np.minimum(times / 0.04, (seconds - times) / 0.05), 0.0, 1.0)
    return breath


def swell(note: Sounding, seconds: float = 5.0) -> Floats:
    """Breath [Pa] at each `STEP` from nothing over the note's jump and back."""
    top = 1.5 * (note.overblows_at or 3.0 * (note.speaks_at or 100.0))
    times = np.arange(0.0, seconds, STEP)
    breath: Floats = top * np.sin(np.pi * times / seconds) ** 1.5
    return breath


def play(notes: Sequence[tuple[Sounding, Floats]], pause: float = 0.25) -> NDArray[np.int16]:
    """Return the notes one after another at `RATE`, each with its breath [Pa at each `STEP`], as 16-bit samples."""
    rng = np.random.default_rng(_SEED)
    silence = np.zeros(round(pause * RATE))
    parts: list[Floats] = [silence]
    for note, breath in notes:
        parts += [_one(note, breath, rng), silence]
    sound = np.concatenate(parts)
    loudest = max(float(np.abs(sound).max()), 1e-9)
    whole: NDArray[np.int16] = np.rint(sound * min(1.0, 0.9 / loudest) * 32767).astype(np.int16)
    return whole


def _one(note: Sounding, breath: Floats, rng: np.random.Generator) -> Floats:
    count = round(len(breath) * STEP * RATE)
    at = np.arange(count) / RATE / STEP
    steps = np.arange(len(breath))
    path: list[int | None] = []
    register: int | None = None
    for pressure in breath.tolist():
        register = note.register_after(register, pressure)
        path.append(register)
    sound = np.zeros(count)
    strength = np.sqrt(np.clip(breath / max(float(breath.max()), 1e-9), 0.0, 1.0))
    noise = rng.standard_normal(count) * np.interp(at, steps, strength)
    for number, one in note.registers.items():
        on = np.array([1.0 if r == number else 0.0 for r in path])
        pressures = np.maximum(breath, note.speaks_at or 1.0)
        sound += BREATH_NOISE / number * _rung(noise, one.passive, one.decay)
        if not on.any():
            continue
        frequency = np.interp(at, steps, [one.frequency(p) for p in pressures.tolist()])
        level = 10.0 ** ((np.interp(np.log(pressures), one.log_pressure, one.level) - _FULL_DB) / 20.0)
        # A register builds up and dies away as its resonance does.
        keep = np.exp(-one.decay / RATE)
        envelope = lfilter([1.0 - keep], [1.0, -keep], np.interp(at, steps, on * level))
        phase = 2.0 * np.pi * np.cumsum(frequency) / RATE
        for order, amplitude in enumerate(PARTIALS, 1):
            if order * one.passive < 0.45 * RATE:
                sound += amplitude * envelope * np.sin(order * phase)
    return sound


def _rung(noise: Floats, frequency: float, decay: float) -> Floats:
    """Noise through one resonance, of mean square near that of the noise."""
    radius = np.exp(-decay / RATE)
    turn = 2.0 * np.pi * frequency / RATE
    gain = np.sqrt(1.0 - radius**2) * np.sqrt(2.0) * np.sin(turn)
    rung: Floats = lfilter([gain], [1.0, -2.0 * radius * np.cos(turn), radius**2], noise)
    return rung


def document(note: Sounding) -> dict[str, Any]:
    """One note for the browser: what `static/flute.js` takes."""
    return {
        "fingering": note.fingering,
        "speaks": note.speaks_at,
        "falls": note.falls_back_at,
        "jumps": list(note.jumps),
        "registers": [
            {
                "number": number,
                "passive": round(one.passive, 3),
                "decay": round(one.decay, 2),
                "log": [round(float(x), 5) for x in one.log_pressure],
                "cents": [round(float(x), 2) for x in one.cents],
                "level": [round(float(x) - _FULL_DB, 1) for x in one.level],
            }
            for number, one in sorted(note.registers.items())
        ],
    }
