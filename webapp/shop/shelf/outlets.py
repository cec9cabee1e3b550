"""Outlets that sell the shop's flutes: what lies there since when, what they sold, what they owe."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Blank, Order, Outlet, Role, ShelfFlute, ShelfSale, is_for_the_shop, now
from webapp.shop.base.errors import Invalid, Refused, Stale
from webapp.shop.base.finding import find
from webapp.shop.billing import unpaid
from webapp.shop.blanks import lists as blank_list
from webapp.shop.blanks.lists import Seen
from webapp.shop.blanks.state import by_serial, lock
from webapp.shop.orders import customers
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.shelf import rules


class OutletAsked(BaseModel):
    """An outlet as typed; `version` is the one on the screen, 0 for one that is new."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    keeps_percent: Annotated[Decimal, Field(ge=0, le=90, max_digits=5, decimal_places=2)] = Decimal(0)
    version: int = 0


class Bring(BaseModel):
    """Which flute goes to the outlet."""

    serial: Annotated[str, StringConstraints(min_length=1, max_length=40)]


@dataclass(frozen=True, slots=True)
class Lying:
    """A flute that lies at an outlet."""

    seen: Seen
    said: ShelfFlute


@dataclass(frozen=True, slots=True)
class Sold:
    """A sale: the flute, what was paid for it, the order that stands for it, and what that still owes."""

    sale: ShelfSale
    serial: str
    order: int
    owed: Decimal


@dataclass(frozen=True, slots=True)
class Stands:
    """An outlet with all that lies there and was sold there."""

    outlet: Outlet
    lying: list[Lying]
    sold: list[Sold]

    @property
    def owed(self) -> Decimal:
        return sum((one.owed for one in self.sold), Decimal(0))


def outlet(session: Session, outlet_id: int) -> Outlet:
    """Raises NotFound."""
    return find(session, Outlet, outlet_id, "outlet")


def save(session: Session, who: Who, outlet_id: int | None, asked: OutletAsked) -> Outlet:
    """Add an outlet, with a customer of its name for what it owes, or change one.

    Raises NotAllowed, NotFound, Stale, Invalid.
    """
    who.must(Role.OFFICE)
    same = session.exec(select(Outlet.id).where(Outlet.name == asked.name)).first()
    if same is not None and same != outlet_id:
        raise Invalid({"name": "There is an outlet of this name already."})
    if outlet_id is None:
        owes = next(iter(customers.named(session, asked.name)), None) or customers.add(session, who, asked.name)
        made = Outlet(name=asked.name, keeps_percent=asked.keeps_percent, customer_id=owes.id or 0)
        diary.write(session, who, "shop", 1, f"Outlet {asked.name} added")
    else:
        made = find(session, Outlet, outlet_id, "outlet", lock=True)
        if asked.version != made.version:
            raise Stale({"name": made.name, "keeps_percent": f"{made.keeps_percent}", "version": str(made.version)})
        made.name, made.keeps_percent = asked.name, asked.keeps_percent
        made.version += 1
        diary.write(session, who, "shop", 1, f"Outlet {made.name} changed")
    session.add(made)
    session.flush()
    return made


def bring(session: Session, who: Who, outlet_id: int, asked: Bring) -> ShelfFlute:
    """A flute of the shelf lies at the outlet from now on. Raises NotAllowed, NotFound, Invalid."""
    who.must(Role.OFFICE)
    where = outlet(session, outlet_id)
    blank = lock(session, by_serial(session, asked.serial).id or 0)
    if not rules.is_on_the_shelf(blank):
        raise Invalid({"serial": f"{blank.serial} is not on the shelf: it belongs to an order, or is {blank.status}."})
    said = rules.said_of(session, blank)
    if said.outlet_id == where.id:
        raise Invalid({"serial": f"{blank.serial} lies there already."})
    return _lies_at(session, who, blank, said, where)


def fetch(session: Session, who: Who, outlet_id: int, asked: Bring) -> ShelfFlute:
    """A flute comes back from the outlet. Raises NotAllowed, NotFound, Refused."""
    who.must(Role.OFFICE)
    blank = lock(session, by_serial(session, asked.serial).id or 0)
    said = rules.said_of(session, blank)
    if said.outlet_id != outlet_id:
        raise Refused(f"{blank.serial} does not lie there.")
    return _lies_at(session, who, blank, said, None)


def stands(session: Session, since: date | None = None) -> list[Stands]:
    """Every outlet by name, with what lies there and what was sold there (of the days from `since` on)."""
    outlets = list(session.exec(select(Outlet).order_by(Outlet.name)))
    rows = session.exec(
        select(ShelfFlute)
        .join(Blank, col(Blank.id) == ShelfFlute.blank_id)
        .where(col(ShelfFlute.outlet_id).is_not(None), is_for_the_shop())
        .order_by(col(ShelfFlute.since))
    ).all()
    seen = {one.blank.id: one for one in blank_list.seen(session, [row.blank_id for row in rows])}
    lying: dict[int | None, list[Lying]] = {}
    for row in rows:
        lying.setdefault(row.outlet_id, []).append(Lying(seen[row.blank_id], row))
    sold: dict[int | None, list[Sold]] = {}
    for sale in sales(session, since):
        sold.setdefault(sale.sale.outlet_id, []).append(sale)
    return [Stands(one, lying.get(one.id, []), sold.get(one.id, [])) for one in outlets]


def sales(session: Session, since: date | None = None) -> list[Sold]:
    """What was sold from the shelf, the latest first, with what each still owes."""
    owed = unpaid.unpaid(session)
    statement = (
        select(ShelfSale, Blank.serial, Order.number)
        .join(Blank, col(Blank.id) == ShelfSale.blank_id)
        .join(Order, col(Order.id) == ShelfSale.order_id)
        .where(col(ShelfSale.taken_back_at).is_(None))
        .order_by(col(ShelfSale.id).desc())
    )
    if since:
        statement = statement.where(ShelfSale.sold_on >= since)
    nothing = Decimal("0.00")
    return [Sold(sale, serial, n, owed.get(sale.order_id, nothing)) for sale, serial, n in session.exec(statement)]


def _lies_at(session: Session, who: Who, blank: Blank, said: ShelfFlute, where: Outlet | None) -> ShelfFlute:
    rules.lie(session, who, blank, said, where.name if where else "", now())
    said.outlet_id = where.id if where else None
    said.version += 1
    session.add(said)
    session.flush()
    return said
