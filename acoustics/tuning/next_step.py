"""What to do next at the bench: cut, listen, stop, or say that it can't be reached."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.special import ndtri

from acoustics.model.implicit import Array
from acoustics.tuning.cutting import Curve, Cut
from acoustics.tuning.finished import FLAT, SHARPER, UNDER, Outlook
from acoustics.tuning.heard import Reading, sizes_of
from acoustics.tuning.sounding import SHAPE

CUTS_EACH: Final = 2.1
"""Cuts among which a note's share of the risk is divided: those that bring it near its target."""
GAIN: Final = 1.5
"""Cents by which the next drill up must end closer to the note's aim, for a reading that may allow it."""
WORTH: Final = (3.0, 0.06, 0.008)
"""A cut is worth making for so many cents, or for so much less chance of ending too flat; the last is for a
cut that finishes its note, beyond what it risks: ending sharp counts fifteen times, `finished.SHARPER`."""
AGAIN: Final = 0.057
"""Chance of ending too flat from which a note is worth another reading."""
NUDGE: Final = 4.0
"""Cents by which a note that has been heard may have been raised since without being heard again: a reading of 3 cents
would tell nothing that is not known better."""
DARE: Final = ((0.25, 0.5), (0.5, 1.0))
"""Above these chances of ending too flat, a cut may take these parts of the whole risk if its share allows none."""
MOST: Final = 3
"""Readings of one note at one size after which more are not asked for to sharpen a cut."""
MOST_IF_FLAT: Final = (4, 0.3)
"""Readings that are asked for where no cut is safe yet and the chance of ending too flat is larger than this."""
TELLING: Final = 0.5
"""Readings of single notes that one reading must make up for to be taken before the next cut."""
COARSE: Final = 5.0
"""Cents to which a note is known at which a cut would be made again anyway: it is heard first."""
SHORT: Final = 0.8
"""Chance of ending too flat from which a flute with no cut left is not called done."""
CERTAIN: Final = 0.95
"""Chance that a note ends too sharp at which the flute is given up at once: a further cut would take away what else it
can become."""
LOST: Final = 5.0
"""Cents under the tolerance, at two standard deviations, at which a note is given up at once."""

Action = Literal["open hole", "shorten foot", "measure", "done", "cannot reach"]
Why = Literal[
    "nothing heard", "strange", "telling", "unsure", "check", "in the way", "sharp?", "cut", "in tune", "sharp",
    "short", "drills",
]  # fmt: skip


@dataclass(frozen=True)
class Step:
    """The next step and its reason. `note` is what to play or what the cut is for; `cut` is set for a cut."""

    action: Action
    why: Why
    note: int | None = None
    cut: Cut | None = None


class Bench:
    """One look at a flute: what has been heard of which note, and what follows."""

    def __init__(self, outlook: Outlook) -> None:
        self.outlook = outlook
        self.belief = outlook.belief
        self.job = outlook.job
        self.share = self.job.risk / (CUTS_EACH * max(1, len(outlook.owner)))
        self.here = sizes_of(self.job.flute)

    def next(self) -> Step:
        """The next step."""
        outlook = self.outlook
        order = self.order()
        if not np.any(~self.belief.strange) and not np.any(self.belief.strange):
            return Step("measure", "nothing heard", order[0] if order else 0)
        strange = self.last_strange()
        if strange is not None:
            return Step("measure", "strange", strange)
        sharp, flat = outlook.sharp(), outlook.flat()
        for note in order:
            if sharp[note] > CERTAIN:
                return self._lost(note, "sharp")
            under = outlook.ends[note] + 2.0 * outlook.kept_sd[note] + self.job.tolerance
            if under < -LOST and self.at_its_end(note):
                return self._lost(note, "short")
        stuck = False
        if self.job.drills is None:
            telling = self.telling([note for note in order if flat[note] > AGAIN])
            if telling is not None:
                return Step("measure", "telling", telling)
        for note in order:
            if flat[note] > FLAT:
                step = self._raise(note)
                if step is not None:
                    return step
                stuck |= flat[note] > SHORT
            if not self.heard_here(note):
                return Step("measure", "check", note)
        for note in order:
            if sharp[note] > 0.3 and self.heard(note) < 2:
                return Step("measure", "sharp?", note)
        if any(sharp[note] > 0.5 for note in order):
            return Step("cannot reach", "sharp", max(order, key=lambda note: outlook.kept[note]))
        if stuck:
            worst = min(order, key=lambda note: outlook.kept[note])
            return Step("cannot reach", "short" if self.at_its_end(worst) else "drills", worst)
        return Step("done", "in tune")

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

    def telling(self, flat: Sequence[int]) -> int | None:
        """The note whose reading saves the most work on those that are still `flat`, if it saves any.

        A note can be finished by one cut once it is known to `enough` cents: then the cut that its share of the risk
        allows leaves hardly a chance of ending too flat. What is missing to that, counted in readings of that note
        alone, are as many cuts that stop early and are heard and made again. A reading of any note tells something of
        all others, for window, bore, holes and air are the same for all.
        """
        outlook, belief = self.outlook, self.belief
        unfinished = [note for note in flat if outlook.moving[outlook.control[note]]]
        if not unfinished:
            return None
        enough = -2.0 * self.job.tolerance / float(ndtri(self.share) + ndtri(AGAIN))
        found, variance = outlook.when_cut(unfinished)
        heard = outlook.present_rows
        C, noise = belief.covariance, belief.prior.reading_sd**2
        pull = found @ C @ heard.T
        before = np.einsum("ij,ij->i", found @ C, found) + variance
        after = before[:, None] - pull**2 / (np.einsum("ij,ij->i", heard @ C, heard) + noise)

        def missing(variance: Array) -> Array:
            return np.asarray(noise * np.maximum(1.0 / enough**2 - 1.0 / variance, 0.0))

        saved = np.sum(missing(before)[:, None] - missing(after), axis=0)
        for note in range(len(saved)):
            if note not in outlook.control or self.heard(note, at_this_size=True) >= MOST:
                saved[note] = 0.0
        best = int(np.argmax(saved))
        return best if saved[best] > TELLING else None

    def at_its_end(self, note: int) -> bool:
        """Whether the plan takes a note's own control as far as it goes."""
        control = self.outlook.control[note]
        return bool(abs(self.outlook.plan[control] - self.outlook.limits[control]) < 1e-3)

    def heard(self, note: int, at_this_size: bool = False) -> int:
        """How many good readings there are of a note, of all or with its own control as it is."""
        size = self.here[self.outlook.control[note]]
        return sum(not at_this_size or size in sizes_of(r.instrument) for r in self._good(note))

    def heard_here(self, note: int) -> bool:
        """Whether there is a good reading of a note with its own control as it is, or nearly so."""
        control = self.outlook.control[note]
        slope = abs(float(self.outlook.now.rates[0][note, SHAPE + control]))
        size, holes = self.here[control].value, len(self.job.flute.holes)
        return any(
            slope * abs(sizes_of(r.instrument)[control].value - size) <= NUDGE
            for r in self._good(note)
            if len(r.instrument.holes) == holes
        )

    def _good(self, note: int) -> Iterator[Reading]:
        """The readings of a note that contradict nothing."""
        fingering = self.job.fingerings[note]
        pairs = zip(self.belief.readings, self.belief.strange, strict=True)
        return (r for r, strange in pairs if not strange and r.fingering == fingering)

    def last_strange(self) -> int | None:
        """A note whose last reading contradicts everything else."""
        last: dict[str, bool] = {}
        for reading, strange in zip(self.belief.readings, self.belief.strange, strict=True):
            last[reading.fingering] = bool(strange)
        for note, fingering in enumerate(self.job.fingerings):
            if last.get(fingering):
                return note
        return None

    def _raise(self, note: int) -> Step | None:
        """Cut a note's own control, or hear it first; None where neither helps."""
        outlook = self.outlook
        control = outlook.control[note]
        heard = self.heard(note, at_this_size=True)
        if not outlook.moving[control]:
            return Step("measure", "unsure", note) if heard < 2 else None
        curve = Curve(outlook, control)
        best = curve.best(self.share)
        flat = float(outlook.flat()[note])
        for chance, part in DARE:
            if flat > chance and heard >= MOST and not self._worth(note, best):
                best = curve.best(part * self.job.risk)
        other = curve.in_the_way(self.share, curve.end if best is None else best.to)
        if other is not None and self.heard(other, at_this_size=True) < MOST:
            return Step("measure", "in the way", other)
        if best is None or not self._worth(note, best):
            if flat < AGAIN:
                return None
            most = MOST_IF_FLAT[0] if flat > MOST_IF_FLAT[1] else MOST
            return Step("measure", "unsure", note) if heard < most and self._helps(curve, note, best) else None
        if best.sd > COARSE and heard < MOST:
            return Step("measure", "unsure", note)
        if self.job.drills is not None and heard < MOST and self._helps(curve, note, best):
            return Step("measure", "unsure", note)
        return Step("shorten foot" if control == 0 else "open hole", "cut", note, best)

    def _worth(self, note: int, best: Cut | None) -> bool:
        """Whether a cut is large enough to be worth making."""
        if best is None:
            return False
        less = float(self.outlook.flat()[note]) - best.flat
        finishes = best.flat <= FLAT and less - SHARPER * best.risk >= WORTH[2]
        return bool(best.cents - self.outlook.kept[note] >= WORTH[0] or less >= WORTH[1] or finishes)

    def _helps(self, curve: Curve, note: int, best: Cut | None) -> bool:
        """Whether one more reading of a note might let the next cut end closer to the note's aim.

        Any size can be cut to a little farther. Of drills it must be the next one up that becomes safe, and nearer.
        """
        if self.job.drills is None or curve.control == 0 or not self.heard(note, at_this_size=True):
            return True
        reached = curve.next_after_reading(self.share, self.outlook.present_rows[note], best)
        now = self.outlook.kept[note] if best is None else best.cents
        goal = -UNDER * self.job.tolerance
        return reached is not None and bool(abs(now - goal) - abs(reached - goal) > GAIN)

    def _lost(self, note: int, why: Literal["sharp", "short"]) -> Step:
        # Two wrong readings of the size as it is would otherwise end a good flute.
        sure = self.heard(note, at_this_size=True) >= MOST
        return Step("cannot reach", why, note) if sure else Step("measure", "sharp?", note)


def each_note(outlook: Outlook) -> Iterator[tuple[str, float, float]]:
    """Fingering, expected cents as the flute is now, and their standard deviation."""
    rows: Array = outlook.present_rows
    sd = np.sqrt(np.einsum("ij,jk,ik->i", rows, outlook.belief.covariance, rows))
    for fingering, value, spread in zip(outlook.job.fingerings, outlook.present, sd, strict=True):
        yield fingering, float(value), float(spread)
