"""Flutes on the shelf: listed, priced, placed, taken by an order, given back."""

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.fields import Page, Serial
from webapp.api.frame.rows import Row, model_of, paged, row
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.api.orders.order_shown import OrderShown, shown
from webapp.models import ShelfFlute
from webapp.shop.blanks.state import by_serial
from webapp.shop.orders import rules as orders
from webapp.shop.shelf import lists as shelf_list, rules as shelf, taking
from webapp.shop.shelf.lists import OnShelf, Which
from webapp.shop.shelf.rules import ShelfAsked
from webapp.shop.shelf.taking import GiveBack, Take

ShelfFluteShown = model_of(
    "ShelfFluteShown", ShelfFlute, serial=str, key=str, wood=str, pattern=str, status=str, stage=str, order=int | None
)
router = ways.router("shelf")


@router.get("/shelf", **way("Flutes that no order has, the lowest key first", "/shelf", shows=paged(ShelfFluteShown)))
def find(call: Look, show: Which = Which.FINISHED, page: Page = 1) -> Response:
    found, more = shelf_list.listed(call.session, show, page)
    return call.page([_row(one) for one in found], page, more)


@router.get("/shelf/{serial}", **way("One of them, its price and place", "/shelf/{serial}", shows=ShelfFluteShown))
def one(call: Look, serial: Serial) -> Response:
    return _shown(call, serial)


@router.put(
    "/shelf/{serial}",
    **way("Say what it costs and where it lies", "/shelf/{serial}", scope=WORK, shows=ShelfFluteShown),
)
def change(call: Change, serial: Serial, asked: ShelfAsked) -> Response:
    shelf.change(call.session, call.who, serial, asked)
    return _shown(call, serial)


@router.post(
    "/orders/{number:int}/flutes/{flute:int}/shelf",
    **way(
        "Take a flute of the shelf for one of an order",
        "/orders/{number}/flutes/{flute_id}/shelf",
        scope=OFFICE,
        shows=OrderShown,
    ),
)
def take(call: Change, number: int, flute: int, asked: Take) -> Response:
    taking.take(call.session, call.who, number, flute, asked)
    return shown(call, orders.order_of(call.session, number))


@router.post(
    "/orders/{number:int}/flutes/{flute:int}/give-back",
    **way(
        "Give a flute of an order back to the shelf",
        "/orders/{number}/flutes/{flute_id}/give-back",
        scope=OFFICE,
        shows=OrderShown,
    ),
)
def give_back(call: Change, number: int, flute: int, asked: GiveBack) -> Response:
    taking.give_back(call.session, call.who, number, flute, asked)
    return shown(call, orders.order_of(call.session, number))


def _row(found: OnShelf) -> Row:
    blank = found.seen.blank
    return row(
        found.said,
        serial=blank.serial,
        key=blank.key,
        wood=found.seen.wood,
        pattern=found.seen.pattern,
        status=str(blank.status),
        stage=str(blank.stage),
        order=found.seen.order,
    )


def _shown(call: Call, serial: str) -> Response:
    found = shelf_list.one(call.session, by_serial(call.session, serial))
    return call.answer(_row(found), found.said.version)
