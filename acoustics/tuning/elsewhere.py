"""What a flute that misses its key can still become: another key, another pitch standard, one more hole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from acoustics.belief.sounding import respond
from acoustics.designing.limits import BRIDGE
from acoustics.flute.instrument import Hole
from acoustics.notes.music import A4_MIDI, A4_RANGE, HIGHEST_KEY, LOWEST_KEY, nearest_note, note_name
from acoustics.tuning.aims import Aim, Job
from acoustics.tuning.finished import MOVED, Outlook, cents, plan_for

UPPER: Final = 1.28
"""Spreads above what is believed below which a note stands nine times in ten: what is sharp is final, so it is judged
by that."""
_SPARE: Final = 0.6
"""Share of the tolerance that a note which is too sharp now may stand above another standard, at that."""
_SEMITONES: Final = (1, 2)
_FOOT_HOLE: Final = 0.5
"""Share of the bore that a foot hole may take."""


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A key that the flute could have, and why."""

    key: str
    why: str


def elsewhere(outlook: Outlook) -> list[Elsewhere]:
    """What can be reached from here by what is believed: every note with a size of its own within the tolerance."""
    return [*_another_standard(outlook), *_foot_hole(outlook), *_another_key(outlook)]


def key_of(job: Job) -> tuple[int, float]:
    """MIDI number of the lowest note and the A4 (Hz) by which it is in tune."""
    lowest = float(min(job.frequencies))
    _, off = nearest_note(lowest)
    return round(A4_MIDI + 12.0 * math.log2(lowest / 440.0)), 440.0 * 2.0 ** (off / 1200.0)


def _reached(outlook: Outlook, shift: float) -> bool:
    """Whether all can be in tune with every target `shift` cents higher."""
    job = outlook.job
    aims = tuple(Aim(aim.fingering, aim.frequency * 2.0 ** (shift / 1200.0)) for aim in job.aims)
    moved = replace(job, aims=aims)
    plan, then = plan_for(moved, outlook.belief, outlook.owner, outlook.limits, outlook.now)
    cut = np.abs(plan - job.controls) > MOVED
    ends = cents(moved, outlook.belief, then, cut)[0]
    for note, control in outlook.control.items():
        # A size that stays can't be put right: its note must be low enough even if it stands higher than believed.
        highest = ends[note] + (0.0 if cut[control] else UPPER * outlook.kept_sd[note])
        if ends[note] < -job.tolerance or highest > job.tolerance:
            return False
    return True


def _another_standard(outlook: Outlook) -> Iterator[Elsewhere]:
    midi, a4 = key_of(outlook.job)
    own = list(outlook.control)
    upper = float(np.max(outlook.kept[own] + UPPER * outlook.kept_sd[own]))
    sharpest = max(float(outlook.kept[own].max()), upper - _SPARE * outlook.job.tolerance)
    flattest = float(outlook.ends[own].min())
    shifts = []
    if sharpest > outlook.job.tolerance:
        shifts.append((sharpest, "nothing lowers a note that is too sharp, but all others can still rise to it"))
    if flattest < -outlook.job.tolerance:
        shifts.append((flattest, "the note that stays flat is in tune with a lower A4"))
    for shift, what in shifts:
        hertz = a4 * 2.0 ** (shift / 1200.0)
        hertz = math.ceil(hertz) if shift > 0.0 else math.floor(hertz)
        if A4_RANGE[0] <= hertz <= A4_RANGE[1] and _reached(outlook, 1200.0 * math.log2(hertz / a4)):
            yield Elsewhere(f"{note_name(midi)} at A4 = {hertz} Hz", what)


def _foot_hole(outlook: Outlook) -> Iterator[Elsewhere]:
    """Where the foot is as short as it can be and its note still flat: an open hole before it raises that note."""
    job = outlook.job
    note = outlook.owner.get(0)
    if note is None or outlook.ends[note] >= -job.tolerance or outlook.plan[0] - outlook.limits[0] > 1e-3:
        return
    flute = job.finished(outlook.plan)
    last = max(hole.x + 0.5 * hole.diameter for hole in (*flute.holes, *flute.foot_holes))
    x = 0.5 * (last + flute.foot_x)
    room = 2.0 * min(x - last - BRIDGE, flute.foot_x - x - BRIDGE)
    diameter = min(_FOOT_HOLE * flute.bore_diameter(x), room)
    if diameter < 1.0:
        return
    holed = replace(flute, foot_holes=(*flute.foot_holes, Hole(x, diameter)))
    start = outlook.then.w
    for _ in range(3):
        start = respond([holed], job.air, job.fingerings, outlook.belief.shape, start).w
    rise = 1200.0 * math.log2(start[0, note].real / outlook.then.w[0, note].real)
    if outlook.ends[note] + rise >= -job.tolerance:
        name = note_name(key_of(job)[0])
        yield Elsewhere(
            name,
            f"a foot hole at {x:.0f} mm raises the lowest note by up to {rise:.0f} cents: start small and open it "
            "gradually",
        )


def _another_key(outlook: Outlook) -> Iterator[Elsewhere]:
    midi, a4 = key_of(outlook.job)
    for semitones in _SEMITONES:
        if LOWEST_KEY <= midi + semitones <= HIGHEST_KEY and _reached(outlook, 100.0 * semitones):
            at = "" if abs(a4 - 440.0) < 0.5 else f" (A4 = {a4:.0f} Hz as now)"
            yield Elsewhere(
                note_name(midi + semitones),
                f"a shorter foot and larger holes bring every note {semitones} semitone"
                f"{'s' if semitones > 1 else ''} up within the tolerance{at}",
            )
