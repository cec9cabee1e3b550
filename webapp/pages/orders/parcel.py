"""How an order leaves: its address, a gift or not, carrier and number; and the sheet for a border."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.papers import pdf, press
from webapp.pages.frame.patience import waits
from webapp.paper.office.border_sheet import border_job, border_sheet
from webapp.shop.orders import customers, rules as orders
from webapp.shop.parcels import rules as parcels
from webapp.shop.parcels.rules import COUNTRIES, ParcelAsked

router = APIRouter()


@router.get("/orders/{number}/parcel")
def ask(desk: View, number: int) -> Response:
    parcel = parcels.of_order(desk.session, orders.order_of(desk.session, number))
    return _page(desk, number, Form(parcels.as_typed(parcel, desk.who.units)))


@router.post("/orders/{number}/parcel")
def change(desk: Act, number: int) -> Response:
    return desk.submit(
        lambda form: parcels.change(desk.session, desk.who, number, form.read(ParcelAsked)),
        again=lambda form, status: _page(desk, number, form, status),
        to=f"/orders/{number}#parcel",
    )


@router.get("/orders/{number}/border.pdf")
@waits
def border(desk: View, number: int) -> Response:
    sheet = border_sheet(desk.session, orders.order_of(desk.session, number), desk.who.units)
    return pdf(press(desk).print(border_job(sheet)), f"border-order-{number}")


def _page(desk: Desk, number: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    return desk.render(
        "parcels/parcel.html",
        status=status,
        order=order,
        form=form,
        customer=customers.customer(desk.session, order.customer_id),
        countries=COUNTRIES,
    )
