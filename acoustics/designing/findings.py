"""Findings on a finished layout: limits that bind, limits that had to give, and warnings for the maker."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np

from acoustics.blowing.jet import settled_speed
from acoustics.designing.layout import Array
from acoustics.designing.limits import Bound, upper_hand
from acoustics.designing.proportions import LAND, USUAL_BORES, half_wave
from acoustics.designing.request import DesignRequest
from acoustics.saying import Saying

IN_TUNE: Final = 1.0
"""Cents: the most that a note with a hole of its own may be off in a finished design."""
BINDING: Final = 0.03
"""mm from a limit within which it counts as binding."""
CROSS_WARNING: Final = 10.0
OCTAVE_WARNING: Final = 40.0
"""Cents: usual designs, by their own prediction, have octaves 19 to 35 cents wide."""
BREATHY: Final = 0.35e-3
"""m3/s of breath above which a flute tires (common practice, no published source)."""
FULL_BREATH: Final = 3e-3
"""m3 of air that a full breath gives to a phrase (textbook figure of physiology, from memory)."""
NARROW_HOLE: Final = 0.25
"""Hole over bore below which its note is weak (common practice, no published source)."""
FAR: Final = 750.0
"""mm from the mouth end to the last hole that arms reach with ease (common practice, no published source)."""


class TunedNote(Protocol):
    """The part of a designed note that is judged here."""

    @property
    def fingering(self) -> str: ...
    @property
    def note(self) -> str: ...
    @property
    def frequency(self) -> float: ...
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
    found += [
        *_bore(request, layout),
        *_head(request, float(layout[0])),
        *_breath(request, notes),
        *_reach(request, layout),
    ]
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


def _bore(request: DesignRequest, layout: Array) -> list[Saying]:
    low, high = USUAL_BORES
    found = []
    ratio = half_wave(request.root) / request.bore_diameter
    if not low <= ratio <= high:
        side = (
            "short and wide: it takes much breath, and its octaves come out wide"
            if ratio < low
            else "long and narrow: it jumps to the octave soon, and its low notes are weak"
        )
        words = f"half a wavelength is {ratio:.0f} bores where {low:.0f} to {high:.0f} is usual: {side}"
        found.append(Saying(words))
    holes = layout[request.holes + 1 :]
    narrow = int(np.argmin(holes))
    share = float(holes[narrow]) / request.bore_diameter
    if share < NARROW_HOLE:
        words = f"hole {narrow + 1} is {{0}} wide, {share:.2f} of the bore: its note will be weak and stuffy"
        found.append(Saying(words, (float(holes[narrow]),)))
    return found


def _head(request: DesignRequest, foot: float) -> list[Saying]:
    seat, flue = request.blank(foot).seat_width, request.flue.width
    if seat is None:
        return [Saying("nothing is planed at the window: the block has no flat to seal on")]
    land = 0.5 * (seat - flue)
    if land > LAND - 0.1:
        return []
    if land <= 0.0:
        return [Saying("the flue is {0} wide on a flat of {1}: the block cannot seal", (flue, round(seat, 1)))]
    words = "beside the flue the block seals on {0} of wood where {1} is usual: plane deeper, or narrow window and flue"
    return [Saying(words, (round(land, 1), LAND))]


def _breath(request: DesignRequest, notes: Sequence[TunedNote]) -> list[Saying]:
    middle = 0.5 * (notes[0].frequency + notes[-1].frequency)
    flow = settled_speed(middle, request.window.length) * request.flue.depth * request.flue.width * 1e-6
    if flow <= BREATHY:
        return []
    words = (
        f"it takes some {1e3 * flow:.2f} litres of air a second: a full breath lasts "
        f"{FULL_BREATH / flow:.0f} seconds, and the tone is breathy"
    )
    return [Saying(words)]


def _reach(request: DesignRequest, layout: Array) -> list[Saying]:
    n = request.holes
    above = request.window.length + request.flue.length + request.chamber.length
    far = float(layout[n]) + above
    if far <= FAR:
        return []
    return [Saying(f"hole {n} lies {{0}} from the mouth end: too far for most arms", (round(far),))]
