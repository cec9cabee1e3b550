"""The flutes of an order: added, changed, left out, given a pattern, priced."""

from typing import Any

from webapp.api.order_shown import PRICE, shown
from webapp.api.ways import Answer, Call, Way, row
from webapp.models import Order, OrderedFlute
from webapp.shop.costs import flute_price
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import flutes as ordered_flutes, price_customs, rules as orders
from webapp.shop.orders.forms import ChangeFlute, ChoosePattern, FurtherFlutes, LeaveOut
from webapp.shop.orders.prices import Margin
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.forms import DesignAsked, SavePattern
from webapp.shop.people.tokens import Scope


class FlutesAsked(FurtherFlutes):
    """Further flutes; `version` is that of the order as it was seen."""

    version: int


class DesignForFlute(DesignAsked, SavePattern):
    """A pattern designed for a flute of an order and kept; `version` is that of the order as it was seen."""

    version: int


def add(call: Call) -> Answer:
    asked = call.asked(FlutesAsked)
    further = FurtherFlutes.model_construct(**asked.model_dump(exclude={"version"}))
    return shown(call, orders.add_flutes(call.session, call.who, call.number("number"), further, asked.version))


def change(call: Call) -> Answer:
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.change_flute(call.session, call.who, number, flute, call.asked(ChangeFlute))
    return _order(call)


def leave_out(call: Call) -> Answer:
    asked = call.asked(LeaveOut)
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.leave_out(call.session, call.who, number, flute, asked.version, asked.why)
    return _order(call)


def choose_pattern(call: Call) -> Answer:
    asked = call.asked(ChoosePattern)
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.choose_pattern(call.session, call.who, number, flute, asked.revision_id, asked.version)
    return _order(call)


def design(call: Call) -> Answer:
    """Both the pattern and the choice of it, or neither."""
    asked = call.asked(DesignForFlute)
    number, flute = call.number("number"), call.number("flute")
    ordered_flutes.flute_of(call.session, orders.order_of(call.session, number), flute)
    made = patterns.save_pattern(call.session, call.who, asked, asked)
    assert made.id is not None
    ordered_flutes.choose_pattern(call.session, call.who, number, flute, made.id, asked.version)
    return _order(call)


def show_price(call: Call) -> Answer:
    """With `options`: what it would come to with these, nothing changed."""
    order, flute = _flute(call)
    return _priced(call, order, flute, call.query_ids("options") if "options" in call.query else None)


def agree_price(call: Call) -> Answer:
    flute_price.agree(call.session, call.who, call.number("number"), call.number("flute"), call.asked(PriceAsked))
    order, flute = _flute(call)
    return _priced(call, order, flute, None)


def _priced(call: Call, order: Order, flute: OrderedFlute, options: list[int] | None) -> Answer:
    found = flute_price.show(call.session, order, flute, options)
    has = flute_price.chosen(call.session, [flute.id]).get(flute.id or 0, [])
    return Answer(
        {
            "price": plain(flute.price),
            "price_why": flute.price_why,
            "currency": order.currency,
            "options": [row(one) for one in has],
            "offered": [row(one) for one in price_customs.options(call.session, offered_only=True)],
            "built_up": found.built.to_json(),
            "margin": _margin(found.margin),
            "recorded": _margin(found.recorded) if found.recorded else None,
            "missing": list(found.missing),
        },
        order.version,
    )


def _margin(of: Margin) -> dict[str, Any]:
    return {name: plain(getattr(of, name)) for name in ("net", "cost", "left", "percent")}


def _flute(call: Call) -> tuple[Order, OrderedFlute]:
    order = orders.order_of(call.session, call.number("number"))
    return order, ordered_flutes.flute_of(call.session, order, call.number("flute"))


def _order(call: Call) -> Answer:
    return shown(call, orders.order_of(call.session, call.number("number")))


_ALL = "/orders/{number:int}/flutes"
_ONE = _ALL + "/{flute:int}"
_PAGE = "/orders/{number}/flutes/{flute_id}"
_ROW = "customer_order"
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way("POST", _ALL, "Add flutes", add, O, FlutesAsked, _ROW, does=("/orders/{number}/flutes/new",)),
    Way("PUT", _ONE, "Change a flute", change, O, ChangeFlute, _ROW, does=(_PAGE,)),
    Way("POST", _ONE + "/leave-out", "Leave a flute out", leave_out, O, LeaveOut, _ROW, does=(_PAGE + "/leave-out",)),
    Way(
        "POST",
        _ONE + "/pattern",
        "Choose the revision a flute is built from",
        choose_pattern,
        Scope.WORK,
        ChoosePattern,
        _ROW,
        does=(_PAGE + "/pattern",),
    ),
    Way(
        "POST",
        _ONE + "/design",
        "Design a pattern for a flute, keep it and build from it",
        design,
        Scope.WORK,
        DesignForFlute,
        _ROW,
        does=(_PAGE + "/design",),
    ),
    Way(
        "GET",
        _ONE + "/price",
        "How a flute's price is built up, and what it leaves the shop",
        show_price,
        shows="price",
        query={"options": "ids of options, with commas: what it would come to with these"},
        does=(PRICE,),
    ),
    Way("PUT", _ONE + "/price", "Agree a flute's price", agree_price, O, PriceAsked, "price", does=(PRICE,)),
]
