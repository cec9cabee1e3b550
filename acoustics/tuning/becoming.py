"""What a flute on the bench can still become: other targets, judged by what is believed of it after its readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acoustics.flute.instrument import Instrument
from acoustics.tuning.advise import AdviceRequest, believe
from acoustics.tuning.aims import with_controls
from acoustics.tuning.elsewhere import UPPER
from acoustics.tuning.finished import look_ahead


@dataclass(frozen=True, slots=True)
class Becomes:
    """The flute that would come of it; the note that is in the way most, and where it ends, in cents, nine times in
    ten no higher; whether every note with a size of its own comes within the tolerance so, and how likely none of those
    whose size stays is too sharp."""

    flute: Instrument
    fingering: str
    cents: float
    possible: bool
    chance: float


def becomes(request: AdviceRequest) -> Becomes:
    """The same for the targets of a request."""
    job = request.job
    belief, start = believe(request)
    outlook = look_ahead(job, belief, start)
    worst, off, chance = job.fingerings[0], 0.0, 1.0
    possible = bool(outlook.control)
    for note, control in outlook.control.items():
        stays = not outlook.moving[control]
        # What stays can't be lowered: it is judged by how sharp it may be. What is still cut is brought to its place.
        ends = float(outlook.kept[note] + UPPER * outlook.kept_sd[note] if stays else outlook.ends[note])
        flat = float(outlook.kept[note] if stays else outlook.ends[note])
        if stays:
            chance = min(chance, 1.0 - float(outlook.sharp[note]))
        here = ends if abs(ends) > abs(flat) else flat
        possible = possible and ends <= job.tolerance and flat >= -job.tolerance
        if abs(here) > abs(off):
            worst, off = job.fingerings[note], here
    return Becomes(with_controls(job.flute, np.asarray(outlook.plan)), worst, off, possible, chance)
