"""Fingering charts: which holes are open for each note of a scale.

A fingering is a string of `x` (closed) and `o` (open), hole 1 (nearest the mouth) first. Charts are given for
five and six finger holes, lowest note first, as semitones above the key.

How the charts were chosen. A plain chart opens the holes one after another from the foot up: every note has a
hole of its own and can be tuned by it alone. Scales of seven notes so fill six holes below the octave; the
octave is then the second register of the root.

The minor pentatonic on six holes keeps the third hole closed: five fingers give root, minor third, fourth,
fifth, minor seventh and octave, and the third hole, opened from the fifth, adds the major sixth. Players of
these flutes are used to it (common practice, no published source), and it leaves the octave where the open
holes still end the air column clearly: opened one by one instead (`third_hole_closed=False`), six holes reach
the minor third above the octave, close to the cut-off of the row of open holes, where the second resonance lies
within a third of the first.

A cross fingering leaves a hole open above closed ones, and sounds flatter than the open hole alone. It has
no hole of its own to tune, so its note is approached as well as the other notes allow; `ChartNote.cross`
marks it.
"""

from dataclasses import dataclass
from typing import Final

from acoustics.errors import InvalidInput

HOLE_COUNTS: Final = (5, 6)

SCALES: Final[dict[str, tuple[int, ...]]] = {
    "minor pentatonic": (0, 3, 5, 7, 10),
    "major pentatonic": (0, 2, 4, 7, 9),
    "natural minor": (0, 2, 3, 5, 7, 8, 10),
    "major": (0, 2, 4, 5, 7, 9, 11),
    "chromatic": (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11),
}
"""Semitones above the key of one octave of each scale."""

_IN_TURN: Final[dict[tuple[str, int], tuple[int, ...]]] = {
    ("minor pentatonic", 6): (0, 3, 5, 7, 10, 12, 15),
    ("major pentatonic", 6): (0, 2, 4, 7, 9, 12, 14),
    ("natural minor", 6): (0, 2, 3, 5, 7, 8, 10),
    ("major", 6): (0, 2, 4, 5, 7, 9, 11),
    ("chromatic", 6): (0, 2, 4, 5, 7, 9, 11),
    ("minor pentatonic", 5): (0, 3, 5, 7, 10, 12),
    ("major pentatonic", 5): (0, 2, 4, 7, 9, 12),
    ("natural minor", 5): (0, 2, 3, 5, 7, 10),
    ("major", 5): (0, 2, 5, 7, 9, 11),
    ("chromatic", 5): (0, 3, 5, 7, 10, 12),
}
"""Semitones of the holes opened one after another from the foot up, all closed first."""

_CROSS: Final[dict[tuple[str, int], dict[str, int]]] = {
    ("chromatic", 6): {"xxxxox": 3, "xxoxxo": 6, "xoxxoo": 8, "oxoxoo": 10},
    ("natural minor", 5): {"oxxoo": 8},
    ("major", 5): {"xxxox": 4},
    ("chromatic", 5): {"xxxox": 4, "xxoxo": 6, "xoxxo": 8, "xoxoo": 9, "oxooo": 11},
}
"""Cross fingerings and their semitones: of all that a hole pattern allows, those that come nearest over keys from
D4 to A5 by this model. The semitones above the root that are missing need the last hole half covered."""

_THIRD_HOLE_CLOSED: Final[dict[str, int]] = {
    "xxxxxx": 0,
    "xxxxxo": 3,
    "xxxxoo": 5,
    "xxxooo": 7,
    "xxoooo": 9,
    "xoxooo": 10,
    "ooxooo": 12,
}


@dataclass(frozen=True, slots=True)
class ChartNote:
    """One note of a chart: `semitones` above the key; `cross` for a cross fingering."""

    fingering: str
    semitones: int
    cross: bool = False


def open_in_turn(holes: int) -> tuple[str, ...]:
    """Fingerings from all closed to all open, opening from the foot up: `holes` + 1 strings."""
    return tuple("x" * (holes - n) + "o" * n for n in range(holes + 1))


def is_cross(fingering: str) -> bool:
    """True where a hole is open above a closed one."""
    return "ox" in fingering


def keeps_third_hole_closed(scale: str, holes: int) -> bool:
    """Whether the usual chart keeps hole 3 closed: the minor pentatonic on six holes."""
    return (scale, holes) == ("minor pentatonic", 6)


def chart(scale: str, holes: int, *, third_hole_closed: bool | None = None) -> tuple[ChartNote, ...]:
    """The chart of a scale for a number of finger holes, lowest note first.

    `third_hole_closed` None takes what is usual for the scale; False opens the holes one by one; True is for the
    minor pentatonic on six holes only. Raises InvalidInput for a scale, a number of holes or a combination that
    has no chart.
    """
    if scale not in SCALES:
        raise InvalidInput("scale", scale, "must be one of " + ", ".join(SCALES))
    if holes not in HOLE_COUNTS:
        raise InvalidInput("holes", holes, "must be 5 or 6")
    usual = keeps_third_hole_closed(scale, holes)
    if third_hole_closed and not usual:
        raise InvalidInput("third_hole_closed", True, "is for the minor pentatonic on six holes only")
    if usual if third_hole_closed is None else third_hole_closed:
        # Holes 1 and 2 are tuned with hole 3 closed: each note still has a hole of its own.
        return tuple(ChartNote(f, s) for f, s in _THIRD_HOLE_CLOSED.items())
    plain = zip(open_in_turn(holes), _IN_TURN[scale, holes], strict=True)
    notes = [ChartNote(f, s) for f, s in plain]
    notes += [ChartNote(f, s, cross=True) for f, s in _CROSS.get((scale, holes), {}).items()]
    return tuple(sorted(notes, key=lambda n: n.semitones))
