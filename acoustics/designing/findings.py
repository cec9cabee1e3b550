"""Findings on a finished layout: limits that bind, limits that had to give, and warnings for the maker."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np

from acoustics.designing.layout import Array
from acoustics.designing.limits import Bound, upper_hand
from acoustics.designing.request import DesignRequest
from acoustics.saying import Saying

IN_TUNE: Final = 1.0
"""Cents: the most that a note with a hole of its own may be off in a finished design."""
BINDING: Final = 0.03
"""mm from a limit within which it counts as binding."""
CROSS_WARNING: Final = 10.0
OCTAVE_WARNING: Final = 25.0


class TunedNote(Protocol):
    """The part of a designed note that is judged here."""

    @property
    def fingering(self) -> str: ...
    @property
    def note(self) -> str: ...
    @property
    def cents(self) -> float: ...
    @property
    def cross(self) -> bool: ...
    @property
    def octave_cents(self) -> float | None: ...


def binding(bounds: Sequence[Bound], layout: Array) -> tuple[Saying, ...]:
    """The limits that the layout is held at, in words."""
    return tuple(b.text() for b in bounds if abs(float(b.row @ layout) - b.least) <= BINDING)


def gave(
    bounds: Sequence[Bound], layout: Array, notes: Sequence[TunedNote], tolerance: float = IN_TUNE
) -> list[Saying]:
    """What the layout breaks: limits in mm, notes by more than `tolerance` cents. Empty where all limits are met."""
    broken = [
        Saying(f"{b.what} is {{0}}, beyond its limit of {{1}}", (b.value(layout), b.limit))
        for b in bounds
        if float(b.row @ layout) < b.least - BINDING
    ]
    broken += [
        Saying(f"{n.note} ({n.fingering}) stays {abs(n.cents):.1f} cents {'sharp' if n.cents > 0 else 'flat'}")
        for n in notes
        if not n.cross and abs(n.cents) > tolerance
    ]
    return broken


def warnings(request: DesignRequest, notes: Sequence[TunedNote], layout: Array) -> tuple[Saying, ...]:
    """What the maker should know before cutting wood."""
    n = request.holes
    found: list[Saying] = []
    ratio = float(layout[0]) / request.bore_diameter
    if not 13.0 <= ratio <= 26.0:
        side = "short and wide" if ratio < 13.0 else "long and narrow"
        found.append(Saying(f"the bore is {side}: {ratio:.0f} bores long where 13 to 26 is common practice"))
    spacings = {i: float(layout[i + 1] - layout[i]) for i in range(1, n) if i != upper_hand(n)}
    closest, widest = min(spacings, key=lambda i: spacings[i]), max(spacings, key=lambda i: spacings[i])
    if spacings[closest] < 16.0:
        words = f"holes {closest} and {closest + 1} lie {{0}} apart: too close for an adult's fingers"
        found.append(Saying(words, (spacings[closest],)))
    if spacings[widest] > 36.0:
        words = f"holes {widest} and {widest + 1} lie {{0}} apart: large hands are needed"
        found.append(Saying(words, (spacings[widest],)))
    if max(layout[n + 1 :]) > 11.0:
        hole = int(np.argmax(layout[n + 1 :])) + 1
        found.append(Saying(f"hole {hole} is {{0}} wide: hard to cover", (float(max(layout[n + 1 :])),)))
    for note in notes:
        if note.cross and abs(note.cents) > CROSS_WARNING:
            side = "sharp" if note.cents > 0 else "flat"
            found.append(
                Saying(
                    f"{note.note} is a cross fingering ({note.fingering}) and comes out {abs(note.cents):.0f} cents "
                    f"{side}: correct it with breath or by half covering"
                )
            )
    root = notes[0]
    if root.octave_cents is not None and abs(root.octave_cents) > OCTAVE_WARNING:
        side = "sharp" if root.octave_cents > 0 else "flat"
        found.append(Saying(f"the octave of {root.note} is {abs(root.octave_cents):.0f} cents {side} of a true octave"))
    return tuple(found)
