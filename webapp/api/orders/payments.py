"""Deposits, payments and refunds: rows that are only added, and the ledger for an accounting program."""

from typing import Annotated

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Change, Look
from webapp.api.frame.fields import Id
from webapp.api.frame.rows import listed, model_of, row, row_of
from webapp.api.frame.ways import OFFICE, way
from webapp.models import Payment
from webapp.shop.orders import payments
from webapp.shop.orders.payments import PaymentAsked, PutRight

CSV = "text/csv"

LedgerLine = model_of("LedgerLine", Payment, order=int, customer=str, by_name=str)
Year = Annotated[Id | None, Query(description="one year; all of them where it is not given")]
router = ways.router("payments")


@router.post(
    "/orders/{number:int}/payments",
    **way("Record a payment", "/orders/{number}/payments", scope=OFFICE, shows=row_of(Payment), status=201),
)
def record(call: Change, number: int, asked: PaymentAsked) -> Response:
    made = payments.record(call.session, call.who, number, asked)
    return call.answer(row(made), location=f"/api/v1/orders/{number}")


@router.post(
    "/orders/{number:int}/payments/{payment:int}/put-right",
    **way(
        "Put a payment right", "/orders/{number}/payments/{payment_id}", scope=OFFICE, shows=row_of(Payment), status=201
    ),
)
def put_right(call: Change, number: int, payment: int, asked: PutRight) -> Response:
    made = payments.put_right(call.session, call.who, number, payment, asked)
    return call.answer(row(made), location=f"/api/v1/orders/{number}")


@router.get("/payments", **way("The ledger, oldest first", "/payments", shows=listed(LedgerLine)))
def ledger(call: Look, year: Year = None) -> Response:
    found = payments.ledger(call.session, call.who, _within(year))
    return call.answer(
        {"items": [row(one.payment, order=one.order.number, customer=one.customer, by_name=one.by) for one in found]}
    )


@router.get("/payments.csv", **way("The ledger for an accounting program", "/payments.csv", gives=CSV))
def as_csv(call: Look, year: Year = None) -> Response:
    year = _within(year)
    text = payments.as_csv(payments.ledger(call.session, call.who, year))
    # With the mark by which spreadsheets know UTF-8.
    content = f"\N{ZERO WIDTH NO-BREAK SPACE}{text}".encode()
    return call.file(content, CSV, f"payments-{year}.csv" if year else "payments.csv")


def _within(year: int | None) -> int | None:
    return year if year is None or 1900 <= year <= 9999 else 9999
