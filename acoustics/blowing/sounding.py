"""What one fingering sounds as the breath rises and falls: pitch, register and level, and where it speaks and jumps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from acoustics.blowing.jet import Jet
from acoustics.blowing.poles import poles
from acoustics.blowing.registers import REGISTERS, Curves, curves
from acoustics.errors import InvalidInput
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air

Real = NDArray[np.floating[Any]]

USUAL_PRESSURE: Final = 521.0
"""Pressure in the mouth [Pa] at which two-chamber flutes are played: the mean of 71 (arXiv:1308.5214, abstract)."""
USUAL_PRESSURE_SD: Final = 216.0
"""Its spread from flute to flute [Pa] (the same)."""

OFFSET_SD: Final = 25.0
"""How well the model knows sounding against resonance [cents] before a shop's own swell: no published curve pins it."""
SLOPE_SD: Final = 0.2
"""Share of the pulling that may be wrong: what is left on the published curves, and their spread."""
PRESSURE_SD: Final = 0.7
"""Spread of a pressure of speaking or jumping over itself: a factor of two, before a shop's own gauge."""
LEVEL_SD: Final = 6.0
"""Spread of a level [dB]: the foot's and the holes' sound and the upper partials are left out."""
START_EXPONENT: Final = 0.5
"""A note begins to speak at a pressure that goes with this power of its frequency: 0.51, standard error 0.20, on seven
notes of a blown duct flute (arXiv:2107.08727's recordings). The model's own beginning goes with nearly the square, so
only its middle over the chart is taken."""
_DISTANCE = 1.0
_HEARING = 20e-6


@dataclass(frozen=True, slots=True)
class Tone:
    """What sounds at one pressure [Pa]: frequency [Hz] (None: silent), register from 1, level at 1 m [dB re 20 uPa],
    and their standard deviations."""

    pressure: float
    frequency: float | None
    register: int | None
    level_db: float | None
    sd_cents: float | None
    sd_level_db: float | None


@dataclass(frozen=True, slots=True)
class Register:
    """One register of a note: the resonance [Hz] and how fast it dies away without a jet [1/s]; rising pressures [Pa,
    log], pitch [cents over the resonance], level [dB]."""

    passive: float
    decay: float
    log_pressure: Real
    cents: Real
    level: Real

    def pull(self, pressure: float) -> float:
        """Cents over the resonance; below where the model speaks, straight on in log pressure."""
        return _straight_on(math.log(pressure), self.log_pressure, self.cents)

    def frequency(self, pressure: float) -> float:
        """Sounding frequency [Hz]."""
        return float(self.passive * 2.0 ** (self.pull(pressure) / 1200.0))


@dataclass(frozen=True, slots=True)
class Sounding:
    """One fingering.

    Attributes
    ----------
    registers : those that sound, by their number
    speaks_at, overblows_at, falls_back_at : pressures [Pa]; None where it never does so up to the fastest jet
    jumps : pressures [Pa] at which a rising breath leaves each register for the next
    """

    fingering: str
    registers: dict[int, Register]
    speaks_at: float | None
    overblows_at: float | None
    falls_back_at: float | None
    jumps: tuple[float, ...]

    def register_at(self, pressure: float) -> int | None:
        """Which register sounds as the breath rises to a pressure; None where none does."""
        if self.speaks_at is None or pressure < self.speaks_at or not self.registers:
            return None
        lowest = min(self.registers)
        return lowest + sum(pressure >= jump for jump in self.jumps)

    def register_after(self, before: int | None, pressure: float) -> int | None:
        """Which register sounds where the breath moves to a pressure while `before` sounds: a note that has jumped
        falls back at a lower pressure."""
        rising = self.register_at(pressure)
        if rising is None or before is None or self.falls_back_at is None or before <= rising:
            return rising
        return before if before == min(self.registers) + 1 and pressure >= self.falls_back_at else rising

    def tone(self, pressure: float) -> Tone:
        """What sounds as the breath rises to a pressure [Pa]."""
        number = self.register_at(pressure)
        if number is None:
            return Tone(pressure, None, None, None, None, None)
        register = self.registers[number]
        pull = register.pull(pressure)
        level = _straight_on(math.log(pressure), register.log_pressure, register.level)
        return Tone(
            pressure,
            register.frequency(pressure),
            number,
            level,
            math.hypot(OFFSET_SD, SLOPE_SD * pull),
            LEVEL_SD,
        )

    def cents_of_breath(self, pressure: float, share: float = 0.1) -> float | None:
        """By how many cents the note rises where the breath does by a share; None where it does not sound, or jumps."""
        softer, harder = self.tone(pressure), self.tone(pressure * (1.0 + share))
        if softer.frequency is None or harder.frequency is None or softer.register != harder.register:
            return None
        return 1200.0 * math.log2(harder.frequency / softer.frequency)


@lru_cache(maxsize=64)
def soundings(instrument: Instrument, air: Air, fingerings: tuple[str, ...]) -> tuple[Sounding, ...]:
    """Return what each fingering of a flute sounds, soft to overblown.

    Raises
    ------
    InvalidInput : the flute has no flue, or a fingering does not fit its holes
    """
    jet = Jet.of(instrument, air)
    found = poles(instrument, air, fingerings)
    passive = found.pole.imag / (2.0 * np.pi)
    tones = curves(found, jet)
    notes = [_note(fingering, passive[i], -found.pole[i].real, tones, i, jet) for i, fingering in enumerate(fingerings)]
    return tuple(_with_common_start(notes))


def need_notes(notes: Sequence[Sounding]) -> None:
    """Raise InvalidInput at the first fingering that no breath makes sound."""
    for i, note in enumerate(notes):
        if note.speaks_at is None:
            raise InvalidInput(f"fingerings[{i}]", note.fingering, "does not sound at any breath in the jet model")


def _straight_on(x: float, at: Real, values: Real) -> float:
    """Interpolated, and on in a straight line below the first point; flat above the last."""
    if x < at[0] and len(at) > 1:
        return float(values[0] + (x - at[0]) * (values[1] - values[0]) / (at[1] - at[0]))
    return float(np.interp(x, at, values))


def _note(fingering: str, passive: Real, decay: Real, tones: Curves, i: int, jet: Jet) -> Sounding:
    pressure = jet.pressure(tones.speed[i])
    registers: dict[int, Register] = {}
    for r in range(REGISTERS):
        here = tones.velocity[i, r] > 0.0
        if here.sum() < 2:
            continue
        frequency, velocity = tones.frequency[i, r, here], tones.velocity[i, r, here]
        sound = jet.density * frequency * velocity * jet.area / (2.0 * _DISTANCE) / math.sqrt(2.0)
        registers[r + 1] = Register(
            float(passive[r]),
            float(decay[r]),
            np.log(pressure[r, here]),
            1200.0 * np.log2(frequency / passive[r]),
            20.0 * np.log10(sound / _HEARING),
        )
    if not registers:
        return Sounding(fingering, {}, None, None, None, ())
    lowest = min(registers)
    # The softest tone of the model: where the growth of a small wave on a silent jet passes through none.
    starts = _crossing(tones.starts[i, lowest - 1], np.log(pressure[lowest - 1]))
    jumps: list[float] = []
    after = starts
    for number in range(lowest, REGISTERS):
        if number + 1 not in registers:
            break
        grows = np.where(tones.velocity[i, number - 1] > 0.0, tones.grows[i, number - 1, number], -1.0)
        up = _crossing(grows, np.log(pressure[number - 1]), above=max(after, math.log(_first(registers[number + 1]))))
        if not math.isfinite(up):
            break
        jumps.append(math.exp(up))
        after = up
    back = None
    if jumps:
        upper = tones.velocity[i, lowest] > 0.0
        # Coming back, the upper register holds until it has no tone or the lower one grows in it.
        dies = np.where(upper, tones.grows[i, lowest, lowest - 1], 1.0)
        log = np.log(pressure[lowest])
        below = np.flatnonzero((dies > 0.0) & (log < math.log(jumps[0])))
        at = below[-1] if len(below) else 0
        back = min(jumps[0], math.exp(_between(dies, log, int(at)) if upper[at] else _first_log(registers[lowest + 1])))
    return Sounding(fingering, registers, math.exp(starts), jumps[0] if jumps else None, back, tuple(jumps))


def _first(register: Register) -> float:
    return math.exp(register.log_pressure[0])


def _first_log(register: Register) -> float:
    return float(register.log_pressure[0])


def _crossing(values: Real, log_pressure: Real, above: float = -math.inf) -> float:
    """The log pressure, `above` a limit, at which values first rise through 0; infinite where they never do."""
    positive = np.flatnonzero((values > 0.0) & (log_pressure > above))
    if not len(positive):
        return math.inf
    at = int(positive[0])
    return max(above, _between(values, log_pressure, at - 1)) if at else float(log_pressure[0])


def _between(values: Real, log_pressure: Real, at: int) -> float:
    """Where a line through two neighbouring points passes through 0, kept between them."""
    if at + 1 >= len(values):
        return float(log_pressure[-1])
    low, high = float(values[at]), float(values[at + 1])
    share = 0.0 if low == high else min(max(low / (low - high), 0.0), 1.0)
    return float(log_pressure[at] + share * (log_pressure[at + 1] - log_pressure[at]))


def _with_common_start(notes: Sequence[Sounding]) -> list[Sounding]:
    """The model's start at the middle of the chart, with the measured law from note to note."""
    known = [(note, note.registers[min(note.registers)].passive) for note in notes if note.speaks_at is not None]
    if not known:
        return list(notes)
    middle = np.mean([math.log(frequency) for _, frequency in known])
    level = np.mean([math.log(note.speaks_at or 1.0) for note, _ in known])
    made = []
    for note in notes:
        if note.speaks_at is None:
            made.append(note)
            continue
        law = level + START_EXPONENT * (math.log(note.registers[min(note.registers)].passive) - middle)
        starts = min(math.exp(law), *note.jumps[:1], math.inf)
        made.append(Sounding(note.fingering, note.registers, starts, note.overblows_at, note.falls_back_at, note.jumps))
    return made
