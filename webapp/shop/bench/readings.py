"""Readings: a measured pitch with its fingering, air and moment, against its target."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from acoustics.notes.music import parse_note, targets
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Pattern,
    PatternRevision,
    Reading,
    Repair,
    Shop,
    Stage,
    StepKind,
)
from webapp.shop.base.errors import SURE, Doubtful, Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import finished_flutes
from webapp.shop.blanks.state import lock
from webapp.shop.patterns.revisions import notes_of
from webapp.shop.people.accounts import Who
from webapp.shop.settings import air
from webapp.shop.units import pitches
from webapp.shop.units.keys import show_note
from webapp.shop.units.temperatures import Temperature

SOUNDING = (Stage.VOICING, Stage.TUNING, Stage.FINISHING)
# Farther than this from its target, a reading is of another note or of the octave.
FARTHEST = 450.0  # cents
# So far from the chosen note, another note that was typed is looked at; where hertz were typed, one that lies nearer:
# a hole that was begun small may sound a good semitone low.
ANOTHER_NOTE, ANOTHER_PITCH = 60.0, 150.0  # cents


class RecordReading(BaseModel):
    """What is typed at the bench: what was fingered, what the meter showed, and the room's air."""

    fingering: Annotated[str, StringConstraints(pattern="^[xo]{1,8}$")]
    pitch: Annotated[str, StringConstraints(min_length=1, max_length=30)]
    temperature: Temperature
    humidity: air.HumidityPercent
    warmed_up: bool = False
    note: Annotated[str, StringConstraints(max_length=500)] = ""
    sure: Annotated[str, StringConstraints(max_length=SURE)] = ""


class TakeBackReading(BaseModel):
    """Why a reading is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


@dataclass(frozen=True, slots=True)
class Goal:
    """What one fingering of a blank should sound, and what the pattern's prediction says it will [cents]."""

    fingering: str
    note: str
    frequency: float
    predicted: float | None


@dataclass(frozen=True, slots=True)
class Heard:
    """What the readings say about a step: the cents that decide, and what is wrong (empty: nothing)."""

    cents: float
    fault: str


def goals_of(revision: PatternRevision, pattern: Pattern) -> list[Goal]:
    """The notes of a pattern's revision, lowest first, as its design has them."""
    if designed := notes_of(revision):
        return [Goal(note.fingering, note.note, note.target, note.cents) for note in designed]
    found = targets(pattern.key, pattern.scale, pattern.holes, pattern.a4, pattern.temperament)
    return [Goal(t.fingering, t.note, t.frequency, None) for t in found]


def goals_for(session: Session, blank: Blank) -> list[Goal]:
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    return goals_of(revision, find(session, Pattern, revision.pattern_id, "pattern"))


def of_blank(session: Session, blank_id: int) -> list[Reading]:
    """All readings of a blank, oldest first, with those taken back and the rows that take them back."""
    return list(session.exec(select(Reading).where(Reading.blank_id == blank_id).order_by(col(Reading.id))))


def counted(all_readings: Sequence[Reading]) -> list[Reading]:
    """The readings that count."""
    gone = {reading.corrects_id for reading in all_readings if reading.taken_back}
    return [reading for reading in all_readings if not reading.taken_back and reading.id not in gone]


def latest(all_readings: Sequence[Reading], stage: Stage | None = None) -> dict[str, Reading]:
    """The last reading of each fingering, of one stage or of all."""
    return {r.fingering: r for r in counted(all_readings) if stage is None or r.stage is stage}


def raw_cents(reading: Reading) -> float:
    """Cents against the target as it was read, without the correction for the air."""
    return pitches.between(reading.frequency, reading.target)


def aim(shop: Shop, stage: Stage) -> float:
    """Where a note should stand at this stage [cents]: at voicing a little low, since turning and finishing change it.

    5 to 10 cents low before turning is common practice, no published source; the shop sets its own.
    """
    return -shop.fundamental_low_cents if stage is Stage.VOICING else 0.0


def record(session: Session, who: Who, blank_id: int, asked: RecordReading) -> Reading:
    """Write a reading down, with its cents against the target in the shop's played air.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    blank = lock(session, blank_id)
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        raise Refused(f"{blank.serial} is {blank.status}: nothing more is read on it.")
    if blank.stage not in SOUNDING:
        raise Refused(f"{blank.serial} is at {blank.stage} and can't sound yet: its window is not open.")
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    goal = next((goal for goal in goals_of(revision, pattern) if goal.fingering == asked.fingering), None)
    if goal is None:
        raise Invalid({"fingering": "Choose one of the pattern's notes."})
    try:
        found = pitches.parse_pitch(asked.pitch, pattern.a4)
    except ValueError as error:
        raise Invalid({"pitch": str(error)}) from error
    # Before there are finger holes there is one note.
    playable = [goal] if blank.stage is Stage.VOICING else goals_of(revision, pattern)
    goal = _meant(playable, goal, asked, found)
    shop = find(session, Shop, 1, "shop")
    raw = pitches.between(found, goal.frequency)
    if abs(raw) > FARTHEST:
        way = "above" if raw > 0 else "below"
        hint = "Did it jump to the octave, or was another note fingered?"
        raise Invalid({"pitch": f"That is {abs(raw):.0f} cents {way} {goal.note}. {hint}"})
    humidity = asked.humidity / 100
    made = Reading(
        blank_id=blank_id,
        stage=blank.stage,
        fingering=goal.fingering,
        note_name=goal.note,
        typed=asked.pitch,
        frequency=found,
        target=goal.frequency,
        temperature=asked.temperature,
        humidity=humidity,
        warmed_up=asked.warmed_up,
        cents=raw + air.correction(shop, asked.temperature, humidity, asked.warmed_up),
        note=asked.note,
        by=who.id,
    )
    session.add(made)
    finished_flutes.changed(session, made.blank_id)
    session.flush()
    return made


def _meant(goals: Sequence[Goal], chosen: Goal, asked: RecordReading, found: float) -> Goal:
    """The note that was read: the one typed beside the cents, where that is another of the flute's than was chosen.

    Raises Doubtful where what was read lies nearer to another note than to the chosen one and no name tells which.
    """
    off = pitches.between(found, chosen.frequency)
    sure = f"{chosen.fingering} {asked.pitch}"
    if abs(off) <= ANOTHER_NOTE or asked.sure == sure:
        return chosen
    named = pitches.named(asked.pitch)
    same = [goal for goal in goals if named is not None and parse_note(goal.note) == named]
    if len(same) == 1:
        return same[0]
    nearest = min(goals, key=lambda goal: abs(pitches.between(found, goal.frequency)))
    if abs(off) > FARTHEST or (named is None and (nearest is chosen or abs(off) <= ANOTHER_PITCH)):
        return chosen
    near = "" if nearest is chosen else f", and nearer to {show_note(nearest.note)} ({nearest.fingering})"
    note = show_note(chosen.note)
    raise Doubtful(f"{asked.pitch} is {pitches.say(off)} of {note}{near}: was {note} fingered?", sure)


def take_back(session: Session, who: Who, reading_id: int, asked: TakeBackReading) -> Reading:
    """Take a wrong reading back by a further row that names it. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    wrong = find(session, Reading, reading_id, "reading")
    blank = lock(session, wrong.blank_id)
    if blank.status is BlankStatus.HANDED_OVER:
        raise Refused(f"{blank.serial} is handed over: its readings stay as they are.")
    assert blank.id is not None
    if wrong.id not in {reading.id for reading in counted(of_blank(session, blank.id))}:
        raise Refused("That reading was taken back already.")
    copied = wrong.model_dump(exclude={"id", "at", "by", "note", "corrects_id", "taken_back"})
    made = Reading(**copied, note=asked.why, by=who.id, corrects_id=wrong.id, taken_back=True)
    session.add(made)
    finished_flutes.changed(session, made.blank_id)
    session.flush()
    return made


def _since_it_came_in(session: Session, step: BlankStep, found: list[Reading]) -> list[Reading]:
    """For a step of a repair only what was read since the flute came in for it."""
    repair = session.get(Repair, step.repair_id) if step.repair_id else None
    begun = repair.begun_at if repair else None
    return [reading for reading in found if reading.at >= begun] if begun else found


def judge(session: Session, blank: Blank, step: BlankStep) -> Heard:
    """What the readings taken at this step's stage say about it. Raises Invalid where a note was not read yet."""
    assert blank.id is not None
    shop = find(session, Shop, 1, "shop")
    goals = goals_for(session, blank)
    wanted = goals[:1] if step.kind is StepKind.FUNDAMENTAL else goals
    found = latest(_since_it_came_in(session, step, of_blank(session, blank.id)), step.stage)
    unread = [goal.note for goal in wanted if goal.fingering not in found]
    if unread:
        raise Invalid({"": f"Not read yet at {step.stage}: {', '.join(unread)}. Read it at the bench first."})
    should = aim(shop, step.stage)
    worst = max((found[goal.fingering] for goal in wanted), key=lambda r: abs(r.cents - should))
    faults = []
    for goal in wanted:
        off = pitches.verdict(found[goal.fingering].cents, shop.tolerance_cents, should)
        if off.word is not pitches.Word.IN_TUNE:
            faults.append(f"{goal.note} {pitches.say(off.off)}")
    text = ", ".join(faults)
    if text and should:
        text += f" of where it should stand before turning ({-should:.0f} cents low)"
    return Heard(worst.cents, text)
