"""The same jet and bore as `acoustics.blowing`, run in time instead of solved for one harmonic."""

from __future__ import annotations

import cmath
import math

import numpy as np

from acoustics.blowing.jet import Jet
from acoustics.blowing.poles import Poles

RATE = 96000


def flow_velocity(found: Poles, note: int, jet: Jet, pressures: np.ndarray) -> np.ndarray:
    """Velocity in the window [m/s] for a pressure at each sample (at `RATE`), from a small knock at rest.

    The jet's response to frequency, exp(-(f / F)^2), is a bell in time; its delay is that of the wave.
    """
    here = ~np.isnan(found.pole[note].real)
    step = 1.0 / RATE
    modes = [(cmath.exp(p * step), r * (cmath.exp(p * step) - 1.0) / p)
             for p, r in zip(found.pole[note, here], found.residue[note, here], strict=True)]  # fmt: skip
    still = float(found.still[note]) * step
    state, drift = [0j] * len(modes), 0.0
    velocity = np.zeros(len(pressures))
    v, bent_before, last, taps, delays = 0.0, 0.0, -1.0, np.zeros(0), np.zeros(0, int)
    scale = strength = 0.0
    knock = np.random.default_rng(1).normal(0.0, 1.0, len(pressures))
    for n, pressure in enumerate(pressures):
        if n % 64 == 0 and pressure != last:
            last = pressure
            speed = float(jet.speed(np.array(pressure)))
            delay = jet.cut_up / (jet.wave * speed) * RATE
            width = jet.depth / (jet.cut_off * speed) / (math.sqrt(2.0) * math.pi) * RATE
            delays = np.arange(max(1, round(delay - 4 * width)), round(delay + 4 * width) + 1)
            taps = np.exp(-0.5 * ((delays - delay) / width) ** 2)
            taps *= jet.depth / speed * math.exp(jet.growth) / taps.sum()
            scale, strength = jet.half, float(jet.drive(np.array(speed)))
        at = n - delays
        moved = float(taps @ np.where(at >= 0, velocity[np.maximum(at, 0)], 0.0))
        bent = math.tanh((moved - jet.offset) / scale)
        push = strength * (bent - bent_before) * RATE if n else 0.0
        bent_before = bent
        push -= 0.5 * jet.density * v * abs(v) / jet.loss**2
        push += 0.02 * knock[n]
        flow = 0.0
        for k, (turn, gain) in enumerate(modes):
            state[k] = turn * state[k] + gain * push
            flow += 2.0 * state[k].real
        drift = drift * 0.9998 + still * push
        v = (flow + drift) / jet.area
        velocity[n] = v
    return velocity


def pitch(velocity: np.ndarray, seconds: float = 0.2) -> float:
    """Frequency of the strongest partial over the last `seconds` [Hz]."""
    part = velocity[-round(seconds * RATE) :]
    part = part * np.hanning(len(part))
    spectrum = np.abs(np.fft.rfft(part, 8 * len(part)))
    k = int(spectrum[8:].argmax()) + 8
    left, middle, right = np.log(spectrum[k - 1 : k + 2])
    return float((k + 0.5 * (left - right) / (left - 2 * middle + right)) * RATE / (8 * len(part)))
