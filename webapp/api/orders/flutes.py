"""The flutes of an order: added, changed, left out, given a pattern, priced."""

from typing import Annotated, Any

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import ids
from webapp.api.frame.rows import Exact, made, many, model_from, row, row_of
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.api.orders.order_shown import OrderShown, shown
from webapp.models import ChosenOption, FluteOption
from webapp.shop.costs import flute_price
from webapp.shop.costs.flute_price import PriceAsked
from webapp.shop.exchange.exporting import plain
from webapp.shop.orders import flutes as ordered_flutes, price_customs, rules as orders
from webapp.shop.orders.forms import ChangeFlute, ChoosePattern, FurtherFlutes, LeaveOut
from webapp.shop.orders.prices import BuiltUp, Margin
from webapp.shop.patterns import rules as patterns
from webapp.shop.patterns.forms import DesignAsked, SavePattern

MarginShown = model_from(Margin, "MarginShown", left=Exact, percent=Exact | None)
BuiltUpShown = model_from(BuiltUp, "BuiltUpShown")
Options = Annotated[
    list[str] | None, Query(description="ids of options, with commas: what it would come to with these")
]


PriceShown = made(
    "PriceShown",
    "How a flute's price is built up, and what it leaves the shop.",
    price=Exact,
    price_why=str,
    currency=str,
    options=many(row_of(ChosenOption)),
    offered=many(row_of(FluteOption)),
    built_up=BuiltUpShown,
    margin=MarginShown,
    recorded=MarginShown | None,
    missing=list[str],
)


router = ways.router("flutes")


class FlutesAsked(FurtherFlutes):
    """Further flutes; `version` is that of the order as it was seen."""

    version: int


class DesignForFlute(DesignAsked, SavePattern):
    """A pattern designed for a flute of an order and kept; `version` is that of the order as it was seen."""

    version: int


@router.post(
    "/orders/{number:int}/flutes", **way("Add flutes", "/orders/{number}/flutes/new", scope=OFFICE, shows=OrderShown)
)
def add(call: Change, number: int, asked: FlutesAsked) -> Response:
    further = FurtherFlutes.model_construct(**asked.model_dump(exclude={"version"}))
    return shown(call, orders.add_flutes(call.session, call.who, number, further, asked.version))


@router.put(
    "/orders/{number:int}/flutes/{flute:int}",
    **way("Change a flute", "/orders/{number}/flutes/{flute_id}", scope=OFFICE, shows=OrderShown),
)
def change(call: Change, number: int, flute: int, asked: ChangeFlute) -> Response:
    ordered_flutes.change_flute(call.session, call.who, number, flute, asked)
    return _order(call, number)


@router.post(
    "/orders/{number:int}/flutes/{flute:int}/leave-out",
    **way("Leave a flute out", "/orders/{number}/flutes/{flute_id}/leave-out", scope=OFFICE, shows=OrderShown),
)
def leave_out(call: Change, number: int, flute: int, asked: LeaveOut) -> Response:
    ordered_flutes.leave_out(call.session, call.who, number, flute, asked.version, asked.why)
    return _order(call, number)


@router.post(
    "/orders/{number:int}/flutes/{flute:int}/pattern",
    **way(
        "Choose the revision a flute is built from",
        "/orders/{number}/flutes/{flute_id}/pattern",
        scope=WORK,
        shows=OrderShown,
    ),
)
def choose_pattern(call: Change, number: int, flute: int, asked: ChoosePattern) -> Response:
    ordered_flutes.choose_pattern(call.session, call.who, number, flute, asked.revision_id, asked.version)
    return _order(call, number)


@router.post(
    "/orders/{number:int}/flutes/{flute:int}/design",
    **way(
        "Design a pattern for a flute, keep it and build from it",
        "/orders/{number}/flutes/{flute_id}/design",
        scope=WORK,
        shows=OrderShown,
    ),
)
def design(call: Change, number: int, flute: int, asked: DesignForFlute) -> Response:
    """Both the pattern and the choice of it, or neither."""
    ordered_flutes.flute_of(call.session, orders.order_of(call.session, number), flute)
    made = patterns.save_pattern(call.session, call.who, asked, asked)
    assert made.id is not None
    ordered_flutes.choose_pattern(call.session, call.who, number, flute, made.id, asked.version)
    return _order(call, number)


@router.get(
    "/orders/{number:int}/flutes/{flute:int}/price",
    **way(
        "How a flute's price is built up, and what it leaves the shop",
        "/orders/{number}/flutes/{flute_id}/price",
        shows=PriceShown,
    ),
)
def show_price(call: Look, number: int, flute: int, options: Options = None) -> Response:
    """With `options`: what it would come to with these, nothing changed."""
    return _priced(call, number, flute, None if options is None else ids("options", options))


@router.put(
    "/orders/{number:int}/flutes/{flute:int}/price",
    **way("Agree a flute's price", "/orders/{number}/flutes/{flute_id}/price", scope=OFFICE, shows=PriceShown),
)
def agree_price(call: Change, number: int, flute: int, asked: PriceAsked) -> Response:
    flute_price.agree(call.session, call.who, number, flute, asked)
    return _priced(call, number, flute, None)


def _priced(call: Call, number: int, flute_id: int, options: list[int] | None) -> Response:
    order = orders.order_of(call.session, number)
    flute = ordered_flutes.flute_of(call.session, order, flute_id)
    found = flute_price.show(call.session, order, flute, options)
    has = flute_price.chosen(call.session, [flute.id]).get(flute.id or 0, [])
    return call.answer(
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


def _order(call: Call, number: int) -> Response:
    return shown(call, orders.order_of(call.session, number))
