"""Synthesised sounds for tests of listening: flute tones, breath, speech, hum, knocks. Seeded, of our own invention."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]

FLUTE = (1.0, 0.35, 0.18, 0.06, 0.03)
"""Amplitudes of the partials of an ordinary tone."""
WEAK_FUNDAMENTAL = (0.12, 1.0, 0.25, 0.2, 0.05)
STRONG_SECOND = (0.5, 1.0, 0.1, 0.1)
NO_FUNDAMENTAL = (0.0, 1.0, 0.7, 0.5, 0.3)
ODD = (1.0, 0.02, 0.4, 0.02, 0.15)
PURE = (1.0,)


def tone(
    frequency: float,
    seconds: float = 1.0,
    rate: int = 48000,
    partials: Sequence[float] = FLUTE,
    vibrato_cents: float = 0.0,
    vibrato_hz: float = 5.5,
    tremolo: float = 0.0,
    glide_cents: float = 0.0,
    attack: float = 0.03,
    seed: int = 0,
) -> Floats:
    """A blown tone of mean square 1/2; it starts `glide_cents` off and settles with a time constant of 30 ms."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    swing = np.sin(2 * np.pi * vibrato_hz * t + rng.uniform(0, 2 * np.pi))
    cents = vibrato_cents * swing + glide_cents * np.exp(-t / 0.03)
    phase = 2 * np.pi * np.cumsum(frequency * 2 ** (cents / 1200)) / rate
    sound = np.zeros_like(t)
    norm = 0.0
    for h, a in enumerate(partials, 1):
        if h * frequency < 0.48 * rate:
            sound += a * np.sin(h * phase + rng.uniform(0, 2 * np.pi))
            norm += a * a
    envelope = (1 - np.exp(-t / attack)) * np.clip((seconds - t) / 0.02, 0, 1) if attack else 1.0
    return sound / np.sqrt(norm) * envelope * (1 + tremolo * swing)


def traced(frequency: float, trace_db: float, seed: int = 0, seconds: float = 1.0, glide: float = 0.0) -> Floats:
    """An overblown tone that sounds `frequency`: of the octave below, its first and third partial remain, `trace_db`
    and 4 dB less against the tone's strongest, in step with it. `glide`: cents by which it rises over its length."""
    weak = 10 ** (trace_db / 20)
    t = np.arange(round(seconds * 48000)) / 48000
    rng = np.random.default_rng(seed)
    phase = 2 * np.pi * np.cumsum(0.5 * frequency * 2 ** (glide * t / seconds / 1200)) / 48000
    partials = ((1, weak), (2, 1.0), (3, 0.63 * weak), (4, 0.2), (6, 0.1))
    sound = np.sum([a * np.sin(n * phase + rng.uniform(0, 2 * np.pi)) for n, a in partials], axis=0)
    envelope = (1 - np.exp(-t / 0.03)) * np.clip((seconds - t) / 0.02, 0, 1)
    return np.asarray(sound * envelope)


def white(seconds: float, rate: int = 48000, seed: int = 0) -> Floats:
    """White noise of mean square 1/2."""
    return np.random.default_rng(seed).standard_normal(round(seconds * rate)) * np.sqrt(0.5)


def breath(
    seconds: float,
    rate: int = 48000,
    seed: int = 0,
    fundamental: float = 440.0,
    q: float = 30.0,
    resonant: float = 1.0,
) -> Floats:
    """Noise of a duct flute's jet, mean square 1/2: broad about 2 kHz, and rung by the bore's modes."""
    x = white(seconds + 0.1, rate, seed)
    broad = _resonator(x, 1800.0, 0.7, rate) + 0.5 * _resonator(x, 3600.0, 0.7, rate)
    broad /= broad.std()
    rung = np.zeros_like(x)
    for mode in range(1, 7):
        f = fundamental * mode * (1 + 0.004 * mode)
        if f < 0.45 * rate:
            part = _resonator(x, f, q, rate)
            rung += part / part.std() / mode
    sound = broad + resonant * rung / rung.std()
    sound = sound[round(0.1 * rate) :]
    return sound / sound.std() * np.sqrt(0.5)


def speech(seconds: float, rate: int = 48000, seed: int = 0, voice: float = 120.0, liveliness: float = 1.0) -> Floats:
    """Syllables of a source and four formants: a gliding voice, vowels, hisses and pauses."""
    rng = np.random.default_rng(seed)
    out = []
    total = 0.0
    while total < seconds:
        length = rng.uniform(0.12, 0.28)
        n = round(length * rate)
        t = np.arange(n) / rate
        start, end = voice * 2 ** (liveliness * rng.uniform(-4, 4, 2) / 12)
        f0 = (
            start
            * (end / start) ** (t / length)
            * 2 ** (0.1 * np.sin(2 * np.pi * rng.uniform(3, 6) * t) * liveliness / 12)
        )
        jitter = 1 + 0.005 * np.repeat(rng.standard_normal(n // 400 + 1), 400)[:n]
        phase = np.cumsum(f0 * jitter) / rate
        source = np.diff(2 * np.mod(phase, 1.0) - 1, prepend=0.0) + 0.02 * rng.standard_normal(n)
        source = lfilter([1], [1, -0.96], source)
        vowel = np.array([rng.uniform(280, 800), rng.uniform(900, 2300), rng.uniform(2400, 3000), 3500])
        sound = source
        for f, b in zip(vowel, (70, 100, 140, 200), strict=True):
            sound = _resonator(sound, f, f / b, rate)
        sound = sound / sound.std() * np.sin(np.pi * t / length) ** 0.5 * rng.uniform(0.5, 1)
        out.append(sound)
        if rng.random() < 0.5:
            hiss = _resonator(
                rng.standard_normal(round(rng.uniform(0.04, 0.12) * rate)), rng.uniform(3000, 6000), 2, rate
            )
            out.append(0.3 * hiss / hiss.std())
        if rng.random() < 0.3:
            out.append(np.zeros(round(rng.uniform(0.03, 0.3) * rate)))
        total = sum(map(len, out)) / rate
    sound = np.concatenate(out)[: round(seconds * rate)]
    return sound / sound.std() * np.sqrt(0.5)


def hum(seconds: float, rate: int = 48000, seed: int = 0, mains: float = 50.0) -> Floats:
    """Mains hum with its harmonics over a rumbling room, mean square 1/2."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * rate)) / rate
    sound = np.zeros_like(t)
    for h in range(1, 16):
        sound += rng.uniform(0.2, 1.0) / h**0.7 * np.sin(2 * np.pi * mains * h * t + rng.uniform(0, 2 * np.pi))
    rumble = lfilter([1], [1, -0.995], rng.standard_normal(t.size))
    sound = sound / sound.std() + 0.3 * rumble / rumble.std()
    return sound / sound.std() * np.sqrt(0.5)


def knocks(seconds: float, rate: int = 48000, seed: int = 0, every: float = 0.2) -> Floats:
    """Clicks and fingers that slap on holes: the bore rings for some 20 ms each time."""
    rng = np.random.default_rng(seed)
    sound = np.zeros(round(seconds * rate))
    at = 0.05
    while at < seconds - 0.1:
        hit = np.zeros(round(0.1 * rate))
        hit[: rng.integers(1, 40)] = rng.uniform(0.3, 1.0)
        if rng.random() < 0.7:
            hit = hit + 3 * _resonator(hit, rng.uniform(300, 1500), rng.uniform(10, 40), rate)
        i = round(at * rate)
        sound[i : i + len(hit)] += hit
        at += every * rng.uniform(0.4, 1.6)
    return sound / np.abs(sound).max()


def mixed(signal: Floats, noise: Floats, snr_db: float, level: float = 0.2) -> NDArray[np.float32]:
    """`signal` with `noise` at `snr_db` (of mean squares; a full tone is taken to have 1/2), scaled by `level`."""
    return (level * (signal + 10 ** (-snr_db / 20) * noise[: len(signal)])).astype(np.float32)


def _resonator(x: Floats, frequency: float, q: float, rate: int) -> Floats:
    radius = np.exp(-np.pi * frequency / q / rate)
    a = [1.0, -2 * radius * np.cos(2 * np.pi * frequency / rate), radius**2]
    y: Floats = lfilter([1.0, 0.0, -1.0], a, x)
    return y / np.abs(
        np.polyval([1.0, 0.0, -1.0], np.exp(2j * np.pi * frequency / rate))
        / np.polyval(a, np.exp(2j * np.pi * frequency / rate))
    )
