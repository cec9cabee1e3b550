"""Voicing: how hard each note of a flute is blown, and where it jumps. A guide, not a measurement.

Sizes in mm, pressures in Pa, speeds in m/s. The pressures are those of `sounding`, the flue's friction included.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from acoustics.blowing.jet import Jet, blowing_pressure, friction, jet_speed, settled_speed
from acoustics.blowing.sounding import USUAL_PRESSURE, USUAL_PRESSURE_SD, need_notes, soundings
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air

GUIDE: Final = (
    "A guide only: before a shop's own swells the pressures may be wrong by a factor of two, their order hardly. "
    "Voice by ear; the block, the edge and the breath move them."
)

CUT_UP_RATIO: Final = (3.5, 8.0)
"""Window length over flue depth in use: recorders about 4, organ pipes 8 and more (from memory)."""

LAMINAR: Final = (800.0, 2500.0)
"""Reynolds number of the jet from which it begins to be, and above which it is, turbulent (from memory)."""

EARLY: Final = 1.5
"""A note that jumps below this many times the pressure at which it is blown breaks easily (own choice)."""


@dataclass(frozen=True, slots=True)
class Speaking:
    """One note: the pressures [Pa] between which it speaks.

    Attributes
    ----------
    frequency : first resonance [Hz]
    starts : it begins to speak
    settles : the jet pulls it neither flat nor sharp: softer it is flat of its resonance, harder sharp
    overblows : it leaves its register, coming back and going up; None where no breath takes it there
    """

    fingering: str
    frequency: float
    starts: float
    settles: float
    overblows: tuple[float, float] | None


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
    pressure, jet_speed, flow, reynolds : at the middle of the common range, or where the first note settles
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


def voicing(instrument: Instrument, air: Air, fingerings: Sequence[str]) -> Voicing:
    """Return the pressures at which each note of a flute speaks and overblows.

    Raises
    ------
    InvalidInput : the flute has no flue, a fingering does not fit, or a note does not sound
    """
    jet = Jet.of(instrument, air)
    flue = instrument.flue
    assert flue is not None
    W, h, length = instrument.window.length, flue.depth, flue.length
    found = soundings(instrument, air, tuple(fingerings))
    need_notes(found)
    notes = []
    for note in found:
        passive = note.registers[min(note.registers)].passive
        over = None
        if note.overblows_at is not None and note.falls_back_at is not None:
            over = (note.falls_back_at, note.overblows_at)
        settles = blowing_pressure(min(settled_speed(passive, W), 400.0), air, h, length)
        notes.append(Speaking(note.fingering, passive, note.speaks_at or 0.0, settles, over))
    highest = max(max(n.settles, n.starts) for n in notes)
    low = max(n.starts for n in notes)
    high = min((n.overblows[0] for n in notes if n.overblows), default=2.0 * highest)
    common = (low, high) if low < high else None
    pressure = 0.5 * (low + high) if common else notes[0].settles
    speed = jet_speed(pressure, air, h, length)
    flow = speed * h * flue.width * 1e-6
    reynolds = speed * h * 1e-3 * air.density / air.viscosity
    settling = None
    if instrument.chamber is not None:
        chamber = instrument.chamber
        volume = chamber.length * math.pi / 4.0 * chamber.diameter**2 * 1e-9
        # a chamber that is filled and leaks through the flue: compliance times the slope of pressure over flow
        slope = (air.density * speed + jet.lost) / (h * flue.width * 1e-6)
        settling = volume / (air.density * air.speed_of_sound**2) * slope
    top = 1.15 * max([1.3 * highest, *(n.overblows[1] for n in notes if n.overblows)])
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
        _remarks(instrument, notes, common, reynolds),
    )


def _remarks(
    instrument: Instrument, notes: Sequence[Speaking], common: tuple[float, float] | None, reynolds: float
) -> tuple[str, ...]:
    flue = instrument.flue
    assert flue is not None
    ratio = instrument.window.length / flue.depth
    found = []
    if common is None:
        found.append("No single pressure lets every note speak: low notes must be blown softer than high ones.")
    if any(note.overblows and note.overblows[1] < EARLY * USUAL_PRESSURE for note in notes):
        found.append(
            f"A note jumps below {EARLY:g} times the usual breath of two-chamber flutes, {USUAL_PRESSURE:.0f} Pa give "
            f"or take {USUAL_PRESSURE_SD:.0f} (mean of 71, arXiv:1308.5214): a longer cut-up wants more breath."
        )
    if ratio < CUT_UP_RATIO[0]:
        found.append(f"The cut-up is only {ratio:.1f} flue depths: quick to speak, and soon overblown.")
    if ratio > CUT_UP_RATIO[1]:
        found.append(f"The cut-up is {ratio:.1f} flue depths: slow to speak, and it wants more breath.")
    if flue.width > instrument.window.width:
        found.append("The flue is wider than the window: part of the jet misses the splitting edge.")
    if reynolds > LAMINAR[1]:
        found.append(f"The jet is turbulent (Reynolds number {reynolds:.0f}): expect a windy sound.")
    return tuple(found)
