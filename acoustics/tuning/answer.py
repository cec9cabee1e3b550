"""What the advice comes to: the next step in figures and words, and where every note stands and ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acoustics.belief.corrections import CORRECTIONS, COUNT
from acoustics.notes.music import cents
from acoustics.tuning.elsewhere import Elsewhere, elsewhere
from acoustics.tuning.finished import Outlook
from acoustics.tuning.next_step import Action, Step, each_note
from acoustics.tuning.words import Why, why


@dataclass(frozen=True, slots=True)
class Next:
    """The next step; sizes in mm. `hole` is None for the foot and where nothing is cut, `start` and `to` without a cut.

    `fingering` is what to play, or what the cut is for; `expected` where that note ends in the finished flute, give or
    take `sd`; `reading` what the meter should show right after the cut [cents]; `risk` the chance that it ends sharp.
    """

    action: Action
    why: Why
    hole: int | None = None
    fingering: str | None = None
    start: float | None = None
    to: float | None = None
    expected: float | None = None
    sd: float | None = None
    reading: float | None = None
    risk: float | None = None


@dataclass(frozen=True, slots=True)
class Stands:
    """One note: where it is expected to stand on the flute as it is now, give or take `sd`, in cents.

    `last` is its last reading, `set_aside` where that contradicts all else; `finished` is where it ends if its own size
    stays as it is and all other cuts are made, `sharp` and `within` the chances that this is too sharp, or within the
    tolerance.
    """

    fingering: str
    expected: float
    sd: float
    last: float | None
    set_aside: bool
    finished: float
    finished_sd: float
    sharp: float = 0.0
    within: float = 0.0


@dataclass(frozen=True, slots=True)
class Corrected:
    """What is believed of one correction (`corrections.NAMES`)."""

    name: str
    mean: float
    sd: float
    unit: str


@dataclass(frozen=True, slots=True)
class Left:
    """The work that is expected to the end."""

    cuts: int
    readings: int


@dataclass(frozen=True, slots=True)
class Answer:
    """The advice; `other_keys` has what the flute can still become, where its own key can't be reached; `in_tune` is
    the chance that every note ends within the tolerance, said when it is done."""

    next: Next
    notes: tuple[Stands, ...]
    corrections: tuple[Corrected, ...]
    other_keys: tuple[Elsewhere, ...]
    left: Left
    in_tune: float | None = None


def answered(step: Step, outlook: Outlook, left: Left) -> Answer:
    """The step in figures, rounded as they are told, with all that is believed of the flute."""
    others = elsewhere(outlook) if step.action == "cannot reach" and step.why != "doubt" else ()
    if step.action in ("done", "cannot reach"):
        left = Left(0, 0)
    return Answer(
        _next(step, outlook),
        _notes(outlook),
        _corrections(outlook),
        tuple(others),
        Left(max(left.cuts, int(step.cut is not None)), max(left.readings, int(step.action == "measure"))),
        round(outlook.all_within(), 4) if step.action == "done" else None,
    )


def _next(step: Step, outlook: Outlook) -> Next:
    words, note, cut = why(outlook, step), step.note, step.cut
    if note is None:
        return Next(step.action, words)
    hole, fingering = outlook.control.get(note, 0) or None, outlook.job.fingerings[note]
    if cut is None:
        return Next(
            step.action,
            words,
            hole,
            fingering,
            expected=round(float(outlook.kept[note]), 2),
            sd=round(float(outlook.kept_sd[note]), 2),
            risk=round(float(outlook.sharp[note]), 5),
        )
    return Next(
        step.action,
        words,
        hole,
        fingering,
        start=cut.start,
        to=cut.to,
        expected=round(cut.cents, 2),
        sd=round(cut.sd, 2),
        reading=round(cut.reads, 2),
        risk=round(cut.risk, 5),
    )


def _notes(outlook: Outlook) -> tuple[Stands, ...]:
    belief = outlook.belief
    last: dict[str, tuple[float, bool]] = {}
    targets = {aim.fingering: aim.frequency for aim in outlook.job.aims}
    c = outlook.job.air.speed_of_sound
    for reading, strange in zip(belief.readings, belief.strange, strict=True):
        if reading.fingering in targets:
            as_here = reading.frequency * c / reading.air.speed_of_sound
            last[reading.fingering] = round(cents(as_here, targets[reading.fingering]), 2), bool(strange)
    found = []
    sharp, flat = outlook.sharp, outlook.flat
    for i, (fingering, expected, sd) in enumerate(each_note(outlook)):
        heard, strange = last.get(fingering, (None, False))
        finished, finished_sd = float(outlook.kept[i]), float(outlook.kept_sd[i])
        stands = Stands(
            fingering,
            round(expected, 2),
            round(sd, 2),
            heard,
            strange,
            round(finished, 2),
            round(finished_sd, 2),
            round(float(sharp[i]), 4),
            round(max(1.0 - float(sharp[i] + flat[i]), 0.0), 4),
        )
        found.append(stands)
    return tuple(found)


def _corrections(outlook: Outlook) -> tuple[Corrected, ...]:
    belief = outlook.belief
    sds = np.sqrt(np.diag(belief.covariance)[:COUNT])
    return tuple(
        Corrected(one.name, round(float(mean), 7), round(float(sd), 7), one.unit)
        for one, mean, sd in zip(CORRECTIONS, belief.mean[:COUNT], sds, strict=True)
    )
