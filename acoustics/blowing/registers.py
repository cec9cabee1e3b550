"""Every steady tone that a flute can give: for each resonance a curve of pitch and amplitude over the jet's speed.

The loop of jet and bore closes at the first harmonic: the flow through the window is its admittance times the pressure
that the jet makes there, less what the window's own flow loses (Fabre and Hirschberg 2000, Acustica 86, 599; Auvray,
Fabre and Lagree 2012, J. Acoust. Soc. Am. 131, 1574; Terrien, Vergez and Fabre 2013, J. Sound Vib. 332, 3833). A tone
is at its resonance where a wave takes a quarter of a period to the edge, flat of it where later, sharp where sooner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.blowing.jet import Jet
from acoustics.blowing.poles import Poles
from acoustics.blowing.saturation import Saturation
from acoustics.model.ducts import Complex

Real = NDArray[np.floating[Any]]

REGISTERS: Final = 3
"""Registers that are followed: the resonances, lowest first."""
_TURNS = np.pi * np.linspace(1.0, 0.08, 40)
_ROUNDS = 4
_SOFTEST = 1e-4


@dataclass(frozen=True, slots=True)
class Curves:
    """Steady tones, arrays (f, r, x): fingerings, registers, and the wave's turn on its way, slow jet first.

    Attributes
    ----------
    speed : of the jet [m/s]; frequency [Hz]; velocity : amplitude in the window [m/s], 0 where there is no tone
    grows : (f, r, r, x): how fast a small wave in another register grows on top of the tone [1/s], below 0 if it dies
    starts : (f, r, x): how fast a small wave in the register itself grows on a silent jet [1/s]
    """

    speed: Real
    frequency: Real
    velocity: Real
    grows: Real
    starts: Real


def curves(found: Poles, jet: Jet) -> Curves:
    """Return the tones that a jet can draw from a flute's resonances."""
    saturation = Saturation(jet.offset / jet.half)
    pole = found.pole[:, :REGISTERS, None]
    missing = np.isnan(pole.real)
    pole = np.where(missing, -1e9 + 1e3j, pole)
    turn = np.broadcast_to(_TURNS, (*pole.shape[:2], len(_TURNS)))
    w = np.broadcast_to(pole.imag, turn.shape)
    velocity: Real = np.zeros(turn.shape)
    for _ in range(_ROUNDS):
        speed = jet.speed_at(w, turn)
        flow = _flow_per_push(found, pole, w, jet)
        velocity = _balanced(flow, -pole.real, w, speed, turn, jet, saturation)
        w = pole.imag + _rise(flow, np.maximum(velocity, _SOFTEST), w, speed, turn, jet, saturation).imag
    speed = jet.speed_at(w, turn)
    flow = _flow_per_push(found, pole, w, jet)
    silent = np.full(turn.shape, _SOFTEST)
    starts = _rise(flow, silent, w, speed, turn, jet, saturation).real + pole.real
    velocity = np.where((starts <= 0.0) | missing, 0.0, velocity)
    grows = _grows(found, pole, w, speed, velocity, turn, jet, saturation)
    return Curves(speed, w / (2.0 * np.pi), velocity, grows, np.where(missing, -np.inf, starts))


def _flow_per_push(found: Poles, pole: Complex, w: Real, jet: Jet) -> Complex:
    """Y (s - pole) over the window's area: the residue and what the other resonances add to it [m2/kg]."""
    flow: Complex = found.admittance(w) * (1j * w - pole) / jet.area
    return flow


def _rise(flow: Complex, velocity: Real, w: Real, speed: Real, turn: Real, jet: Jet, saturation: Saturation) -> Complex:
    """What the jet adds to the complex frequency of a tone of an amplitude: growth [1/s] and pulling [rad/s]."""
    gain = jet.gain(turn)
    swing = jet.swing(velocity, speed, gain)
    push = w * jet.drive(speed) * saturation.own(swing) * swing / velocity * np.exp(1j * (0.5 * np.pi - turn))
    lost = 4.0 / (3.0 * np.pi) * jet.density * velocity / jet.loss**2
    rise: Complex = flow * (push - lost)
    return rise


def _balanced(flow: Complex, decay: Real, w: Real, speed: Real, turn: Real, jet: Jet, saturation: Saturation) -> Real:
    """The amplitude [m/s] at which a tone neither grows nor dies; 0 where even the softest dies.

    What the jet gives falls with the swing and what the window loses grows with it, so that they cross once.
    """
    per_velocity = jet.swing(np.ones(turn.shape), speed, jet.gain(turn))
    given = (flow * np.exp(1j * (0.5 * np.pi - turn))).real * w * jet.drive(speed) * per_velocity
    lost = flow.real * 4.0 / (3.0 * np.pi) * jet.density / jet.loss**2 / per_velocity
    left = given[..., None] * saturation.gains - lost[..., None] * saturation.swings - decay[..., None]
    last = np.clip(np.argmax(left <= 0.0, axis=-1), 1, None)[..., None]
    before, after = (np.take_along_axis(left, at, axis=-1)[..., 0] for at in (last - 1, last))
    low, high = (np.log(saturation.swings[at[..., 0]]) for at in (last - 1, last))
    swing = np.exp(low + (high - low) * np.clip(before / np.where(before == after, 1.0, before - after), 0.0, 1.0))
    velocity: Real = np.where(left[..., 0] > 0.0, swing / per_velocity, 0.0)
    return velocity


def _grows(
    found: Poles, pole: Complex, w: Real, speed: Real, velocity: Real, turn: Real, jet: Jet, saturation: Saturation
) -> Real:
    """How a small wave at another resonance fares while a tone stands: (f, tone, other, x)."""
    swing = jet.swing(np.maximum(velocity, _SOFTEST), speed, jet.gain(turn))[:, :, None]
    kept = saturation.other(swing)
    lost = 2.0 / np.pi * jet.density * velocity[:, :, None] / jet.loss**2
    other = np.broadcast_to(pole.imag[:, None], (*w.shape[:2], *w.shape[1:]))
    at = turn[:, :, None] * other / w[:, :, None]
    speeds = np.broadcast_to(speed[:, :, None], other.shape)
    flow = _flow_per_push(found, np.broadcast_to(pole[:, None], other.shape), other, jet)
    unit = jet.swing(np.ones(other.shape), speeds, jet.gain(at))
    push = other * jet.drive(speeds) * kept * unit * np.exp(1j * (0.5 * np.pi - at))
    grows: Real = (flow * (push - lost)).real + pole.real[:, None]
    return grows
