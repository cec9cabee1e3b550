"""Deposits, payments and refunds: rows that are only added, and the ledger for an accounting program."""

from webapp.api.ways import Answer, Call, File, Way, row
from webapp.shop.orders import payments
from webapp.shop.orders.payments import PaymentAsked, PutRight
from webapp.shop.people.tokens import Scope

CSV = "text/csv"


def record(call: Call) -> Answer:
    made = payments.record(call.session, call.who, call.number("number"), call.asked(PaymentAsked))
    return Answer(row(made), location=f"/api/v1/orders/{call.number('number')}")


def put_right(call: Call) -> Answer:
    number, payment = call.number("number"), call.number("payment")
    made = payments.put_right(call.session, call.who, number, payment, call.asked(PutRight))
    return Answer(row(made), location=f"/api/v1/orders/{number}")


def ledger(call: Call) -> Answer:
    found = payments.ledger(call.session, call.who, _year(call))
    return Answer(
        {"items": [row(one.payment, order=one.order.number, customer=one.customer, by_name=one.by) for one in found]}
    )


def as_csv(call: Call) -> Answer:
    year = _year(call)
    text = payments.as_csv(payments.ledger(call.session, call.who, year))
    # With the mark by which spreadsheets know UTF-8.
    content = f"\N{ZERO WIDTH NO-BREAK SPACE}{text}".encode()
    return Answer(None, file=File(content, CSV, f"payments-{year}.csv" if year else "payments.csv"))


def _year(call: Call) -> int | None:
    year = call.query_id("year")
    return year if year is None or 1900 <= year <= 9999 else 9999


_ORDER = "/orders/{number:int}/payments"
_YEAR = {"year": "one year; all of them where it is not given"}
O = Scope.OFFICE  # noqa: E741
WAYS = [
    Way(
        "GET",
        "/payments",
        "The ledger, oldest first",
        ledger,
        shows="payment",
        listed=True,
        query=_YEAR,
        does=("/payments",),
    ),
    Way(
        "GET",
        "/payments.csv",
        "The ledger for an accounting program",
        as_csv,
        query=_YEAR,
        gives=CSV,
        does=("/payments.csv",),
    ),
    Way("POST", _ORDER, "Record a payment", record, O, PaymentAsked, "payment", does=("/orders/{number}/payments",)),
    Way(
        "POST",
        _ORDER + "/{payment:int}/put-right",
        "Put a payment right",
        put_right,
        O,
        PutRight,
        "payment",
        does=("/orders/{number}/payments/{payment_id}",),
    ),
]
