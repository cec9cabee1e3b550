"""Stock: a ledger of movements for each lot on the shelf, and reservations for blanks.

The amount on hand is the sum of a lot's movements; what is free is that less the open reservations. Nothing is
overwritten: a mistake is corrected by a further movement that refers to the first.
"""

from typing import Any

from sqlmodel import Session, col, select

from webapp.models import MoistureReading, MovementReason, Reservation, Species, StockItem, StockMovement, now
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.stock.forms import OF_WOOD, Correct, Count, LotAsked, NewLot, Receive, TakeOut
from webapp.shop.stock.lists import Line, Lot, lot, movements, show_quantity

LOT = "lot of stock"


def item_of(session: Session, item_id: int) -> StockItem:
    """Raises NotFound."""
    return find(session, StockItem, item_id, LOT)


def available(session: Session, item_id: int) -> float:
    """How much of a lot is on hand and not reserved. Raises NotFound."""
    return lot(session, item_of(session, item_id)).free


def add_lot(session: Session, who: Who, asked: NewLot) -> StockItem:
    """A new lot, with the movement that brings it in. Raises NotAllowed, Invalid."""
    who.must_work()
    amounts.check_asked(who, asked, "stock_item")
    _check_label(session, asked)
    _whole(asked.unit, asked.quantity, "quantity")
    item = StockItem(**asked.model_dump(exclude={"quantity", "note"}))
    session.add(item)
    session.flush()
    move(session, who, item, asked.quantity, MovementReason.RECEIVED, asked.note)
    _keep_moisture(session, who, item, "as it came in")
    diary.write(session, who, "lot", item.id, f"New lot: {show_quantity(asked.quantity, item.unit)}", asked.note)
    session.flush()
    return item


def relabel(session: Session, who: Who, item_id: int, asked: LotAsked) -> StockItem:
    """Change a lot's label: name, sizes, cost, place. Its kind, unit and species can't change once set.

    Raises NotAllowed, NotFound, Invalid.
    """
    who.must_work()
    amounts.check_asked(who, asked, "stock_item")
    item = find(session, StockItem, item_id, LOT, lock=True)
    kept: dict[str, Any] = {"kind": item.kind, "unit": item.unit, "species_id": item.species_id}
    if not amounts.changes(who.role, "stock_item.unit_cost"):
        kept["unit_cost"] = item.unit_cost
    asked = asked.model_copy(update=kept)
    for name, value in asked.model_dump(exclude=set(kept)).items():
        if (before := getattr(item, name)) != value:
            setattr(item, name, value)
            if name == "moisture":
                _keep_moisture(session, who, item, "changed on the label")
            words = name.replace("_", " ").capitalize()
            said = f"{words}: was {_said(before)}, is now {_said(value)}"
            diary.write(session, who, "lot", item.id, said, about_money=name == "unit_cost")
    session.add(item)
    session.flush()
    return item


def receive(session: Session, who: Who, item_id: int, asked: Receive) -> StockMovement:
    """More of this lot came in. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    item = find(session, StockItem, item_id, LOT, lock=True)
    _whole(item.unit, asked.quantity, "quantity")
    movement = move(session, who, item, asked.quantity, MovementReason.RECEIVED, asked.note)
    session.flush()
    return movement


def take_out(session: Session, who: Who, item_id: int, asked: TakeOut) -> StockMovement:
    """Some was used on no blank in particular, or was spoilt. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    item = find(session, StockItem, item_id, LOT, lock=True)
    _whole(item.unit, asked.quantity, "quantity")
    present = lot(session, item)
    if asked.quantity > present.there:
        raise Invalid({"quantity": f"Only {show_quantity(present.there, item.unit)} are on record: count first."})
    movement = move(session, who, item, -asked.quantity, MovementReason(asked.reason), asked.note)
    session.flush()
    return movement


def count(session: Session, who: Who, item_id: int, asked: Count) -> StockMovement:
    """Record a count; a difference from the record needs an explanation. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    item = find(session, StockItem, item_id, LOT, lock=True)
    _whole(item.unit, asked.counted, "counted")
    present = lot(session, item)
    difference = round(asked.counted - present.there, 6)
    if difference and not asked.why:
        missing = f"{show_quantity(abs(difference), item.unit)} {'missing' if difference < 0 else 'too many'}"
        says = f"The record says {show_quantity(present.there, item.unit)}, so {missing}: explain the difference."
        raise Invalid({"why": says})
    movement = move(session, who, item, difference, MovementReason.COUNTED, asked.why or "As on record.")
    session.flush()
    return movement


def correct(session: Session, who: Who, movement_id: int, asked: Correct) -> StockMovement:
    """Correct a movement by a further one: `quantity` is what should have come in or gone out, without its sign.

    Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must_work()
    wrong = find(session, StockMovement, movement_id, "movement")
    item = find(session, StockItem, wrong.item_id, LOT, lock=True)
    if wrong.corrects_id:
        raise Refused("That movement is itself a correction: correct the first movement again instead.")
    if wrong.reason is MovementReason.COUNTED:
        raise Refused("A count is corrected by counting again.")
    _whole(item.unit, asked.quantity, "quantity")
    later = session.exec(select(StockMovement.quantity).where(StockMovement.corrects_id == movement_id))
    stands = wrong.quantity + sum(later)
    difference = round((asked.quantity if wrong.quantity > 0 else -asked.quantity) - stands, 6)
    if difference == 0:
        raise Invalid({"quantity": "The movement already says that."})
    if lot(session, item).there + difference < 0:
        raise Invalid({"quantity": "That would leave less than nothing in stock: count first."})
    movement = move(session, who, item, difference, MovementReason.CORRECTED, asked.why, wrong.blank_id)
    movement.corrects_id = movement_id
    session.flush()
    return movement


def reserve(session: Session, who: Who, item_id: int, blank_id: int, quantity: float) -> Reservation:
    """Reserve some of a lot for a blank.

    The lot is locked, so that two people can't both take the last halves. Raises NotFound, Refused.
    """
    item = find(session, StockItem, item_id, LOT, lock=True)
    free = lot(session, item).free
    if quantity > free:
        raise Refused(
            f"{item.name}: {show_quantity(max(free, 0.0), item.unit)} free, "
            f"{show_quantity(quantity, item.unit)} needed."
        )
    made = Reservation(item_id=item_id, blank_id=blank_id, quantity=quantity, by=who.id)
    session.add(made)
    session.flush()
    return made


def use(session: Session, who: Who, item_id: int, quantity: float, blank_id: int | None, note: str) -> StockMovement:
    """Record that some of a lot was used, for a blank or otherwise.

    It is recorded even where more was used than is on record: the lot then shows as short until it is counted.
    Raises NotFound.
    """
    item = find(session, StockItem, item_id, LOT, lock=True)
    return move(session, who, item, -quantity, MovementReason.USED, note, blank_id)


def take_reserved(session: Session, who: Who, blank_id: int) -> None:
    """Turn this blank's open reservations, if any, into use."""
    for made in _open_for(session, blank_id):
        item = find(session, StockItem, made.item_id, LOT, lock=True)
        made.ended_at, made.ended_why = now(), "used"
        session.add(made)
        move(session, who, item, -made.quantity, MovementReason.USED, "", blank_id)


def give_back(session: Session, who: Who, blank_id: int, why: str) -> None:
    """End this blank's open reservations, so that the amounts are free again."""
    for made in _open_for(session, blank_id):
        item = find(session, StockItem, made.item_id, LOT, lock=True)
        made.ended_at, made.ended_why = now(), f"given back: {why}"[:120]
        session.add(made)
        what = f"{show_quantity(made.quantity, item.unit)} given back by {who.name}"
        diary.write(session, who, "lot", item.id, what, why)


def line_of(session: Session, item_id: int, movement_id: int) -> Line:
    """One movement of a lot. Raises NotFound."""
    find(session, StockMovement, movement_id, "movement")
    line = next((line for line in movements(session, item_id, movement_id) if line.movement.id == movement_id), None)
    if line is None:
        raise NotFound(f"This lot has no movement {movement_id}.")
    return line


def _open_for(session: Session, blank_id: int) -> list[Reservation]:
    statement = select(Reservation).where(Reservation.blank_id == blank_id, col(Reservation.ended_at).is_(None))
    return list(session.exec(statement.order_by(col(Reservation.id))))


def move(
    session: Session,
    who: Who,
    item: StockItem,
    quantity: float,
    reason: MovementReason,
    note: str,
    blank_id: int | None = None,
) -> StockMovement:
    """Add a line to the ledger; a lot is hidden when nothing is left, and shown again when more comes in.

    The caller has checked who asks.
    """
    assert item.id is not None
    movement = StockMovement(
        item_id=item.id,
        quantity=quantity,
        reason=reason,
        blank_id=blank_id,
        unit_cost=item.unit_cost,
        note=note,
        by=who.id,
    )
    session.add(movement)
    session.flush()
    present: Lot = lot(session, item)
    # A lot with a reorder point stays on the list, so that people see that it is empty.
    used_up = present.there == 0 and present.spoken_for <= 0 and item.reorder_at is None
    if item.used_up != used_up:
        item.used_up = used_up
        session.add(item)
    return movement


def _keep_moisture(session: Session, who: Who, item: StockItem, note: str) -> None:
    """Keep the label's moisture as a reading like any other."""
    if item.moisture is not None and item.kind in OF_WOOD:
        assert item.id is not None
        session.add(MoistureReading(item_id=item.id, percent=item.moisture, note=note, by=who.id))


def _check_label(session: Session, asked: LotAsked) -> None:
    if asked.kind in OF_WOOD:
        if asked.species_id is None:
            raise Invalid({"species_id": "Choose the wood."})
        if session.get(Species, asked.species_id) is None:
            raise Invalid({"species_id": "Choose one of the list."})


def _whole(unit: str, quantity: float, field: str) -> None:
    if unit == "piece" and quantity != int(quantity):
        raise Invalid({field: "Pieces come in whole numbers."})


def _said(value: object) -> str:
    return "nothing" if value is None or value == "" else str(value)
