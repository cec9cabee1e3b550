"""Boards in the hand, halves that are wanted, cutting plans, and papers for a walk along the shelves."""

from dataclasses import asdict
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field
from starlette.responses import Response

from webapp import job_kinds
from webapp.api.frame import ways
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.rows import Exact, Shown, listed, made, many, model_from, model_of, row, row_of
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.drawings.sheet.canvas import Theme
from webapp.jobs import claims
from webapp.models import (
    BoardFlaw,
    CuttingPlan,
    MoistureReading,
    Sawing,
    Shop,
    StockItem,
    StockKind,
    WantedHalves,
)
from webapp.paper.shelf.cutting_sheet import cutting_job, pictures
from webapp.paper.shelf.shelf_sheets import count_job, purchase_job
from webapp.shop.base import finding
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.costs import rules as costs
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import prices
from webapp.shop.stock import counting
from webapp.shop.stock.forms import Counting
from webapp.shop.wood import boards, sawing
from webapp.shop.wood.boards import FlawAsked, ReadMoisture
from webapp.shop.wood.plans import demand, purchases, rules as cutting_plans, shown as plan_shown
from webapp.shop.wood.plans.demand import WantedAsked
from webapp.shop.wood.plans.rules import PlanAsked
from webapp.shop.wood.sawing import MOST_KINDS, Pieces, Saw


class GoneShown(Shown):
    """The flaw that is gone."""

    gone: int


class DroppedShown(Shown):
    """The halves that are no longer wanted."""

    dropped: int


class NeedShown(Shown):
    """Halves of one wood and least size that are needed, and how many of them are short."""

    species_id: int
    wood: str
    length: float
    width: float
    thickness: float
    count: int
    found: int
    short: int
    why: str
    order: int | None
    wanted: int | None


class WoodShortShown(Shown):
    """Halves of a wood that neither lie ready nor can be cut from the boards there are for sure."""

    species_id: int
    wood: str
    halves: int
    longest: float
    volume: float
    on_boards: float
    needs: list[NeedShown]


CountedShown = model_from(counting.Counted, "CountedShown")
UnplannedShown = model_from(demand.Unplanned, "UnplannedShown")
PlanShown = model_of("PlanShown", CuttingPlan, under_way=bool)
ToBuyShown = model_of("ToBuyShown", StockItem, free=float, quantity=float, why=str, cost=Exact)


SourceShown = made(
    "SourceShown",
    "What is to be bought of one source.",
    source=str,
    lots=many(ToBuyShown),
)


router = ways.router("wood")


class Sawn(Saw):
    """How a board was sawn, and what came off it; `plan_id` and `cut`: by which board of which cutting plan."""

    pieces: Annotated[list[Pieces], Field(min_length=1, max_length=MOST_KINDS)]
    plan_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None
    cut: Annotated[int, Field(ge=0, le=9999)] | None = None


class Sheet(BaseModel):
    """Counts of many lots; all of them are written down, or none."""

    lines: Annotated[list[Counting], Field(min_length=1, max_length=counting.MOST_LINES)]


@router.post(
    "/stock/{id:int}/moisture",
    **way("Write a moisture reading down", "/stock/{item_id}/moisture", scope=WORK, shows=row_of(MoistureReading)),
)
def read_moisture(call: Change, id: int, asked: ReadMoisture) -> Response:
    return call.answer(row(boards.read_moisture(call.session, call.who, id, asked)))


@router.post(
    "/stock/{id:int}/flaws",
    **way("Mark a flaw of a board", "/stock/{item_id}/flaws", scope=WORK, shows=row_of(BoardFlaw)),
)
def add_flaw(call: Change, id: int, asked: FlawAsked) -> Response:
    return call.answer(row(boards.add_flaw(call.session, call.who, id, asked)))


@router.post(
    "/stock/{id:int}/flaws/{flaw:int}/gone",
    **way("A flaw is gone", "/stock/{item_id}/flaws/{flaw_id}/gone", scope=WORK, shows=GoneShown),
)
def remove_flaw(call: Change, id: int, flaw: int) -> Response:
    boards.remove_flaw(call.session, call.who, id, flaw)
    return call.answer({"gone": flaw})


@router.post(
    "/stock/{id:int}/saw",
    **way("Record that a board was sawn", "/stock/{item_id}/saw", scope=WORK, shows=row_of(Sawing), status=201),
)
def saw(call: Change, id: int, asked: Sawn) -> Response:
    how = Saw.model_construct(**asked.model_dump(exclude={"pieces", "plan_id", "cut"}))
    of_plan = (asked.plan_id, asked.cut) if asked.plan_id is not None and asked.cut is not None else None
    made = sawing.saw(call.session, call.who, id, how, asked.pieces, of_plan)
    return call.answer(row(made), location=f"/api/v1/stock/{made.board_id}")


@router.post(
    "/stock/counts", **way("Write down a count of many lots", "/stock/count", scope=OFFICE, shows=CountedShown)
)
def count_sheet(call: Change, asked: Sheet) -> Response:
    made = counting.count_sheet(call.session, call.who, asked.lines)
    return call.answer(asdict(made))


@router.get(
    "/halves-wanted",
    **way(
        "Halves that orders and the shelf need, and what is short",
        "/stock/plans",
        shows=listed(NeedShown, without_pattern=many(UnplannedShown)),
    ),
)
def needed(call: Look) -> Response:
    """What open orders and the shelf need, and what of it is short."""
    found, unplanned = demand.needs(call.session)
    return call.answer({"items": [_need(one) for one in found], "without_pattern": [asdict(one) for one in unplanned]})


@router.post(
    "/halves-wanted",
    **way("Want halves to lie ready", "/stock/wanted", scope=WORK, shows=row_of(WantedHalves), status=201),
)
def add_wanted(call: Change, asked: WantedAsked) -> Response:
    return call.answer(row(demand.add_wanted(call.session, call.who, asked)), location="/api/v1/halves-wanted")


@router.post(
    "/halves-wanted/{wanted:int}/drop",
    **way("Want them no longer", "/stock/wanted/{wanted_id}/drop", scope=WORK, shows=DroppedShown),
)
def drop_wanted(call: Change, wanted: int) -> Response:
    demand.drop_wanted(call.session, call.who, wanted)
    return call.answer({"dropped": wanted})


@router.get("/cutting-plans", **way("The newest cutting plans", "/stock/plans", shows=listed(PlanShown)))
def plans(call: Look) -> Response:
    return call.answer({"items": [_plan(one) for one in cutting_plans.newest(call.session)]})


@router.post(
    "/cutting-plans",
    **way("Have a cutting plan calculated", "/stock/plans", scope=WORK, shows=PlanShown, status=201),
)
def start_plan(call: Change, asked: PlanAsked) -> Response:
    made = cutting_plans.ask(call.session, call.who, asked)
    assert made.id is not None
    call.commit()  # the process that calculates it must find it
    call.around.queue.enqueue(job_kinds.CUTTING_PLAN, made.id)
    return call.answer(_plan(made), location=f"/api/v1/cutting-plans/{made.id}")


@router.get(
    "/cutting-plans/{id:int}",
    **way("A cutting plan, and how far it is", "/stock/plans/{plan_id}", shows=PlanShown),
)
def plan(call: Look, id: int) -> Response:
    return call.answer(_plan(cutting_plans.plan_of(call.session, id)))


@router.post(
    "/cutting-plans/{id:int}/accept",
    **way(
        "Take a cutting plan as the one to saw by",
        "/stock/plans/{plan_id}/accept",
        scope=WORK,
        shows=PlanShown,
    ),
)
def accept_plan(call: Change, id: int) -> Response:
    return call.answer(_plan(cutting_plans.accept(call.session, call.who, id)))


@router.get(
    "/cutting-plans/{id:int}/plan.pdf",
    **way("A cutting plan to take to the saw", "/stock/plans/{plan_id}/plan.pdf", gives=PDF),
)
def plan_paper(call: Look, id: int) -> Response:
    made = cutting_plans.plan_of(call.session, id)
    if (found := plan_shown.shown(call.session, made)) is None:
        raise Refused("That plan has not been calculated to its end: there is nothing to print.")
    shop = _shop(call)
    drawn = pictures(shop.units, found, Theme.PAPER)
    return call.pdf(
        call.around.press.print(cutting_job(shop, shop.units, made, found, drawn)), f"cutting-plan-{made.id}"
    )


@router.get(
    "/to-buy",
    **way(
        "What to buy, by source",
        "/stock/to-buy",
        shows=listed(SourceShown, wood_short=many(WoodShortShown), sawing_yield=float),
    ),
)
def to_buy(call: Look) -> Response:
    groups = purchases.lots_to_buy(call.session)
    return call.answer(
        {
            "items": [{"source": source, "lots": [_bought(line) for line in lines]} for source, lines in groups],
            "wood_short": [_short(one) for one in purchases.wood_short(call.session)],
            "sawing_yield": purchases.sawing_yield(call.session),
        }
    )


@router.get("/to-buy.pdf", **way("What to buy, as a paper", "/stock/to-buy.pdf", gives=PDF))
def to_buy_paper(call: Look) -> Response:
    shop = _shop(call)

    def said(amount: Decimal) -> str:
        return prices.money(amount, shop.currency)

    job = purchase_job(call.session, shop, shop.units, said if costs.may_see(call.who) else None)
    return call.pdf(call.around.press.print(job), "to-buy")


@router.get("/stock/count.pdf", **way("A sheet to count by", "/stock/count.pdf", gives=PDF))
def count_paper(call: Look, kind: StockKind | Literal[""] = "") -> Response:
    job = count_job(call.session, _shop(call), kind or None, str(kind))
    return call.pdf(call.around.press.print(job), "count-sheet")


def _shop(call: Call) -> Shop:
    return finding.find(call.session, Shop, 1, "shop")


def _need(one: demand.Need) -> dict[str, Any]:
    sizes = {name: getattr(one.size, name) for name in ("length", "width", "thickness")}
    said = {name: getattr(one, name) for name in ("count", "found", "short", "why", "order", "wanted")}
    return {"species_id": one.species.id, "wood": one.species.name, **sizes, **said}


def _plan(one: CuttingPlan) -> dict[str, Any]:
    return row(one, under_way=claims.under_way(one))


def _bought(line: purchases.ToBuy) -> dict[str, Any]:
    return row(line.lot.item, free=line.lot.free, quantity=line.quantity, why=line.why, cost=plain(line.cost))


def _short(one: purchases.WoodShort) -> dict[str, Any]:
    said = {name: getattr(one, name) for name in ("halves", "longest", "volume", "on_boards")}
    return {
        "species_id": one.species.id,
        "wood": one.species.name,
        **said,
        "needs": [_need(need) for need in one.needs],
    }
