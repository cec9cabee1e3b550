"""Glue-ups: several blanks glued with one adhesive at one time, their clamps, and how they come out again."""

from datetime import timedelta
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, func, select

from webapp.models import (
    Adhesive,
    Blank,
    BlankStatus,
    BlankStep,
    GluedBlank,
    GlueUp,
    Outcome,
    Shop,
    StepKind,
    StepRecord,
    StepState,
    now,
)
from webapp.shop import diary
from webapp.shop.accounts import Who
from webapp.shop.air import Temperature
from webapp.shop.blank_state import lock, settle
from webapp.shop.errors import Invalid, Refused
from webapp.shop.finding import LARGEST_ID, find

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]
Reason = Annotated[str, StringConstraints(max_length=300)]


class Spread(BaseModel):
    """Glue is spread now: on which blanks, which glue, in what room."""

    blanks: Annotated[list[Id], Field(max_length=200)] = []
    adhesive_id: Id
    lot: Annotated[str, StringConstraints(max_length=60)] = ""
    temperature: Temperature
    why: Reason = ""
    note: Annotated[str, StringConstraints(max_length=500)] = ""


class TakeOut(BaseModel):
    """Which blanks come out of the clamps (none named: all of them), and why, where it is before their time."""

    blanks: Annotated[list[Id], Field(max_length=200)] = []
    why: Reason = ""


class CallOff(BaseModel):
    """Why a glue-up is called off before the clamps are on."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=280)]


def places_left(session: Session) -> int:
    """How many more blanks the shop's clamps can hold now."""
    shop = find(session, Shop, 1, "shop")
    taken = session.exec(select(func.count()).select_from(GluedBlank).where(col(GluedBlank.taken_out_at).is_(None)))
    return max(0, shop.clamp_places - taken.one())


def spread(session: Session, who: Who, asked: Spread) -> GlueUp:
    """Begin a glue-up: glue is spread, the open time runs. The adhesive's times are copied.

    Colder than the adhesive allows is gone on with for a stated reason only. Raises NotAllowed, NotFound, Invalid.
    """
    who.must_work()
    # Held until the commit, so that two people can't both take the last clamps.
    find(session, Shop, 1, "shop", lock=True)
    adhesive = session.get(Adhesive, asked.adhesive_id)
    if adhesive is None:
        raise Invalid({"adhesive_id": "Choose one of the list."})
    chosen = sorted(set(asked.blanks))
    if not chosen:
        raise Invalid({"blanks": "Choose at least one blank."})
    left = places_left(session)
    if len(chosen) > left:
        raise Invalid({"blanks": f"{len(chosen)} chosen, but clamps are left for {left}."})
    blanks = [_ready(session, blank_id) for blank_id in chosen]
    if asked.temperature < adhesive.lowest_temperature and not asked.why:
        raise Invalid(
            {
                "why": f"{asked.temperature:.3g} °C is colder than {adhesive.name} allows "
                f"({adhesive.lowest_temperature:.3g} °C): warm the room, or say why it will hold."
            }
        )
    made = GlueUp(
        adhesive_id=asked.adhesive_id,
        lot=asked.lot,
        temperature=asked.temperature,
        open_minutes=adhesive.open_minutes,
        clamp_minutes=adhesive.clamp_minutes,
        cure_minutes=adhesive.cure_minutes,
        spread_at=now(),
        note=asked.note,
        by=who.id,
    )
    session.add(made)
    session.flush()
    assert made.id is not None
    for blank in blanks:
        assert blank.id is not None
        session.add(GluedBlank(glue_up_id=made.id, blank_id=blank.id))
        cold = f"colder than it allows, at {asked.temperature:.3g} °C: {asked.why}" if asked.why else ""
        diary.write(session, who, "blank", blank.id, f"Glue-up {made.id} begun with {adhesive.name}", cold)
        settle(session, blank)
    session.commit()
    return made


def _ready(session: Session, blank_id: int) -> Blank:
    blank = lock(session, blank_id)
    if blank.status is not BlankStatus.IN_WORK:
        raise Invalid({"blanks": f"{blank.serial} is {blank.status}."})
    if blank.waits_for in ("glue", "clamps"):
        raise Invalid({"blanks": f"{blank.serial} is in a glue-up already."})
    if blank.next_kind is not StepKind.GLUE_UP:
        raise Invalid({"blanks": f"{blank.serial} is not ready for glue-up: '{blank.next_name}' comes first."})
    return blank


def clamp(session: Session, who: Who, glue_up_id: int) -> GlueUp:
    """The clamps are on: from now the clamp time and the cure time run. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    glue_up = find(session, GlueUp, glue_up_id, "glue-up", lock=True)
    if glue_up.clamped_at:
        raise Refused("The clamps are on already.")
    places = _in_it(session, glue_up_id)
    if not places:
        raise Refused("That glue-up was called off.")
    moment = now()
    glue_up.clamped_at = moment
    glue_up.out_at = moment + timedelta(minutes=glue_up.clamp_minutes)
    glue_up.cured_at = moment + timedelta(minutes=max(glue_up.cure_minutes, glue_up.clamp_minutes))
    session.add(glue_up)
    late = minutes_over(glue_up)
    for place in places:
        blank = lock(session, place.blank_id)
        if late:
            what = f"Clamped {late} min after the open time of {glue_up.open_minutes} min: watch that joint"
            diary.write(session, who, "blank", blank.id, what)
        settle(session, blank)
    session.commit()
    return glue_up


def minutes_over(glue_up: GlueUp) -> int:
    """Whole minutes by which the open time was exceeded when the clamps went on (or is by now); 0 where it was kept."""
    used = ((glue_up.clamped_at or now()) - glue_up.spread_at).total_seconds() / 60
    return max(0, int(used - glue_up.open_minutes + 0.999)) if used > glue_up.open_minutes else 0


def take_out(session: Session, who: Who, glue_up_id: int, asked: TakeOut) -> list[Blank]:
    """Take blanks out of the clamps; before their time only for a stated reason.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    glue_up = find(session, GlueUp, glue_up_id, "glue-up", lock=True)
    if glue_up.out_at is None:
        raise Refused("The clamps are not on yet.")
    inside = _in_it(session, glue_up_id)
    wanted = [place for place in inside if not asked.blanks or place.blank_id in asked.blanks]
    if not wanted:
        raise Refused("Those are out of the clamps already.")
    moment = now()
    early = moment < glue_up.out_at
    if early and not asked.why:
        raise Invalid({"why": "The clamp time is not over: say why they come out now."})
    taken = []
    for place in wanted:
        blank = lock(session, place.blank_id)
        place.taken_out_at, place.taken_out_by = moment, who.id
        place.why_early = asked.why if early else ""
        session.add(place)
        _pass(session, who, blank, asked.why if early else "")
        settle(session, blank)
        taken.append(blank)
    session.commit()
    return taken


def _pass(session: Session, who: Who, blank: Blank, why: str) -> None:
    """The blank's glue-up step is passed by coming out of the clamps."""
    step = session.exec(
        select(BlankStep)
        .where(BlankStep.blank_id == blank.id, BlankStep.kind == StepKind.GLUE_UP, BlankStep.state != StepState.PASSED)
        .order_by(col(BlankStep.position))
        .execution_options(populate_existing=True)
    ).first()
    if step is None:
        return
    assert step.id is not None and blank.id is not None
    outcome = Outcome.LET_PASS if why else Outcome.PASSED
    session.add(StepRecord(step_id=step.id, blank_id=blank.id, outcome=outcome, why=why, by=who.id))
    step.state = StepState.PASSED
    session.add(step)


def call_off(session: Session, who: Who, glue_up_id: int, asked: CallOff) -> GlueUp:
    """Call a glue-up off before the clamps are on: its blanks await glue-up again.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    glue_up = find(session, GlueUp, glue_up_id, "glue-up", lock=True)
    if glue_up.clamped_at:
        raise Refused("The clamps are on: take the blanks out instead.")
    for place in _in_it(session, glue_up_id):
        blank = lock(session, place.blank_id)
        place.taken_out_at, place.taken_out_by = now(), who.id
        place.why_early = f"called off: {asked.why}"
        session.add(place)
        diary.write(session, who, "blank", blank.id, f"Glue-up {glue_up_id} called off", asked.why)
        settle(session, blank)
    session.commit()
    return glue_up


def _in_it(session: Session, glue_up_id: int) -> list[GluedBlank]:
    """The blanks that are still in it, always in the same order: two people's locks never wait for each other."""
    return list(
        session.exec(
            select(GluedBlank)
            .where(GluedBlank.glue_up_id == glue_up_id, col(GluedBlank.taken_out_at).is_(None))
            .order_by(col(GluedBlank.blank_id))
            .execution_options(populate_existing=True)
        )
    )
