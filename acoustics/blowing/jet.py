"""The jet: speed out of the flue, waves on the way to the edge, and what they do there. Sizes in mm, the rest SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.errors import InvalidInput
from acoustics.fields import number
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air

Real = NDArray[np.floating[Any]]

WAVE: Final = 0.4
"""Speed of waves on the jet over the jet's own: 0.3 to 0.5 (de la Cuadra 2005, thesis, Paris and Stanford; from
memory). At 0.4 a wave takes a quarter of a period to the edge at a reduced jet speed of 10."""

GROWTH: Final = 0.4
"""Growth of a wave, over the flue's depth: e^(0.4 W / h) (de la Cuadra 2005, from memory)."""

LARGEST_GROWTH: Final = 1.6
"""The exponent at most: a jet seven depths long does not amplify by e^2.8 (own choice)."""

CUT_OFF: Final = 0.15
"""Strouhal number f h / U beyond which a jet amplifies little, for a window four flue depths long, and less for longer
ones (own choice; a jet that follows every frequency alike lets false high notes speak first)."""

HALF_THICKNESS: Final = 0.4
"""Half thickness of the jet's profile over the flue's depth (Segoufin, Fabre and others 2000, Acustica 86, 649)."""

OFFSET: Final = 0.1
"""How far the edge lies off the middle of the jet [mm] (as in Terrien, Vergez and Fabre 2013, from memory)."""

VENA_CONTRACTA: Final = 0.3
"""Narrowing of the flow through the window, whose kinetic energy is lost: 0.6 in Fabre, Hirschberg and Wijnands 1996,
Acustica 82, 863. Fitted to three of seven notes of a duct flute (tests/reference/test_blown_notes.py)."""


def friction(air: Air, depth: float, length: float) -> float:
    """Return the pressure that a flue loses per jet speed [Pa s/m]; sizes in mm.

    Plane Poiseuille flow, 12 viscosity length / depth^2 (textbook); the entrance is left out.
    """
    return 12.0 * air.viscosity * length / (depth**2 * 1e-3)


def jet_speed(pressure: float, air: Air, depth: float | None = None, length: float = 0.0) -> float:
    """Return the speed [m/s] of the jet for a pressure [Pa, 0 or more] in the chamber.

    Bernoulli with the friction of the flue: pressure = density U^2 / 2 + friction U. Without a depth, no friction.
    """
    p = number(pressure, "pressure", 0.0, 1e5, "Pa")
    lost = 0.0 if depth is None else friction(air, depth, length)
    return float(_speed(np.array(p), air.density, lost))


def blowing_pressure(speed: float, air: Air, depth: float | None = None, length: float = 0.0) -> float:
    """Return the pressure [Pa] in the chamber that a jet of this speed [m/s] needs: the inverse of ``jet_speed``."""
    U = number(speed, "speed", 0.0, 400.0, "m/s")
    lost = 0.0 if depth is None else friction(air, depth, length)
    return float(_pressure(np.array(U), air.density, lost))


def _speed(pressure: Real, density: float, lost: float) -> Real:
    speed: Real = (np.sqrt(lost**2 + 2.0 * density * pressure) - lost) / density
    return speed


def _pressure(speed: Real, density: float, lost: float) -> Real:
    pressure: Real = 0.5 * density * speed**2 + lost * speed
    return pressure


def reduced_jet_speed(speed: float, frequency: float, cut_up: float) -> float:
    """Return jet speed over frequency times cut-up [-]; speed [m/s], frequency [Hz], cut-up [mm] (Verge 1997)."""
    return speed / (frequency * cut_up * 1e-3)


def settled_speed(frequency: float, cut_up: float) -> float:
    """Return the jet speed [m/s] that pulls a resonance neither flat nor sharp; frequency [Hz], cut-up [mm].

    The wave then takes a quarter of a period to the edge: U = 4 f W / wave, a reduced jet speed of 10. The sounding
    pitches of a blown duct flute fit this rule and not that of half a period (tests/reference/test_blown_notes.py).
    """
    return 4.0 / WAVE * frequency * cut_up * 1e-3


@dataclass(frozen=True, slots=True)
class Jet:
    """One flute's jet in SI units.

    Attributes
    ----------
    cut_up, area : length and area of the window [m, m2]
    depth, half, offset : flue depth, half thickness of the jet, the edge's offset [m]
    density : of the air [kg/m3]; lost : friction of the flue [Pa s/m]
    wave, growth, cut_off, loss : the constants of this module, those of this jet
    """

    cut_up: float
    area: float
    depth: float
    half: float
    offset: float
    density: float
    lost: float
    wave: float
    growth: float
    cut_off: float
    loss: float

    @staticmethod
    def of(instrument: Instrument, air: Air, wave: float = WAVE, loss: float = VENA_CONTRACTA) -> Jet:
        """Return the jet of a flute. Raises InvalidInput where it has no flue."""
        flue, window = instrument.flue, instrument.window
        if flue is None:
            raise InvalidInput("instrument.flue", None, "the flue's sizes are needed: without them there is no jet")
        ratio = window.length / flue.depth
        return Jet(
            cut_up=1e-3 * window.length,
            area=1e-6 * window.length * window.width,
            depth=1e-3 * flue.depth,
            half=1e-3 * HALF_THICKNESS * flue.depth,
            offset=1e-3 * OFFSET,
            density=air.density,
            lost=friction(air, flue.depth, flue.length),
            wave=wave,
            growth=min(GROWTH * ratio, LARGEST_GROWTH),
            cut_off=CUT_OFF * min(1.0, 4.0 / ratio),
            loss=loss,
        )

    def speed(self, pressure: Real) -> Real:
        """Return the jet's speed [m/s] at pressures in the chamber [Pa]."""
        return _speed(pressure, self.density, self.lost)

    def pressure(self, speed: Real) -> Real:
        """Return the pressure in the chamber [Pa] that jet speeds [m/s] need."""
        return _pressure(speed, self.density, self.lost)

    def speed_at(self, w: Real, turn: Real) -> Real:
        """Return the speed of a jet on which a wave of angular frequency ``w`` turns by ``turn`` on its way."""
        speed: Real = w * self.cut_up / (self.wave * turn)
        return speed

    def gain(self, turn: Real) -> Real:
        """Return by how much the jet amplifies a wave that turns by ``turn`` on its way.

        e^growth times exp(-(f h / (cut_off U))^2), and f h / U is wave h turn / (2 pi W).
        """
        strouhal = self.wave * self.depth * turn / (2.0 * np.pi * self.cut_up)
        gain: Real = np.exp(self.growth - (strouhal / self.cut_off) ** 2)
        return gain

    def drive(self, speed: Real) -> Real:
        """Return the source's strength [Pa s]: density delta b U / W, delta = (4 / pi) sqrt(2 h W) (Verge 1995)."""
        delta = 4.0 / math.pi * math.sqrt(2.0 * self.depth * self.cut_up)
        strength: Real = self.density * delta * self.half * speed / self.cut_up
        return strength

    def swing(self, velocity: Real, speed: Real, gain: Real) -> Real:
        """Return the jet's displacement at the edge over its half thickness, for a velocity [m/s] in the window."""
        swing: Real = self.depth * gain * velocity / (speed * self.half)
        return swing
