"""Customers: found as one types, added when an order is taken, changed with care for who else is changing them."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlalchemy import func
from sqlmodel import Session, col, select

from webapp.models import Customer, Order
from webapp.models.folding import folded
from webapp.shop.base.errors import Stale
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

Name = Annotated[str, StringConstraints(min_length=1, max_length=120)]
Contact = Annotated[str, StringConstraints(max_length=200)]
Note = Annotated[str, StringConstraints(max_length=2000)]
FIELDS = ("name", "contact", "address", "note")


class CustomerAsked(BaseModel):
    """A customer as typed in; `version` is the one that was on the screen."""

    name: Name
    contact: Contact = ""
    address: Annotated[str, StringConstraints(max_length=400)] = ""
    note: Note = ""
    version: int = 1


@dataclass(frozen=True, slots=True)
class Known:
    """A customer, and how many orders they have placed."""

    customer: Customer
    orders: int


def customer(session: Session, customer_id: int) -> Customer:
    """Raises NotFound."""
    return find(session, Customer, customer_id, "customer")


def like(session: Session, typed: str, limit: int = 50) -> list[Known]:
    """Customers in whose name every typed word occurs, at the start of a word or inside it; by name."""
    orders = select(func.count()).where(Order.customer_id == Customer.id).correlate(Customer).scalar_subquery()
    statement = select(Customer, orders).order_by(Customer.sought, col(Customer.id)).limit(limit)
    for word in folded(typed).split()[:8]:
        statement = statement.where(col(Customer.sought).contains(word[:80], autoescape=True))
    return [Known(found, count) for found, count in session.exec(statement)]


def by_id(session: Session, customer_id: int) -> list[Known]:
    """The customer of this number, as a list that is empty where there is none."""
    known = session.get(Customer, customer_id) if 0 < customer_id <= LARGEST_ID else None
    if known is None:
        return []
    orders = session.exec(select(func.count()).select_from(Order).where(Order.customer_id == customer_id)).one()
    return [Known(known, orders)]


def named(session: Session, name: str) -> list[Customer]:
    """Those of exactly this name, whatever the case and accents."""
    return list(session.exec(select(Customer).where(Customer.sought == folded(name)[:400]).order_by(col(Customer.id))))


def add(session: Session, who: Who, name: str, contact: str = "") -> Customer:
    """A new customer."""
    new = Customer(name=name, contact=contact)
    session.add(new)
    session.flush()
    diary.write(session, who, "customer", new.id, f"{name} is now a customer")
    return new


def change(session: Session, who: Who, customer_id: int, asked: CustomerAsked) -> Customer:
    """Change name, contact, address or note. Raises NotAllowed, NotFound, Stale."""
    who.must_work()
    known = find(session, Customer, customer_id, "customer", lock=True)
    if asked.version != known.version:
        raise Stale({name: getattr(known, name) for name in FIELDS} | {"version": str(known.version)})
    changed = False
    for field in FIELDS:
        before, now_is = getattr(known, field), getattr(asked, field)
        if before != now_is:
            changed = True
            setattr(known, field, now_is)
            words = f"{field.capitalize()}: was {before or 'nothing'}, is now {now_is or 'nothing'}"
            diary.write(session, who, "customer", known.id, words)
    if changed:
        known.version += 1
        session.add(known)
    session.flush()
    return known
