"""Where a blank stands: what its records add up to. Whatever adds a record settles the blank at once."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    GluedBlank,
    GlueUp,
    Outcome,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    now,
)
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find

COUNTS_AS_PASSED = (Outcome.PASSED, Outcome.LET_PASS)


@dataclass(frozen=True, slots=True)
class Wait:
    """What a blank waits for, and until when (None: not known yet, as before the clamps are on)."""

    what: str
    until: datetime | None


def lock(session: Session, blank_id: int) -> Blank:
    """The blank, held until the transaction ends: two people's entries on one blank follow each other.

    Raises NotFound.
    """
    return find(session, Blank, blank_id, "blank", lock=True)


def by_serial(session: Session, serial: str) -> Blank:
    """The blank with this serial, typed in capitals or not. Raises NotFound."""
    if not serial.isprintable():
        raise NotFound("There is no blank with such a serial.")
    for written in dict.fromkeys((serial, serial.upper(), serial.lower())):
        if blank := session.exec(select(Blank).where(Blank.serial == written[:40])).first():
            return blank
    raise NotFound(f"There is no blank {serial[:40]}.")


def steps_of(session: Session, blank_id: int) -> list[BlankStep]:
    """The blank's steps in their order, as they are in the database now."""
    statement = select(BlankStep).where(BlankStep.blank_id == blank_id).order_by(col(BlankStep.position))
    return list(session.exec(statement.execution_options(populate_existing=True)))


def records_of(session: Session, blank_id: int) -> list[StepRecord]:
    """All records of a blank, oldest first, those taken back among them."""
    return list(session.exec(select(StepRecord).where(StepRecord.blank_id == blank_id).order_by(col(StepRecord.id))))


def counted(records: list[StepRecord]) -> list[StepRecord]:
    """The records that count: neither taken back nor themselves a taking back."""
    gone = {record.corrects_id for record in records if record.outcome is Outcome.TAKEN_BACK}
    return [record for record in records if record.outcome is not Outcome.TAKEN_BACK and record.id not in gone]


def settle(session: Session, blank: Blank, steps: list[BlankStep] | None = None) -> None:
    """Bring stage, status, next step and wait in line with the records.

    `steps` are the blank's, where the caller has read them since it locked the blank. Firewood, what was handed over
    and what was opened by mistake stay what they are.
    """
    assert blank.id is not None
    session.flush()
    blank.version += 1
    session.add(blank)
    if blank.status in (BlankStatus.FIREWOOD, BlankStatus.HANDED_OVER, BlankStatus.MISTAKE):
        blank.next_name = blank.next_kind = blank.waits_for = blank.waits_until = None
        return
    steps = steps_of(session, blank.id) if steps is None else steps
    upcoming = next((step for step in steps if step.state is not StepState.PASSED), None)
    if upcoming is None:
        blank.status, blank.stage = BlankStatus.FINISHED, Stage.FINISHING
        blank.finished_at = blank.finished_at or now()
    else:
        blank.status, blank.stage, blank.finished_at = BlankStatus.IN_WORK, upcoming.stage, None
    blank.next_name = upcoming.name if upcoming else None
    blank.next_kind = upcoming.kind if upcoming else None
    with session.no_autoflush:  # the blank itself is written once, when all of it is known
        wait = _wait(session, blank.id, steps, upcoming)
    if wait is None and blank.grave_defect:
        wait = Wait("decision", None)
    blank.waits_for, blank.waits_until = (wait.what, wait.until) if wait else (None, None)


def latest_glue_up(session: Session, blank_id: int) -> tuple[GluedBlank, GlueUp] | None:
    """The last glue-up that this blank was part of."""
    statement = (
        select(GluedBlank, GlueUp)
        .join(GlueUp, col(GlueUp.id) == GluedBlank.glue_up_id)
        .where(GluedBlank.blank_id == blank_id)
        .order_by(col(GlueUp.id).desc())
        .limit(1)
    )
    row = session.exec(statement).first()
    return (row[0], row[1]) if row else None


def _wait(session: Session, blank_id: int, steps: list[BlankStep], upcoming: BlankStep | None) -> Wait | None:
    glued = latest_glue_up(session, blank_id)
    if glued and glued[0].taken_out_at is None:
        return Wait("clamps", glued[1].out_at) if glued[1].clamped_at else Wait("glue", None)
    if upcoming is None:
        return None
    if glued and _cures(steps):
        return Wait("cure", glued[1].cured_at) if glued[1].cured_at else None
    before = max((s for s in steps if s.position < upcoming.position), key=lambda s: s.position, default=None)
    if before is None or before.kind is not StepKind.COAT:
        return None
    records = session.exec(select(StepRecord).where(StepRecord.step_id == before.id).order_by(col(StepRecord.id)))
    on = [record.at for record in counted(list(records)) if record.outcome in COUNTS_AS_PASSED]
    return Wait("coat", on[-1] + timedelta(minutes=before.nominal or 0)) if on else None


def _cures(steps: list[BlankStep]) -> bool:
    """Whether the cure behind the last glue-up that is passed is still open; a routing may glue several times."""
    glued = max((s.position for s in steps if s.kind is StepKind.GLUE_UP and s.state is StepState.PASSED), default=None)
    if glued is None:
        return False
    behind = next((s for s in steps if s.position > glued and s.kind in (StepKind.GLUE_UP, StepKind.CURE)), None)
    return behind is not None and behind.kind is StepKind.CURE and behind.state is StepState.OPEN
