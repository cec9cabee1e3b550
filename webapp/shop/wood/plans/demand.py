"""Halves that are needed: for the flutes of open orders, and those the shop wants to keep ready."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, Field
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Order,
    OrderedFlute,
    OrderStatus,
    PatternRevision,
    Species,
    StockItem,
    StockKind,
    WantedHalves,
    is_open,
)
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.patterns import rules as patterns
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.workshop import workshop
from webapp.shop.stock.forms import Size
from webapp.shop.stock.halves import PER_BLANK, Needed, needed
from webapp.shop.stock.lists import shelf

TO_BE_BUILT = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP)


class WantedAsked(BaseModel):
    """A number of halves of a wood and size to keep ready."""

    species_id: Annotated[int, Field(ge=1, le=LARGEST_ID)]
    length: Size
    width: Size
    thickness: Size
    count: Annotated[int, Field(ge=1, le=1000)]


@dataclass(slots=True)
class Need:
    """Halves of one wood and least size; `found` of them are free on the shelf, `short` must be cut or bought."""

    species: Species
    size: Needed
    count: int
    why: str
    order: int | None = None
    wanted: int | None = None
    found: int = 0

    @property
    def short(self) -> int:
        return self.count - self.found


@dataclass(frozen=True, slots=True)
class Unplanned:
    """A flute of an open order without a pattern, so that its wood can't be calculated."""

    order: int
    position: int
    key: str


def add_wanted(session: Session, who: Who, asked: WantedAsked) -> WantedHalves:
    """Add halves to keep ready. Raises NotAllowed, Invalid."""
    who.must_work()
    species = session.get(Species, asked.species_id)
    if species is None:
        raise Invalid({"species_id": "Choose one of the list."})
    made = WantedHalves(**asked.model_dump(), by=who.id)
    session.add(made)
    session.flush()
    diary.write(session, who, "wanted", 1, f"{asked.count} halves of {species.name} to keep ready")
    session.flush()
    return made


def drop_wanted(session: Session, who: Who, wanted_id: int) -> None:
    """Remove a line from that list. Raises NotAllowed, NotFound."""
    who.must_work()
    wanted = find(session, WantedHalves, wanted_id, "line of wanted halves", lock=True)
    species = find(session, Species, wanted.species_id, "wood")
    diary.write(session, who, "wanted", 1, f"{wanted.count} halves of {species.name} no longer to keep ready")
    session.delete(wanted)
    session.flush()


def needs(session: Session, orders: bool = True, ready: bool = True) -> tuple[list[Need], list[Unplanned]]:
    """What is needed, orders by their due date first, each with what the shelf has free for it already.

    Two halves of a flute come from one lot, so that they match.
    """
    found: list[Need] = []
    unplanned: list[Unplanned] = []
    if orders:
        found, unplanned = _for_orders(session)
    if ready:
        found += _to_lie_ready(session)
    _look_on_the_shelf(session, found)
    return found, unplanned


def _for_orders(session: Session) -> tuple[list[Need], list[Unplanned]]:
    made = select(Blank.id).where(
        col(Blank.ordered_flute_id) == OrderedFlute.id, col(Blank.status) != BlankStatus.FIREWOOD
    )
    rows = session.exec(
        select(OrderedFlute, Order, Species, PatternRevision)
        .join(Order, col(Order.id) == OrderedFlute.order_id)
        .join(Species, col(Species.id) == OrderedFlute.species_id)
        .join(PatternRevision, col(PatternRevision.id) == OrderedFlute.revision_id, isouter=True)
        .where(col(Order.status).in_(TO_BE_BUILT), is_open(), ~made.exists())
        .order_by(col(Order.due_on), col(Order.number), col(OrderedFlute.position))
    )
    allowed = workshop(session)
    found: list[Need] = []
    unplanned: list[Unplanned] = []
    for flute, order, species, revision in rows:
        if revision is None:
            unplanned.append(Unplanned(order.number, flute.position, flute.key))
            continue
        size = needed(patterns.instrument_of(revision), allowed)
        found.append(Need(species, size, PER_BLANK, f"order {order.number}, flute {flute.position}", order.number))
    return found, unplanned


def _to_lie_ready(session: Session) -> list[Need]:
    rows = session.exec(
        select(WantedHalves, Species)
        .join(Species, col(Species.id) == WantedHalves.species_id)
        .order_by(Species.name, col(WantedHalves.length).desc())
    )
    return [
        Need(species, Needed(one.length, one.width, one.thickness), one.count, "to keep ready", wanted=one.id)
        for one, species in rows
    ]


def _look_on_the_shelf(session: Session, found: list[Need]) -> None:
    """Give each need free halves of the smallest lot that fits; for orders two at a time from one lot."""
    lots = [lot for lot in shelf(session, StockKind.HALVES) if lot.free > 0]
    lots.sort(key=lambda lot: (lot.item.length or 0.0, lot.item.width or 0.0))
    free = {lot.item.id: int(lot.free) for lot in lots}
    for need in found:
        step = PER_BLANK if need.order else 1
        for lot in lots:
            if lot.item.species_id == need.species.id and _suits(lot.item, need.size):
                taken = min(need.short, free[lot.item.id]) // step * step
                need.found += taken
                free[lot.item.id] -= taken


def _suits(item: StockItem, size: Needed) -> bool:
    """Whether a lot is known to be large enough."""
    pairs = [(getattr(item, name), getattr(size, name)) for name in ("length", "width", "thickness")]
    return all(has is not None and has >= need - 0.01 for has, need in pairs)
