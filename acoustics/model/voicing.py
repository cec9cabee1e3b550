"""The jet: where each note speaks and where it overblows. A guide, not a measurement.

Sizes in mm, pressures in Pa, speeds in m/s. The numbers that bound the speaking range come from organ pipes and
recorders. Of two-chamber flutes the pressure in the player's mouth is published: 71 of them took 521 Pa on average,
with a standard deviation of 216 (arXiv:1308.5214); what bounds it is not. The numbers show the direction; the ear
decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, astuple, dataclass
from typing import Any, Final

from acoustics.errors import InvalidInput
from acoustics.fields import number
from acoustics.flute.instrument import Flue, Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import Mode, predict

GUIDE: Final = (
    "A guide only: the limits come from recorders and organ pipes. Voice by ear; the block, the edge and the breath "
    "move them."
)

SPEAKS: Final = 4.0
"""Reduced jet speed from which the first register sounds: about 3.5 to 4 (Verge and others 1997, J. Acoust. Soc. Am.
101, 2925; Fabre and Hirschberg 2000, Acustica 86, 599; from memory)."""

OVERBLOWS: Final = (10.0, 12.0)
"""Reduced jet speed at which it goes over to the second register, falling and rising: the jump shows hysteresis
(Auvray, Fabre and Lagree 2012, J. Acoust. Soc. Am. 131, 1574; numbers from memory)."""

ISING_BEST: Final = (2.0, 3.0)
"""Ising's number where organ pipes are voiced: 2 most efficient, 3 near overblowing (Ising 1971; from memory)."""

CUT_UP_RATIO: Final = (3.5, 8.0)
"""Window length over flue depth in use: recorders about 4, organ pipes 8 and more (from memory)."""

MEASURED: Final = (521.0, 216.0)
"""Mean and standard deviation [Pa] of the pressure in players' mouths on 71 two-chamber flutes (arXiv:1308.5214)."""

LAMINAR: Final = (800.0, 2500.0)
"""Reynolds number of the jet from which it begins to be, and above which it is, turbulent (from memory)."""


@dataclass(frozen=True, slots=True)
class Speaking:
    """One note: the pressures [Pa] between which it speaks.

    Attributes
    ----------
    frequency, second : first and second resonance [Hz]; second is None where there is none
    starts : it begins to speak
    best : where Ising's number is 2 and 3, kept within the speaking range
    overblows : it leaves the first register, coming back and going up
    """

    fingering: str
    frequency: float
    second: float | None
    starts: float
    best: tuple[float, float]
    overblows: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Voicing:
    """What the chart shows.

    Attributes
    ----------
    notes : in the order that was asked for
    common : pressures [Pa] at which every note speaks, or None where there are none
    cut_up_ratio : window length over flue depth
    flue_resistance : pressure lost in the flue over flow at ``pressure`` [Pa s/m3], by friction alone
    settling_time : time in which the chamber's pressure follows the breath [s], None without a chamber
    pressure, jet_speed, flow, reynolds : at the middle of the common range, or of the first note's
    curve : pressure [Pa] and jet speed [m/s] pairs, for the axis
    remarks : sentences; guide : the sentence that must stand beside the chart
    """

    notes: tuple[Speaking, ...]
    common: tuple[float, float] | None
    cut_up_ratio: float
    flue_resistance: float
    settling_time: float | None
    pressure: float
    jet_speed: float
    flow: float
    reynolds: float
    curve: tuple[tuple[float, float], ...]
    remarks: tuple[str, ...]
    guide: str = GUIDE

    def to_json(self) -> dict[str, Any]:
        """Return the same as a JSON document."""
        return asdict(self)


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
    return (math.sqrt(lost**2 + 2.0 * air.density * p) - lost) / air.density


def blowing_pressure(speed: float, air: Air, depth: float | None = None, length: float = 0.0) -> float:
    """Return the pressure [Pa] in the chamber that a jet of this speed [m/s] needs: the inverse of ``jet_speed``."""
    U = number(speed, "speed", 0.0, 400.0, "m/s")
    lost = 0.0 if depth is None else friction(air, depth, length)
    return 0.5 * air.density * U**2 + lost * U


def reduced_jet_speed(speed: float, frequency: float, cut_up: float) -> float:
    """Return jet speed over frequency times cut-up [-]; speed [m/s], frequency [Hz], cut-up [mm].

    Verge and others 1997. At 5 the jet, whose waves run at 0.4 of its speed, takes half a period to cross.
    """
    return speed / (frequency * cut_up * 1e-3)


def ising_number(speed: float, frequency: float, cut_up: float, depth: float) -> float:
    """Return Ising's number (U / f W) sqrt(h / W) [-]; W cut-up and h flue depth [mm] (Ising 1971, Acustica 25)."""
    return reduced_jet_speed(speed, frequency, cut_up) * math.sqrt(depth / cut_up)


def speed_for_ising(value: float, frequency: float, cut_up: float, depth: float) -> float:
    """Return the jet speed [m/s] at which Ising's number has a value."""
    return value * frequency * cut_up * 1e-3 / math.sqrt(depth / cut_up)


def best_pressures(frequency: float, cut_up: float, depth: float, length: float, air: Air) -> tuple[float, float]:
    """Return the pressures [Pa] where Ising's number is 2 and 3, kept within the speaking range.

    Parameters
    ----------
    frequency : [Hz]; cut_up, depth and length of the flue [mm], whose friction is included
    """
    unit = frequency * cut_up * 1e-3
    speeds = [speed_for_ising(value, frequency, cut_up, depth) for value in ISING_BEST]
    low, high = (min(max(speed, SPEAKS * unit), OVERBLOWS[0] * unit, 400.0) for speed in speeds)
    return blowing_pressure(low, air, depth, length), blowing_pressure(high, air, depth, length)


@dataclass(frozen=True, slots=True)
class Breath:
    """What a flute takes: the pressures [Pa] at which every note speaks (None: there are none), and one among them.

    At `pressure` [Pa] the jet leaves with `jet_speed` [m/s] and `flow` [m3/s].
    """

    common: tuple[float, float] | None
    pressure: float
    jet_speed: float
    flow: float


def breath(frequencies: Sequence[float], cut_up: float, flue: Flue, air: Air) -> Breath:
    """Return the breath for notes of these frequencies [Hz], the first being the one to fall back upon; sizes in mm."""
    units = [frequency * cut_up * 1e-3 for frequency in frequencies]

    def pressure_at(speed: float) -> float:
        return blowing_pressure(min(speed, 400.0), air, flue.depth, flue.length)

    low, high = pressure_at(SPEAKS * max(units)), pressure_at(OVERBLOWS[0] * min(units))
    common = (low, high) if low < high else None
    alone = best_pressures(frequencies[0], cut_up, flue.depth, flue.length, air)
    pressure = 0.5 * sum(common or alone)
    speed = jet_speed(pressure, air, flue.depth, flue.length)
    return Breath(common, pressure, speed, speed * flue.depth * flue.width * 1e-6)


def voicing(instrument: Instrument, air: Air, fingerings: Sequence[str]) -> Voicing:
    """Return the pressures at which each note of a flute speaks and overblows.

    Raises
    ------
    InvalidInput : the flute has no flue, a fingering does not fit, or a note has no resonance
    """
    flue = instrument.flue
    if flue is None:
        raise InvalidInput("instrument.flue", None, "the flue's size is needed for voicing")
    W, h, length = instrument.window.length, flue.depth, flue.length

    def pressure_at(speed: float) -> float:
        return blowing_pressure(min(speed, 400.0), air, h, length)

    notes = []
    for i, note in enumerate(predict(instrument, air, fingerings)):
        first, second = note.modes
        if not isinstance(first, Mode):
            raise InvalidInput(f"fingerings[{i}]", note.fingering, first.reason)
        unit = first.frequency * W * 1e-3
        low, (back, over) = SPEAKS * unit, (limit * unit for limit in OVERBLOWS)
        notes.append(
            Speaking(
                note.fingering,
                first.frequency,
                second.frequency if isinstance(second, Mode) else None,
                pressure_at(low),
                best_pressures(first.frequency, W, h, length, air),
                (pressure_at(back), pressure_at(over)),
            )
        )
    common, pressure, speed, flow = astuple(breath([n.frequency for n in notes], W, flue, air))
    reynolds = speed * h * 1e-3 * air.density / air.viscosity
    settling = None
    if instrument.chamber is not None:
        chamber = instrument.chamber
        volume = chamber.length * math.pi / 4.0 * chamber.diameter**2 * 1e-9
        # a chamber that is filled and leaks through the flue: compliance times the slope of pressure over flow
        slope = (air.density * speed + friction(air, h, length)) / (h * flue.width * 1e-6)
        settling = volume / (air.density * air.speed_of_sound**2) * slope
    top = 1.15 * max(n.overblows[1] for n in notes)
    curve = tuple((top * i / 40, jet_speed(top * i / 40, air, h, length)) for i in range(41))
    return Voicing(
        tuple(notes),
        common,
        W / h,
        friction(air, h, length) / (h * flue.width * 1e-6),
        settling,
        pressure,
        speed,
        flow,
        reynolds,
        curve,
        _remarks(instrument, common, reynolds),
    )


def _remarks(instrument: Instrument, common: tuple[float, float] | None, reynolds: float) -> tuple[str, ...]:
    flue = instrument.flue
    assert flue is not None
    ratio = instrument.window.length / flue.depth
    found = []
    if common is None:
        found.append("No single pressure lets every note speak: low notes must be blown softer than high ones.")
    if ratio < CUT_UP_RATIO[0]:
        found.append(f"The cut-up is only {ratio:.1f} flue depths: quick to speak, and soon overblown.")
    if ratio > CUT_UP_RATIO[1]:
        found.append(f"The cut-up is {ratio:.1f} flue depths: slow to speak, and it wants more breath.")
    if flue.width > instrument.window.width:
        found.append("The flue is wider than the window: part of the jet misses the splitting edge.")
    if reynolds > LAMINAR[1]:
        found.append(f"The jet is turbulent (Reynolds number {reynolds:.0f}): expect a windy sound.")
    return tuple(found)
