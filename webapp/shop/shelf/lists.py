"""The shelf as screens show it, and which of its flutes fit what orders are waiting for."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from sqlmodel import Session, col, func, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    FileKind,
    Order,
    OrderedFlute,
    Pattern,
    PatternRevision,
    Photo,
    ShelfFlute,
    is_for_the_shop,
    is_open,
)
from webapp.shop.blanks import lists as blank_list
from webapp.shop.blanks.lists import Seen
from webapp.shop.orders import flutes as ordered_flutes
from webapp.shop.orders.checks import OPEN
from webapp.shop.orders.lists import DONE, FluteRow
from webapp.shop.shelf import rules
from webapp.shop.units.keys import spellings

PAGE = 40
MOST_OFFERED = 3
MOST_LOOKED_AT = 200


class Which(StrEnum):
    """Which flutes of the shelf to list."""

    FINISHED = "finished"
    IN_WORK = "in work"


@dataclass(frozen=True, slots=True)
class OnShelf:
    """One flute of the shelf: what it is, what the shop says of it, its newest picture."""

    seen: Seen
    said: ShelfFlute
    photo_id: int | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """A flute of an open order that nothing finished is there for."""

    order: Order
    flute: OrderedFlute
    customer: str


def listed(session: Session, which: Which, page: int = 1, key: str | None = None) -> tuple[list[OnShelf], bool]:
    """A page of the flutes that no order has, the lowest key first, and whether there are more."""
    where = [is_for_the_shop(), col(Blank.status) == BlankStatus(which)]
    if key:
        where.append(col(Blank.key).in_(spellings(key)))
    found = blank_list.ids_in(session, where, [col(Blank.key), col(Blank.id)], PAGE + 1, (page - 1) * PAGE)
    return _shown(session, found[:PAGE]), len(found) > PAGE


def one(session: Session, blank: Blank) -> OnShelf:
    """One flute, whether it is on the shelf or not."""
    return _shown(session, [blank.id or 0])[0]


def fitting(session: Session, rows: Sequence[FluteRow]) -> dict[int, list[OnShelf]]:
    """For each flute of an order that is not finished, by its id: the flutes of the shelf that could be it now.

    Finished ones first, then the farthest on; a few of them. What has a grave defect is not offered.
    """
    waiting = [row.flute for row in rows if not row.finished]
    keys = {name for flute in waiting for name in spellings(flute.key)}
    if not keys:
        return {}
    found = session.exec(
        select(Blank, Pattern)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .where(is_for_the_shop(), col(Blank.key).in_(keys), col(Blank.grave_defect).is_(False))
        .order_by(col(Blank.finished_at).is_(None), col(Blank.id))
        .limit(MOST_LOOKED_AT)
    ).all()
    offered = {
        flute.id or 0: [blank.id or 0 for blank, pattern in found if ordered_flutes.fits(pattern, flute)][:MOST_OFFERED]
        for flute in waiting
    }
    shown = {one.seen.blank.id: one for one in _shown(session, sorted({n for ids in offered.values() for n in ids}))}
    return {flute_id: [shown[n] for n in ids] for flute_id, ids in offered.items() if ids}


def waiting_for(session: Session, blank: Blank) -> list[Waiting]:
    """The flutes of open orders that this one could be, the nearest due date first."""
    revision = session.get(PatternRevision, blank.revision_id)
    pattern = session.get(Pattern, revision.pattern_id) if revision else None
    if pattern is None or not rules.is_on_the_shelf(blank):
        return []
    done = select(Blank.id).where(Blank.ordered_flute_id == OrderedFlute.id, col(Blank.status).in_(DONE)).exists()
    rows = session.exec(
        select(Order, OrderedFlute, Customer.name)
        .join(OrderedFlute, col(OrderedFlute.order_id) == Order.id)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(col(Order.status).in_(OPEN), is_open(), col(OrderedFlute.key).in_(spellings(blank.key)), ~done)
        .order_by(col(Order.due_on).is_(None), col(Order.due_on), col(Order.number), col(OrderedFlute.id))
        .limit(MOST_LOOKED_AT)
    )
    return [Waiting(order, flute, name) for order, flute, name in rows if ordered_flutes.fits(pattern, flute)]


def _shown(session: Session, ids: Sequence[int]) -> list[OnShelf]:
    """These flutes in this order, in three queries."""
    said = {row.blank_id: row for row in session.exec(select(ShelfFlute).where(col(ShelfFlute.blank_id).in_(ids)))}
    newest = (
        select(Photo.blank_id, func.max(Photo.id))
        .where(col(Photo.blank_id).in_(ids), Photo.kind == FileKind.PICTURE, col(Photo.taken_back_at).is_(None))
        .group_by(col(Photo.blank_id))
    )
    pictures = dict(session.exec(newest).all())
    return [
        OnShelf(one, said.get(one.blank.id or 0) or rules.said_of(session, one.blank), pictures.get(one.blank.id))
        for one in blank_list.seen(session, ids)
    ]
