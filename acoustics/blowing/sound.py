"""The command `sound`: what is heard rather than what resonates."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

from acoustics.blowing.sounding import PRESSURE_SD, Tone, soundings
from acoustics.errors import InvalidInput
from acoustics.fields import mapping, number, sequence
from acoustics.flute.instrument import Instrument
from acoustics.model.air import Air

MOST_FINGERINGS: Final = 256
MOST_PRESSURES: Final = 64
SOFTEST, HARDEST = 1.0, 20_000.0


@dataclass(frozen=True, slots=True)
class SoundRequest:
    """One flute with a flue, its air, fingerings, and pressures in the slow air chamber [Pa]."""

    instrument: Instrument
    air: Air
    fingerings: tuple[str, ...]
    pressures: tuple[float, ...]

    @staticmethod
    def from_json(document: object) -> SoundRequest:
        """Read the contract's document. Raises InvalidInput."""
        names = ("instrument", "air", "fingerings", "pressures")
        values = mapping(document, "", names, required=("instrument", "fingerings", "pressures"))
        fingerings = sequence(values["fingerings"], "fingerings", MOST_FINGERINGS, at_least=1)
        for i, fingering in enumerate(fingerings):
            if not isinstance(fingering, str):
                raise InvalidInput(f"fingerings[{i}]", fingering, "must be a string of x (closed) and o (open)")
        pressures = sequence(values["pressures"], "pressures", MOST_PRESSURES)
        return SoundRequest(
            Instrument.from_json(values["instrument"]),
            Air.from_json(values.get("air", {})),
            tuple(fingerings),
            tuple(
                number(one, f"pressures[{i}]", SOFTEST, HARDEST, "Pa (1 mm of water is 9.8 Pa, 1 mbar is 100 Pa)")
                for i, one in enumerate(pressures)
            ),
        )


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """The answer for one fingering: pressures [Pa] with their standard deviations, None where it never does so."""

    fingering: str
    speaks_at: float | None
    sd_speaks_at: float | None
    overblows_at: float | None
    sd_overblows_at: float | None
    falls_back_at: float | None
    sd_falls_back_at: float | None
    at: tuple[Tone, ...]


def sound(request: SoundRequest) -> tuple[SoundingNote, ...]:
    """Return what each fingering sounds as the breath rises to each pressure.

    The equations stand in `registers`, the constants in `jet` and `sounding`, each with its source. What the model
    cannot know is in the standard deviations: the offset from resonance to sounding pitch by 25 cents and every
    pressure by a factor of two, until a shop's own swells set them.

    Raises
    ------
    InvalidInput : no flue, or a fingering that does not fit
    """

    def spread(pressure: float | None) -> float | None:
        return None if pressure is None else PRESSURE_SD * pressure

    return tuple(
        SoundingNote(
            note.fingering,
            note.speaks_at,
            spread(note.speaks_at),
            note.overblows_at,
            spread(note.overblows_at),
            note.falls_back_at,
            spread(note.falls_back_at),
            tuple(note.tone(pressure) for pressure in request.pressures),
        )
        for note in soundings(request.instrument, request.air, request.fingerings)
    )


def to_json(notes: tuple[SoundingNote, ...]) -> dict[str, Any]:
    """The contract's document."""
    return {"notes": [asdict(note) | {"at": [asdict(tone) for tone in note.at]} for note in notes]}
