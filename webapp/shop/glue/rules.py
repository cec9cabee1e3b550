"""Glue-ups: several blanks glued with one adhesive at one time, their clamps, and how they come out again."""

from datetime import date, timedelta
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from acoustics.flute.instrument import Instrument
from webapp.models import (
    Adhesive,
    Blank,
    BlankStatus,
    BlankStep,
    GluedBlank,
    GlueUp,
    Outcome,
    PatternRevision,
    Shop,
    StepKind,
    StepRecord,
    StepState,
    StockItem,
    now,
)
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.blanks.state import lock, settle
from webapp.shop.glue import adhesives, gluing
from webapp.shop.glue.adhesives import LotName, Moisture
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.air import HumidityPercent
from webapp.shop.settings.workshop import workshop
from webapp.shop.stock import rules as stock
from webapp.shop.units.temperatures import Temperature

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]
Reason = Annotated[str, StringConstraints(max_length=300)]


class Spread(BaseModel):
    """Glue is spread now: on which blanks, which glue from which bottle, in what room, on what wood.

    `moistures` are the readings on the two halves of a blank [percent]; where none was taken, its lot's counts.
    """

    blanks: Annotated[list[Id], Field(max_length=200)] = []
    adhesive_id: Id
    lot: LotName = ""
    best_before: date | None = None
    temperature: Temperature
    humidity: HumidityPercent | None = None
    moistures: dict[int, tuple[Moisture | None, Moisture | None]] = {}
    why: Reason = ""
    note: Annotated[str, StringConstraints(max_length=500)] = ""


class ClampsOn(BaseModel):
    """Why the joint will hold, where the clamps came too late."""

    why: Reason = ""


class TakeOutOfClamps(BaseModel):
    """Which blanks come out of the clamps (none named: all of them), and why, where it is before their time."""

    blanks: Annotated[list[Id], Field(max_length=200)] = []
    why: Reason = ""


class CallOff(BaseModel):
    """Why a glue-up is called off before the clamps are on."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=280)]


def places_left(session: Session) -> int:
    """How many more blanks the shop's clamps can hold now."""
    return len(free_places(session))


def free_places(session: Session) -> list[int]:
    """The numbers of the clamp places where nothing lies, counted from 1."""
    shop = find(session, Shop, 1, "shop")
    inside = session.exec(select(GluedBlank.place).where(col(GluedBlank.taken_out_at).is_(None))).all()
    free = [number for number in range(1, shop.clamp_places + 1) if number not in inside]
    # What went into the clamps before places were numbered, or beyond a number that was lowered, takes one too.
    unplaced = sum(place is None or place > shop.clamp_places for place in inside)
    return free[: max(0, len(free) - unplaced)]


def spread(session: Session, who: Who, asked: Spread) -> GlueUp:
    """Start a glue-up: glue is spread, the open time runs. The adhesive's times for this room and wood are copied.

    What speaks against it (too cold, air or wood too dry, halves apart, an old bottle) may be overridden with a reason.
    The glue is taken from stock by the area of the joints. Raises NotAllowed, NotFound, Invalid.
    """
    who.must_work()
    # Held until the commit, so that two people can't both take the last clamps.
    shop = find(session, Shop, 1, "shop", lock=True)
    adhesive = session.get(Adhesive, asked.adhesive_id)
    if adhesive is None:
        raise Invalid({"adhesive_id": "Choose one of the list."})
    chosen = sorted(set(asked.blanks))
    if not chosen:
        raise Invalid({"blanks": "Choose at least one blank."})
    places = free_places(session)
    if len(chosen) > len(places):
        raise Invalid({"blanks": f"{len(chosen)} chosen, but there are clamps only for {len(places)}."})
    blanks = [_ready(session, blank_id) for blank_id in chosen]
    woods = [wood_of(session, blank, asked.moistures.get(blank.id or 0)) for blank in blanks]
    bottle = adhesives.bottle_of(session, who, adhesive, asked.lot, asked.best_before)
    today = now().astimezone(ZoneInfo(shop.timezone)).date()
    wrong = gluing.wrongs(adhesive, bottle, today, asked.temperature, asked.humidity, woods, who.degrees)
    if wrong and not asked.why:
        raise Invalid({"why": f"{' '.join(wrong)} Put it right, or say why the joint will hold anyway."})
    span = gluing.times(adhesive, asked.temperature, woods)
    made = GlueUp(
        adhesive_id=asked.adhesive_id,
        lot=asked.lot,
        temperature=asked.temperature,
        humidity=asked.humidity,
        open_minutes=span.open,
        clamp_minutes=span.clamp,
        cure_minutes=span.cure,
        spread_at=now(),
        note=asked.note,
        warned="\n".join(wrong)[:1000],
        why=asked.why if wrong else "",
        by=who.id,
    )
    session.add(made)
    session.flush()
    assert made.id is not None
    allowed = workshop(session)
    for blank, wood, place in zip(blanks, woods, places, strict=False):
        assert blank.id is not None
        weight = gluing.grams(adhesive, gluing.joint_area(_shape(session, blank), allowed))
        session.add(
            GluedBlank(
                glue_up_id=made.id,
                blank_id=blank.id,
                moisture_one=wood.one,
                moisture_other=wood.other,
                glue=round(weight, 2),
                place=place,
            )
        )
        _take_glue(session, who, adhesive, weight, blank.id, made.id)
        against = f"{' '.join(wrong)} {asked.why}" if wrong else ""
        diary.write(session, who, "blank", blank.id, f"Glue-up {made.id} begun with {adhesive.name}", against)
        settle(session, blank)
    session.flush()
    return made


def wood_of(session: Session, blank: Blank, read: tuple[float | None, float | None] | None = None) -> gluing.Wood:
    """The moisture of a blank's two halves: as read on them, or what their lot says."""
    item = session.get(StockItem, blank.item_id) if blank.item_id else None
    of_lot = item.moisture if item else None
    one, other = read or (None, None)
    return gluing.Wood(blank.serial, of_lot if one is None else one, of_lot if other is None else other)


def _shape(session: Session, blank: Blank) -> Instrument:
    return instrument_of(find(session, PatternRevision, blank.revision_id, "revision"))


def _take_glue(session: Session, who: Who, adhesive: Adhesive, weight: float, blank_id: int, glue_up_id: int) -> None:
    """The joint's share of glue leaves the lot that the adhesive is taken from, where one is named."""
    item = session.get(StockItem, adhesive.item_id) if adhesive.item_id else None
    if item is None or item.id is None:
        return
    quantity = gluing.in_unit(weight, item.unit, adhesive.density)
    if quantity:
        stock.use(session, who, item.id, quantity, blank_id, f"Glue-up {glue_up_id}, by the area of its joint")


def _ready(session: Session, blank_id: int) -> Blank:
    blank = lock(session, blank_id)
    if blank.status is not BlankStatus.IN_WORK:
        raise Invalid({"blanks": f"{blank.serial} is {blank.status}."})
    if blank.waits_for in ("glue", "clamps"):
        raise Invalid({"blanks": f"{blank.serial} is in a glue-up already."})
    if blank.grave_defect:
        raise Invalid({"blanks": f"{blank.serial} waits for a decision about its defect."})
    if blank.next_kind is not StepKind.GLUE_UP:
        raise Invalid({"blanks": f"{blank.serial} is not ready for glue-up: '{blank.next_name}' comes first."})
    return blank


def clamp(session: Session, who: Who, glue_up_id: int, asked: ClampsOn | None = None) -> GlueUp:
    """The clamps are on: from now the clamp time and the cure time run. After the open time a reason is needed.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    glue_up = find(session, GlueUp, glue_up_id, "glue-up", lock=True)
    if glue_up.clamped_at:
        raise Refused("The clamps are on already.")
    places = _in_it(session, glue_up_id)
    if not places:
        raise Refused("That glue-up was called off.")
    late, why = minutes_over(glue_up), asked.why if asked else ""
    if late and not why:
        words = f"The open time was over {late} min ago: say why the joint will hold, or call it off and spread again."
        raise Invalid({"why": words})
    moment = now()
    glue_up.clamped_at, glue_up.why_late = moment, why if late else ""
    glue_up.out_at = moment + timedelta(minutes=glue_up.clamp_minutes)
    glue_up.cured_at = moment + timedelta(minutes=max(glue_up.cure_minutes, glue_up.clamp_minutes))
    session.add(glue_up)
    for place in places:
        blank = lock(session, place.blank_id)
        if late:
            what = f"Clamped {late} min after the open time of {glue_up.open_minutes} min: watch that joint"
            diary.write(session, who, "blank", blank.id, what, why)
        settle(session, blank)
    session.flush()
    return glue_up


def minutes_over(glue_up: GlueUp) -> int:
    """Whole minutes by which the open time was exceeded when the clamps went on (or is by now); 0 where it was kept."""
    used = ((glue_up.clamped_at or now()) - glue_up.spread_at).total_seconds() / 60
    return max(0, int(used - glue_up.open_minutes + 0.999)) if used > glue_up.open_minutes else 0


def take_out(session: Session, who: Who, glue_up_id: int, asked: TakeOutOfClamps) -> list[Blank]:
    """Take blanks out of the clamps; before their time a reason is needed.

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
    session.flush()
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
    session.flush()
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
