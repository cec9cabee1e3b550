"""Invoices, credit notes and receipts, and the books by account and period."""

from datetime import date
from typing import Annotated

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.rows import listed, model_from, model_of, row, said
from webapp.api.frame.ways import OFFICE, way
from webapp.models import Bill, Bookkeeping
from webapp.paper.office.bills import bill_job
from webapp.paper.office.letters import paper_size
from webapp.shop.billing import books, numbers, rules as billing
from webapp.shop.billing.books import BookkeepingAsked
from webapp.shop.billing.rules import Credit
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import Version

CSV = "text/csv"
BillShown = model_of("BillShown", Bill, text=str)
TotalShown = model_from(books.Total, "TotalShown")
BookkeepingShown = model_of("BookkeepingShown", Bookkeeping, "id")
First = Annotated[date, Query(description="the first day")]
Last = Annotated[date, Query(description="the last day, counted in")]
router = ways.router("bills")


class BookkeepingNow(BookkeepingAsked):
    """How bills are to be numbered; `version` is the one that was seen."""

    version: int


@router.get(
    "/orders/{number:int}/bills",
    **way("Invoices, credit notes and receipts of an order", "/orders/{number}/bills", shows=listed(BillShown)),
)
def of_order(call: Look, number: int) -> Response:
    found = billing.of_order(call.session, orders.order_of(call.session, number))
    return call.answer({"items": [_row(bill) for bill in found]})


@router.post(
    "/orders/{number:int}/bills",
    **way("Issue an invoice", "/orders/{number}/bills", scope=OFFICE, shows=BillShown, status=201),
)
def invoice(call: Change, number: int, asked: Version) -> Response:
    return _made(call, number, billing.invoice(call.session, call.who, number, asked.version))


@router.post(
    "/orders/{number:int}/bills/{bill:int}/credit",
    **way(
        "Take an invoice back by a credit note",
        "/orders/{number}/bills/{bill_id}/credit",
        scope=OFFICE,
        shows=BillShown,
        status=201,
    ),
)
def credit(call: Change, number: int, bill: int, asked: Credit) -> Response:
    return _made(call, number, billing.credit(call.session, call.who, number, bill, asked))


@router.post(
    "/orders/{number:int}/payments/{payment:int}/receipt",
    **way(
        "A receipt of a payment; the same one where there is one",
        "/orders/{number}/bills/receipts/{payment_id}",
        scope=OFFICE,
        shows=BillShown,
        status=201,
    ),
)
def receipt(call: Change, number: int, payment: int) -> Response:
    return _made(call, number, billing.receipt(call.session, call.who, number, payment))


@router.get(
    "/orders/{number:int}/bills/{bill:int}.pdf",
    **way(
        "A bill as it was issued", "/orders/{number}/bills/{bill_id}.pdf", "/orders/{number}/bills/{bill_id}", gives=PDF
    ),
)
def printed(call: Look, number: int, bill: int) -> Response:
    found = billing.bill_of(call.session, orders.order_of(call.session, number), bill)
    return call.pdf(call.around.press.print(bill_job(found, paper_size(call.session))), numbers.text(found))


@router.get("/books", **way("The books of a period, by account", "/books", shows=listed(TotalShown)))
def totals(call: Look, first: First, last: Last) -> Response:
    lines = books.postings(call.session, call.who, first, last)
    return call.answer({"items": [said(one) for one in books.totals(call.session, lines)]})


@router.get("/books.csv", **way("The books of a period, for an accountant", "/books.csv", gives=CSV))
def as_csv(call: Look, first: First, last: Last) -> Response:
    """Every posting: date, document, account, debit, credit; both are equal within each document."""
    text = books.as_csv(call.session, books.postings(call.session, call.who, first, last))
    # With the mark by which spreadsheets know UTF-8.
    return call.file(f"\N{ZERO WIDTH NO-BREAK SPACE}{text}".encode(), CSV, f"books-{first}-{last}.csv")


@router.get("/books/settings", **way("How bills and accounts are numbered", "/books/settings", shows=BookkeepingShown))
def settings(call: Look) -> Response:
    return _settings(call)


@router.put(
    "/books/settings",
    **way("Change how bills and accounts are numbered", "/books/settings", scope=OFFICE, shows=BookkeepingShown),
)
def change_settings(call: Change, asked: BookkeepingNow) -> Response:
    books.change(call.session, call.who, asked)
    return _settings(call)


def _settings(call: Call) -> Response:
    known = numbers.bookkeeping(call.session)
    shown = {"numbering": str(known.numbering), "accounts": known.accounts, "version": known.version}
    return call.answer(shown, known.version)


def _made(call: Call, number: int, bill: Bill) -> Response:
    return call.answer(_row(bill), location=f"/api/v1/orders/{number}/bills")


def _row(bill: Bill) -> dict[str, object]:
    return row(bill, text=numbers.text(bill))
