"""What to do next at the bench: cut, listen, stop, or say that it can't be reached."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from acoustics.cutting import Curve, Cut
from acoustics.finished import FLAT, Outlook
from acoustics.heard import sizes_of
from acoustics.implicit import Array

CUTS_EACH: Final = 2.0
"""Cuts among which a note's share of the risk is divided: those that bring it near its target."""
SPENT: Final = 0.6
"""Part of the allowed risk that is spent on a whole flute: what is allowed is the most that any one cut may take, and
0.02 of that shall leave about one flute in a hundred sharp at the most."""
GAIN: Final = 3.5
"""Cents by which a reading must bring a cut nearer to where the note shall end to be worth it."""
WORTH: Final = (3.0, 0.1)
"""A cut is worth taking up the tool for so many cents, or for so much less chance of ending too flat."""
DARE: Final = (0.25, 0.5)
"""Above this chance of ending too flat, a single cut may take this part of the whole risk if its share allows none."""
MOST: Final = 2
"""Readings of one note at one size after which more are not asked for to sharpen a cut."""
MOST_IF_FLAT: Final = (3, 0.3)
"""Readings that are asked for where no cut is safe yet and the chance of ending too flat is larger than this."""
SHORT: Final = 0.8
"""Chance of ending too flat from which a flute with no cut left is not called done."""
LOST: Final = 5.0
"""Cents beyond the tolerance, at two standard deviations, at which a note is given up at once."""

Why = Literal[
    "nothing heard", "strange", "unsure", "check", "sharp?", "cut", "in tune", "sharp", "short", "drills",
]  # fmt: skip


@dataclass(frozen=True)
class Step:
    """The next step and its reason. `note` is what to play or what the cut is for; `cut` is set for a cut."""

    action: Literal["open hole", "shorten foot", "measure", "done", "cannot reach"]
    why: Why
    note: int | None = None
    cut: Cut | None = None


class Bench:
    """One look at a flute: what has been heard of which note, and what follows."""

    def __init__(self, outlook: Outlook) -> None:
        self.outlook = outlook
        self.belief = outlook.belief
        self.job = outlook.job
        self.share = SPENT * self.job.risk / (CUTS_EACH * max(1, len(outlook.owner)))
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
            over = outlook.kept[note] - 2.0 * outlook.kept_sd[note] - self.job.tolerance
            if over > LOST:
                return self._lost(note, "sharp")
            under = outlook.ends[note] + 2.0 * outlook.kept_sd[note] + self.job.tolerance
            if under < 0.0 and self.at_its_end(note):
                return self._lost(note, "short")
        stuck = False
        for note in order:
            if flat[note] > FLAT:
                step = self._raise(note)
                if step is not None:
                    return step
                stuck |= flat[note] > SHORT
            if not self.heard(note, at_this_size=True):
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

    def at_its_end(self, note: int) -> bool:
        """Whether the plan takes a note's own control as far as it goes."""
        control = self.outlook.control[note]
        return bool(abs(self.outlook.plan[control] - self.outlook.limits[control]) < 1e-3)

    def heard(self, note: int, at_this_size: bool = False) -> int:
        """How many good readings there are of a note, of all or with its own control as it is."""
        fingering = self.job.fingerings[note]
        size = self.here[self.outlook.control[note]]
        return sum(
            not strange and r.fingering == fingering and (not at_this_size or size in sizes_of(r.instrument))
            for r, strange in zip(self.belief.readings, self.belief.strange, strict=True)
        )

    def last_strange(self) -> int | None:
        """A note whose last reading contradicts all else."""
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
        if flat > DARE[0] and heard >= MOST and not self._worth(note, best):
            best = curve.best(DARE[1] * SPENT * self.job.risk)
        if best is None or not self._worth(note, best):
            most = MOST_IF_FLAT[0] if flat > MOST_IF_FLAT[1] else MOST
            return Step("measure", "unsure", note) if heard < most else None
        if heard < MOST and self._gain(curve, note, best.cents) > GAIN:
            return Step("measure", "unsure", note)
        return Step("shorten foot" if control == 0 else "open hole", "cut", note, best)

    def _worth(self, note: int, best: Cut | None) -> bool:
        """Whether a cut is worth taking up the tool."""
        if best is None:
            return False
        outlook = self.outlook
        return bool(best.cents - outlook.kept[note] >= WORTH[0] or outlook.flat()[note] - best.flat >= WORTH[1])

    def _gain(self, curve: Curve, note: int, reached: float) -> float:
        """Cents by which a reading of a note would let the next cut go nearer to where the note shall end."""
        hoped = curve.after_reading(self.share, self.outlook.present_rows[note])
        sizes = curve.sizes()
        if len(sizes):
            hoped = min(hoped, float(curve.cents(sizes[-1:])[0]))
        return hoped - reached

    def _lost(self, note: int, why: Literal["sharp", "short"]) -> Step:
        return Step("cannot reach", why, note) if self.heard(note) >= 2 else Step("measure", "sharp?", note)


def each_note(outlook: Outlook) -> Iterator[tuple[str, float, float]]:
    """Fingering, expected cents as the flute is now, and their standard deviation."""
    rows: Array = outlook.present_rows
    sd = np.sqrt(np.einsum("ij,jk,ik->i", rows, outlook.belief.covariance, rows))
    for fingering, value, spread in zip(outlook.job.fingerings, outlook.present, sd, strict=True):
        yield fingering, float(value), float(spread)
