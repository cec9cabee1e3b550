"""Two entries that are one customer become one: the orders go over, nothing that was known is lost."""

from pydantic import BaseModel
from sqlmodel import Session, col, select, update

from webapp.models import Customer, Event, Order, Outlet
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.base.finding import find
from webapp.shop.orders.forms import Id
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.people.roles import MONEY

LONGEST_NOTE = 2000


class Merge(BaseModel):
    """The other entry, and the versions of both that were on the screen."""

    other_id: Id
    version: int
    other_version: int


def merge(session: Session, who: Who, customer_id: int, asked: Merge) -> Customer:
    """The other entry's orders, and what only it knew, are this customer's; the other is gone.

    Raises NotAllowed, NotFound, Stale, Invalid.
    """
    who.must(*MONEY)
    if asked.other_id == customer_id:
        raise Invalid({"other_id": "That is the same entry: choose another."})
    first, second = sorted((customer_id, asked.other_id))  # locked in one order, however two people merge
    both = {one: find(session, Customer, one, "customer", lock=True) for one in (first, second)}
    kept, other = both[customer_id], both[asked.other_id]
    if (kept.version, other.version) != (asked.version, asked.other_version):
        raise Stale({"version": str(kept.version), "other_version": str(other.version)})
    moved = list(session.exec(select(Order).where(Order.customer_id == other.id).order_by(col(Order.number))))
    for order in moved:
        order.customer_id = customer_id
        order.version += 1
        session.add(order)
        diary.write(session, who, "order", order.id, f"Its customer was entered twice: now customer {customer_id}")
    kept.contact, kept.address = kept.contact or other.contact, kept.address or other.address
    differing = (_differs(kept.contact, other.contact), _differs(kept.address, other.address))
    kept.note = "\n".join(text for text in (kept.note, other.note, *differing) if text)[:LONGEST_NOTE]
    kept.version += 1
    session.add(kept)
    numbers = ", ".join(str(order.number) for order in moved) or "none"
    what = f"{other.name} (customer {other.id}) was the same: merged. Orders that came over: {numbers}"
    session.flush()
    its_lines = (col(Event.subject) == "customer", col(Event.subject_id) == other.id)
    session.exec(update(Outlet).where(col(Outlet.customer_id) == other.id).values(customer_id=customer_id))
    session.exec(update(Event).where(*its_lines).values(subject_id=customer_id))
    diary.write(session, who, "customer", customer_id, what)
    session.delete(other)
    session.flush()
    return kept


def _differs(kept: str, other: str) -> str:
    return other if other and other != kept else ""
