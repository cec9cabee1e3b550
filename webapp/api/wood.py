"""Boards in the hand, halves that are wanted, cutting plans, and papers for a walk along the shelves."""

from dataclasses import asdict
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field

from webapp import job_kinds
from webapp.api.ways import PDF, Answer, Call, Way, pdf, row
from webapp.drawings.sheet.canvas import Theme
from webapp.jobs import claims
from webapp.models import CuttingPlan, Shop, StockKind
from webapp.pages.stock.cutting import pictures
from webapp.paper.shelf.cutting_sheet import cutting_job
from webapp.paper.shelf.shelf_sheets import count_job, purchase_job
from webapp.shop.base import finding
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.costs import rules as costs
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import prices
from webapp.shop.people.tokens import Scope
from webapp.shop.stock import counting
from webapp.shop.stock.forms import Counting
from webapp.shop.wood import boards, sawing
from webapp.shop.wood.boards import FlawAsked, ReadMoisture
from webapp.shop.wood.plans import demand, purchases, rules as cutting_plans, shown as plan_shown
from webapp.shop.wood.plans.demand import WantedAsked
from webapp.shop.wood.plans.rules import PlanAsked
from webapp.shop.wood.sawing import MOST_KINDS, Pieces, Saw


class Sawn(Saw):
    """How a board was sawn, and what came off it; `plan_id` and `cut`: by which board of which cutting plan."""

    pieces: Annotated[list[Pieces], Field(min_length=1, max_length=MOST_KINDS)]
    plan_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None
    cut: Annotated[int, Field(ge=0, le=9999)] | None = None


class Sheet(BaseModel):
    """Counts of many lots; all of them are written down, or none."""

    lines: Annotated[list[Counting], Field(min_length=1, max_length=counting.MOST_LINES)]


def read_moisture(call: Call) -> Answer:
    return Answer(row(boards.read_moisture(call.session, call.who, call.number("id"), call.asked(ReadMoisture))))


def add_flaw(call: Call) -> Answer:
    return Answer(row(boards.add_flaw(call.session, call.who, call.number("id"), call.asked(FlawAsked))))


def remove_flaw(call: Call) -> Answer:
    boards.remove_flaw(call.session, call.who, call.number("id"), call.number("flaw"))
    return Answer({"gone": call.number("flaw")})


def saw(call: Call) -> Answer:
    asked = call.asked(Sawn)
    how = Saw.model_construct(**asked.model_dump(exclude={"pieces", "plan_id", "cut"}))
    of_plan = (asked.plan_id, asked.cut) if asked.plan_id is not None and asked.cut is not None else None
    made = sawing.saw(call.session, call.who, call.number("id"), how, asked.pieces, of_plan)
    return Answer(row(made), location=f"/api/v1/stock/{made.board_id}")


def count_sheet(call: Call) -> Answer:
    made = counting.count_sheet(call.session, call.who, call.asked(Sheet).lines)
    return Answer(asdict(made))


def needed(call: Call) -> Answer:
    """What open orders and the shelf need, and what of it is short."""
    found, unplanned = demand.needs(call.session)
    return Answer({"items": [_need(one) for one in found], "without_pattern": [asdict(one) for one in unplanned]})


def add_wanted(call: Call) -> Answer:
    return Answer(
        row(demand.add_wanted(call.session, call.who, call.asked(WantedAsked))), location="/api/v1/halves-wanted"
    )


def drop_wanted(call: Call) -> Answer:
    demand.drop_wanted(call.session, call.who, call.number("wanted"))
    return Answer({"dropped": call.number("wanted")})


def plans(call: Call) -> Answer:
    return Answer({"items": [_plan(one) for one in cutting_plans.newest(call.session)]})


def start_plan(call: Call) -> Answer:
    made = cutting_plans.ask(call.session, call.who, call.asked(PlanAsked))
    assert made.id is not None
    call.session.commit()  # the process that calculates it must find it
    call.around.queue.enqueue(job_kinds.CUTTING_PLAN, made.id)
    return Answer(_plan(made), location=f"/api/v1/cutting-plans/{made.id}")


def plan(call: Call) -> Answer:
    return Answer(_plan(cutting_plans.plan_of(call.session, call.number("id"))))


def accept_plan(call: Call) -> Answer:
    return Answer(_plan(cutting_plans.accept(call.session, call.who, call.number("id"))))


def plan_paper(call: Call) -> Answer:
    made = cutting_plans.plan_of(call.session, call.number("id"))
    if (found := plan_shown.shown(call.session, made)) is None:
        raise Refused("That plan has not been reckoned to its end: there is nothing to print.")
    shop = _shop(call)
    drawn = pictures(shop.units, found, Theme.PAPER)
    return pdf(call.around.press.print(cutting_job(shop, shop.units, made, found, drawn)), f"cutting-plan-{made.id}")


def to_buy(call: Call) -> Answer:
    sees = costs.may_see(call.who)
    groups = purchases.lots_to_buy(call.session)
    return Answer(
        {
            "items": [{"source": source, "lots": [_bought(line, sees) for line in lines]} for source, lines in groups],
            "wood_short": [_short(one) for one in purchases.wood_short(call.session)],
            "sawing_yield": purchases.sawing_yield(call.session),
        }
    )


def to_buy_paper(call: Call) -> Answer:
    shop = _shop(call)

    def said(amount: Decimal) -> str:
        return prices.money(amount, shop.currency)

    job = purchase_job(call.session, shop, shop.units, said if costs.may_see(call.who) else None)
    return pdf(call.around.press.print(job), "to-buy")


def count_paper(call: Call) -> Answer:
    kind = call.choice("kind", [*(str(one) for one in StockKind), ""], "")
    job = count_job(call.session, _shop(call), StockKind(kind) if kind else None, kind)
    return pdf(call.around.press.print(job), "count-sheet")


def _shop(call: Call) -> Shop:
    return finding.find(call.session, Shop, 1, "shop")


def _need(one: demand.Need) -> dict[str, Any]:
    sizes = {name: getattr(one.size, name) for name in ("length", "width", "thickness")}
    said = {name: getattr(one, name) for name in ("count", "found", "short", "why", "order", "wanted")}
    return {"species_id": one.species.id, "wood": one.species.name, **sizes, **said}


def _plan(one: CuttingPlan) -> dict[str, Any]:
    return row(one, under_way=claims.under_way(one))


def _bought(line: purchases.ToBuy, sees: bool) -> dict[str, Any]:
    said = row(line.lot.item, free=line.lot.free, quantity=line.quantity, why=line.why)
    return said | ({"cost": plain(line.cost)} if sees else {})


def _short(one: purchases.WoodShort) -> dict[str, Any]:
    said = {name: getattr(one, name) for name in ("halves", "longest", "volume", "on_boards")}
    return {
        "species_id": one.species.id,
        "wood": one.species.name,
        **said,
        "needs": [_need(need) for need in one.needs],
    }


_LOT, _PLAN = "/stock/{id:int}", "/cutting-plans/{id:int}"
O, W = Scope.OFFICE, Scope.WORK  # noqa: E741
_PAGE, _PLANS = "/stock/{item_id}", "/stock/plans"
WAYS = [
    Way(
        "POST",
        _LOT + "/moisture",
        "Write a moisture reading down",
        read_moisture,
        W,
        ReadMoisture,
        "moisture_reading",
        does=(_PAGE + "/moisture",),
    ),
    Way(
        "POST",
        _LOT + "/flaws",
        "Mark a flaw of a board",
        add_flaw,
        W,
        FlawAsked,
        "board_flaw",
        does=(_PAGE + "/flaws",),
    ),
    Way(
        "POST",
        _LOT + "/flaws/{flaw:int}/gone",
        "A flaw is gone",
        remove_flaw,
        W,
        shows="flaw",
        does=(_PAGE + "/flaws/{flaw_id}/gone",),
    ),
    Way("POST", _LOT + "/saw", "Record that a board was sawn", saw, W, Sawn, "sawing", does=(_PAGE + "/saw",)),
    Way(
        "POST",
        "/stock/counts",
        "Write down a count of many lots",
        count_sheet,
        O,
        Sheet,
        "counted",
        does=("/stock/count",),
    ),
    Way(
        "GET",
        "/stock/count.pdf",
        "A sheet to count by",
        count_paper,
        query={"kind": f"one of {', '.join(StockKind)}"},
        gives=PDF,
        does=("/stock/count.pdf",),
    ),
    Way(
        "GET",
        "/halves-wanted",
        "Halves that orders and the shelf need, and what is short",
        needed,
        shows="need",
        listed=True,
        does=(_PLANS,),
    ),
    Way(
        "POST",
        "/halves-wanted",
        "Want halves to lie ready",
        add_wanted,
        W,
        WantedAsked,
        "wanted_halves",
        does=("/stock/wanted",),
    ),
    Way(
        "POST",
        "/halves-wanted/{wanted:int}/drop",
        "Want them no longer",
        drop_wanted,
        W,
        shows="wanted",
        does=("/stock/wanted/{wanted_id}/drop",),
    ),
    Way("GET", "/cutting-plans", "The newest cutting plans", plans, shows="cutting_plan", listed=True, does=(_PLANS,)),
    Way(
        "POST",
        "/cutting-plans",
        "Have a cutting plan reckoned",
        start_plan,
        W,
        PlanAsked,
        "cutting_plan",
        does=(_PLANS,),
    ),
    Way("GET", _PLAN, "A cutting plan, and how far it is", plan, shows="cutting_plan", does=(_PLANS + "/{plan_id}",)),
    Way(
        "POST",
        _PLAN + "/accept",
        "Take a cutting plan as the one to saw by",
        accept_plan,
        W,
        shows="cutting_plan",
        does=(_PLANS + "/{plan_id}/accept",),
    ),
    Way(
        "GET",
        _PLAN + "/plan.pdf",
        "A cutting plan to take to the saw",
        plan_paper,
        gives=PDF,
        does=(_PLANS + "/{plan_id}/plan.pdf",),
    ),
    Way("GET", "/to-buy", "What to buy, by source", to_buy, shows="to_buy", listed=True, does=("/stock/to-buy",)),
    Way("GET", "/to-buy.pdf", "What to buy, as a paper", to_buy_paper, gives=PDF, does=("/stock/to-buy.pdf",)),
]
