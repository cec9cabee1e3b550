"""Payments: recorded and reversed on their order; the whole ledger, and its file for an accounting program."""

from decimal import Decimal

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.orders import orders as order_page
from webapp.shop.base.finding import as_id
from webapp.shop.orders import payments, prices, rules as orders
from webapp.shop.orders.payments import PaymentAsked, PutRight

router = APIRouter()


@router.get("/payments")
def show(desk: View) -> Response:
    years = payments.years(desk.session)
    year = _year(desk) or (years[0] if years else orders.today(desk.session).year)
    rows = payments.ledger(desk.session, desk.who, year)
    totals: dict[str, Decimal] = {}
    for row in rows:
        totals[row.payment.currency] = totals.get(row.payment.currency, Decimal(0)) + row.payment.amount
    shown = {currency: prices.money(total, currency) for currency, total in sorted(totals.items())}
    return desk.render("orders/payments.html", rows=rows, year=year, years=years, totals=shown)


@router.get("/payments.csv")
def as_file(desk: View) -> Response:
    year = _year(desk)
    text = payments.as_csv(payments.ledger(desk.session, desk.who, year), desk.shop.decimal_comma)
    name = f"payments-{year}.csv" if year else "payments.csv"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    # With the mark by which spreadsheets know UTF-8.
    return Response("\N{ZERO WIDTH NO-BREAK SPACE}" + text, media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/orders/{number}/payments")
def record(desk: Act, number: int) -> Response:
    return desk.submit(
        lambda form: payments.record(desk.session, desk.who, number, form.read(PaymentAsked)),
        again=lambda form, status: order_page.page(desk, number, status, paying=form),
        to=f"/orders/{number}#money",
    )


@router.get("/orders/{number}/payments/{payment_id}")
def ask_put_right(desk: View, number: int, payment_id: int) -> Response:
    return _put_right(desk, number, payment_id, Form())


@router.post("/orders/{number}/payments/{payment_id}")
def put_right(desk: Act, number: int, payment_id: int) -> Response:
    return desk.submit(
        lambda form: payments.put_right(desk.session, desk.who, number, payment_id, form.read(PutRight)),
        again=lambda form, status: _put_right(desk, number, payment_id, form, status),
        to=f"/orders/{number}#money",
    )


def _put_right(desk: Desk, number: int, payment_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    row = payments.row_of(desk.session, order, payment_id)
    return desk.render("orders/put_right.html", status=status, order=order, row=row, form=form)


def _year(desk: Desk) -> int | None:
    year = as_id(desk.request.query_params.get("year", ""))
    return year if year and 1900 < year < 3000 else None
