"""Blanks: their steps, readings, cuts and costs."""

from typing import Annotated, Literal

from fastapi import Query
from pydantic import BaseModel, Field
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import Id, Page, Serial
from webapp.api.frame.rows import Shown, listed, many, model_of, paged, row, row_of, rows
from webapp.api.frame.ways import WORK, way
from webapp.api.orders.prices import CostShown, shown_cost
from webapp.models import (
    Blank,
    BlankMinutes,
    BlankStatus,
    BlankStep,
    Cut,
    Reading,
    Stage,
    StepRecord,
)
from webapp.shop.bench import cuts, final_sizes, readings
from webapp.shop.bench.cuts import RecordCut, TakeBackCut
from webapp.shop.bench.final_sizes import FinalSizes
from webapp.shop.bench.readings import RecordReading, TakeBackReading
from webapp.shop.blanks import hands, lists as blank_list, state as blank_state
from webapp.shop.blanks.hands import GiveTo
from webapp.shop.blanks.lists import Waiting, Wanted
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.orders import rules as orders
from webapp.shop.production import opening as blanks, stages, undoing
from webapp.shop.production.opening import GiveUp
from webapp.shop.production.stages import RecordStep, TakeBack
from webapp.shop.production.undoing import Undo

BlankFound = model_of("BlankFound", Blank, wood=str, pattern=str, revision=int, order=int | None, customer=str | None)
BlankShown = model_of(
    "BlankShown",
    Blank,
    order=int | None,
    steps=many(row_of(BlankStep)),
    entries=many(row_of(StepRecord)),
    readings=many(row_of(Reading)),
    cuts=many(row_of(Cut)),
)


class TakenShown(Shown):
    """How many lots something was taken from."""

    taken: int


router = ways.router("blanks")


class OpenAsked(BaseModel):
    """Blanks to open, from a lot of halves (none: wood that is not in stock), for a flute of an order (none: for the
    shelf)."""

    revision_id: Id
    species_id: Id
    item_id: Id | None = None
    ordered_flute_id: Id | None = None
    count: Annotated[int, Field(ge=1, le=50)] = 1


@router.get("/blanks", **way("Blanks, the first due first", "/blanks", "/", "/bench", shows=paged(BlankFound)))
def find(
    call: Look,
    status: BlankStatus | Literal["all"] = BlankStatus.IN_WORK,
    stage: Stage | Literal[""] = "",
    waiting: Waiting | Literal[""] = "",
    species: Annotated[Id | None, Query(description="a wood's id")] = None,
    page: Page = 1,
) -> Response:
    wanted = Wanted(
        status=None if status == "all" else BlankStatus(status),
        stage=Stage(stage) if stage else None,
        waiting=Waiting(waiting) if waiting else None,
        species_id=species,
    )
    found, more = blank_list.listed(call.session, wanted, orders.today(call.session), page)
    items = [
        row(
            one.blank, wood=one.wood, pattern=one.pattern, revision=one.revision, order=one.order, customer=one.customer
        )
        for one in found
    ]
    return call.page(items, page, more)


@router.get(
    "/blanks/{serial}",
    **way(
        "One blank, with its steps, entries, readings and cuts",
        "/blanks/{serial}",
        "/bench/{serial}",
        shows=BlankShown,
    ),
)
def show(call: Look, serial: Serial) -> Response:
    return _shown(call, blank_state.by_serial(call.session, serial))


@router.post(
    "/blanks",
    **way(
        "Open blanks",
        "/blanks/new",
        "/orders/{number}/flutes/{flute_id}/wood",
        scope=WORK,
        shows=listed(row_of(Blank)),
        status=201,
    ),
)
def open_them(call: Change, asked: OpenAsked) -> Response:
    made = blanks.open_blanks(
        call.session, call.who, asked.ordered_flute_id, asked.revision_id, asked.species_id, asked.item_id, asked.count
    )
    return call.answer({"items": rows(made)}, location=f"/api/v1/blanks/{made[0].serial}")


@router.post(
    "/blanks/{serial}/give-up",
    **way("Give a blank up: firewood", "/blanks/{serial}/give-up", scope=WORK, shows=row_of(Blank)),
)
def give_up(call: Change, serial: Serial, asked: GiveUp) -> Response:
    return call.answer(row(blanks.give_up(call.session, call.who, _id(call, serial), asked)))


@router.post(
    "/blanks/{serial}/back-to-work",
    **way("No firewood after all", "/blanks/{serial}/back-to-work", scope=WORK, shows=row_of(Blank)),
)
def back_to_work(call: Change, serial: Serial, asked: Undo) -> Response:
    return call.answer(row(undoing.back_to_work(call.session, call.who, _id(call, serial), asked)))


@router.post(
    "/blanks/{serial}/opened-by-mistake",
    **way("Free its wood, order and serial", "/blanks/{serial}/opened-by-mistake", scope=WORK, shows=row_of(Blank)),
)
def opened_by_mistake(call: Change, serial: Serial, asked: Undo) -> Response:
    return call.answer(row(undoing.opened_by_mistake(call.session, call.who, _id(call, serial), asked)))


@router.put(
    "/blanks/{serial}/hands",
    **way("Say whose hands it is in", "/blanks/{serial}/hands", scope=WORK, shows=row_of(Blank)),
)
def give_to(call: Change, serial: Serial, asked: GiveTo) -> Response:
    return call.answer(row(hands.give_to(call.session, call.who, _id(call, serial), asked)))


@router.get(
    "/blanks/{serial}/costs",
    **way("What it cost so far, and will", "/orders/{number}/costs", "/blanks/{serial}/wood", shows=CostShown),
)
def cost(call: Look, serial: Serial) -> Response:
    """For those alone who may see costs."""
    return call.answer(shown_cost(costs.cost_of_blank(call.session, _id(call, serial))))


@router.put(
    "/blanks/{serial}/minutes",
    **way("The minutes that a stage really took", "/blanks/{serial}/minutes", scope=WORK, shows=row_of(BlankMinutes)),
)
def set_minutes(call: Change, serial: Serial, asked: MinutesWere) -> Response:
    return call.answer(row(costs.set_minutes(call.session, call.who, _id(call, serial), asked)))


@router.post(
    "/blanks/{serial}/supplies",
    **way("Take what usually goes into it", "/blanks/{serial}/supplies", scope=WORK, shows=TakenShown),
)
def take_supplies(call: Change, serial: Serial) -> Response:
    return call.answer({"taken": costs.take_supplies(call.session, call.who, _id(call, serial))})


@router.post(
    "/steps/{step:int}/entries",
    **way("Record a step", "/blanks/{serial}/steps/{step_id}", scope=WORK, shows=row_of(StepRecord), status=201),
)
def record_step(call: Change, step: int, asked: RecordStep) -> Response:
    made = stages.record(call.session, call.who, step, asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


@router.post(
    "/entries/{entry:int}/take-back",
    **way(
        "Take an entry back", "/blanks/{serial}/entries/{record_id}", scope=WORK, shows=row_of(StepRecord), status=201
    ),
)
def take_back_step(call: Change, entry: int, asked: TakeBack) -> Response:
    made = stages.take_back(call.session, call.who, entry, asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


@router.post(
    "/blanks/{serial}/readings",
    **way("Write a reading down", "/bench/{serial}/readings", scope=WORK, shows=row_of(Reading), status=201),
)
def read(call: Change, serial: Serial, asked: RecordReading) -> Response:
    made = readings.record(call.session, call.who, _id(call, serial), asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


@router.post(
    "/readings/{reading:int}/take-back",
    **way(
        "Take a reading back", "/bench/{serial}/readings/{reading_id}", scope=WORK, shows=row_of(Reading), status=201
    ),
)
def take_back_reading(call: Change, reading: int, asked: TakeBackReading) -> Response:
    made = readings.take_back(call.session, call.who, reading, asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


@router.post(
    "/blanks/{serial}/cuts",
    **way("Write a cut down", "/bench/{serial}/cuts", scope=WORK, shows=row_of(Cut), status=201),
)
def cut(call: Change, serial: Serial, asked: RecordCut) -> Response:
    made = cuts.record(call.session, call.who, _id(call, serial), asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


@router.post(
    "/blanks/{serial}/sizes",
    **way("Write all final sizes down", "/bench/{serial}/sizes", scope=WORK, shows=listed(row_of(Cut)), status=201),
)
def sizes(call: Change, serial: Serial, asked: FinalSizes) -> Response:
    blank_id = _id(call, serial)
    made = final_sizes.record(call.session, call.who, blank_id, asked)
    return call.answer({"items": rows(made)}, location=_address(call, blank_id))


@router.post(
    "/cuts/{cut:int}/take-back",
    **way("Take a cut back", "/bench/{serial}/cuts/{cut_id}", scope=WORK, shows=row_of(Cut), status=201),
)
def take_back_cut(call: Change, cut: int, asked: TakeBackCut) -> Response:
    made = cuts.take_back(call.session, call.who, cut, asked)
    return call.answer(row(made), location=_address(call, made.blank_id))


def _id(call: Call, serial: str) -> int:
    blank = blank_state.by_serial(call.session, serial)
    assert blank.id is not None
    return blank.id


def _address(call: Call, blank_id: int) -> str:
    blank = call.session.get(Blank, blank_id)
    return f"/api/v1/blanks/{blank.serial if blank else blank_id}"


def _shown(call: Call, blank: Blank) -> Response:
    assert blank.id is not None
    session = call.session
    order = blanks.order_of(session, blank)
    return call.answer(
        row(
            blank,
            order=order.number if order else None,
            steps=rows(blank_state.steps_of(session, blank.id)),
            entries=rows(blank_state.records_of(session, blank.id)),
            readings=rows(readings.of_blank(session, blank.id)),
            cuts=rows(cuts.of_blank(session, blank.id)),
        ),
        blank.version,
    )
