"""Stock: lots and their movements."""

from typing import Any

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import StockItem, StockKind
from webapp.shop.base.finding import find as find_row
from webapp.shop.base.marks import marked
from webapp.shop.people.tokens import Scope
from webapp.shop.stock import lists as stock_list, rules as stock
from webapp.shop.stock.forms import Correct, Count, LotAsked, NewLot, Receive, TakeOut
from webapp.shop.stock.lists import Lot


def find(call: Call) -> Answer:
    kind = call.choice("kind", [*(str(one) for one in StockKind), ""], "")
    used_up = call.choice("used_up", ["yes", "no"], "no") == "yes"
    found = stock_list.shelf(call.session, StockKind(kind) if kind else None, used_up, call.query_id("species"))
    return Answer({"items": [_lot(one) for one in found]})


def show(call: Call) -> Answer:
    item = stock.item_of(call.session, call.number("id"))
    assert item.id is not None
    moved = rows(line.movement for line in stock_list.movements(call.session, item.id))
    return Answer(_lot(stock_list.lot(call.session, item)) | {"movements": moved}, marked(_label(item)))


def add(call: Call) -> Answer:
    made = stock.add_lot(call.session, call.who, call.asked(NewLot))
    return Answer(_shown(call, made), version=marked(_label(made)), location=f"/api/v1/stock/{made.id}")


def relabel(call: Call) -> Answer:
    item = find_row(call.session, StockItem, call.number("id"), stock.LOT, lock=True)
    call.must_be_as_seen(_label(item))
    made = stock.relabel(call.session, call.who, call.number("id"), call.asked(LotAsked))
    return Answer(_shown(call, made), marked(_label(made)))


def receive(call: Call) -> Answer:
    return Answer(row(stock.receive(call.session, call.who, call.number("id"), call.asked(Receive))))


def take_out(call: Call) -> Answer:
    return Answer(row(stock.take_out(call.session, call.who, call.number("id"), call.asked(TakeOut))))


def count(call: Call) -> Answer:
    return Answer(row(stock.count(call.session, call.who, call.number("id"), call.asked(Count))))


def correct(call: Call) -> Answer:
    return Answer(row(stock.correct(call.session, call.who, call.number("movement"), call.asked(Correct))))


def _shown(call: Call, item: StockItem) -> dict[str, Any]:
    return _lot(stock_list.lot(call.session, item))


def _lot(one: Lot) -> dict[str, Any]:
    return row(one.item, there=one.there, spoken_for=one.spoken_for, free=one.free)


def _label(item: StockItem) -> dict[str, Any]:
    """What stands on a lot's label: what someone else may have changed meanwhile."""
    return item.model_dump(include=set(LotAsked.model_fields))


_ONE = "/stock/{id:int}"
O = Scope.OFFICE  # noqa: E741
_PAGE = "/stock/{item_id}"
WAYS = [
    Way(
        "GET",
        "/stock",
        "Lots on the shelf",
        find,
        shows="stock_item",
        listed=True,
        query={"kind": f"one of {', '.join(StockKind)}", "used_up": "yes or no", "species": "a wood's id"},
        does=("/stock",),
    ),
    Way("GET", _ONE, "One lot, with its movements", show, shows="stock_item", does=(_PAGE,)),
    Way("POST", "/stock", "A new lot", add, O, NewLot, "stock_item", does=("/stock/new",)),
    Way("PUT", _ONE, "Change a lot's label", relabel, O, LotAsked, "stock_item", does=(_PAGE + "/label",), marked=True),
    Way("POST", _ONE + "/receive", "More came in", receive, O, Receive, "stock_movement", does=(_PAGE + "/receive",)),
    Way(
        "POST",
        _ONE + "/take-out",
        "Some was used or spoilt",
        take_out,
        O,
        TakeOut,
        "stock_movement",
        does=(_PAGE + "/take-out",),
    ),
    Way("POST", _ONE + "/count", "Write down a count", count, O, Count, "stock_movement", does=(_PAGE + "/count",)),
    Way(
        "POST",
        "/movements/{movement:int}/correct",
        "Put a movement right",
        correct,
        O,
        Correct,
        "stock_movement",
        does=(_PAGE + "/correct/{movement_id}",),
    ),
]
