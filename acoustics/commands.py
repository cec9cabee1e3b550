"""What stands behind the command line: one function from a JSON document to a JSON document for each command."""

from __future__ import annotations

from typing import Any

from acoustics.errors import CannotMeet, InvalidInput
from acoustics.fields import boolean, mapping, sequence
from acoustics.flute.instrument import Instrument
from acoustics.model.air import SOURCES, Air
from acoustics.model.resonance import MAX_MODES, Mode, NoMode, predict as predict_modes
from acoustics.notes.music import HOLE_COUNTS, chart, nearest_note, open_in_turn

MAX_FINGERINGS = 4096
STANDARD_SCALE = "minor pentatonic"


def predict(document: object) -> dict[str, Any]:
    """Resonances of one flute for each fingering."""
    names = ("instrument", "air", "fingerings", "modes", "losses")
    values = mapping(document, "", names, required=("instrument",))
    instrument = Instrument.from_json(values["instrument"])
    medium = Air.from_json(values.get("air", {}))
    fingerings = _fingerings(values.get("fingerings"), len(instrument.holes))
    modes = values.get("modes", 2)
    if isinstance(modes, bool) or not isinstance(modes, int):
        raise InvalidInput("modes", modes, f"must be a whole number, 1 to {MAX_MODES}")
    losses = boolean(values.get("losses", True), "losses")
    notes = predict_modes(instrument, medium, fingerings, modes, losses)
    return {
        "air": medium.to_json(),
        "notes": [{"fingering": note.fingering, **_modes(note.modes), **_sounding(note.modes[0])} for note in notes],
    }


def _fingerings(value: object, holes: int) -> list[str]:
    """The caller's, or the standard chart: minor pentatonic where there is one, else the holes opened in turn."""
    if value is not None:
        return sequence(value, "fingerings", MAX_FINGERINGS, at_least=1)
    if holes in HOLE_COUNTS:
        return [note.fingering for note in chart(STANDARD_SCALE, holes)]
    return list(open_in_turn(holes))


def _sounding(lowest: Mode | NoMode) -> dict[str, Any]:
    """The nearest note in equal temperament at A4 = 440 Hz and how far from it the fundamental is."""
    if isinstance(lowest, NoMode):
        return {"note": None, "cents": None}
    note, off = nearest_note(lowest.frequency)
    return {"note": note, "cents": off}


def _modes(modes: tuple[Mode | NoMode, ...]) -> dict[str, Any]:
    """A mode that does not exist is null; the reason stands beside the list."""
    found = [{"frequency": m.frequency, "q": m.q} if isinstance(m, Mode) else None for m in modes]
    reasons = [m.reason for m in modes if isinstance(m, NoMode)]
    return {"modes": found} | ({"reason": reasons[0]} if reasons else {})


def air(document: object) -> dict[str, Any]:
    """The properties of the medium, each with its source."""
    pinned = isinstance(document, dict) and "speed_of_sound" in document
    medium = Air.from_json(document)
    return {
        name: {"value": value, "source": "pinned by the caller" if pinned else SOURCES[name]}
        for name, value in medium.to_json().items()
    }


def nearest(short: CannotMeet) -> dict[str, Any]:
    """What is printed where no layout meets the limits."""
    return {"nearest": short.nearest.to_json(), "gave": [str(gave) for gave in short.gave]}
