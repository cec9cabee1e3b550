"""Recording the steps of a blank, and taking a wrong entry back. In what order is decided in `order_of_work`."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Outcome,
    Person,
    Stage,
    StepKind,
    StepRecord,
    StepState,
    now,
)
from webapp.shop.base.errors import SURE, Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.bench import readings
from webapp.shop.blanks import photos
from webapp.shop.blanks.state import COUNTS_AS_PASSED, counted, latest_glue_up, records_of, settle, steps_of
from webapp.shop.orders import rules as orders
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.production import gauging, order_of_work, repairs
from webapp.shop.production.opening import lock_with_order, order_of, reopen_order
from webapp.shop.stock import rules as stock
from webapp.shop.units.lengths import Typed

BY_EAR = (StepKind.FUNDAMENTAL, StepKind.READINGS)


class RecordStep(BaseModel):
    """What is typed at a step: how it came out, what was measured, and why where a reason is needed."""

    outcome: Literal["passed", "failed", "let pass"] = "passed"
    value: Annotated[float, Field(gt=0, le=3000, allow_inf_nan=False), Typed] | None = None
    why: Annotated[str, StringConstraints(max_length=300)] = ""
    note: Annotated[str, StringConstraints(max_length=1000)] = ""
    no_picture: Annotated[str, StringConstraints(max_length=300)] = ""  # why there is none where one is asked for
    sure: Annotated[str, StringConstraints(max_length=SURE)] = ""


class TakeBack(BaseModel):
    """Why an entry is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


def record(session: Session, who: Who, step_id: int, asked: RecordStep) -> StepRecord:
    """Record a step: passed, failed, or let pass with a reason. A gauge outside its limits fails by itself.

    A wait (cure, coat) that is over passes by itself with the next entry; one that is not over needs a reason.
    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    blank = lock_with_order(session, find(session, BlankStep, step_id, "step").blank_id)
    assert blank.id is not None
    if blank.status is not BlankStatus.IN_WORK:
        raise Refused(f"{blank.serial} is {blank.status}: nothing more is recorded on it.")
    steps = steps_of(session, blank.id)
    step = next(step for step in steps if step.id == step_id)
    _check_open(session, step)
    if blank.grave_defect:
        raise Refused(f"{blank.serial} waits for a decision about its defect: decide first, on its page.")
    _check_waits(session, who, blank, steps, step, asked)
    order_of_work.check(steps, step)
    made = _judge(session, who, blank, step, asked)
    made.by = who.id
    _check_picture(session, step, made, asked)
    session.add(made)
    step.state = StepState.FAILED if made.outcome is Outcome.FAILED else StepState.PASSED
    session.add(step)
    if step.stage is Stage.BORING or step is steps[0]:
        stock.take_reserved(session, who, blank.id)
    before = blank.stage
    settle(session, blank, steps)
    _moved_on(session, who, blank, before)
    session.flush()
    return made


def _check_open(session: Session, step: BlankStep) -> None:
    if step.state is StepState.PASSED:
        made = session.exec(
            select(Person.name)
            .join(StepRecord, col(StepRecord.by) == Person.id)
            .where(StepRecord.step_id == step.id)
            .order_by(col(StepRecord.id).desc())
        ).first()
        raise Refused(f"'{step.name}' was already recorded by {made}. Take that entry back if it is wrong.")
    if step.kind is StepKind.GLUE_UP:
        raise Refused("A glue-up is passed by coming out of the clamps: record it on the glue-up page.")


def _check_waits(
    session: Session, who: Who, blank: Blank, steps: list[BlankStep], step: BlankStep, asked: RecordStep
) -> None:
    """Clamps, cure and coats are not passed before their time without a reason; one that is over passes by itself."""
    if step.while_waiting or blank.waits_for is None:
        return
    if blank.waits_for in ("glue", "clamps"):
        raise Refused(f"{blank.serial} is in the clamps: take it out on the glue-up page first.")
    early = blank.waits_until is not None and now() < blank.waits_until
    if early and not asked.why:
        what = "The glue still cures" if blank.waits_for == "cure" else "The coat still dries"
        raise Invalid({"why": f"{what}: say why work may continue before its time."})
    cure = next((s for s in steps if s.kind is StepKind.CURE and s.state is not StepState.PASSED), None)
    if blank.waits_for == "cure" and cure and cure is not step and cure.position < step.position:
        assert cure.id is not None and blank.id is not None
        session.add(
            StepRecord(
                step_id=cure.id,
                blank_id=blank.id,
                outcome=Outcome.LET_PASS if early else Outcome.PASSED,
                why=asked.why if early else "",
                note="" if early else "Its time was over.",
                by=who.id,
            )
        )
        cure.state = StepState.PASSED
        session.add(cure)


def _judge(session: Session, who: Who, blank: Blank, step: BlankStep, asked: RecordStep) -> StepRecord:
    """The record of this step as asked, not yet added."""
    assert step.id is not None and blank.id is not None
    made = StepRecord(step_id=step.id, blank_id=blank.id, outcome=Outcome.PASSED, why="", note=asked.note, by=who.id)
    wrong = ""
    if step.kind is StepKind.GAUGE:
        made.value = asked.value
        if made.value is None and asked.outcome == "let pass":
            made.value = _last_value(session, step)
        if made.value is None and asked.outcome != "failed":
            raise Invalid({"value": "Type what the gauge shows."})
        if asked.value is not None:
            gauging.must_be_likely(step, asked.value, who.units, asked.sure)
        wrong = gauging.fault(step, made.value, who.units) if made.value is not None else ""
    elif step.kind in BY_EAR:
        heard = readings.judge(session, blank, step)
        made.value, wrong = heard.cents, heard.fault
    # A cure that is cut short is let pass at the cure's own step; a coat has no step after it to carry the reason.
    held_up = step.kind is StepKind.CURE or (blank.waits_for == "coat" and not step.while_waiting)
    before_time = held_up and blank.waits_until is not None and now() < blank.waits_until
    if asked.outcome == "failed":
        if not (asked.why or wrong):
            raise Invalid({"why": "Say what is wrong with it."})
        made.outcome, made.why = Outcome.FAILED, asked.why or wrong
    elif asked.outcome == "let pass" or (before_time and not wrong):
        if (wrong or before_time) and not asked.why:
            raise Invalid({"why": "Say why it may pass."})
        if wrong or before_time:
            made.outcome = Outcome.LET_PASS
            made.why = f"{wrong}. {asked.why}"[:300] if wrong else asked.why
        else:
            made.note = f"{asked.note} {asked.why}".strip()[:1000]
    elif wrong:
        made.outcome, made.why = Outcome.FAILED, wrong
    return made


def _check_picture(session: Session, step: BlankStep, made: StepRecord, asked: RecordStep) -> None:
    """A step that asks for a picture is passed with one, or with a reason why there is none. Raises Invalid."""
    if not step.photo or made.outcome is Outcome.FAILED or photos.count_for_step(session, made.step_id):
        return
    if not asked.no_picture:
        raise Invalid({"no_picture": "A picture is asked for at this step: take one, or say why there is none."})
    made.note = f"{made.note} No picture: {asked.no_picture}".strip()[:1000]


def _last_value(session: Session, step: BlankStep) -> float | None:
    records = session.exec(select(StepRecord).where(StepRecord.step_id == step.id).order_by(col(StepRecord.id)))
    values = [record.value for record in counted(list(records)) if record.value is not None]
    return values[-1] if values else None


def _moved_on(session: Session, who: Who, blank: Blank, before: Stage) -> None:
    if blank.status is BlankStatus.FINISHED:
        diary.write(session, who, "blank", blank.id, "Finished")
        if order := order_of(session, blank, locked=True):
            assert order.id is not None
            orders.mark_ready_if_done(session, order.id)
        repairs.blank_finished(session, who, blank)
    elif blank.stage is not before:
        diary.write(session, who, "blank", blank.id, f"Moved on to {blank.stage}")


def take_back(session: Session, who: Who, record_id: int, asked: TakeBack) -> StepRecord:
    """Take a wrong entry back by a further record that names it; the step is what its other records say.

    The blank goes back to that step until it is recorded again. Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    wrong = find(session, StepRecord, record_id, "entry")
    blank = lock_with_order(session, wrong.blank_id)
    assert blank.id is not None
    if blank.status in (BlankStatus.FIREWOOD, BlankStatus.HANDED_OVER, BlankStatus.MISTAKE):
        raise Refused(f"{blank.serial} is {blank.status}: its entries stay as they are.")
    records = records_of(session, blank.id)
    if wrong.outcome is Outcome.TAKEN_BACK:
        raise Refused("That entry itself takes another one back: record the step again instead.")
    if wrong.id not in {record.id for record in counted(records)}:
        raise Refused("That entry was taken back already.")
    _check_last_glue_up(session, blank.id, wrong)
    made = StepRecord(
        step_id=wrong.step_id,
        blank_id=blank.id,
        outcome=Outcome.TAKEN_BACK,
        why=asked.why,
        by=who.id,
        corrects_id=wrong.id,
    )
    session.add(made)
    step = find(session, BlankStep, wrong.step_id, "step")
    rest = [record for record in counted([*records, made]) if record.step_id == step.id]
    step.state = _state(rest)
    session.add(step)
    if step.kind is StepKind.GLUE_UP and step.state is StepState.OPEN:
        _back_in_clamps(session, blank.id)
    was_finished = blank.status is BlankStatus.FINISHED
    settle(session, blank)
    if was_finished and blank.status is BlankStatus.IN_WORK:
        reopen_order(session, who, blank)
        repairs.blank_reopened(session, who, blank)
    session.flush()
    return made


def _check_last_glue_up(session: Session, blank_id: int, wrong: StepRecord) -> None:
    """A glue-up is taken back last come, first gone: else it would be back in the clamps of another one."""
    steps = steps_of(session, blank_id)
    own = next(step for step in steps if step.id == wrong.step_id)
    passed = [s for s in steps if s.kind is StepKind.GLUE_UP and s.state is StepState.PASSED]
    if own.kind is StepKind.GLUE_UP and passed and passed[-1].position > own.position:
        raise Refused(f"'{passed[-1].name}' came later: take that one back first.")


def _state(rest: list[StepRecord]) -> StepState:
    if not rest:
        return StepState.OPEN
    return StepState.PASSED if rest[-1].outcome in COUNTS_AS_PASSED else StepState.FAILED


def _back_in_clamps(session: Session, blank_id: int) -> None:
    """The entry that it came out was wrong: it is still in the clamps of its last glue-up."""
    if glued := latest_glue_up(session, blank_id):
        place = glued[0]
        place.taken_out_at = place.taken_out_by = None
        place.why_early = ""
        session.add(place)
