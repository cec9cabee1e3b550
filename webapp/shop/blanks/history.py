"""All that happened to one blank in the order of time: steps, readings, glue-ups, diary. Corrections are shown."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlmodel import Session, col, select

from webapp.models import BlankStep, Event, Outcome, Person, Reading, StepKind, StepRecord


class Of(StrEnum):
    """What a line of the history comes from."""

    STEP = "step"
    READING = "reading"
    DIARY = "diary"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened. `value` is mm for a gauge, `cents` for a check by ear or a reading.

    `taken_back` marks an entry that no longer counts, `takes_back` the one that says so.
    """

    at: datetime
    by: str
    of: Of
    what: str
    outcome: str = ""
    value: float | None = None
    cents: float | None = None
    why: str = ""
    note: str = ""
    id: int | None = None
    taken_back: bool = False
    takes_back: bool = False


def of_blank(session: Session, blank_id: int) -> list[Line]:
    """The whole history of a blank, oldest first: three queries, whatever its length."""
    lines = [*_steps(session, blank_id), *_readings(session, blank_id), *_diary(session, blank_id)]
    return sorted(lines, key=lambda line: line.at)


def _steps(session: Session, blank_id: int) -> list[Line]:
    rows = session.exec(
        select(StepRecord, BlankStep, Person.name)
        .join(BlankStep, col(BlankStep.id) == StepRecord.step_id)
        .join(Person, col(Person.id) == StepRecord.by)
        .where(StepRecord.blank_id == blank_id)
        .order_by(col(StepRecord.id))
    ).all()
    gone = {record.corrects_id for record, _, _ in rows if record.outcome is Outcome.TAKEN_BACK}
    return [
        Line(
            at=record.at,
            by=name,
            of=Of.STEP,
            what=step.name,
            outcome=record.outcome,
            value=record.value if step.kind is StepKind.GAUGE else None,
            cents=None if step.kind is StepKind.GAUGE else record.value,
            why=record.why,
            note=record.note,
            id=record.id,
            taken_back=record.id in gone,
            takes_back=record.outcome is Outcome.TAKEN_BACK,
        )
        for record, step, name in rows
    ]


def _readings(session: Session, blank_id: int) -> list[Line]:
    rows = session.exec(
        select(Reading, Person.name)
        .join(Person, col(Person.id) == Reading.by)
        .where(Reading.blank_id == blank_id)
        .order_by(col(Reading.id))
    ).all()
    gone = {reading.corrects_id for reading, _ in rows if reading.taken_back}
    return [
        Line(
            at=reading.at,
            by=name,
            of=Of.READING,
            what=f"{reading.note_name} read: {reading.typed or f'{reading.frequency:.1f} Hz'}",
            outcome=Outcome.TAKEN_BACK if reading.taken_back else "",
            cents=None if reading.taken_back else reading.cents,
            why=reading.note if reading.taken_back else "",
            note="" if reading.taken_back else reading.note,
            id=reading.id,
            taken_back=reading.id in gone,
            takes_back=reading.taken_back,
        )
        for reading, name in rows
    ]


def _diary(session: Session, blank_id: int) -> list[Line]:
    rows = session.exec(
        select(Event, Person.name)
        .join(Person, col(Person.id) == Event.by, isouter=True)
        .where(Event.subject == "blank", Event.subject_id == blank_id)
        .order_by(col(Event.id))
    )
    return [Line(at=e.at, by=name or "", of=Of.DIARY, what=e.what, why=e.why) for e, name in rows]
