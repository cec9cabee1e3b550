"""Notes, keys, scales, temperaments and the frequencies a flute is tuned to.

Note numbers are those of MIDI 1.0 (69 is A4); A4 = 440 Hz is ISO 16:1975.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from acoustics import fields
from acoustics.errors import InvalidInput
from acoustics.notes.charts import HOLE_COUNTS, SCALES, ChartNote, chart, is_cross, open_in_turn

__all__ = [
    "HOLE_COUNTS",
    "JUST_RATIOS",
    "SCALES",
    "TEMPERAMENTS",
    "ChartNote",
    "Note",
    "Target",
    "Temperament",
    "cents",
    "chart",
    "frequency",
    "is_cross",
    "nearest_note",
    "note_name",
    "open_in_turn",
    "parse_key",
    "parse_note",
    "scale_note_name",
    "targets",
]

A4_MIDI: Final = 69
LOWEST_NOTE: Final = 21
HIGHEST_NOTE: Final = 108
LOWEST_KEY: Final = 55
HIGHEST_KEY: Final = 91
A4_RANGE: Final = (390.0, 470.0)
OWN_CENTS_RANGE: Final = 50.0

TEMPERAMENTS: Final = ("equal", "just")
Temperament = str | tuple[float, ...]
"""`"equal"`, `"just"` (on the key), or the user's own twelve cents."""

JUST_RATIOS: Final[tuple[Fraction, ...]] = tuple(
    Fraction(*pair)
    for pair in (
        (1, 1), (16, 15), (9, 8), (6, 5), (5, 4), (4, 3), (45, 32), (3, 2), (8, 5), (5, 3), (9, 5), (15, 8),
    )
)  # fmt: skip
"""Five-limit ratios above the key for 0 to 11 semitones: Helmholtz, On the Sensations of Tone (Ellis's
translation, 1885), table of intervals in appendix XX D; of several in use for the tritone and the minor
seventh we take 45/32 and 9/5, the latter a pure minor third above the fifth."""

_LETTERS: Final = "CDEFGAB"
_NATURALS: Final = (0, 2, 4, 5, 7, 9, 11)
_SHARP_NAMES: Final = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT_NAMES: Final = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_NOTE: Final = re.compile(r"([A-Ga-g])([#b♯♭]?)(-?\d)")

_SCALE_STEPS: Final = {0: 0, 1: 1, 2: 1, 3: 2, 4: 2, 5: 3, 6: 3, 7: 4, 8: 5, 9: 5, 10: 6, 11: 6}
"""Letters above the key's letter for each semitone: a minor third is spelled as a third, and so on."""


@dataclass(frozen=True, slots=True)
class Note:
    """A note of equal temperament by its MIDI number."""

    midi: int

    @property
    def name(self) -> str:
        return note_name(self.midi)

    def frequency(self, a4: float = 440.0) -> float:
        """Frequency in Hz."""
        return frequency(self.midi, a4)


@dataclass(frozen=True, slots=True)
class Target:
    """The target of one fingering: note name, semitones above the key, frequency in Hz."""

    fingering: str
    note: str
    semitones: int
    frequency: float
    cross: bool = False


def _split(name: object, field: str) -> tuple[str, int, int]:
    """Letter, semitones of the accidental, octave."""
    limit = "must be a note such as A4, F#4 or Bb4"
    match = _NOTE.fullmatch(name.strip()) if isinstance(name, str) else None
    if match is None:
        raise InvalidInput(field, name, limit)
    letter, accidental, octave = match.groups()
    shift = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[accidental]
    return letter.upper(), shift, int(octave)


def parse_note(name: str, field: str = "note") -> int:
    """MIDI number of a note name such as "F#4", "Bb4" or "A4" (A0 to C8).

    Octaves are numbered as in ISO 16:1975's usual reading: A4 is 440 Hz, and each octave begins at C.
    Raises InvalidInput (naming `field`) for anything else.
    """
    letter, shift, octave = _split(name, field)
    midi = 12 * (octave + 1) + _NATURALS[_LETTERS.index(letter)] + shift
    if not LOWEST_NOTE <= midi <= HIGHEST_NOTE:
        raise InvalidInput(field, name, "must lie between A0 and C8")
    return midi


def parse_key(name: str, field: str = "key") -> int:
    """MIDI number of a flute's key. Raises InvalidInput outside G3 to G6, where no such flute is made."""
    midi = parse_note(name, field)
    if not LOWEST_KEY <= midi <= HIGHEST_KEY:
        raise InvalidInput(field, name, "must lie between G3 and G6")
    return midi


def note_name(midi: int, *, flats: bool = False) -> str:
    """Name of a MIDI number, with sharps unless `flats`: 66 -> "F#4" (or "Gb4")."""
    names = _FLAT_NAMES if flats else _SHARP_NAMES
    return f"{names[midi % 12]}{midi // 12 - 1}"


def scale_note_name(key: str, semitones: int) -> str:
    """Name of the note `semitones` above `key`, spelled in that key: C4 + 3 -> "Eb4", A4 + 3 -> "C5".

    Where proper spelling would need a double accidental or a name such as E#, the plain name is given,
    with the kind of accidental the key's own name carries.
    """
    letter, shift, _ = _split(key, "key")
    midi = parse_note(key, "key") + semitones
    step = _LETTERS.index(letter) + _SCALE_STEPS[semitones % 12]
    natural = _NATURALS[step % 7]
    accidental = (midi - natural + 6) % 12 - 6
    doubtful = accidental != 0 and midi % 12 in _NATURALS
    if abs(accidental) > 1 or doubtful:
        return note_name(midi, flats=shift < 0)
    return f"{_LETTERS[step % 7]}{('b', '', '#')[accidental + 1]}{(midi - accidental) // 12 - 1}"


def frequency(midi: float, a4: float = 440.0) -> float:
    """Equal-tempered frequency in Hz: a4 2^((midi - 69)/12) (ISO 16:1975 for A4 = 440 Hz)."""
    return a4 * math.exp2((midi - A4_MIDI) / 12.0)


def cents(f: float, reference: float) -> float:
    """Interval from `reference` up to `f` in cents: 1200 log2(f/reference) (Ellis 1885)."""
    return 1200.0 * math.log2(f / reference)


def nearest_note(f: float, a4: float = 440.0) -> tuple[str, float]:
    """Name of the equal-tempered note nearest to `f` (Hz), and how far `f` lies above it in cents."""
    midi = round(A4_MIDI + 12.0 * math.log2(f / a4))
    return note_name(midi), cents(f, frequency(midi, a4))


def parse_temperament(value: object, field: str = "temperament") -> Temperament:
    """`"equal"`, `"just"`, or a list of twelve cents, the deviation from equal for 0 to 11 semitones.

    Raises InvalidInput for other names, another length, or a deviation beyond 50 cents.
    """
    if isinstance(value, str) and value in TEMPERAMENTS:
        return value
    if isinstance(value, list | tuple):
        own = fields.sequence(value, field, at_most=12, at_least=12)
        low, high = -OWN_CENTS_RANGE, OWN_CENTS_RANGE
        return tuple(fields.number(v, f"{field}[{i}]", low, high, "cents") for i, v in enumerate(own))
    raise InvalidInput(field, value, 'must be "equal", "just" or a list of twelve cents')


def interval_cents(semitones: int, temperament: Temperament = "equal") -> float:
    """Cents above the key of the note `semitones` above it in a temperament."""
    octave, degree = divmod(semitones, 12)
    if temperament == "equal":
        return 100.0 * semitones
    if temperament == "just":
        return 1200.0 * (octave + math.log2(JUST_RATIOS[degree]))
    deviation = temperament[degree]
    if isinstance(deviation, str):
        raise InvalidInput("temperament", temperament, 'must be "equal", "just" or twelve cents')
    return 100.0 * semitones + deviation


def check_a4(a4: object, field: str = "a4") -> float:
    """The pitch standard in Hz, refused outside 390 to 470 Hz."""
    return fields.number(a4, field, *A4_RANGE, unit="Hz")


def targets(
    key: str,
    scale: str = "minor pentatonic",
    holes: int = 6,
    a4: float = 440.0,
    temperament: Temperament = "equal",
    *,
    third_hole_closed: bool | None = None,
) -> tuple[Target, ...]:
    """The target of each fingering of the chart, lowest first; `third_hole_closed` as in `chart`.

    The key itself stands at its equal-tempered pitch (moved by the first of the user's own cents, if any);
    the other notes follow from it by the temperament. Raises InvalidInput for anything else.
    """
    root = frequency(parse_key(key), check_a4(a4))
    chosen = parse_temperament(temperament)
    notes = chart(scale, holes, third_hole_closed=third_hole_closed)
    return tuple(
        Target(
            n.fingering,
            scale_note_name(key, n.semitones),
            n.semitones,
            root * 2.0 ** (interval_cents(n.semitones, chosen) / 1200.0),
            n.cross,
        )
        for n in notes
    )
