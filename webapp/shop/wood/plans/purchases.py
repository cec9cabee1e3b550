"""What to buy: lots at their reorder point or over-reserved, and wood for orders."""

import math
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session, col, func, select

from webapp.models import MovementReason, Sawing, Species, StockItem, StockMovement
from webapp.shop.stock.lists import Lot, shelf
from webapp.shop.wood.plans.demand import Need, needs

USUAL_YIELD = 0.5
"""Share of a board that becomes pieces, for a shop that has sawn nothing yet; common practice, no published source."""
UNKNOWN = "Source not recorded"


@dataclass(frozen=True, slots=True)
class ToBuy:
    """A lot to buy more of: how much, and what that costs at the last price."""

    lot: Lot
    quantity: float
    cost: Decimal
    why: str


@dataclass(frozen=True, slots=True)
class WoodShort:
    """Halves of a wood that are not on the shelf.

    `volume` is the board volume to buy [mm3], with the waste of the shop's own sawing; `on_boards` that of the boards
    on hand.
    """

    species: Species
    needs: tuple[Need, ...]
    halves: int
    longest: float
    volume: float
    on_boards: float


def lots_to_buy(session: Session) -> list[tuple[str, list[ToBuy]]]:
    """Grouped by source, those without one last."""
    found: dict[str, list[ToBuy]] = {}
    for lot in shelf(session):
        if lot.below or lot.short:
            found.setdefault(lot.item.source or UNKNOWN, []).append(_to_buy(session, lot))
    return sorted(found.items(), key=lambda pair: (pair[0] == UNKNOWN, pair[0].lower()))


def _to_buy(session: Session, lot: Lot) -> ToBuy:
    item = lot.item
    least = 2 * (item.reorder_at or 0.0) - lot.free
    quantity = max(item.usual_order or 0.0, least, -lot.free)
    if item.unit == "piece":
        quantity = float(max(1, math.ceil(quantity - 1e-9)))
    why = "more is reserved than is on hand" if lot.short else "at its reorder point"
    return ToBuy(lot, quantity, (_last_price(session, item) * Decimal(str(quantity))).quantize(Decimal("0.01")), why)


def _last_price(session: Session, item: StockItem) -> Decimal:
    """The cost of one when it last came in: a board that was shortened since now costs less than a new one."""
    received = StockMovement.reason == MovementReason.RECEIVED
    statement = select(StockMovement).where(StockMovement.item_id == item.id, received)
    last = session.exec(statement.order_by(col(StockMovement.id).desc()).limit(1)).first()
    return item.unit_cost if last is None or last.unit_cost is None else last.unit_cost


def wood_short(session: Session) -> list[WoodShort]:
    """Halves still to be cut, by wood, with the volume of the boards on hand."""
    short = [need for need in needs(session)[0] if need.short > 0]
    share = sawing_yield(session)
    boards: dict[int | None, float] = {}
    for lot in shelf(session):
        item = lot.item
        if item.kind == "board" and item.length and item.width and item.thickness:
            volume = item.length * item.width * item.thickness * max(0.0, lot.free)
            boards[item.species_id] = boards.get(item.species_id, 0.0) + volume
    found = []
    for species in {need.species.id: need.species for need in short}.values():
        own = tuple(need for need in short if need.species.id == species.id)
        pieces = sum(need.short * need.size.length * need.size.width * need.size.thickness for need in own)
        found.append(
            WoodShort(
                species,
                own,
                sum(need.short for need in own),
                max(need.size.length for need in own),
                pieces / share,
                boards.get(species.id, 0.0),
            )
        )
    return sorted(found, key=lambda one: one.species.name)


def sawing_yield(session: Session) -> float:
    """The share of the boards sawn so far that became pieces."""
    sawn, pieces = session.exec(select(func.sum(Sawing.sawn_volume), func.sum(Sawing.piece_volume))).one()
    return float(pieces / sawn) if sawn and pieces else USUAL_YIELD
