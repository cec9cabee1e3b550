"""Numbers of bills: none twice, none left out. Each is taken in the transaction that keeps the bill."""

from datetime import date
from typing import Final

from sqlmodel import Session

from webapp.models import Bill, BillCounter, BillKind, Bookkeeping, Numbering, Shop
from webapp.shop.base.finding import find

LETTERS: Final = {BillKind.INVOICE: "I", BillKind.CREDIT_NOTE: "C", BillKind.RECEIPT: "R"}


def bookkeeping(session: Session) -> Bookkeeping:
    """How the shop numbers and calls its accounts; as usual until it is first changed."""
    return session.get(Bookkeeping, 1) or Bookkeeping()


def take(session: Session, kind: BillKind, day: date) -> tuple[int, int]:
    """The year and the next number of a kind. The shop's row is held, so that one who asks waits for the other.

    A transaction that is rolled back gives its number back with all else.
    """
    find(session, Shop, 1, "shop", lock=True)
    year = day.year if bookkeeping(session).numbering is Numbering.PER_YEAR else 0
    counter = session.get(BillCounter, (kind, year), with_for_update=True) or BillCounter(kind=kind, year=year)
    counter.last += 1
    session.add(counter)
    session.flush()
    return year, counter.last


def text(bill: Bill) -> str:
    """A bill's number as it is printed: I-2026-0007, or I-0007 where numbers run on over the years."""
    return "-".join([LETTERS[bill.kind], *([str(bill.year)] if bill.year else []), f"{bill.number:04}"])
