"""How an order leaves: its address, a gift or not, carrier and number; the sheet for a border."""

from typing import Annotated

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.rows import model_of, row
from webapp.api.frame.ways import OFFICE, way
from webapp.models import Parcel, Shop, Units
from webapp.paper.office.border_sheet import border_job, border_sheet
from webapp.shop.base import finding
from webapp.shop.orders import rules as orders
from webapp.shop.parcels import rules as parcels
from webapp.shop.parcels.rules import ParcelAsked

ParcelShown = model_of("ParcelShown", Parcel, goes_to=str, goes_to_address=str)
router = ways.router("parcels")


@router.get("/orders/{number:int}/parcel", **way("How an order leaves", "/orders/{number}/parcel", shows=ParcelShown))
def show(call: Look, number: int) -> Response:
    return _shown(call, number)


@router.put(
    "/orders/{number:int}/parcel",
    **way(
        "Say how an order leaves; the weight in grams, or with its unit",
        "/orders/{number}/parcel",
        scope=OFFICE,
        shows=ParcelShown,
    ),
)
def change(call: Change, number: int, asked: ParcelAsked) -> Response:
    parcels.change(call.session, call.who, number, asked)
    return _shown(call, number)


@router.get(
    "/orders/{number:int}/border.pdf",
    **way("The sheet for customs and plant health", "/orders/{number}/border.pdf", gives=PDF),
)
def border(
    call: Look,
    number: int,
    units: Annotated[Units | None, Query(description="the shop's own where they are not given")] = None,
) -> Response:
    order = orders.order_of(call.session, number)
    sheet = border_sheet(call.session, order, units or finding.find(call.session, Shop, 1, "shop").units)
    return call.pdf(call.around.press.print(border_job(sheet)), f"border-order-{number}")


def _shown(call: Call, number: int) -> Response:
    order = orders.order_of(call.session, number)
    parcel = parcels.of_order(call.session, order)
    name, address = parcels.to_whom(call.session, order)
    return call.answer(row(parcel, goes_to=name, goes_to_address=address), parcel.version)
