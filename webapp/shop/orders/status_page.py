"""The customer's own page: a secret address shows the order's status and the day it is promised for.

It names the shop, how to reach it, and the order's number, so that its reader knows what to ask about and whom.
Nothing of the customer: no name, no price, no serial. Off until someone opens it; only the address's digest is kept.
"""

import secrets
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, Order, OrderStatus, Repair, Shop, Stage, now
from webapp.shop.base.errors import NotFound, Refused, Stale
from webapp.shop.base.finding import find
from webapp.shop.orders import lists as order_list, rules as orders
from webapp.shop.orders.price_customs import customs
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who, digest

STAGES = tuple(Stage)
LONGEST_TOKEN = 100
IN_LINE = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP)


@dataclass(frozen=True, slots=True)
class Piece:
    """One flute of the order: how many of the six stages lie behind it, and the one it is at, in a word."""

    words: str
    behind: int
    begun: bool = True


@dataclass(frozen=True, slots=True)
class Seen:
    """All that the page says."""

    shop: str
    contact: tuple[str, ...]  # the lines under the shop's name on its papers
    number: int
    status: OrderStatus
    promised: date | None
    pieces: tuple[Piece, ...]
    before: int | None = None  # orders that are before it in line, where the shop shows that


def open_page(session: Session, who: Who, number: int, version: int) -> str:
    """Open the page or give it a new address. Returns its secret part, which is not kept and shown once.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = _order(session, who, number, version)
    if order.status is OrderStatus.WITHDRAWN:
        raise Refused("This order is withdrawn: there is nothing left to follow.")
    secret = secrets.token_urlsafe(32)
    renewed = order.status_digest is not None
    order.status_digest, order.status_since = digest(secret), now()
    what = (
        "The customer's page has a new address; the old one no longer works"
        if renewed
        else "The customer's page is open"
    )
    diary.write(session, who, "order", order.id, what)
    orders.changed(session, order)
    return secret


def close_page(session: Session, who: Who, number: int, version: int) -> None:
    """The address no longer works from now on. Raises NotAllowed, NotFound, Stale."""
    order = _order(session, who, number, version)
    if order.status_digest is None:
        return
    order.status_digest = order.status_since = None
    diary.write(session, who, "order", order.id, "The customer's page is closed")
    orders.changed(session, order)


def look(session: Session, secret: str) -> Seen:
    """What the page at this address says. Raises NotFound, in the same words for every address that does not work."""
    order = None
    if secret.isascii() and len(secret) <= LONGEST_TOKEN:
        order = session.exec(select(Order).where(Order.status_digest == digest(secret))).first()
    if order is None:
        raise NotFound("This address does not work, or no longer does. Ask the shop for a new one.")
    return seen(session, order)


def seen(session: Session, order: Order) -> Seen:
    """What a customer's page says of this order, whether it is open or not."""
    rows = order_list.flute_rows(session, order)
    # What was handed over stays finished here, even where it is at the bench again for a repair.
    handed = order.status is OrderStatus.HANDED_OVER
    pieces = [Piece("finished", len(STAGES)) if handed else _piece(row.blanks) for row in rows]
    repairs = session.exec(select(Repair).where(Repair.order_id == order.id)).all()
    for repair in repairs:
        blank = session.get(Blank, repair.blank_id) if repair.blank_id and repair.begun_at else None
        if repair.done_at:
            pieces.append(Piece("finished", len(STAGES)))
        elif repair.begun_at:
            pieces.append(Piece(f"{repair.kind}: at {blank.stage}" if blank else f"{repair.kind}: at the bench", 3))
        else:
            pieces.append(Piece(f"{repair.kind}: not begun", 0, begun=False))
    promised = order.due_on if order.status in orders.PROMISED else None
    shop = find(session, Shop, 1, "shop")
    pricing = customs(session).pricing
    contact = tuple(line.strip() for line in pricing.letterhead.splitlines() if line.strip())
    before = _before(session, order) if pricing.public_line else None
    return Seen(shop.name, contact, order.number, order.status, promised, tuple(pieces), before)


def _before(session: Session, order: Order) -> int | None:
    """How many orders are before this one in line; None where it stands in none. Without a due date one comes last."""
    if order.status not in IN_LINE:
        return None
    waiting = session.exec(select(Order).where(col(Order.status).in_(IN_LINE))).all()
    return sum(_rank(one) < _rank(order) for one in waiting)


def _rank(order: Order) -> tuple[date, date, int]:
    return order.due_on or date.max, order.taken_on, order.number


def _piece(blanks: list[Blank]) -> Piece:
    """A flute by its blank that is farthest on."""
    if any(blank.status in order_list.DONE for blank in blanks):
        return Piece("finished", len(STAGES))
    at = [STAGES.index(blank.stage) for blank in blanks if blank.status is BlankStatus.IN_WORK]
    return Piece(f"at {STAGES[max(at)]}", max(at)) if at else Piece("not begun", 0, begun=False)


def _order(session: Session, who: Who, number: int, version: int) -> Order:
    who.must_work()
    order = find(session, Order, orders.order_of(session, number).id or 0, "order", lock=True)
    if order.version != version:
        raise Stale({"version": str(order.version)})
    return order
