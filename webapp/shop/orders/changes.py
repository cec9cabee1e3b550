"""Changes after an order was confirmed: what changed, from what to what, by whom and why; kept for good."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from webapp.models import IssuedKind, IssuedPaper, Order, OrderChange, OrderStatus, Person
from webapp.shop.base.errors import Invalid
from webapp.shop.people import amounts
from webapp.shop.people.accounts import Who

AGREED = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP, OrderStatus.READY)
WHY = "This order is confirmed: say why it changes. The reason is printed on the next confirmation."


@dataclass(frozen=True, slots=True)
class Change:
    """One change as a page shows it; `told` once a confirmation issued later carries it."""

    what: str
    before: str
    after: str
    why: str
    at: datetime
    by: str
    told: bool


def must_say_why(order: Order, why: str) -> None:
    """Raise Invalid where a confirmed order changes without a reason."""
    if order.status in AGREED and not why:
        raise Invalid({"why": WHY})


def write(session: Session, who: Who, order: Order, what: str, before: str, after: str, why: str) -> None:
    """Keep a change of an order that is confirmed; before that there is nothing to hold it against."""
    if order.status not in AGREED:
        return
    assert order.id is not None
    change = OrderChange(
        order_id=order.id,
        what=what[:120],
        before=before[:2000],
        after=after[:2000],
        why=why[:500],
        by=who.id,
    )
    session.add(change)


def read(session: Session, who: Who, order: Order) -> list[Change]:
    """All changes since the order was confirmed, newest first; without amounts for those who see no money."""
    said = str if amounts.sees_money(who.role) else amounts.without_amounts
    told_until = _last_confirmation(session, order)
    rows = session.exec(
        select(OrderChange, Person.name)
        .join(Person, col(Person.id) == OrderChange.by)
        .where(OrderChange.order_id == order.id)
        .order_by(col(OrderChange.id).desc())
    )
    return [
        Change(
            c.what,
            said(c.before),
            said(c.after),
            said(c.why),
            c.at,
            name,
            told=told_until is not None and c.at <= told_until,
        )
        for c, name in rows
    ]


def untold(session: Session, order: Order) -> list[OrderChange]:
    """The changes that no confirmation carries yet, oldest first."""
    statement = select(OrderChange).where(OrderChange.order_id == order.id).order_by(col(OrderChange.id))
    if told_until := _last_confirmation(session, order):
        statement = statement.where(OrderChange.at > told_until)
    return list(session.exec(statement))


def _last_confirmation(session: Session, order: Order) -> datetime | None:
    statement = select(IssuedPaper.at).where(
        IssuedPaper.order_id == order.id, IssuedPaper.kind == IssuedKind.CONFIRMATION
    )
    return session.exec(statement.order_by(col(IssuedPaper.number).desc()).limit(1)).first()
