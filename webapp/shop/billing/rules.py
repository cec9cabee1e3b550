"""Bills are issued and never changed: an invoice that is wrong is taken back by a credit note that names it."""

from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Bill, BillKind, IssuedKind, Order, OrderStatus, Role
from webapp.shop.base.errors import NotFound, Refused, Stale
from webapp.shop.base.finding import find
from webapp.shop.billing import numbers
from webapp.shop.orders import issued, money as order_money, payments, rules as orders
from webapp.shop.orders.checks import PROMISED, day_of, today
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

HEAD = ("shop", "letterhead", "is_demo", "currency", "order", "customer", "contact", "address")
BILLED = (*PROMISED, OrderStatus.HANDED_OVER)


class Credit(BaseModel):
    """Why an invoice is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


def of_order(session: Session, order: Order) -> list[Bill]:
    """All bills of an order, the latest first."""
    return list(session.exec(select(Bill).where(Bill.order_id == order.id).order_by(col(Bill.id).desc())))


def bill_of(session: Session, order: Order, bill_id: int) -> Bill:
    """A bill of this order. Raises NotFound."""
    bill = find(session, Bill, bill_id, "bill")
    if bill.order_id != order.id:
        raise NotFound(f"Order {order.number} has no bill {bill_id}.")
    return bill


def standing(session: Session, order: Order) -> Bill | None:
    """The invoice that stands for an order: one that no credit note has taken back."""
    bills = of_order(session, order)
    credited = {bill.credits_id for bill in bills}
    return next((bill for bill in bills if bill.kind is BillKind.INVOICE and bill.id not in credited), None)


def may_invoice(session: Session, order: Order) -> bool:
    """Whether an invoice can be issued now."""
    return order.status in BILLED and standing(session, order) is None


def invoice(session: Session, who: Who, number: int, version: int) -> Bill:
    """Issue the invoice of an order, as it stands. Raises NotAllowed, NotFound, Stale, Refused."""
    order = _held(session, who, number)
    if order.version != version:
        raise Stale({"version": str(order.version)})
    if order.status not in BILLED:
        raise Refused(f"This order is {order.status}: it is invoiced once it is confirmed.")
    if stands := standing(session, order):
        raise Refused(f"Invoice {numbers.text(stands)} stands for this order: credit that first.")
    if unpriced := order_money.unpriced(session, order):
        raise Refused(f"No price is agreed yet: {', '.join(unpriced)}.")
    content = issued.content_of(session, order)
    if not Decimal(content["total"]):
        raise Refused("Nothing is charged for this order: there is nothing to invoice.")
    confirmed = issued.latest(session, order, IssuedKind.CONFIRMATION)
    handed = order.handed_over_at
    content |= {
        "confirmed_on": confirmed.issued_on.isoformat() if confirmed else "",
        "handed_over_on": day_of(session, handed).isoformat() if handed else "",
    }
    total, tax = Decimal(content["total"]), Decimal(content["tax"])
    return _issue(session, who, order, BillKind.INVOICE, content, total, tax)


def credit(session: Session, who: Who, number: int, bill_id: int, asked: Credit) -> Bill:
    """Take an invoice back, whole. Raises NotAllowed, NotFound, Refused."""
    order = _held(session, who, number)
    wrong = bill_of(session, order, bill_id)
    if wrong.kind is not BillKind.INVOICE:
        raise Refused(f"{numbers.text(wrong)} is a {wrong.kind}: only an invoice is taken back by a credit note.")
    if session.exec(select(Bill.id).where(Bill.credits_id == wrong.id)).first():
        raise Refused(f"Invoice {numbers.text(wrong)} has been taken back already.")
    content = wrong.content | {
        "takes_back": numbers.text(wrong),
        "taken_back_of": wrong.issued_on.isoformat(),
        "why": asked.why,
    }
    return _issue(
        session, who, order, BillKind.CREDIT_NOTE, content, -wrong.total, -wrong.tax, why=asked.why, credits_id=wrong.id
    )


def receipt(session: Session, who: Who, number: int, payment_id: int) -> Bill:
    """A receipt of a payment that came in; the same one where there is one already.

    Raises NotAllowed, NotFound, Refused.
    """
    order = _held(session, who, number)
    row = payments.row_of(session, order, payment_id)
    paid = row.payment
    if row.put_right or paid.corrects_id is not None or paid.amount <= 0:
        raise Refused("A receipt is given for money that came in: this row is none, or it was reversed.")
    if known := session.exec(select(Bill).where(Bill.payment_id == paid.id)).first():
        return known
    before = [one.payment.amount for one in payments.of_order(session, order) if (one.payment.id or 0) <= payment_id]
    shop = issued.content_of(session, order)
    content = {name: shop[name] for name in HEAD} | {
        "kind": str(paid.kind),
        "paid_by": str(paid.paid_by),
        "paid_on": paid.paid_on.isoformat(),
        "reference": paid.reference,
        "amount": str(paid.amount),
        "of_total": shop["total"],
        "still_open": str(max(Decimal(0), Decimal(shop["total"]) - sum(before, Decimal(0)))),
    }
    return _issue(session, who, order, BillKind.RECEIPT, content, paid.amount, Decimal(0), payment_id=paid.id)


def _held(session: Session, who: Who, number: int) -> Order:
    who.must(Role.OFFICE)
    return find(session, Order, orders.order_of(session, number).id or 0, "order", lock=True)


def _issue(
    session: Session,
    who: Who,
    order: Order,
    kind: BillKind,
    content: dict[str, Any],
    total: Decimal,
    tax: Decimal,
    **more: Any,
) -> Bill:
    day = today(session)
    year, number = numbers.take(session, kind, day)
    assert order.id is not None
    bill = Bill(
        kind=kind,
        year=year,
        number=number,
        order_id=order.id,
        issued_on=day,
        currency=order.currency,
        total=total,
        tax=tax,
        content=content,
        by=who.id,
        **more,
    )
    session.add(bill)
    words = f"{str(kind).capitalize()} {numbers.text(bill)} issued"
    diary.write(session, who, "order", order.id, words, more.get("why", ""), about_money=True)
    session.flush()
    return bill
