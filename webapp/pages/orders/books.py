"""The books of a period by account, their file for an accountant, and how bills and accounts are numbered."""

from datetime import date
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Numbering
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.billing import books, numbers
from webapp.shop.billing.books import Account, BookkeepingAsked
from webapp.shop.orders import rules as orders

router = APIRouter()

NUMBERINGS = [
    (Numbering.PER_YEAR.value, "Anew each year", "I-2026-0007"),
    (Numbering.RUNNING.value, "Running on", "I-0007"),
]


@router.get("/books")
def show(desk: View) -> Response:
    form = Form(_period(desk))
    try:
        first, last = _days(form)
        lines = books.postings(desk.session, desk.who, first, last)
    except Invalid as error:
        return desk.render("orders/books.html", status=422, form=form.failed(error), totals=[], count=0)
    return desk.render("orders/books.html", form=form, totals=books.totals(desk.session, lines), count=len(lines))


@router.get("/books.csv")
def as_file(desk: View) -> Response:
    first, last = _days(Form(_period(desk)))
    text = books.as_csv(desk.session, books.postings(desk.session, desk.who, first, last))
    headers = {"content-disposition": f'attachment; filename="books-{first}-{last}.csv"'}
    # With the mark by which spreadsheets know UTF-8.
    return Response("\N{ZERO WIDTH NO-BREAK SPACE}" + text, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/books/settings")
def ask_settings(desk: View) -> Response:
    known = numbers.bookkeeping(desk.session)
    values = {"numbering": known.numbering.value, "version": known.version}
    return _settings(desk, Form(values | {_field(account): known.accounts.get(account, "") for account in Account}))


@router.post("/books/settings")
def change_settings(desk: Act) -> Response:
    def rule(form: Form) -> None:
        accounts = {account: form.values.get(_field(account), "") for account in Account}
        read = Form({name: form.values.get(name, "") for name in ("numbering", "version")} | {"accounts": accounts})
        try:
            asked = read.read(BookkeepingAsked)
        except Invalid as error:
            raise Invalid({_named(name): words for name, words in error.errors.items()}) from None
        books.change(desk.session, desk.who, asked)

    return desk.submit(rule, again=lambda form, status: _settings(desk, form, status), to="/books")


def _settings(desk: Desk, form: Form, status: int = 200) -> Response:
    accounts = [(_field(account), account.value[:1].upper() + account.value[1:]) for account in Account]
    return desk.render("orders/books_settings.html", status=status, form=form, accounts=accounts, numberings=NUMBERINGS)


def _field(account: Account) -> str:
    return f"account_{account.name.lower()}"


def _named(name: str) -> str:
    """The field of an account, where the message is about the whole of them."""
    found = next((account for account in Account if account.value in name), None)
    return _field(found) if found else _field(Account.CUSTOMERS) if name.startswith("accounts") else name


def _period(desk: Desk) -> dict[str, Any]:
    """The days asked for; the month that it is where none are."""
    today = orders.today(desk.session)
    params = desk.request.query_params
    return {
        "first": params.get("first", today.replace(day=1).isoformat())[:10],
        "last": params.get("last", today.isoformat())[:10],
    }


def _days(form: Form) -> tuple[date, date]:
    found, wrong = [], {}
    for name in ("first", "last"):
        try:
            found.append(date.fromisoformat(form.values[name]))
        except ValueError:
            wrong[name] = "Write a date as year-month-day, such as 2026-03-31."
    if wrong:
        raise Invalid(wrong)
    return found[0], found[1]
