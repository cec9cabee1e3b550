"""Notes that were heard, at the microphone or in a recording: which of a blank's notes they are, and how far off."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO

from pydantic import BaseModel
from sqlmodel import Session

from acoustics.errors import InvalidInput
from acoustics.listening.notes import listen
from acoustics.listening.recording import Limits
from webapp.models import Blank, Reading, Shop, Stage
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.bench import readings
from webapp.shop.bench.readings import FARTHEST, Goal, RecordReading
from webapp.shop.people.accounts import Who
from webapp.shop.settings import air
from webapp.shop.units import pitches
from webapp.shop.units.temperatures import Temperature

LONGEST = 180.0  # seconds of a recording: every note of a flute several times over
MOST = 30  # notes kept of one recording

_SOUNDED = re.compile(r"(\d{2,4}\.\d{1,3})~(\d{1,3}\.\d)~(\d{1,3}\.\d)(~over)?")


class RoomAir(BaseModel):
    """The room's air while the flute was heard, and whether the flute was warm."""

    temperature: Temperature
    humidity: air.HumidityPercent
    warmed_up: bool = False

    def correction(self, shop: Shop) -> float:
        """Cents to add to a pitch heard in this air."""
        return air.correction(shop, self.temperature, self.humidity / 100, self.warmed_up)


@dataclass(frozen=True, slots=True)
class Sounded:
    """A steady note of a recording: its pitch [Hz], how long it stood [s], its spread [cents], and whether it was
    overblown, so that it is no reading of any note."""

    frequency: float
    seconds: float
    spread: float
    overblown: bool = False


@dataclass(frozen=True, slots=True)
class Recognised:
    """One of the blank's notes, and how far from its target it sounded, as in the played air [cents]."""

    goal: Goal
    cents: float


def within_reach(goals: Sequence[Goal], frequency: float, correction: float = 0.0) -> list[Recognised]:
    """The notes that a pitch of `frequency` Hz may be written down as, the nearest first.

    Judged with the cents that the air takes off or adds; but what may be written down is decided, as everywhere, by
    the pitch as it was read.
    """
    found = []
    for goal in goals:
        raw = pitches.between(frequency, goal.frequency)
        if abs(raw) <= FARTHEST:
            found.append(Recognised(goal, raw + correction))
    return sorted(found, key=lambda one: abs(one.cents))


def awaited(goals: list[Goal], blank: Blank) -> list[Goal]:
    """The notes that can sound: at voicing there are no finger holes yet, so only the lowest."""
    return goals[:1] if blank.stage is Stage.VOICING else goals


def record_all(session: Session, who: Who, blank: Blank, heard: Sequence[Sounded], room: RoomAir) -> list[Reading]:
    """Write down every note that was heard as the note nearest to it; what is overblown or none of the blank's is left.

    Raises NotAllowed, Invalid, Refused; then none of them is written.
    """
    goals = awaited(readings.goals_for(session, blank), blank)
    correction = room.correction(find(session, Shop, 1, "shop"))
    made = []
    for one in heard:
        near = [] if one.overblown else within_reach(goals, one.frequency, correction)
        if near:
            asked = RecordReading(fingering=near[0].goal.fingering, pitch=f"{one.frequency:.2f}", **room.model_dump())
            made.append(readings.record(session, who, blank.id or 0, asked))
    if not made:
        raise Invalid({"": "None of what was heard is a note of this flute."})
    return made


def from_recording(file: BinaryIO, largest: int) -> list[Sounded]:
    """The steady notes of a recording of at most `largest` bytes. Raises Invalid with what is wrong with it."""
    try:
        notes = listen(file, limits=Limits(bytes=largest, seconds=LONGEST, processor_seconds=30))
    except InvalidInput as error:
        raise Invalid({"recording": _in_words(error)}) from error
    if not notes:
        text = "No steady note is in it. Hold each note for a second or longer, close to the microphone."
        raise Invalid({"recording": text})
    return [
        Sounded(n.frequency, min(n.end - n.start, LONGEST), min(n.sd_cents, 99.9), n.overblown) for n in notes[:MOST]
    ]


def _in_words(error: InvalidInput) -> str:
    if error.field == "seconds" and isinstance(error.value, int | float) and error.value > LONGEST:
        return f"It must be at most {LONGEST:g} seconds long."
    if error.field == "channels":
        return "It must have one channel or two."
    return f"It {error.limit}."


def write(sounded: Sequence[Sounded]) -> str:
    """Heard notes as a short text that an address or a form can carry; `read` takes it back."""
    return ",".join(
        f"{one.frequency:.3f}~{one.seconds:.1f}~{one.spread:.1f}{'~over' if one.overblown else ''}" for one in sounded
    )


def read(text: str) -> list[Sounded]:
    """The notes of such a text; what is none of them is left out."""
    found = []
    for item in text.split(",")[:MOST]:
        if (match := _SOUNDED.fullmatch(item)) and pitches.LOWEST <= float(match[1]) <= pitches.HIGHEST:
            found.append(Sounded(float(match[1]), float(match[2]), float(match[3]), match[4] is not None))
    return found
