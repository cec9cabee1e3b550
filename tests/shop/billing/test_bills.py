"""Invoices, credit notes and receipts: numbers without gaps, words that stay, books that agree with a sum by hand."""

import csv
from datetime import UTC, date, datetime
from decimal import Decimal as Dec
from io import BytesIO, StringIO
from threading import Thread

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from pypdf import PdfReader
from sqlmodel import Session

from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat, version
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop, signed_in
from webapp.models import Bill, BillKind, Numbering, Order, OrderStatus, PaidBy, PaymentKind, TaxStatus, at
from webapp.shop.base.errors import NotAllowed, Refused, Stale
from webapp.shop.billing import books, numbers, rules as billing
from webapp.shop.billing.books import Account, BookkeepingAsked
from webapp.shop.billing.rules import Credit
from webapp.shop.orders import payments, price_customs, rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.orders.payments import PaymentAsked, PutRight
from webapp.shop.orders.price_customs import PricingAsked
from webapp.shop.people.tokens import Scope

MARCH = datetime(2031, 3, 3, 12, tzinfo=UTC)


def taken(session: Session, shop: OpenShop, count: int = 1) -> list[Order]:
    given = {"due_on": date(2031, 6, 2)}
    made = [orders.take_order(session, shop.office, asked(shop, **given)) for _ in range(count)]
    session.commit()
    return made


def pay(session: Session, shop: OpenShop, number: int, amount: str, kind: PaymentKind = PaymentKind.PAYMENT) -> int:
    given = PaymentAsked(amount=Dec(amount), kind=kind, paid_by=PaidBy.CASH, paid_on=orders.today(session))
    return payments.record(session, shop.office, number, given).id or 0


def test_an_invoice_stands_until_a_credit_note_takes_it_back(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session, at(MARCH):
        (order,) = taken(session, shop)
        with pytest.raises(NotAllowed):
            billing.invoice(session, shop.maker, 1, order.version)
        with pytest.raises(Stale):
            billing.invoice(session, shop.office, 1, order.version + 1)
        first = billing.invoice(session, shop.office, 1, order.version)
        assert (numbers.text(first), first.total) == ("I-2031-0001", Dec("240.00"))
        with pytest.raises(Refused, match="I-2031-0001 stands"):
            billing.invoice(session, shop.office, 1, order.version)
        posted = ChangeOrder(version=order.version, postage=Dec("12"), why="to be sent")
        orders.change_order(session, shop.office, 1, posted)
        assert first.content["total"] == "240.00", "what was issued stays"
        note = billing.credit(session, shop.office, 1, first.id or 0, Credit(why="The postage was missing"))
        assert (numbers.text(note), note.total, note.content["takes_back"]) == ("C-2031-0001", Dec(-240), "I-2031-0001")
        with pytest.raises(Refused, match="already"):
            billing.credit(session, shop.office, 1, first.id or 0, Credit(why="again"))
        with pytest.raises(Refused, match="credit note"):
            billing.credit(session, shop.office, 1, note.id or 0, Credit(why="again"))
        second = billing.invoice(session, shop.office, 1, order.version)
        assert (numbers.text(second), second.total) == ("I-2031-0002", Dec("252.00"))
        orders.take_order(session, shop.office, asked(shop, status=OrderStatus.ENQUIRY, due_on=None))
        with pytest.raises(Refused, match="once it is confirmed"):
            billing.invoice(session, shop.office, 2, 1)


def test_a_number_that_is_rolled_back_is_given_again_and_none_twice(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session, at(MARCH):
        taken(session, shop, 3)
    with pytest.raises(RuntimeError), shop.database.write() as session, at(MARCH):
        billing.invoice(session, shop.office, 1, 1)
        raise RuntimeError
    with shop.database.write() as session, at(MARCH):
        assert numbers.text(billing.invoice(session, shop.office, 2, 1)) == "I-2031-0001"
    with shop.database.write() as session, at(datetime(2032, 1, 2, 12, tzinfo=UTC)):
        assert numbers.text(billing.invoice(session, shop.office, 3, 1)) == "I-2032-0001"
        books.change(session, shop.office, BookkeepingAsked(numbering=Numbering.RUNNING))
        assert numbers.text(billing.invoice(session, shop.office, 1, 1)) == "I-0001"
        with pytest.raises(Stale):
            books.change(session, shop.office, BookkeepingAsked())


def test_at_once_from_several_screens_each_gets_a_number_of_its_own(open_shop: OpenShop) -> None:
    shop, count = open_shop, 6
    with shop.database.write() as session:
        taken(session, shop, count)

    def issue(number: int) -> None:
        with shop.database.write() as session:
            billing.invoice(session, shop.office, number, 1)

    several = [Thread(target=issue, args=(n,)) for n in range(1, count + 1)]
    for one in several:
        one.start()
    for one in several:
        one.join()
    with shop.database.read() as session:
        given = [bill.number for n in range(1, count + 1) for bill in billing.of_order(session, order(session, n))]
    assert sorted(given) == list(range(1, count + 1))


def order(session: Session, number: int) -> Order:
    return orders.order_of(session, number)


def test_a_receipt_is_one_for_each_payment(open_shop: OpenShop) -> None:
    shop = open_shop
    with shop.database.write() as session, at(MARCH):
        taken(session, shop)
        first, wrong = pay(session, shop, 1, "72", PaymentKind.DEPOSIT), pay(session, shop, 1, "10")
        payments.put_right(session, shop.office, 1, wrong, PutRight(why="another order's"))
        receipt = billing.receipt(session, shop.office, 1, first)
        assert billing.receipt(session, shop.office, 1, first).id == receipt.id
        assert (numbers.text(receipt), receipt.total) == ("R-2031-0001", Dec("72.00"))
        assert (receipt.content["kind"], receipt.content["still_open"]) == ("deposit", "168.00")
        with pytest.raises(Refused, match="reversed"):
            billing.receipt(session, shop.office, 1, wrong)


def test_the_books_agree_with_a_sum_by_hand(open_shop: OpenShop) -> None:
    """A year by hand: three orders of 240.00, one taxed at 20 %, one exported, one whose invoice is taken back."""
    shop = open_shop
    with shop.database.write() as session, at(MARCH):
        tax = {"tax_name": "VAT", "tax_percent": "20", "version": 1}
        price_customs.change(session, shop.office, PricingAsked.model_validate(tax))
        taken(session, shop, 3)
        free = ChangeOrder(version=1, tax_status=TaxStatus.EXPORT, why="to Norway")
        orders.change_order(session, shop.office, 2, free)
        session.commit()
        for number, seen in ((1, 1), (2, 2), (3, 1)):
            billing.invoice(session, shop.office, number, seen)
        wrong = billing.standing(session, order(session, 3))
        assert wrong is not None
        billing.credit(session, shop.office, 3, wrong.id or 0, Credit(why="cancelled"))
        pay(session, shop, 1, "100", PaymentKind.DEPOSIT)
        pay(session, shop, 1, "188")
        pay(session, shop, 2, "250")
        pay(session, shop, 2, "10", PaymentKind.REFUND)
        numbered = BookkeepingAsked(accounts={Account.SALES: "8400", Account.CASH: "=1000"})
        books.change(session, shop.office, numbered)
        lines = books.postings(session, shop.office, date(2031, 3, 1), date(2031, 3, 31))
        found = {(one.account.value, one.number): (one.debit, one.credit) for one in books.totals(session, lines)}
        # Owed: 288 + 240 + 288 invoiced, 288 taken back, 538 paid, 10 paid back. Sales: 240 + 240 taxed, 240 back.
        assert found == {
            ("owed by customers", ""): (Dec("826.00"), Dec("826.00")),
            ("sales", "8400"): (Dec("240.00"), Dec("480.00")),
            ("sales, export", ""): (Dec(0), Dec("240.00")),
            ("tax on sales", ""): (Dec("48.00"), Dec("96.00")),
            ("cash", "=1000"): (Dec("538.00"), Dec("10.00")),
        }
        assert books.postings(session, shop.office, date(2031, 4, 1), date(2031, 4, 30)) == []
        rows = list(csv.DictReader(StringIO(books.as_csv(session, lines), newline="")))
        by_document: dict[str, Dec] = {}
        for row in rows:
            sides = Dec(row["debit"] or 0) - Dec(row["credit"] or 0)
            by_document[row["document"]] = by_document.get(row["document"], Dec(0)) + sides
        assert len(by_document) == 8 and set(by_document.values()) == {Dec(0)}
        assert not any(row["account"].startswith("=") for row in rows), "no formula for a spreadsheet"
        with pytest.raises(NotAllowed):
            books.postings(session, shop.maker, date(2031, 1, 1), date(2031, 12, 31))


def test_the_page_issues_takes_back_and_prints(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        taken(session, open_shop)
        pay(session, open_shop, 1, "72", PaymentKind.DEPOSIT)
        session.commit()
    page = client.get("/orders/1").text
    page = client.post("/orders/1/bills", data={"version": version(page)}).text
    assert "Invoice I-" in flat(page) and "Issue an invoice" not in page
    assert client.post("/orders/1/bills", data={"version": version(page)}).status_code == 409
    pdf = text_of(client.get("/orders/1/bills/1.pdf").content)
    for words in ("Alder Lane Flutes", "Ada Thorne", "Flute in A4", "€240.00", "Paid so far", "€72.00", "€168.00"):
        assert words in pdf, words
    page = client.post("/orders/1/bills/receipts/1").text
    receipt = text_of(client.get("/orders/1/bills/2.pdf").content)
    assert "Received with thanks" in receipt and "€72.00" in receipt and "€168.00" in receipt
    assert client.post("/orders/1/bills/1/credit", data={"why": ""}).status_code == 422
    page = client.post("/orders/1/bills/1/credit", data={"why": "cancelled"}).text
    assert "Credit note C-" in flat(page) and "Issue an invoice" in page
    note = text_of(client.get("/orders/1/bills/3.pdf").content)
    assert "This takes back invoice I-" in note and "cancelled" in note
    assert client.get("/orders/1/bills/99.pdf").status_code == 404
    shown = flat(client.get("/books").text)
    assert "Owed by customers" in shown and "€240.00" in shown
    assert client.get("/books?first=2031-03-02&last=2031-03-01").status_code == 422
    assert client.get("/books?first=x&last=2031-03-01").status_code == 422
    saved = {"version": "1", "numbering": "running", "account_sales": "8400"}
    assert client.post("/books/settings", data=saved | {"account_cash": "x" * 21}).status_code == 422
    assert client.post("/books/settings", data=saved).status_code == 200
    assert "8400" in client.get("/books").text
    assert client.post("/books/settings", data=saved).status_code == 409
    maker = signed_in(client, "tam")
    for address in ("/books", "/books.csv", "/books/settings", "/orders/1/bills/1.pdf", "/orders/1/bills/1/credit"):
        assert maker.get(address).status_code == 403, address
    assert "Invoice I-" not in flat(maker.get("/orders/1").text)
    assert maker.post("/orders/1/bills", data={"version": "1"}).status_code == 403


def text_of(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).split())


def test_by_program(app: FastAPI, client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        taken(session, open_shop)
        pay(session, open_shop, 1, "72", PaymentKind.DEPOSIT)
        session.commit()
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    made = office.ask("POST", "/orders/1/bills", {"version": 1})
    assert made.status_code == 201 and made.json()["text"].startswith("I-")
    bill = made.json()["id"]
    assert office.ask("POST", "/orders/1/bills", {"version": 1}).status_code == 409
    assert office.ask("POST", "/orders/1/payments/1/receipt").json()["kind"] == "receipt"
    assert office.ask("POST", f"/orders/1/bills/{bill}/credit", {"why": "cancelled"}).json()["total"] == "-240.00"
    kinds = [one["kind"] for one in office.ask("GET", "/orders/1/bills").json()["items"]]
    assert kinds == ["credit note", "receipt", "invoice"]
    assert office.ask("GET", f"/orders/1/bills/{bill}.pdf").content.startswith(b"%PDF-")
    today = office.ask("GET", "/orders/1/bills").json()["items"][0]["issued_on"]
    items = office.ask("GET", f"/books?first={today}&last={today}").json()["items"]
    assert {one["account"]: one["debit"] for one in items}["cash"] == "72.00"
    assert office.ask("GET", f"/books.csv?first={today}&last={today}").status_code == 200
    settings = office.ask("GET", "/books/settings")
    wanted = {"numbering": "running", "accounts": {"cash": "1000"}}
    changed = office.ask("PUT", "/books/settings", wanted, if_match=settings.headers["etag"])
    assert changed.json() == {"numbering": "running", "accounts": {"cash": "1000"}, "version": 2}
    maker = Program(app, key_of(open_shop, open_shop.maker, *Scope))
    for path in ("/orders/1/bills", "/books/settings", f"/books?first={today}&last={today}"):
        assert maker.ask("GET", path).status_code == 403, path


def test_a_bill_is_never_one_of_another_order(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        taken(session, open_shop, 2)
        bill: Bill = billing.invoice(session, open_shop.office, 1, 1)
        assert bill.kind is BillKind.INVOICE
        session.commit()
    assert client.get("/orders/2/bills/1.pdf").status_code == 404
    assert client.post("/orders/2/bills/1/credit", data={"why": "wrong"}).status_code == 404
