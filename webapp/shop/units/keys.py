"""Keys of flutes as people write them: F#4, F♯4, Bb4, B♭4; stored as F#4 and Bb4, shown with true accidentals."""

import re
from typing import Annotated

from pydantic import BeforeValidator

from acoustics.errors import InvalidInput
from acoustics.notes.music import note_name, parse_note

_NOTE_IN_TEXT = re.compile(r"\b([A-G])([#b])(?=\d\b)")
LOWEST, HIGHEST = parse_note("G3"), parse_note("C6")
SUGGESTED = [
    name
    for midi in range(LOWEST, HIGHEST + 1)
    for name in dict.fromkeys((note_name(midi), note_name(midi, flats=True)))
]


def parse_key(text: str) -> str:
    """The key as it is stored, such as F#4 or Bb4. Raises ValueError with a sentence fit to stand at the field."""
    says = "Write a note from G3 to C6, such as A4, F#4 or Bb4."
    text = "".join(text.split()).replace("♯", "#").replace("♭", "b")
    try:
        midi = parse_note(text)
    except InvalidInput:
        raise ValueError(says) from None
    if not LOWEST <= midi <= HIGHEST:
        raise ValueError(says)
    return text[0].upper() + text[1:]


def show_note(text: str) -> str:
    """The notes in a text with true accidentals: F♯4, B♭4; everything else stays as it is."""
    return _NOTE_IN_TEXT.sub(lambda found: found[1] + {"#": "♯", "b": "♭"}[found[2]], text)


def spellings(key: str) -> list[str]:
    """All names of the same pitch: F#4 and Gb4, so that a pattern is found under either."""
    midi = parse_note(key)
    return list(dict.fromkeys((key, note_name(midi), note_name(midi, flats=True))))


def _typed(value: object) -> object:
    return parse_key(value) if isinstance(value, str) else value


# A form field for a flute's key.
Key = Annotated[str, BeforeValidator(_typed)]
