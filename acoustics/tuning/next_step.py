"""What to do next at the bench: cut, listen, stop, or say that it can't be reached.

Hearing any note first is weighed against going on: a reading of one tells something of all others, whose work it may
save. Otherwise the first note from the foot up that is not finished is cut or heard, whichever leaves least to lose.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np

from acoustics.belief.corrections import SLIP_SD
from acoustics.belief.heard import Reading, sittings, sizes_of
from acoustics.belief.sounding import SHAPE
from acoustics.model.implicit import Array
from acoustics.tuning.cutting import Curve, Cut
from acoustics.tuning.diagnosing import Suspect, suspect
from acoustics.tuning.finished import Outlook
from acoustics.tuning.worth import Hand, Worth, worth

UNHEARD: Final = 25.0
"""Cents by which a note that was never heard may be raised before it is."""
IN_A_ROW: Final = 4
"""Readings of one note in a row after which another is not asked for to know it better."""
TOO_MANY: Final = 3
"""Notes that are `doubtful` at which the work ends: rather the sizes entered are wrong than so many readings."""
SURE: Final = 0.9
"""Chance of ending too sharp or too flat at which a note is given up."""
ENDS: Final = 60.0
"""Cents sharp from which going on with other notes would take away what the flute can still become."""
SHORT: Final = 3.0
"""Cents under the tolerance, at two standard deviations, at which a note with no room left is given up."""
_ZS: Final = np.array([-1.9, -1.1, -0.55, 0.0, 0.55, 1.1, 1.9])
_ODDS: Final = np.exp(-0.5 * _ZS**2) / np.sum(np.exp(-0.5 * _ZS**2))
SPARED: Final = 1.0
"""Minutes that a reading must save beyond its own to be taken before the next cut."""
MOST: Final = (2, 4)
"""Readings of one note at one size, in one sitting and in all, after which more are not asked for to know it better."""

Action = Literal["open hole", "shorten foot", "measure", "done", "cannot reach"]
Why = Literal[
    "nothing heard", "strange", "telling", "unsure", "check", "never heard", "in the way", "sharp?", "cut", "in tune",
    "sharp", "short", "drills", "suspect", "doubt",
]  # fmt: skip


@dataclass(frozen=True)
class Step:
    """The next step and its reason. `note` is what to play or what the cut is for; `cut` is set for a cut, `suspect`
    for what should be looked at first."""

    action: Action
    why: Why
    note: int | None = None
    cut: Cut | None = None
    suspect: Suspect | None = None


class Bench:
    """One look at a flute: what has been heard of which note, and what follows."""

    def __init__(self, outlook: Outlook) -> None:
        self.outlook = outlook
        self.belief = outlook.belief
        self.job = outlook.job
        self.here = sizes_of(self.job.flute)
        self._best: dict[int, tuple[Cut, float] | None] = {}

    def next(self) -> Step:
        """The next step."""
        outlook, order = self.outlook, self.order()
        if not self.belief.readings:
            return Step("measure", "nothing heard", order[0] if order else 0)
        strange = self.last_strange()
        if strange is not None and self.in_a_row(strange) < IN_A_ROW:
            return Step("measure", "strange", strange)
        doubtful = [note for note in order if self.doubtful(note)]
        if len(doubtful) >= TOO_MANY:
            return Step("cannot reach", "doubt", doubtful[0])
        fault = suspect(self.job, self.belief)
        if fault is not None and self.in_a_row(fault.note) < IN_A_ROW:
            return Step("measure", "suspect", fault.note, suspect=fault)
        for note in order:
            step = self._given_up(note)
            if step is not None and step.why != "short" and (step.action == "measure" or outlook.kept[note] > ENDS):
                return step
        telling = self._telling(order)
        if telling is not None:
            return Step("measure", "telling" if self.heard(telling) else "never heard", telling)
        for note in order:
            found = self._go_on(note)
            if found is not None:
                return found
        return self._end(order)

    def _end(self, order: list[int]) -> Step:
        lost = [note for note in order if self._given_up(note) is not None]
        doubtful = [note for note in order if self.doubtful(note)]
        if doubtful and not lost:
            return Step("cannot reach", "doubt", doubtful[0])
        if not lost:
            return Step("done", "in tune")
        worst = max(lost, key=lambda note: abs(self.outlook.kept[note]))
        step = self._given_up(worst)
        assert step is not None
        return step

    def order(self) -> list[int]:
        """Notes with a size of their own, in the order of the work: first the one that later cuts raise the least.

        Opening a hole hardly touches the notes below it and raises those above; shortening the foot raises all. So this
        goes from the foot up, lowest note first, wherever the flute is built that way.
        """
        outlook = self.outlook
        present = outlook.now_cents

        def disturbed(note: int) -> tuple[float, float]:
            rise = max(0.0, float(outlook.kept[note] - present[note]))
            return (round(rise, 0) if rise > 1.0 else 0.0, self.job.aims[note].frequency)

        return sorted(outlook.control, key=disturbed)

    # what a note is worth

    @cached_property
    def _noise(self) -> float:
        """Variance of the next reading."""
        return self.belief.prior.reading_sd**2

    @cached_property
    def _rows(self) -> Array:
        """Rates (notes, unknowns) of where each note ends: by the plan where its own size is still to be cut."""
        found = self.outlook.kept_rows.copy()
        cut = [note for note, control in self.outlook.control.items() if self.outlook.moving[control]]
        if cut:
            found[cut] = self.outlook.when_cut(cut)[0]
        return found

    @cached_property
    def _told(self) -> tuple[Array, Array]:
        """What each note (rows) learns from a reading of each (columns): covariances, and variances of the readings."""
        C = self.belief.covariance
        heard = self.belief.heard(self.outlook.present_rows, self.job.fingerings)
        return self._rows @ C @ heard.T, np.einsum("ij,jk,ik->i", heard, C, heard)

    @cached_property
    def _sds(self) -> Array:
        """Standard deviations of where notes end, the cut that is still to be made left out."""
        C = self.belief.covariance
        own = np.einsum("ij,jk,ik->i", self._rows, C, self._rows) + self.outlook.kept_rest
        return np.asarray(np.sqrt(np.maximum(own, 0.01)))

    @cached_property
    def _floors(self) -> Array:
        """Cents to which each note stays unknown however often it is heard in this sitting."""
        across, heard = self._told
        learnt = np.diag(across) ** 2 / np.maximum(heard, 1e-9)
        return np.sqrt(np.maximum(self._sds**2 - learnt, 0.0))

    def worth(self, note: int) -> Worth:
        """What the standing of a note is worth; that of all holes is taken as the same."""
        outlook, control = self.outlook, self.outlook.control[note]
        slopes = np.abs(outlook.then.rates[0][:, SHAPE:])
        of = [slopes[n, c] for n, c in outlook.control.items() if (c == 0) == (control == 0)]
        slope = float(np.median(of))
        prior = self.belief.prior
        hand = Hand(
            float(np.sqrt(self._noise)),
            float(self._floors[note]),
            slope * prior.cut_sd,
            slope * self.job.smallest,
            prior.slip,
            slope * SLIP_SD,
            self.job.risk,
        )
        return worth(self.job.tolerance, self.job.work, hand.rounded())

    def _telling(self, order: list[int]) -> int | None:
        """The note whose reading spares most minutes of work on all notes, where it spares more than it costs."""
        outlook = self.outlook
        across, heard = self._told
        pull = across / np.sqrt(heard + self._noise)[None]
        spared = np.full(len(self.job.aims), -self.job.work.reading)
        for note in order:
            w = self.worth(note)
            mean, sd = float(outlook.kept[note]), float(self._sds[note])
            shift = np.minimum(np.abs(pull[note]), 0.999 * sd)
            after = np.sqrt(np.maximum(sd**2 - shift**2, 0.01))
            then = w.best(mean + shift[:, None] * _ZS[None], np.repeat(after[:, None], len(_ZS), axis=1)) @ _ODDS
            spared += float(w.best(np.array(mean), np.array(sd))) - then
        for note in range(len(spared)):
            if note not in outlook.control or self._tired(note) or self.doubtful(note):
                spared[note] = -np.inf
        best = int(np.argmax(spared))
        return best if spared[best] > SPARED else None

    def _hear(self, note: int, w: Worth) -> float:
        """Minutes still to come if a note is heard first."""
        across, heard = self._told
        mean, sd = float(self.outlook.kept[note]), float(self._sds[note])
        shift = min(abs(float(across[note, note])) / float(np.sqrt(heard[note] + self._noise)), 0.999 * sd)
        after = np.full(len(_ZS), np.sqrt(max(sd**2 - shift**2, 0.01)))
        return self.job.work.reading + float(w.best(mean + shift * _ZS, after) @ _ODDS)

    def _go_on(self, note: int) -> Step | None:
        """Cut a note's own size, or hear it; None where neither is worth it."""
        if self.doubtful(note):
            return None
        outlook, control = self.outlook, self.outlook.control[note]
        w = self.worth(note)
        mean, sd = np.array(outlook.kept[note]), np.array(outlook.kept_sd[note])
        heard_here = self.heard_here(note)
        tired = self._tired(note)
        stop = float(w.stop(mean, sd))
        hear = np.inf if tired else self._hear(note, w)
        # Where even the best is hardly better than leaving it, no cut has to be looked at.
        worth_it = float(w.best(mean, sd)) < stop - 0.1 and mean < self.job.tolerance
        room = abs(float(outlook.limits[control]) - self.here[control].value) > self.job.smallest
        found = self._best_cut(note) if worth_it and room else None
        if found is not None and found[1] < min(stop, hear + SPARED):
            cut = found[0]
            if not self.heard(note) and cut.cents - float(mean) > UNHEARD and not tired:
                return Step("measure", "never heard", note)
            return Step("shorten foot" if control == 0 else "open hole", "cut", note, cut)
        if hear < stop - SPARED:
            return Step("measure", "unsure", note)
        if not heard_here and not tired:
            return Step("measure", "check", note)
        return None

    def _tired(self, note: int) -> bool:
        """Whether a note has been heard so often as it is that it is not asked for to know it better."""
        size, last = self.here[self.outlook.control[note]], self._sittings[-1]
        here = [
            sitting
            for reading, sitting, strange in zip(self.belief.readings, self._sittings, self.belief.strange, strict=True)
            if not strange and reading.fingering == self.job.fingerings[note] and size in sizes_of(reading.instrument)
        ]
        return here.count(last) >= MOST[0] or len(here) >= MOST[1] or self.in_a_row(note) >= IN_A_ROW

    def doubtful(self, note: int) -> bool:
        """Whether a note was read again and again as it is, and no reading of it fits the rest: nobody knows where it
        stands, so that nothing is cut for it."""
        size, fingering = self.here[self.outlook.control[note]], self.job.fingerings[note]
        pairs = zip(self.belief.readings, self.belief.strange, strict=True)
        strange = [bad for r, bad in pairs if r.fingering == fingering and size in sizes_of(r.instrument)]
        return len(strange) >= IN_A_ROW and all(strange)

    @cached_property
    def _sittings(self) -> list[int]:
        return sittings(self.belief.readings)

    def _given_up(self, note: int) -> Step | None:
        """A note that no cut can bring in tune any more; heard twice as it is before that is said."""
        outlook = self.outlook
        sharp, flat = float(outlook.sharp[note]), float(outlook.flat[note])
        why: Literal["sharp", "short", "drills"] | None = None
        if sharp > SURE:
            why = "sharp"
        elif flat > SURE and outlook.ends[note] + 2.0 * outlook.kept_sd[note] < -self.job.tolerance - SHORT:
            why = "short" if self.at_its_end(note) else None
        elif flat > SURE and self._no_drill(note):
            why = "drills"
        if why is None:
            return None
        if self.heard(note, at_this_size=True) < 2:
            return Step("measure", "sharp?", note) if self.in_a_row(note) < IN_A_ROW else None
        return Step("cannot reach", why, note)

    def _no_drill(self, note: int) -> bool:
        control = self.outlook.control[note]
        if control == 0 or self.job.drills is None:
            return False
        if abs(float(self.outlook.limits[control]) - self.here[control].value) <= self.job.smallest:
            return True
        return self._best_cut(note) is None

    def _best_cut(self, note: int) -> tuple[Cut, float] | None:
        """The best cut of a note's own size, with the minutes still to come after it."""
        if note not in self._best:
            curve = Curve(self.outlook, self.outlook.control[note])
            self._best[note] = curve.best(self.worth(note), self.job.risk)
        return self._best[note]

    def at_its_end(self, note: int) -> bool:
        """Whether the plan takes a note's own control as far as it goes."""
        control = self.outlook.control[note]
        return bool(abs(self.outlook.plan[control] - self.outlook.limits[control]) < 1e-3)

    # what has been heard

    def in_a_row(self, note: int) -> int:
        """How often a note was read last, with nothing cut and no other note in between."""
        count = 0
        for reading in reversed(self.belief.readings):
            if reading.fingering != self.job.fingerings[note] or reading.instrument != self.job.flute:
                break
            count += 1
        return count

    def heard(self, note: int, at_this_size: bool = False) -> int:
        """How many good readings there are of a note, of all or with its own control as it is."""
        size = self.here[self.outlook.control[note]]
        return sum(not at_this_size or size in sizes_of(r.instrument) for r in self._good(note))

    def heard_here(self, note: int) -> bool:
        """Whether there is a good reading of a note with its own control as it is, or nearly so."""
        control = self.outlook.control[note]
        size = self.here[control]
        holes = len(self.job.flute.holes)
        return any(
            sizes_of(r.instrument)[control] == size for r in self._good(note) if len(r.instrument.holes) == holes
        )

    def _good(self, note: int) -> Iterator[Reading]:
        """The readings of a note that contradict nothing."""
        fingering = self.job.fingerings[note]
        pairs = zip(self.belief.readings, self.belief.strange, strict=True)
        return (r for r, strange in pairs if not strange and r.fingering == fingering)

    def last_strange(self) -> int | None:
        """The note of the last reading, where that contradicts everything else and the note is not known otherwise."""
        last = len(self.belief.readings) - 1
        fingering = self.belief.readings[last].fingering
        if not self.belief.strange[last] or fingering not in self.job.fingerings:
            return None
        return self.job.fingerings.index(fingering)

    def left(self) -> tuple[int, int]:
        """Cuts and readings that are expected to the end."""
        cuts = readings = 0.0
        for note in self.outlook.control:
            if self._given_up(note) is not None:
                continue
            found = self.worth(note).left(self.outlook.kept[note], self._sds[note])
            cuts += float(found[0])
            readings += max(float(found[1]), 0.0 if self.heard_here(note) else 1.0)
        return round(cuts), round(readings)


def each_note(outlook: Outlook) -> Iterator[tuple[str, float, float]]:
    """Fingering, expected cents as the flute is now, and their standard deviation."""
    rows: Array = outlook.present_rows
    sd = np.sqrt(np.einsum("ij,jk,ik->i", rows, outlook.belief.covariance, rows))
    for fingering, value, spread in zip(outlook.job.fingerings, outlook.present, sd, strict=True):
        yield fingering, float(value), float(spread)
