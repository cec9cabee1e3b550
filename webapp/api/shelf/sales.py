"""Flutes sold on the spot and at outlets: what lies where, what was sold, what is owed."""

from decimal import Decimal

from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.rows import Exact, Row, listed, made, many, model_of, row
from webapp.api.frame.ways import OFFICE, way
from webapp.models import Outlet, ShelfSale
from webapp.shop.exchange.exporting import plain
from webapp.shop.shelf import outlets, sales
from webapp.shop.shelf.outlets import Bring, OutletAsked, Sold, Stands
from webapp.shop.shelf.sales import SellAsked, TakeBackSale

SaleShown = model_of("SaleShown", ShelfSale, serial=str, order=int, owed=Exact)
LyingShown = made("LyingShown", "A flute that lies at an outlet.", serial=str, since=str)
OutletShown = model_of("OutletShown", Outlet, lying=many(LyingShown), sold=many(SaleShown), owed=Exact)
SoldShown = model_of("SoldShown", ShelfSale)
router = ways.router("sales")


@router.get("/outlets", **way("Outlets, what lies and sold there", "/shelf/outlets", shows=listed(OutletShown)))
def find(call: Look) -> Response:
    return call.answer({"items": [_stands(one) for one in outlets.stands(call.session)]})


@router.post("/outlets", **way("Add an outlet", "/shelf/outlets", scope=OFFICE, shows=OutletShown, status=201))
def add(call: Change, asked: OutletAsked) -> Response:
    new = outlets.save(call.session, call.who, None, asked)
    return _one(call, new.id or 0, f"/api/v1/outlets/{new.id}")


@router.get("/outlets/{id:int}", **way("One outlet", "/shelf/outlets/{outlet_id}", shows=OutletShown))
def show(call: Look, id: int) -> Response:
    outlets.outlet(call.session, id)
    return _one(call, id)


@router.put("/outlets/{id:int}", **way("Change it", "/shelf/outlets/{outlet_id}", scope=OFFICE, shows=OutletShown))
def change(call: Change, id: int, asked: OutletAsked) -> Response:
    outlets.save(call.session, call.who, id, asked)
    return _one(call, id)


@router.post(
    "/outlets/{id:int}/bring",
    **way("A flute lies there now", "/shelf/outlets/{outlet_id}/bring", scope=OFFICE, shows=OutletShown),
)
def bring(call: Change, id: int, asked: Bring) -> Response:
    outlets.bring(call.session, call.who, id, asked)
    return _one(call, id)


@router.post(
    "/outlets/{id:int}/fetch",
    **way("A flute came back", "/shelf/outlets/{outlet_id}/fetch", scope=OFFICE, shows=OutletShown),
)
def fetch(call: Change, id: int, asked: Bring) -> Response:
    outlets.fetch(call.session, call.who, id, asked)
    return _one(call, id)


@router.get("/sales", **way("What was sold from the shelf", "/shelf/sales", shows=listed(SaleShown)))
def find_sales(call: Look) -> Response:
    return call.answer({"items": [_sale(one) for one in outlets.sales(call.session)]})


@router.post(
    "/sales",
    **way(
        "Sell a flute of the shelf, on the spot or at an outlet",
        "/shelf/sales",
        "/shelf/outlets/{outlet_id}/sold",
        scope=OFFICE,
        shows=SoldShown,
        status=201,
    ),
)
def sell(call: Change, asked: SellAsked) -> Response:
    sale = sales.sell(call.session, call.who, asked)
    return call.answer(row(sale), location=f"/api/v1/sales/{sale.id}")


@router.post(
    "/sales/{id:int}/take-back",
    **way("Take a sale back", "/shelf/sales/{sale_id}", scope=OFFICE, shows=SoldShown),
)
def take_back(call: Change, id: int, asked: TakeBackSale) -> Response:
    return call.answer(row(sales.take_back(call.session, call.who, id, asked)))


def _sale(one: Sold) -> Row:
    return row(one.sale, serial=one.serial, order=one.order, owed=plain(one.owed))


def _stands(one: Stands) -> Row:
    lying = [{"serial": flute.seen.blank.serial, "since": plain(flute.said.since)} for flute in one.lying]
    owed: Decimal = one.owed
    return row(one.outlet, lying=lying, sold=[_sale(sold) for sold in one.sold], owed=plain(owed))


def _one(call: Call, outlet_id: int, location: str | None = None) -> Response:
    [stands] = [one for one in outlets.stands(call.session) if one.outlet.id == outlet_id]
    return call.answer(_stands(stands), stands.outlet.version, location)
