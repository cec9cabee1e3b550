"""Pitches as they are typed at the bench: 437.2, 437.2 Hz, A4 -12; and in words against a target."""

import re
from dataclasses import dataclass
from enum import StrEnum

from acoustics.errors import InvalidInput
from acoustics.notes.music import cents, frequency, parse_note

LOWEST, HIGHEST = 60.0, 6000.0  # Hz: below and above it is no note of such a flute

_LONGEST = 40  # characters: more could only be blanks, which the expressions would part in every way
_HERTZ = re.compile(r"^(\d{2,5}(?:[.,]\d{0,4})?)\s*(?:hz|hertz)?$", re.I)
_NOTE = re.compile(
    r"^([A-G][#b♯♭]?\d)\s*(?:([-+\N{MINUS SIGN}\N{EN DASH}])\s*(\d{1,3}(?:[.,]\d{0,2})?))?\s*(?:c|ct|cents?)?$", re.I
)


class Word(StrEnum):
    """How a pitch stands against where it should."""

    FLAT = "flat"
    IN_TUNE = "in tune"
    SHARP = "sharp"


@dataclass(frozen=True, slots=True)
class Verdict:
    """A pitch against where it should stand: `off` cents from there, and the word for it."""

    off: float
    word: Word


def parse_pitch(text: str, a4: float) -> float:
    """The frequency in Hz of what a meter showed; a note with cents is read against `a4`.

    Raises ValueError with a sentence fit to stand at the field.
    """
    text = text.strip()
    if len(text) > _LONGEST:
        raise ValueError("Write what the meter shows: 437.2 or A4 -12.")
    if match := _HERTZ.match(text):
        found = float(match[1].replace(",", "."))
    elif match := _NOTE.match(text):
        try:
            found = frequency(parse_note(match[1][0].upper() + match[1][1:]), a4)
        except InvalidInput:
            raise ValueError("Write a note from A0 to C8, such as A4 -12.") from None
        off = float((match[3] or "0").replace(",", "."))
        if off > 100:
            raise ValueError("A meter shows at most 50 cents either side of a note.")
        found *= 2 ** ((-off if match[2] in ("-", "\N{MINUS SIGN}", "\N{EN DASH}") else off) / 1200)
    else:
        raise ValueError("Write what the meter shows: 437.2 or A4 -12.")
    if not LOWEST <= found <= HIGHEST:
        raise ValueError(f"Must lie between {LOWEST:.0f} and {HIGHEST:.0f} Hz.")
    return found


def named(text: str) -> int | None:
    """The note that a meter named beside its cents, as a MIDI number; None where hertz were typed."""
    match = _NOTE.match(text.strip()) if len(text) <= _LONGEST else None
    try:
        return parse_note(match[1][0].upper() + match[1][1:]) if match else None
    except InvalidInput:
        return None


def verdict(off_target: float, tolerance: float, aim: float = 0.0) -> Verdict:
    """Flat, in tune or sharp, where a pitch should stand `aim` cents from its target."""
    off = off_target - aim
    return Verdict(off, Word.IN_TUNE if abs(off) <= tolerance else Word.SHARP if off > 0 else Word.FLAT)


def say(off: float) -> str:
    """How far off, in words: '12 cents flat', '1 cent sharp', 'on it'."""
    amount = round(abs(off))
    if amount == 0:
        return "on it"
    return f"{amount} cent{'' if amount == 1 else 's'} {'sharp' if off > 0 else 'flat'}"


def between(found: float, target: float) -> float:
    """Cents from the target up to what was found."""
    return cents(found, target)
