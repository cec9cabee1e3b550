"""A customer who wants to be taken out: what says who they are goes, what was paid stays, as books must."""

import re
from collections.abc import Callable
from typing import Any

from pydantic import BaseModel
from sqlmodel import Session, col, select

from webapp.models import (
    Customer,
    Event,
    IssuedPaper,
    Order,
    OrderChange,
    OrderedFlute,
    Outlet,
    Parcel,
    Payment,
    Repair,
)
from webapp.models.folding import folded
from webapp.shop.base.errors import Refused, Stale
from webapp.shop.base.finding import find, held
from webapp.shop.orders.checks import OPEN
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.people.amounts import ABOUT_MONEY, WITHHELD
from webapp.shop.people.roles import MONEY

ERASED = "Erased customer"
SHORTEST_PART = 3  # letters of a name that are looked for by themselves


class Erase(BaseModel):
    """The version of the customer that was on the screen."""

    version: int


def erase(session: Session, who: Who, customer_id: int, asked: Erase) -> bool:
    """Erase name, contact, address and notes, everywhere; without an order the customer is gone, otherwise a number.

    Gives whether the customer is gone. Not undone by anything but a backup. Raises NotAllowed, NotFound, Stale,
    Refused.
    """
    who.must(*MONEY)
    customer = find(session, Customer, customer_id, "customer", lock=True)
    if asked.version != customer.version:
        raise Stale({"version": str(customer.version)})
    orders = list(session.exec(held(select(Order).where(Order.customer_id == customer_id).order_by(col(Order.id)))))
    if still := [str(order.number) for order in orders if order.status in OPEN]:
        words = f"order {still[0]} is" if len(still) == 1 else f"orders {', '.join(still)} are"
        raise Refused(f"{words[:1].upper()}{words[1:]} still open: hand over or withdraw first.")
    if outlet := session.exec(select(Outlet).where(Outlet.customer_id == customer_id)).first():
        raise Refused(f"This customer stands for the outlet {outlet.name}: what it sold is booked here.")
    without = _taker(customer)
    _of_orders(session, orders, without)
    lines = select(Event).where(Event.subject == "customer", Event.subject_id == customer_id)
    for line in session.exec(lines):
        line.what, line.why = WITHHELD, ""
        session.add(line)
    if not orders:
        session.delete(customer)
    else:
        customer.name = f"{ERASED} {customer_id}"
        customer.contact = customer.address = customer.note = ""
        customer.version += 1
        session.add(customer)
    diary.write(session, who, "customer", customer_id, "Erased: name, contact, address and notes")
    session.flush()
    return not orders


def _of_orders(session: Session, orders: list[Order], without: Callable[[str], str]) -> None:
    ids = [order.id for order in orders]
    for order in orders:
        order.note, order.status_digest, order.status_since = "", None, None
        order.version += 1
        session.add(order)
    for paper in session.exec(select(IssuedPaper).where(col(IssuedPaper.order_id).in_(ids))):
        content = _texts(paper.content, without)
        paper.content = content | {"customer": "", "contact": "", "address": ""}
        session.add(paper)
    for parcel in session.exec(select(Parcel).where(col(Parcel.order_id).in_(ids))):
        parcel.name = parcel.address = parcel.gift_words = parcel.tracking = ""
        session.add(parcel)
    of_order: list[tuple[Any, tuple[str, ...]]] = [
        (Payment, ("reference", "note")),
        (OrderChange, ("before", "after", "why")),
        (OrderedFlute, ("extras", "price_why")),
        (Repair, ("described", "asked", "found")),
    ]
    for table, columns in of_order:
        for row in session.exec(select(table).where(table.order_id.in_(ids))):
            _take_out(session, row, columns, without)
    subjects = ("order", f"order{ABOUT_MONEY}")
    lines = select(Event).where(col(Event.subject).in_(subjects), col(Event.subject_id).in_(ids))
    for line in session.exec(lines):
        _take_out(session, line, ("what", "why"), without)


def _take_out(session: Session, row: Any, columns: tuple[str, ...], without: Callable[[str], str]) -> None:
    for name in columns:
        if (left := without(getattr(row, name))) != getattr(row, name):
            setattr(row, name, left)
            session.add(row)


def _texts(value: Any, without: Callable[[str], str]) -> Any:
    """A document with every text in it gone over."""
    if isinstance(value, dict):
        return {name: _texts(one, without) for name, one in value.items()}
    if isinstance(value, list):
        return [_texts(one, without) for one in value]
    return without(value) if isinstance(value, str) else value


def _taker(customer: Customer) -> Callable[[str], str]:
    """What takes the customer's name, its longer parts, contact and address out of a text that somebody typed."""
    parts = [
        customer.name,
        customer.contact,
        customer.address,
        *customer.address.split("\n"),
        *customer.contact.split(),
    ]
    parts += [part for part in re.split(r"[\s,]+", customer.name) if len(folded(part)) >= SHORTEST_PART]
    wanted = sorted({part.strip(" ,;") for part in parts if len(part.strip(" ,;")) >= SHORTEST_PART}, key=len)
    if not wanted:
        return lambda text: text
    pattern = re.compile("|".join(rf"(?<!\w){re.escape(part)}(?!\w)" for part in reversed(wanted)), re.IGNORECASE)
    return lambda text: pattern.sub(WITHHELD, text)
