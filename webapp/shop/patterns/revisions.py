"""What the JSON columns of a pattern's revision hold, in the engine's types: read here and nowhere else."""

from typing import Any

from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Instrument
from webapp.models import PatternRevision


def instrument_of(revision: PatternRevision) -> Instrument:
    """The geometry that a revision holds."""
    return read_instrument(revision.instrument)


def read_instrument(document: object) -> Instrument:
    """The same from the column alone.

    A revision that does not say whether its wall at the window is planed was saved before flats were known: it is
    read as it was then, a thinner cylinder, so that what was predicted of it and learned from it stays true.
    """
    return Instrument.from_json(document, kept=True)


def stored(flute: Instrument) -> dict[str, Any]:
    """What the column of a new revision holds: the flute's document, which always says how its window is planed."""
    document = flute.to_json()
    document["window"]["planed"] = flute.window.planed
    return document


def notes_of(revision: PatternRevision) -> tuple[DesignedNote, ...]:
    """The notes of its chart as its design predicted them, lowest first; none where it has no chart of its own."""
    return tuple(DesignedNote.from_json(note) for note in revision.notes)


def cross_fingerings(revision: PatternRevision) -> set[str]:
    """The fingerings of its chart that are cross fingerings."""
    return {note.fingering for note in notes_of(revision) if note.cross}
