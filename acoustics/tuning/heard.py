"""Readings against the model: what each one tells about the corrections, to first order around a guess of them.

A reading is a measured frequency with its fingering, the flute as it was then and the air of that moment. Another air
shifts it by the ratio of the speeds of sound; what the wall losses change with the air is left out (0.2 cents for
10 degrees C).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.model.implicit import CENTS, Array
from acoustics.tuning.sounding import SHAPE, first_resonances, respond_in_pairs

_NEAR: Final = (-500.0, 350.0)
"""Cents from the flute as it is now within which a reading can be of the same resonance: holes were smaller before."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured pitch [Hz] of one fingering on the flute as it was then, in the air of then."""

    fingering: str
    frequency: float
    instrument: Instrument
    air: Air


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
    """The names of the state's entries: four corrections, each note by itself, each size as it was cut."""

    notes: tuple[str, ...]
    sizes: tuple[Size, ...]

    @cached_property
    def _place(self) -> dict[str | Size, int]:
        names: list[str | Size] = [*self.notes, *self.sizes]
        return {name: SHAPE + 1 + i for i, name in enumerate(names)}

    @staticmethod
    def of(fingerings: Sequence[str], flutes: Sequence[Instrument]) -> Unknowns:
        """Those that some fingerings on some flutes need."""
        notes = dict.fromkeys(fingerings)
        sizes = dict.fromkeys(size for flute in flutes for size in sizes_of(flute))
        return Unknowns(tuple(notes), tuple(sizes))

    def __len__(self) -> int:
        return SHAPE + 1 + len(self.notes) + len(self.sizes)

    def note(self, fingering: str) -> int:
        """Where a note's own offset stands in the state."""
        return self._place[fingering]

    def size(self, size: Size) -> int:
        """Where the error of a size stands in the state."""
        return self._place[size]

    def row(self, fingering: str, rates: Array, sizes: Sequence[Size | None]) -> Array:
        """Cents per unit of every entry for one note: `rates` as in `sounding.Response`; None is a size to come."""
        found = np.zeros(len(self))
        found[:SHAPE] = rates[:SHAPE]
        found[SHAPE] = 1.0
        found[self.note(fingering)] = 1.0
        for size, rate in zip(sizes, rates[SHAPE:], strict=True):
            if size is not None:
                found[self.size(size)] = rate
        return found


@dataclass(frozen=True)
class Linear:
    """Readings to first order: `cents` (r,) by which each stands above the model with the corrections `shape` and
    everything else zero, and `rows` (r, unknowns) of its rates."""

    shape: Array
    cents: Array
    rows: Array


class Comparison:
    """Readings against the model at any window, bore and holes; resonances found once are where the next look starts.

    `now` are resonances (rad/s) of every fingering on the flute as it is, in `air`: they tell a reading of the first
    register from one of another. `offset` is the cents by which the readings are believed to stand above the model.
    """

    def __init__(
        self, readings: Sequence[Reading], unknowns: Unknowns, air: Air, now: dict[str, complex], offset: float = 0.0
    ) -> None:
        self.readings = tuple(readings)
        self.unknowns = unknowns
        self.air = air
        self.now = now
        self.measured = [r.frequency * air.speed_of_sound / r.air.speed_of_sound for r in readings]
        numbers: dict[tuple[Instrument, str], int] = {}
        self._pair = [numbers.setdefault((r.instrument, r.fingering), len(numbers)) for r in readings]
        self._pairs = list(numbers)
        self._sizes = [sizes_of(flute) for flute, _ in self._pairs]
        self._groups = _alike(self._pairs)
        self._near: dict[int, complex] = {}
        self._rates: dict[int, Array] = {}
        self._shape: Array = np.zeros(SHAPE)
        for reading, measured, pair in zip(self.readings, self.measured, self._pair, strict=True):
            w = now[reading.fingering]
            if _NEAR[0] < CENTS * math.log(2.0 * math.pi * measured / w.real) < _NEAR[1]:
                model = 2.0 * math.pi * measured * 2.0 ** (-offset / 1200.0)
                self._near.setdefault(pair, model * (1.0 + 1j * w.imag / w.real))

    def at(self, shape: Array) -> Linear:
        """The comparison to first order around `shape` (3,)."""
        cents = np.empty(len(self.readings))
        rows = np.zeros((len(self.readings), len(self.unknowns)))
        for group in self._groups:
            flutes, fingerings = [self._pairs[pair][0] for pair in group], [self._pairs[pair][1] for pair in group]
            start = np.empty((len(group), 1), dtype=np.complex128)
            for place, pair in enumerate(group):
                if pair not in self._near:
                    self._near[pair] = _sure(*self._pairs[pair], self.air, shape, self.now[self._pairs[pair][1]])
                drift = self._rates[pair][:SHAPE] @ (shape - self._shape) if pair in self._rates else 0.0
                start[place] = self._near[pair] * 2.0 ** (drift / 1200.0)
            # What a size does hardly changes with the corrections: once is enough.
            again = all(pair in self._rates for pair in group)
            found = respond_in_pairs(flutes, self.air, fingerings, shape, start, controls=not again)
            for place, pair in enumerate(group):
                self._near[pair] = complex(found.w[place, 0])
                rates = found.rates[place, 0]
                self._rates[pair] = np.concatenate([rates[:SHAPE], self._rates[pair][SHAPE:]]) if again else rates
        for i, pair in enumerate(self._pair):
            cents[i] = CENTS * math.log(2.0 * math.pi * self.measured[i] / self._near[pair].real)
            rows[i] = self.unknowns.row(self._pairs[pair][1], self._rates[pair], self._sizes[pair])
        self._shape = shape
        return Linear(shape, cents, rows)


def _sure(flute: Instrument, fingering: str, air: Air, shape: Array, near: complex) -> complex:
    guess = np.array([near.real / (2.0 * math.pi)])
    return complex(first_resonances(flute, air, [fingering], shape, guess)[0])


def _alike(pairs: Sequence[tuple[Instrument, str]]) -> list[list[int]]:
    """The pairs whose flutes have equally many holes."""
    groups: dict[tuple[int, int], list[int]] = {}
    for i, (flute, _) in enumerate(pairs):
        groups.setdefault((len(flute.holes), len(flute.foot_holes)), []).append(i)
    return list(groups.values())
