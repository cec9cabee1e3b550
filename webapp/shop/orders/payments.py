"""Deposits and payments: rows that are only ever added. A wrong one is corrected by a reversing row that names it.

Not an accounting system: the ledger can be exported to one as a CSV file.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, func, select

from webapp.models import Customer, Order, PaidBy, Payment, PaymentKind, Person, Role
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.base.spreadsheets import harmless, written
from webapp.shop.orders import prices, rules as orders
from webapp.shop.orders.money import account, paid
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.field_types import Day

HEADS = (
    "entry",
    "date",
    "order",
    "customer",
    "kind",
    "amount",
    "currency",
    "paid by",
    "reference",
    "note",
    "corrects entry",
    "written down",
    "by",
)
MEANWHILE = (
    "Meanwhile someone recorded a payment for this order: it stands in the list now. Yours is not recorded. If it is "
    "another one, send it again."
)


class PaymentAsked(BaseModel):
    """A deposit, a payment or a refund as typed; the amount is always above zero. `last_seen`: the last row of the
    order's ledger that was on the screen, 0 where there was none."""

    kind: PaymentKind = PaymentKind.PAYMENT
    amount: Annotated[Decimal, Field(gt=0, max_digits=11, decimal_places=2)]
    paid_by: PaidBy
    paid_on: Day
    reference: Annotated[str, StringConstraints(max_length=120)] = ""
    note: Annotated[str, StringConstraints(max_length=500)] = ""
    last_seen: Annotated[int, Field(ge=0, le=LARGEST_ID)] | None = None


class PutRight(BaseModel):
    """Why a row is reversed."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=500)]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the ledger; `put_right` where a later one reverses it."""

    payment: Payment
    by: str
    put_right: bool


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the whole shop's ledger."""

    payment: Payment
    order: Order
    customer: str
    by: str


def of_order(session: Session, order: Order) -> list[Row]:
    """The order's rows, oldest first."""
    rows = session.exec(
        select(Payment, Person.name)
        .join(Person, col(Person.id) == Payment.by)
        .where(Payment.order_id == order.id)
        .order_by(col(Payment.id))
    ).all()
    gone = {payment.corrects_id for payment, _ in rows}
    return [Row(payment, by, payment.id in gone) for payment, by in rows]


def last_row(session: Session, order: Order) -> int:
    """The number of the last row of the order's ledger; 0 where there is none."""
    return session.exec(select(func.max(Payment.id)).where(Payment.order_id == order.id)).one() or 0


def row_of(session: Session, order: Order, payment_id: int) -> Row:
    """One row of the order's ledger. Raises NotFound."""
    for row in of_order(session, order):
        if row.payment.id == payment_id:
            return row
    raise NotFound(f"Order {order.number} has no payment {payment_id}.")


def record(session: Session, who: Who, number: int, asked: PaymentAsked) -> Payment:
    """Record what was paid or paid back. Raises NotAllowed, NotFound, Refused, Invalid."""
    who.must(Role.OFFICE)
    order = find(session, Order, orders.order_of(session, number).id or 0, "order", lock=True)
    if asked.last_seen is not None and asked.last_seen != last_row(session, order):
        raise Refused(MEANWHILE)
    if asked.paid_on > orders.today(session):
        raise Invalid({"paid_on": "That day is still to come: record only what has been paid."})
    if asked.paid_on.year < order.taken_on.year - 1:
        raise Invalid({"paid_on": "That is more than a year before the order was taken."})
    if asked.kind is PaymentKind.REFUND and asked.amount > (had := paid(session, order)):
        raise Invalid({"amount": f"Only {prices.money(had, order.currency)} has been paid for this order."})
    if asked.amount != prices.to_unit(asked.amount, order.currency):
        raise Invalid({"amount": f"{order.currency} has no smaller amounts than {prices.unit(order.currency)}."})
    assert order.id is not None
    amount = -asked.amount if asked.kind is PaymentKind.REFUND else asked.amount
    given = asked.model_dump(exclude={"amount", "last_seen"})
    made = Payment(order_id=order.id, amount=amount, currency=order.currency, by=who.id, **given)
    session.add(made)
    session.flush()
    left = account(session, order).outstanding
    rest = f"{prices.money(left, order.currency)} outstanding" if left > 0 else "nothing outstanding"
    said = f"{str(asked.kind).capitalize()} of {prices.money(asked.amount, order.currency)}, {asked.paid_by}; {rest}"
    diary.write(session, who, "order", order.id, said, about_money=True)
    session.flush()
    return made


def expected(session: Session, order: Order) -> tuple[PaymentKind, Decimal]:
    """The payment that comes next: what is open of the deposit, else all that is outstanding, else what goes back."""
    stands = account(session, order)
    if stands.outstanding < 0:
        return PaymentKind.REFUND, -stands.outstanding
    if stands.deposit_open:
        return PaymentKind.DEPOSIT, stands.deposit_open
    return PaymentKind.PAYMENT, stands.outstanding


def put_right(session: Session, who: Who, number: int, payment_id: int, asked: PutRight) -> Payment:
    """Reverse a wrong row by a row that names it; the right payment is then recorded as a new one.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must(Role.OFFICE)
    order = find(session, Order, orders.order_of(session, number).id or 0, "order", lock=True)
    wrong = find(session, Payment, payment_id, "payment")
    if wrong.order_id != order.id:
        raise Refused(f"That payment is not one of order {number}.")
    if wrong.corrects_id is not None:
        raise Refused("That row itself reverses another one: record the payment again instead.")
    if session.exec(select(Payment.id).where(Payment.corrects_id == wrong.id)).first():
        raise Refused("That row has been reversed already.")
    copied = wrong.model_dump(exclude={"id", "amount", "note", "at", "by", "corrects_id"})
    made = Payment(**copied, amount=-wrong.amount, note=asked.why, by=who.id, corrects_id=wrong.id)
    session.add(made)
    what = f"Reversed: {wrong.kind} of {prices.money(abs(wrong.amount), order.currency)} does not count"
    diary.write(session, who, "order", order.id, what, asked.why, about_money=True)
    session.flush()
    return made


def ledger(session: Session, who: Who, year: int | None = None) -> list[Entry]:
    """All rows of all orders, or of one year, oldest first. Raises NotAllowed."""
    who.must(Role.OFFICE)
    statement = (
        select(Payment, Order, Customer, Person)
        .join(Order, col(Order.id) == Payment.order_id)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .join(Person, col(Person.id) == Payment.by)
        .order_by(col(Payment.paid_on), col(Payment.id))
    )
    if year is not None:
        statement = statement.where(Payment.paid_on >= date(year, 1, 1), Payment.paid_on <= date(year, 12, 31))
    return [
        Entry(payment, order, customer.name, person.name)
        for payment, order, customer, person in session.exec(statement)
    ]


def years(session: Session) -> list[int]:
    """The years in which something was paid, the latest first."""
    days = session.exec(select(col(Payment.paid_on)).distinct())
    return sorted({day.year for day in days}, reverse=True)


def as_csv(rows: Iterable[Entry], comma: bool = False) -> str:
    """The ledger for an accounting program, or with `comma` for a spreadsheet of a country that writes 1,5."""
    lines: list[Sequence[Any]] = [HEADS]
    for row in rows:
        payment = row.payment
        texts = (payment.reference, payment.note)
        lines.append(
            [
                payment.id,
                payment.paid_on.isoformat(),
                row.order.number,
                harmless(row.customer),
                payment.kind.value,
                payment.amount.quantize(Decimal("0.01")),
                payment.currency,
                payment.paid_by.value,
                *(harmless(text) for text in texts),
                payment.corrects_id or "",
                payment.at.isoformat(timespec="seconds"),
                harmless(row.by),
            ]
        )
    return written(lines, comma)
