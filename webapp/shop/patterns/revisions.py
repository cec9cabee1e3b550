"""What the JSON columns of a pattern's revision hold, in the engine's types: read here and nowhere else."""

from acoustics.designing.design import DesignedNote
from acoustics.flute.instrument import Instrument
from webapp.models import PatternRevision


def instrument_of(revision: PatternRevision) -> Instrument:
    """The geometry that a revision holds."""
    return read_instrument(revision.instrument)


def read_instrument(document: object) -> Instrument:
    """The same from the column alone."""
    return Instrument.from_json(document)


def notes_of(revision: PatternRevision) -> tuple[DesignedNote, ...]:
    """The notes of its chart as its design predicted them, lowest first; none where it has no chart of its own."""
    return tuple(DesignedNote.from_json(note) for note in revision.notes)


def cross_fingerings(revision: PatternRevision) -> set[str]:
    """The fingerings of its chart that are cross fingerings."""
    return {note.fingering for note in notes_of(revision) if note.cross}
