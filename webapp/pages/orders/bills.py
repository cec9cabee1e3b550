"""Invoices, credit notes and receipts of an order: issued, taken back."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.orders import orders as order_page
from webapp.shop.billing import numbers, rules as billing
from webapp.shop.billing.rules import Credit
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import Version

router = APIRouter()


@router.post("/orders/{number}/bills")
def invoice(desk: Act, number: int) -> Response:
    return desk.submit(
        lambda form: billing.invoice(desk.session, desk.who, number, form.read(Version).version),
        again=lambda form, status: order_page.page(desk, number, status, refused=order_page.why_not(form)),
        to=f"/orders/{number}#papers",
    )


@router.post("/orders/{number}/bills/receipts/{payment_id}")
def receipt(desk: Act, number: int, payment_id: int) -> Response:
    return desk.submit(
        lambda form: billing.receipt(desk.session, desk.who, number, payment_id),
        again=lambda form, status: order_page.page(desk, number, status, refused=order_page.why_not(form)),
        to=f"/orders/{number}#papers",
    )


@router.get("/orders/{number}/bills/{bill_id}/credit")
def ask_credit(desk: View, number: int, bill_id: int) -> Response:
    return _credit(desk, number, bill_id, Form())


@router.post("/orders/{number}/bills/{bill_id}/credit")
def credit(desk: Act, number: int, bill_id: int) -> Response:
    return desk.submit(
        lambda form: billing.credit(desk.session, desk.who, number, bill_id, form.read(Credit)),
        again=lambda form, status: _credit(desk, number, bill_id, form, status),
        to=f"/orders/{number}#papers",
    )


def _credit(desk: Desk, number: int, bill_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    bill = billing.bill_of(desk.session, order, bill_id)
    return desk.render(
        "orders/credit.html", status=status, order=order, bill=bill, number=numbers.text(bill), form=form
    )
