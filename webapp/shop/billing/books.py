"""The books of a period: every bill and payment as postings with debit and credit, for an accountant to import.

Invoices are owed by customers: their net goes to sales, taxed or not, their tax to an account of its own. What is paid,
deposits too, is taken off what customers owe. Not an accounting system: what is due, an accountant says.
"""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from io import StringIO
from typing import Annotated, Final

from pydantic import BaseModel, StringConstraints, field_validator
from sqlmodel import Session, col, select

from webapp.models import Bill, BillKind, Bookkeeping, Customer, Numbering, Order, PaidBy, Payment, Role, Shop
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.base.finding import find
from webapp.shop.base.spreadsheets import harmless
from webapp.shop.billing import numbers
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

HEADS: Final = (
    "date",
    "document",
    "order",
    "customer",
    "account",
    "account name",
    "debit",
    "credit",
    "currency",
    "text",
)


class Account(StrEnum):
    """Where money is posted."""

    CUSTOMERS = "owed by customers"
    SALES = "sales"
    SALES_EXEMPT = "sales, exempt"
    SALES_RESALE = "sales, for resale"
    SALES_EXPORT = "sales, export"
    TAX = "tax on sales"
    CASH = "cash"
    CARD = "card"
    BANK = "bank"
    CHECKS = "checks"
    OTHER = "other payments"


SALES: Final = {
    "taxed": Account.SALES,
    "exempt": Account.SALES_EXEMPT,
    "resale": Account.SALES_RESALE,
    "export": Account.SALES_EXPORT,
}
PAID_BY: Final = {
    PaidBy.CASH: Account.CASH,
    PaidBy.CARD: Account.CARD,
    PaidBy.TRANSFER: Account.BANK,
    PaidBy.CHECK: Account.CHECKS,
    PaidBy.OTHER: Account.OTHER,
}


class BookkeepingAsked(BaseModel):
    """How bills are numbered, and the accountant's number of each account, by its name."""

    numbering: Numbering = Numbering.PER_YEAR
    accounts: dict[Account, Annotated[str, StringConstraints(max_length=20)]] = {}
    version: int = 1

    @field_validator("accounts")
    @classmethod
    def _one_line(cls, value: dict[Account, str]) -> dict[Account, str]:
        return {account: " ".join(number.split()) for account, number in value.items() if number.strip()}


@dataclass(frozen=True, slots=True)
class Posting:
    """One line of the books: above zero a debit, below zero a credit."""

    day: date
    document: str
    order: int
    customer: str
    account: Account
    amount: Decimal
    currency: str
    text: str


@dataclass(frozen=True, slots=True)
class Total:
    """What came to an account in a period, in a currency."""

    account: Account
    number: str
    currency: str
    debit: Decimal
    credit: Decimal


def postings(session: Session, who: Who, first: date, last: date) -> list[Posting]:
    """The books from one day to another, both counted in. Raises NotAllowed, Invalid."""
    who.must(Role.OFFICE)
    if last < first:
        raise Invalid({"last": "The last day lies before the first."})
    found = [*_of_bills(session, first, last), *_of_payments(session, first, last)]
    return sorted(found, key=lambda one: (one.day, one.order, one.document))


def totals(session: Session, lines: Iterable[Posting]) -> list[Total]:
    """The sums by account and currency, in the order of the accounts."""
    known = numbers.bookkeeping(session).accounts
    sums: dict[tuple[str, Account], list[Decimal]] = {}
    for line in lines:
        both = sums.setdefault((line.currency, line.account), [Decimal(0), Decimal(0)])
        both[line.amount < 0] += abs(line.amount)
    order = list(Account)
    keys = sorted(sums, key=lambda key: (key[0], order.index(key[1])))
    return [Total(account, known.get(account, ""), currency, *sums[currency, account]) for currency, account in keys]


def as_csv(session: Session, lines: Iterable[Posting]) -> str:
    """The books as a file (RFC 4180: commas, quotes, CRLF); debits and credits are equal within each document."""
    known = numbers.bookkeeping(session).accounts
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADS)
    for line in lines:
        debit, credit = (f"{abs(line.amount):.2f}" if side else "" for side in (line.amount > 0, line.amount < 0))
        number = harmless(known.get(line.account, ""))
        who = harmless(line.customer)
        row = (line.day.isoformat(), line.document, line.order, who, number, line.account.value, debit, credit)
        writer.writerow([*row, line.currency, harmless(line.text)])
    return out.getvalue()


def change(session: Session, who: Who, asked: BookkeepingAsked) -> Bookkeeping:
    """Change how bills are numbered and accounts are called. Raises NotAllowed, Stale."""
    who.must(Role.OFFICE)
    find(session, Shop, 1, "shop", lock=True)
    known = numbers.bookkeeping(session)
    if asked.version != known.version:
        raise Stale({"numbering": str(known.numbering), "version": str(known.version)})
    accounts = {str(account): number for account, number in asked.accounts.items()}
    if known.numbering is not asked.numbering:
        words = f"Numbers of bills: was {known.numbering}, is now {asked.numbering}"
        diary.write(session, who, "shop", 1, words)
    if known.accounts != accounts:
        diary.write(session, who, "shop", 1, "The accountant's numbers of accounts changed")
    known.numbering, known.accounts, known.version = asked.numbering, accounts, known.version + 1
    session.add(known)
    session.flush()
    return known


def _of_bills(session: Session, first: date, last: date) -> Iterable[Posting]:
    rows = session.exec(
        select(Bill, Order, Customer)
        .join(Order, col(Order.id) == Bill.order_id)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(Bill.kind != BillKind.RECEIPT, Bill.issued_on >= first, Bill.issued_on <= last)
        .order_by(col(Bill.issued_on), col(Bill.id))
    )
    for bill, order, customer in rows:
        sales = SALES[bill.content.get("tax_status", "taxed")]
        parts = ((Account.CUSTOMERS, bill.total), (sales, bill.tax - bill.total), (Account.TAX, -bill.tax))
        for account, amount in parts:
            if amount:
                yield Posting(
                    bill.issued_on,
                    numbers.text(bill),
                    order.number,
                    customer.name,
                    account,
                    amount,
                    bill.currency,
                    bill.why or f"{bill.kind}, order {order.number}",
                )


def _of_payments(session: Session, first: date, last: date) -> Iterable[Posting]:
    rows = session.exec(
        select(Payment, Order, Customer)
        .join(Order, col(Order.id) == Payment.order_id)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(Payment.paid_on >= first, Payment.paid_on <= last)
        .order_by(col(Payment.paid_on), col(Payment.id))
    )
    for paid, order, customer in rows:
        words = ", ".join(part for part in (paid.kind.value, paid.reference, paid.note) if part)
        for account, amount in ((PAID_BY[paid.paid_by], paid.amount), (Account.CUSTOMERS, -paid.amount)):
            yield Posting(
                paid.paid_on,
                f"P-{paid.id}",
                order.number,
                customer.name,
                account,
                amount,
                paid.currency,
                words,
            )
