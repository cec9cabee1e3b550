"""Stock: lots and their movements."""

from typing import Annotated, Any, Literal

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import Id
from webapp.api.frame.rows import Row, listed, many, model_of, row, row_of, rows
from webapp.api.frame.ways import OFFICE, way
from webapp.models import StockItem, StockKind, StockMovement
from webapp.shop.base.finding import find as find_row
from webapp.shop.base.marks import marked
from webapp.shop.people import amounts
from webapp.shop.stock import lists as stock_list, rules as stock
from webapp.shop.stock.forms import Correct, Count, LotAsked, NewLot, Receive, TakeOut
from webapp.shop.stock.lists import Lot

LotShown = model_of("LotShown", StockItem, there=float, spoken_for=float, free=float)
LotWhole = model_of(
    "LotWhole",
    StockItem,
    there=float,
    spoken_for=float,
    free=float,
    movements=many(row_of(StockMovement)),
)
router = ways.router("stock")


@router.get("/stock", **way("Lots on the shelf", "/stock", shows=listed(LotShown)))
def find(
    call: Look,
    kind: StockKind | Literal[""] = "",
    used_up: Literal["yes", "no"] = "no",
    species: Annotated[Id | None, Query(description="a wood's id")] = None,
) -> Response:
    found = stock_list.shelf(call.session, kind or None, used_up == "yes", species)
    return call.answer({"items": [_lot(one) for one in found]})


@router.get("/stock/{id:int}", **way("One lot, with its movements", "/stock/{item_id}", shows=LotWhole))
def show(call: Look, id: int) -> Response:
    item = stock.item_of(call.session, id)
    assert item.id is not None
    moved = rows(line.movement for line in stock_list.movements(call.session, item.id))
    return call.answer(_lot(stock_list.lot(call.session, item)) | {"movements": moved}, marked(_label(call, item)))


@router.post("/stock", **way("A new lot", "/stock/new", scope=OFFICE, shows=LotShown, status=201))
def add(call: Change, asked: NewLot) -> Response:
    made = stock.add_lot(call.session, call.who, asked)
    return call.answer(_shown(call, made), version=marked(_label(call, made)), location=f"/api/v1/stock/{made.id}")


@router.put(
    "/stock/{id:int}",
    **way("Change a lot's label", "/stock/{item_id}/label", scope=OFFICE, shows=LotShown, marked=True),
)
def relabel(call: Change, id: int, asked: LotAsked) -> Response:
    item = find_row(call.session, StockItem, id, stock.LOT, lock=True)
    call.must_be_as_seen(_label(call, item))
    made = stock.relabel(call.session, call.who, id, asked)
    return call.answer(_shown(call, made), marked(_label(call, made)))


@router.post(
    "/stock/{id:int}/receive",
    **way("More came in", "/stock/{item_id}/receive", scope=OFFICE, shows=row_of(StockMovement)),
)
def receive(call: Change, id: int, asked: Receive) -> Response:
    return call.answer(row(stock.receive(call.session, call.who, id, asked)))


@router.post(
    "/stock/{id:int}/take-out",
    **way("Some was used or spoilt", "/stock/{item_id}/take-out", scope=OFFICE, shows=row_of(StockMovement)),
)
def take_out(call: Change, id: int, asked: TakeOut) -> Response:
    return call.answer(row(stock.take_out(call.session, call.who, id, asked)))


@router.post(
    "/stock/{id:int}/count",
    **way("Write down a count", "/stock/{item_id}/count", scope=OFFICE, shows=row_of(StockMovement)),
)
def count(call: Change, id: int, asked: Count) -> Response:
    return call.answer(row(stock.count(call.session, call.who, id, asked)))


@router.post(
    "/movements/{movement:int}/correct",
    **way("Put a movement right", "/stock/{item_id}/correct/{movement_id}", scope=OFFICE, shows=row_of(StockMovement)),
)
def correct(call: Change, movement: int, asked: Correct) -> Response:
    return call.answer(row(stock.correct(call.session, call.who, movement, asked)))


def _shown(call: Call, item: StockItem) -> Row:
    return _lot(stock_list.lot(call.session, item))


def _lot(one: Lot) -> Row:
    return row(one.item, there=one.there, spoken_for=one.spoken_for, free=one.free)


def _label(call: Call, item: StockItem) -> dict[str, Any]:
    """What this person sees of a lot's label: what someone else may have changed meanwhile."""
    return amounts.visible(call.who.role, "stock_item", item.model_dump(include=set(LotAsked.model_fields)))
