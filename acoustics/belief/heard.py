"""Readings against the model: what each one tells about the corrections, to first order around a guess of them.

A reading is a measured frequency with its fingering, the flute as it was then and the air of that moment. Another air
shifts it by the ratio of the speeds of sound; what the wall losses change with the air is left out (0.2 cents for
10 degrees C).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from acoustics.belief.corrections import COUNT, SHAPE, SHAPES
from acoustics.belief.sounding import first_resonances, respond_in_pairs
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS, Array, Bool

_NEAR: Final = (-500.0, 350.0)
"""Cents from the flute as it is now within which a reading can be of the same resonance: holes were smaller before."""
_CELL: Final = np.array([0.3 * one.wide for one in SHAPES])
"""The model is worked out where the corrections are whole multiples of this, and taken as linear from there: half of it
off, what is left out is less than a twentieth of a cent."""
_KEPT: Final = 4000
"""Notes of flutes that are kept worked out: the next piece of advice asks for nearly all of them again."""
WARMS_UP: Final = 4.0
"""Readings in which a cold flute has come two thirds of its way to the warmth of breath: an estimate."""
UNNAMED: Final = 0.35
"""Share of what a sitting has in common that is counted on where nobody says which readings are of one: they may come
from anywhere."""
SITTING: Final = 3
"""Unknowns of one sitting: cents of all its readings, cents at the top of the scale, cents while the flute is cold."""

_worked_out: dict[tuple[Instrument, str, Air, tuple[float, ...]], tuple[complex, Array]] = {}


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured pitch [Hz] of one fingering on the flute as it was then, in the air of then.

    Readings with the same `session` share player, day, air and thermometer; those without one share it with their
    neighbours in the same air.
    """

    fingering: str
    frequency: float
    instrument: Instrument
    air: Air
    session: str | None = None


def sittings(readings: Sequence[Reading]) -> list[int]:
    """The number of the sitting that each reading was taken in."""
    found: list[int] = []
    named: dict[str, int] = {}
    count = 0
    for i, reading in enumerate(readings):
        if reading.session is not None:
            if reading.session not in named:
                named[reading.session] = count
                count += 1
            found.append(named[reading.session])
        elif i and readings[i - 1].session is None and readings[i - 1].air == reading.air:
            found.append(found[-1])
        else:
            found.append(count)
            count += 1
    return found


@dataclass(frozen=True)
class Size:
    """One control as somebody cut it: 0 the foot, else the number of the hole, and its size in mm.

    Whatever it was meant to be, it differs from that by the same amount in every reading until it is cut again.
    """

    control: int
    value: float


def sizes_of(flute: Instrument) -> tuple[Size, ...]:
    """The controls of a flute: its foot, then the diameters of its finger holes."""
    holes = (Size(i + 1, hole.diameter) for i, hole in enumerate(flute.holes))
    return (Size(0, flute.foot_x), *holes)


@dataclass(frozen=True)
class Unknowns:
    """The names of the state's entries: the corrections, each note by itself, each size as it was cut, the share by
    which each hole acts wider whatever its size, the sitting of the last reading. `pitches` are octaves of each note
    above the lowest."""

    notes: tuple[str, ...]
    sizes: tuple[Size, ...]
    pitches: tuple[float, ...]

    @cached_property
    def _place(self) -> dict[str | Size, int]:
        names: list[str | Size] = [*self.notes, *self.sizes]
        return {name: COUNT + i for i, name in enumerate(names)}

    @staticmethod
    def of(fingerings: Sequence[str], flutes: Sequence[Instrument], hertz: Mapping[str, float]) -> Unknowns:
        """Those that some fingerings on some flutes need; `hertz` says about where each sounds."""
        notes = tuple(dict.fromkeys(fingerings))
        sizes = tuple(dict.fromkeys(size for flute in flutes for size in sizes_of(flute)))
        low = min((hertz[note] for note in notes), default=1.0)
        return Unknowns(notes, sizes, tuple(math.log2(hertz[note] / low) for note in notes))

    def __len__(self) -> int:
        return COUNT + len(self.notes) + len(self.sizes) + self.holes + SITTING

    @cached_property
    def holes(self) -> int:
        """How many finger holes there are."""
        return max((size.control for size in self.sizes), default=0)

    def hole(self, number: int) -> int:
        """Where the share by which a hole acts wider stands in the state."""
        return COUNT + len(self.notes) + len(self.sizes) + number - 1

    @property
    def sitting(self) -> slice:
        """Where the entries of the last sitting stand."""
        return slice(len(self) - SITTING, len(self))

    def note(self, fingering: str) -> int:
        """Where a note's own offset stands in the state."""
        return self._place[fingering]

    def size(self, size: Size) -> int:
        """Where the error of a size stands in the state."""
        return self._place[size]

    def shared(self, fingering: str, before: int, named: bool = True) -> Array:
        """Cents (SITTING,) per unit of what a sitting shares, for a reading that comes after `before` others in it;
        less where nobody `named` the sitting."""
        top = max(*self.pitches, 1e-9) if len(self.pitches) > 1 else 1.0
        height = self.pitches[self.notes.index(fingering)] / max(top, 1.0)
        return (1.0 if named else UNNAMED) * np.array([1.0, height, -math.exp(-before / WARMS_UP)])

    def row(self, fingering: str, rates: Array, sizes: Sequence[Size], to_come: Sequence[bool] | Bool = ()) -> Array:
        """Cents per unit of every entry for one note: `rates` as in `sounding.Response`; sizes `to_come` have no error
        yet. Of the flute itself: what a sitting shares does not move it.
        """
        found = np.zeros(len(self))
        found[:SHAPE] = rates[:SHAPE]
        found[SHAPE] = 1.0
        found[self.note(fingering)] = 1.0
        for i, (size, rate) in enumerate(zip(sizes, rates[SHAPE:], strict=True)):
            if not len(to_come) or not to_come[i]:
                found[self.size(size)] = rate
            if size.control:
                found[self.hole(size.control)] = rate * size.value
        return found


@dataclass(frozen=True)
class Linear:
    """Readings to first order: `cents` (r,) by which each stands above the model with the corrections `shape` and
    everything else zero, and `rows` (r, unknowns) of its rates. `earlier` (r, r, SITTING) says what readings of the
    same earlier sitting share: products of their rates; `cold` (r,) how cold the flute was in those of earlier ones."""

    shape: Array
    cents: Array
    rows: Array
    earlier: Array
    cold: Array


class Comparison:
    """Readings against the model at any window, bore and holes.

    `now` are resonances (rad/s) of every fingering on the flute as it is, in `air`: they tell a reading of the first
    register from one of another.
    """

    def __init__(self, readings: Sequence[Reading], unknowns: Unknowns, air: Air, now: Mapping[str, complex]) -> None:
        self.readings = tuple(readings)
        self.unknowns = unknowns
        self.air = air
        self.now = now
        self.measured = [r.frequency * air.speed_of_sound / r.air.speed_of_sound for r in readings]
        numbers: dict[tuple[Instrument, str], int] = {}
        self._pair = [numbers.setdefault((r.instrument, r.fingering), len(numbers)) for r in readings]
        self._pairs = list(numbers)
        self._sizes = [sizes_of(flute) for flute, _ in self._pairs]
        self._near: dict[int, complex] = {}
        for reading, measured, pair in zip(self.readings, self.measured, self._pair, strict=True):
            w = now[reading.fingering]
            if _NEAR[0] < CENTS * math.log(2.0 * math.pi * measured / w.real) < _NEAR[1]:
                self._near.setdefault(pair, 2.0 * math.pi * measured * (1.0 + 1j * w.imag / w.real))
        self._shared, self._earlier, self._cold = self._sittings()

    def _sittings(self) -> tuple[Array, Array, Array]:
        """What readings of the last sitting share (r, SITTING), and those of earlier ones (r, r, SITTING) and (r,)."""
        which = np.array(sittings(self.readings), dtype=int)
        r = len(which)
        rates = np.zeros((r, SITTING))
        for i, reading in enumerate(self.readings):
            before = int(np.sum(which[:i] == which[i]))
            rates[i] = self.unknowns.shared(reading.fingering, before, reading.session is not None)
        if not r:
            return rates, np.zeros((0, 0, SITTING)), np.zeros(0)
        last = which == which[-1]
        both = (which[:, None] == which[None, :]) & ~last[:, None]
        return rates * last[:, None], both[..., None] * rates[:, None] * rates[None, :], rates[:, -1] * ~last

    def at(self, shape: Array) -> Linear:
        """The comparison to first order around the whole multiple of `_CELL` nearest to `shape` (3,)."""
        centre = _CELL * np.round(shape / _CELL)
        known = self._all(centre)
        cents = np.empty(len(self.readings))
        rows = np.zeros((len(self.readings), len(self.unknowns)))
        for i, pair in enumerate(self._pair):
            w, rates = known[pair]
            cents[i] = CENTS * math.log(2.0 * math.pi * self.measured[i] / w.real)
            rows[i] = self.unknowns.row(self._pairs[pair][1], rates, self._sizes[pair])
        rows[:, self.unknowns.sitting] = self._shared
        return Linear(centre, cents, rows, self._earlier, self._cold)

    def _all(self, centre: Array) -> list[tuple[complex, Array]]:
        """First resonance and rates of every flute with its fingering."""
        at = tuple(centre.tolist())
        keys = [(flute, fingering, self.air, at) for flute, fingering in self._pairs]
        found = {pair: _worked_out[key] for pair, key in enumerate(keys) if key in _worked_out}
        for group in _alike(self._pairs):
            some = [pair for pair in group if pair not in found]
            if not some:
                continue
            flutes, fingerings = [self._pairs[pair][0] for pair in some], [self._pairs[pair][1] for pair in some]
            start = np.empty((len(some), 1), dtype=np.complex128)
            for place, pair in enumerate(some):
                if pair not in self._near:
                    self._near[pair] = _sure(*self._pairs[pair], self.air, centre, self.now[self._pairs[pair][1]])
                start[place] = self._near[pair]
            response = respond_in_pairs(flutes, self.air, fingerings, centre, start)
            for place, pair in enumerate(some):
                found[pair] = complex(response.w[place, 0]), response.rates[place, 0]
        if len(_worked_out) > _KEPT:
            _worked_out.clear()
        _worked_out.update({keys[pair]: one for pair, one in found.items()})
        return [found[pair] for pair in range(len(self._pairs))]


def _sure(flute: Instrument, fingering: str, air: Air, shape: Array, near: complex) -> complex:
    guess = np.array([near.real / (2.0 * math.pi)])
    return complex(first_resonances(flute, air, [fingering], shape, guess)[0])


def _alike(pairs: Sequence[tuple[Instrument, str]]) -> list[list[int]]:
    """The pairs whose flutes have equally many holes."""
    groups: dict[tuple[int, int], list[int]] = {}
    for i, (flute, _) in enumerate(pairs):
        groups.setdefault((len(flute.holes), len(flute.foot_holes)), []).append(i)
    return list(groups.values())
