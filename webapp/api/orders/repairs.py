"""Repairs, retuning and checks: orders on a flute that exists."""

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.rows import row, row_of
from webapp.api.frame.ways import OFFICE, WORK, way
from webapp.api.orders.order_shown import OrderShown, shown, taken
from webapp.models import Repair
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import LeaveOut, Version
from webapp.shop.production import repairs
from webapp.shop.production.repairs import ChangeRepair, Found, FurtherRepair, TakeRepair

router = ways.router("repairs")


@router.post(
    "/orders/repair",
    **way("Take an order for a repair", "/orders/repair", scope=OFFICE, shows=OrderShown, status=201),
)
def take(call: Change, asked: TakeRepair) -> Response:
    return taken(call, repairs.take(call.session, call.who, asked))


@router.post(
    "/orders/{number:int}/repairs",
    **way("Add a repair", "/orders/{number}/repairs/new", scope=OFFICE, shows=OrderShown),
)
def add(call: Change, number: int, asked: FurtherRepair) -> Response:
    return shown(call, repairs.add(call.session, call.who, number, asked))


@router.get(
    "/orders/{number:int}/repairs/{repair:int}",
    **way("One repair", "/orders/{number}/repairs/{repair_id}", shows=row_of(Repair)),
)
def show(call: Look, number: int, repair: int) -> Response:
    order = orders.order_of(call.session, number)
    return call.answer(row(repairs.repair_of(call.session, order, repair)), order.version)


@router.put(
    "/orders/{number:int}/repairs/{repair:int}",
    **way("Change a repair", "/orders/{number}/repairs/{repair_id}", scope=OFFICE, shows=row_of(Repair)),
)
def change(call: Change, number: int, repair: int, asked: ChangeRepair) -> Response:
    return call.answer(row(repairs.change(call.session, call.who, number, repair, asked)))


@router.post(
    "/orders/{number:int}/repairs/{repair:int}/leave-out",
    **way("Leave a repair out", "/orders/{number}/repairs/{repair_id}/leave-out", scope=OFFICE, shows=OrderShown),
)
def leave_out(call: Change, number: int, repair: int, asked: LeaveOut) -> Response:
    repairs.leave_out(call.session, call.who, number, repair, asked.version, asked.why)
    return shown(call, orders.order_of(call.session, number))


@router.post(
    "/orders/{number:int}/repairs/{repair:int}/begin",
    **way(
        "The flute came in: to the rack", "/orders/{number}/repairs/{repair_id}/begin", scope=WORK, shows=row_of(Repair)
    ),
)
def begin(call: Change, number: int, repair: int, asked: Version) -> Response:
    return call.answer(row(repairs.begin(call.session, call.who, number, repair, asked.version)))


@router.put(
    "/orders/{number:int}/repairs/{repair:int}/found",
    **way("What was found and done", "/orders/{number}/repairs/{repair_id}/found", scope=WORK, shows=row_of(Repair)),
)
def write_found(call: Change, number: int, repair: int, asked: Found) -> Response:
    return call.answer(row(repairs.write_found(call.session, call.who, number, repair, asked)))
