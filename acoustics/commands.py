"""The commands of the command line: each is a function from a JSON document to a JSON document.

Each imports what it alone needs, so that none waits for the others' parts.
"""

from __future__ import annotations

from typing import Any

from acoustics.errors import InvalidInput
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
    instrument = _flute(values["instrument"])
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


def _flute(document: object) -> Instrument:
    """The instrument of a command's document. Raises InvalidInput with the whole path of what is refused."""
    try:
        return Instrument.from_json(document)
    except InvalidInput as refused:
        if refused.field.split(".")[0] == "instrument":
            raise
        raise InvalidInput(f"instrument.{refused.field}", refused.value, refused.limit) from None


def _fingerings(value: object, holes: int) -> list[str]:
    """The caller's, or the standard chart: minor pentatonic where there is one, otherwise the holes opened in turn."""
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


def advise(document: object) -> dict[str, Any]:
    """A flute on the bench and its readings to the next step. Raises InvalidInput.

    The `shop` object is described by `corrections.Prior.from_json`; `learning` makes it from finished flutes. Beside
    the contract's fields: `next.fingering` is what to play, or what the cut is for; `next.expected_reading` cents that
    the meter should show right after the cut. Each note has `finished_cents` and `finished_sd_cents`, where it ends if
    its own size stays as it is and all other cuts are made, and how its last reading was taken (`set_aside` where it
    contradicts all else), with the chances that this is more than `tolerance` sharp (`chance_sharp`) and within it
    (`chance_within`). `expected_cents` of a note is of the flute as it is now; that of `next` is of the finished flute.
    `chance_in_tune`, where it is done, is that of all notes together. Asked may also be `steps` (`{"foot", "hole"}`: mm
    to which sizes are given) and `work`: minutes that a `reading` and a `cut` take, and that a note costs which ends
    more than `tolerance` `flat` or `sharp`.
    """
    from acoustics.tuning.advise import AdviceRequest, advise as advice

    if isinstance(document, dict) and "instrument" in document:
        _flute(document["instrument"])
    answer = advice(AdviceRequest.from_json(document))
    step = answer.next
    return {
        "next": {
            "action": step.action,
            "hole": step.hole,
            "fingering": step.fingering,
            "from": step.start,
            "to": step.to,
            "expected_cents": step.expected,
            "sd_cents": step.sd,
            "expected_reading": step.reading,
            "risk_sharp": step.risk,
            "why": step.why.text(),
        },
        "notes": [
            {
                "fingering": note.fingering,
                "expected_cents": note.expected,
                "sd_cents": note.sd,
                "last_reading_cents": note.last,
                "set_aside": note.set_aside,
                "finished_cents": note.finished,
                "finished_sd_cents": note.finished_sd,
                "chance_sharp": note.sharp,
                "chance_within": note.within,
            }
            for note in answer.notes
        ],
        "corrections": {one.name: {"mean": one.mean, "sd": one.sd, "unit": one.unit} for one in answer.corrections},
        "other_keys": [{"key": one.key, "why": one.why} for one in answer.other_keys],
        "left": {"cuts": answer.left.cuts, "readings": answer.left.readings},
        "chance_in_tune": answer.in_tune,
    }


def sound(document: object) -> dict[str, Any]:
    """What each fingering sounds as the breath rises, with standard deviations. Raises InvalidInput."""
    from acoustics.blowing.sound import SoundRequest, sound as sounding_notes, to_json as sounding_json

    return sounding_json(sounding_notes(SoundRequest.from_json(document)))


def air(document: object) -> dict[str, Any]:
    """The properties of the medium, each with its source."""
    pinned = isinstance(document, dict) and "speed_of_sound" in document
    medium = Air.from_json(document)
    return {
        name: {"value": value, "source": "pinned by the caller" if pinned else SOURCES[name]}
        for name, value in medium.to_json().items()
    }
