"""Blanks: their steps, readings, cuts and costs."""

from typing import Annotated

from pydantic import BaseModel, Field

from webapp.api.prices import shown_cost
from webapp.api.ways import Answer, Call, Way, paged, row, rows
from webapp.models import Blank, BlankStatus, Stage
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.bench import cuts, readings
from webapp.shop.bench.cuts import RecordCut, TakeBackCut
from webapp.shop.bench.readings import RecordReading, TakeBackReading
from webapp.shop.blanks import hands, lists as blank_list, state as blank_state
from webapp.shop.blanks.hands import GiveTo
from webapp.shop.blanks.lists import Waiting, Wanted
from webapp.shop.costs import rules as costs
from webapp.shop.costs.rules import MinutesWere
from webapp.shop.orders import rules as orders
from webapp.shop.people.tokens import Scope
from webapp.shop.production import opening as blanks, stages
from webapp.shop.production.opening import GiveUp
from webapp.shop.production.stages import RecordStep, TakeBack

Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]


class OpenAsked(BaseModel):
    """Blanks to open, from a lot of halves (none: wood that is not in stock), for a flute of an order (none: for the
    shelf)."""

    revision_id: Id
    species_id: Id
    item_id: Id | None = None
    ordered_flute_id: Id | None = None
    count: Annotated[int, Field(ge=1, le=50)] = 1


def find(call: Call) -> Answer:
    status = call.choice("status", [*(str(one) for one in BlankStatus), "all"], str(BlankStatus.IN_WORK))
    stage = call.choice("stage", [*(str(one) for one in Stage), ""], "")
    waiting = call.choice("waiting", [*(str(one) for one in Waiting), ""], "")
    wanted = Wanted(
        status=None if status == "all" else BlankStatus(status),
        stage=Stage(stage) if stage else None,
        waiting=Waiting(waiting) if waiting else None,
        species_id=call.query_id("species"),
    )
    found, more = blank_list.listed(call.session, wanted, orders.today(call.session), call.page)
    items = [
        row(
            one.blank, wood=one.wood, pattern=one.pattern, revision=one.revision, order=one.order, customer=one.customer
        )
        for one in found
    ]
    return paged(items, call.page, more)


def show(call: Call) -> Answer:
    return _shown(call, _blank(call))


def open_them(call: Call) -> Answer:
    asked = call.asked(OpenAsked)
    made = blanks.open_blanks(
        call.session, call.who, asked.ordered_flute_id, asked.revision_id, asked.species_id, asked.item_id, asked.count
    )
    return Answer({"items": rows(made)}, location=f"/api/v1/blanks/{made[0].serial}")


def give_up(call: Call) -> Answer:
    return Answer(row(blanks.give_up(call.session, call.who, _id(call), call.asked(GiveUp))))


def give_to(call: Call) -> Answer:
    return Answer(row(hands.give_to(call.session, call.who, _id(call), call.asked(GiveTo))))


def cost(call: Call) -> Answer:
    """For those alone who may see costs."""
    return Answer(shown_cost(costs.cost_of_blank(call.session, _id(call))))


def set_minutes(call: Call) -> Answer:
    return Answer(row(costs.set_minutes(call.session, call.who, _id(call), call.asked(MinutesWere))))


def take_supplies(call: Call) -> Answer:
    return Answer({"taken": costs.take_supplies(call.session, call.who, _id(call))})


def record_step(call: Call) -> Answer:
    made = stages.record(call.session, call.who, call.number("step"), call.asked(RecordStep))
    return Answer(row(made), location=_address(call, made.blank_id))


def take_back_step(call: Call) -> Answer:
    made = stages.take_back(call.session, call.who, call.number("entry"), call.asked(TakeBack))
    return Answer(row(made), location=_address(call, made.blank_id))


def read(call: Call) -> Answer:
    made = readings.record(call.session, call.who, _id(call), call.asked(RecordReading))
    return Answer(row(made), location=_address(call, made.blank_id))


def take_back_reading(call: Call) -> Answer:
    made = readings.take_back(call.session, call.who, call.number("reading"), call.asked(TakeBackReading))
    return Answer(row(made), location=_address(call, made.blank_id))


def cut(call: Call) -> Answer:
    made = cuts.record(call.session, call.who, _id(call), call.asked(RecordCut))
    return Answer(row(made), location=_address(call, made.blank_id))


def take_back_cut(call: Call) -> Answer:
    made = cuts.take_back(call.session, call.who, call.number("cut"), call.asked(TakeBackCut))
    return Answer(row(made), location=_address(call, made.blank_id))


def _blank(call: Call) -> Blank:
    return blank_state.by_serial(call.session, call.text("serial"))


def _id(call: Call) -> int:
    blank = _blank(call)
    assert blank.id is not None
    return blank.id


def _address(call: Call, blank_id: int) -> str:
    blank = call.session.get(Blank, blank_id)
    return f"/api/v1/blanks/{blank.serial if blank else blank_id}"


def _shown(call: Call, blank: Blank) -> Answer:
    assert blank.id is not None
    session = call.session
    order = blanks.order_of(session, blank)
    return Answer(
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


_ONE = "/blanks/{serial}"
W = Scope.WORK
_PAGE, _BENCH = "/blanks/{serial}", "/bench/{serial}"
WAYS = [
    Way(
        "GET",
        "/blanks",
        "Blanks, the first due first",
        find,
        shows="blank",
        listed=True,
        query={
            "status": f"one of {', '.join(BlankStatus)}, all",
            "stage": f"one of {', '.join(Stage)}",
            "waiting": f"one of {', '.join(Waiting)}",
            "species": "a wood's id",
        },
        does=("/blanks", "/", "/bench"),
    ),
    Way(
        "GET", _ONE, "One blank, with its steps, entries, readings and cuts", show, shows="blank", does=(_PAGE, _BENCH)
    ),
    Way(
        "POST",
        "/blanks",
        "Open blanks",
        open_them,
        W,
        OpenAsked,
        "blank",
        does=("/blanks/new", "/orders/{number}/flutes/{flute_id}/wood"),
    ),
    Way(
        "POST", _ONE + "/give-up", "Give a blank up: firewood", give_up, W, GiveUp, "blank", does=(_PAGE + "/give-up",)
    ),
    Way("PUT", _ONE + "/hands", "Say whose hands it is in", give_to, W, GiveTo, "blank", does=(_PAGE + "/hands",)),
    Way(
        "GET",
        _ONE + "/costs",
        "What it cost so far, and will",
        cost,
        shows="cost",
        does=("/orders/{number}/costs", _PAGE + "/wood"),
    ),
    Way(
        "PUT",
        _ONE + "/minutes",
        "The minutes that a stage really took",
        set_minutes,
        W,
        MinutesWere,
        "blank_minutes",
        does=(_PAGE + "/minutes",),
    ),
    Way(
        "POST",
        _ONE + "/supplies",
        "Take what usually goes into it",
        take_supplies,
        W,
        shows="supplies",
        does=(_PAGE + "/supplies",),
    ),
    Way(
        "POST",
        "/steps/{step:int}/entries",
        "Record a step",
        record_step,
        W,
        RecordStep,
        "step_record",
        does=(_PAGE + "/steps/{step_id}",),
    ),
    Way(
        "POST",
        "/entries/{entry:int}/take-back",
        "Take an entry back",
        take_back_step,
        W,
        TakeBack,
        "step_record",
        does=(_PAGE + "/entries/{record_id}",),
    ),
    Way(
        "POST",
        _ONE + "/readings",
        "Write a reading down",
        read,
        W,
        RecordReading,
        "reading",
        does=(_BENCH + "/readings",),
    ),
    Way(
        "POST",
        "/readings/{reading:int}/take-back",
        "Take a reading back",
        take_back_reading,
        W,
        TakeBackReading,
        "reading",
        does=(_BENCH + "/readings/{reading_id}",),
    ),
    Way("POST", _ONE + "/cuts", "Write a cut down", cut, W, RecordCut, "cut", does=(_BENCH + "/cuts",)),
    Way(
        "POST",
        "/cuts/{cut:int}/take-back",
        "Take a cut back",
        take_back_cut,
        W,
        TakeBackCut,
        "cut",
        does=(_BENCH + "/cuts/{cut_id}",),
    ),
]
