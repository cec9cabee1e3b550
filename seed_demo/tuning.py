"""Flutes of the demo that are a little other than their model: how they sound at every moment, and how they are tuned.

The corrections, the errors of hand and the wandering breath are invented; how they act on the pitch is the engine's
own physics, so that a hole opened later flattens the notes below it here too.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from random import Random

import numpy as np

from acoustics.belief.sounding import first_resonances
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air
from acoustics.tuning.aims import with_controls
from acoustics.tuning.rise import as_voiced
from webapp.shop.bench.cuts import Sizes
from webapp.shop.units.pitches import between

# The shop's own mean of the four corrections (window in bore radii, shares of bore and holes, cents of breath) and
# the scatter of its flutes: what its learning should come near to.
MEAN = (0.14, -0.002, 0.012, -3.0)
SCATTER = (0.07, 0.0015, 0.008, 2.0)
BREATH = 1.0  # cents from one reading to the next
HAND = 0.02  # mm by which a cut misses
SIDE = 38.0  # mm: two halves glued together
COATS = 1.2  # cents that finish in bore and holes takes off, about
ROUGH, FINE, LIGHT, LAST = -13.0, -1.5, -1.0, 0.0  # cents where each round means to leave a note
HIGHEST = 2.5  # cents above its target where no careful hand lets a note end
HALVINGS = 4
EVENING = 18  # hours
WARY = 0.8  # share of the advised cut that a wary hand takes first


@dataclass
class Flute:
    """One flute as it really is. `errors` are mm by which its foot and holes differ from what is written down."""

    design: Instrument
    medium: Air
    targets: dict[str, float]
    dice: Random
    corrections: list[float] = field(init=False)
    errors: list[float] = field(init=False)
    offs: dict[str, float] = field(init=False)
    # Where it sounds, by its true sizes and the fingering: asked for again and again between two cuts.
    known: dict[tuple[tuple[float, ...], str], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.corrections = [self.dice.gauss(m, s) for m, s in zip(MEAN, SCATTER, strict=True)]
        self.errors = [self.dice.gauss(0.0, HAND) for _ in range(1 + len(self.design.holes))]
        self.offs = {fingering: self.dice.gauss(0.0, 0.5) for fingering in self.targets}

    def cents(self, sizes: Sizes, fingering: str, coated: bool = False) -> float:
        """Where a note really stands with these sizes on paper, in cents from its target, in the played air."""
        return self._cents(sizes, [fingering])[0] - (COATS if coated else 0.0)

    def all(self, sizes: Sizes) -> list[float]:
        """Where all notes stand."""
        return self._cents(sizes, list(self.targets))

    def _cents(self, sizes: Sizes, fingerings: list[str]) -> list[float]:
        real = tuple(s + e for s, e in zip(sizes, self.errors, strict=True) if s)
        fresh = [one for one in fingerings if (real, one) not in self.known]
        if fresh:
            found = self._of(with_controls(self.design, np.array(real)), fresh, fresh)
            self.known.update({(real, one): cents for one, cents in zip(fresh, found, strict=True)})
        return [self.known[real, one] + self.offs[one] for one in fingerings]

    def square(self, foot: float) -> float:
        """Where its lowest note stands before turning, without finger holes."""
        lowest = "x" * len(self.design.holes)
        real = foot + self.errors[0]
        if ((real,), "") not in self.known:
            self.known[(real,), ""] = self._of(as_voiced(self.design, SIDE, real), [""], [lowest])[0]
        return self.known[(real,), ""] + self.offs[lowest]

    def _of(self, flute: Instrument, fingerings: list[str], notes: list[str]) -> list[float]:
        """Cents by its shape, in the played air, against the targets of `notes`."""
        targets = np.array([self.targets[note] for note in notes])
        w = first_resonances(flute, self.medium, fingerings, np.array(self.corrections[:3]), targets * 0.98)
        frequencies = (w.real / (2 * np.pi)).tolist()
        return [between(f, t) + self.corrections[3] for f, t in zip(frequencies, targets.tolist(), strict=True)]

    def heard(self, cents: float) -> float:
        """As one breath gives it."""
        return cents + self.dice.gauss(0.0, BREATH)

    def cut(self, control: int) -> None:
        """A cut was made: it misses by another amount than the one before."""
        self.errors[control] = self.dice.gauss(0.0, HAND)


def next_size(flute: Flute, sizes: Sizes, fingering: str, aim: float, heard: float) -> float | None:
    """The size that a wary hand cuts to, so that the note comes up towards `aim`; None where nothing should be cut."""
    control = fingering.find("o") + 1
    now, wanted = sizes[control], aim - heard
    if now is None or wanted < 1.0:
        return None
    step = -0.5 if control == 0 else 0.15
    tried = list(sizes)
    tried[control] = now + step
    rate = (flute.cents(tuple(tried), fingering) - flute.cents(sizes, fingering)) / step
    change = WARY * wanted / rate
    for _ in range(HALVINGS):
        tried[control] = now + change
        # A last small cut of the foot raises every note: a careful hand has that in its ear.
        ends = flute.all(tuple(tried)) if aim >= LIGHT else [flute.cents(tuple(tried), fingering)]
        if max(ends) <= HIGHEST:
            break
        change /= 2
    else:
        return None
    return round(now + change, 1 if control == 0 else 2) if abs(change) > (0.08 if control == 0 else 0.02) else None


def later(moment: datetime, dice: Random) -> datetime:
    """A few minutes on: what cutting a little and playing again takes."""
    moment += timedelta(minutes=dice.randint(2, 6))
    if 8 <= moment.hour < EVENING:
        return moment
    return (moment + timedelta(days=moment.hour >= EVENING)).replace(hour=8, minute=dice.randint(0, 40))
