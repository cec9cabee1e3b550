"""Stock: lots, their movements, woods and adhesives."""

from typing import Any

from sqlmodel import select

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Adhesive, StockItem, StockKind
from webapp.shop import stock, stock_list, woods
from webapp.shop.stock_forms import Correct, Count, LotAsked, NewLot, Receive, TakeOut
from webapp.shop.stock_list import Lot
from webapp.shop.tokens import Scope


def find(call: Call) -> Answer:
    kind = call.choice("kind", [*(str(one) for one in StockKind), ""], "")
    used_up = call.choice("used_up", ["yes", "no"], "no") == "yes"
    found = stock_list.shelf(call.session, StockKind(kind) if kind else None, used_up, call.query_id("species"))
    return Answer({"items": [_lot(one) for one in found]})


def show(call: Call) -> Answer:
    item = stock.item_of(call.session, call.number("id"))
    assert item.id is not None
    moved = rows(line.movement for line in stock_list.movements(call.session, item.id))
    return Answer(_lot(stock_list.lot(call.session, item)) | {"movements": moved})


def add(call: Call) -> Answer:
    made = stock.add_lot(call.session, call.who, call.asked(NewLot))
    return Answer(_shown(call, made), location=f"/api/v1/stock/{made.id}")


def relabel(call: Call) -> Answer:
    return Answer(_shown(call, stock.relabel(call.session, call.who, call.number("id"), call.asked(LotAsked))))


def receive(call: Call) -> Answer:
    return Answer(row(stock.receive(call.session, call.who, call.number("id"), call.asked(Receive))))


def take_out(call: Call) -> Answer:
    return Answer(row(stock.take_out(call.session, call.who, call.number("id"), call.asked(TakeOut))))


def count(call: Call) -> Answer:
    return Answer(row(stock.count(call.session, call.who, call.number("id"), call.asked(Count))))


def correct(call: Call) -> Answer:
    return Answer(row(stock.correct(call.session, call.who, call.number("movement"), call.asked(Correct))))


def all_woods(call: Call) -> Answer:
    return Answer({"items": rows(woods.woods(call.session))})


def adhesives(call: Call) -> Answer:
    return Answer({"items": rows(call.session.exec(select(Adhesive).order_by(Adhesive.name)))})


def _shown(call: Call, item: StockItem) -> dict[str, Any]:
    return _lot(stock_list.lot(call.session, item))


def _lot(one: Lot) -> dict[str, Any]:
    return row(one.item, there=one.there, spoken_for=one.spoken_for, free=one.free)


_ONE = "/stock/{id:int}"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/stock",
        "Lots on the shelf",
        find,
        shows="stock_item",
        listed=True,
        query={"kind": f"one of {', '.join(StockKind)}", "used_up": "yes or no", "species": "a wood's id"},
    ),
    Way("GET", _ONE, "One lot, with its movements", show, shows="stock_item"),
    Way("POST", "/stock", "A new lot", add, O, NewLot, "stock_item"),
    Way("PUT", _ONE, "Change a lot's label", relabel, O, LotAsked, "stock_item"),
    Way("POST", _ONE + "/receive", "More came in", receive, O, Receive, "stock_movement"),
    Way("POST", _ONE + "/take-out", "Some was used or spoilt", take_out, O, TakeOut, "stock_movement"),
    Way("POST", _ONE + "/count", "Write down a count", count, O, Count, "stock_movement"),
    Way("POST", "/movements/{movement:int}/correct", "Put a movement right", correct, O, Correct, "stock_movement"),
    Way("GET", "/woods", "Woods, with what to watch", all_woods, shows="species", listed=True),
    Way("GET", "/adhesives", "Adhesives and their times", adhesives, shows="adhesive", listed=True),
]
