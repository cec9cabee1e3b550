"""What is on hand, reserved and free: derived from movements and open reservations."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, func, or_
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    Person,
    Reservation,
    Species,
    StockItem,
    StockKind,
    StockMovement,
)

MOST_SHOWN = 500


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot with the amounts on hand and reserved."""

    item: StockItem
    species: Species | None
    there: float
    spoken_for: float

    @property
    def free(self) -> float:
        return self.there - self.spoken_for

    @property
    def below(self) -> bool:
        """Whether what is free has fallen to the reorder point."""
        return self.item.reorder_at is not None and self.free <= self.item.reorder_at

    @property
    def short(self) -> bool:
        """Whether more is reserved than is on hand, as a count may show."""
        return self.free < 0


@dataclass(frozen=True, slots=True)
class Line:
    """One movement as a page shows it; `put_right` is the sum of the movements that correct it."""

    movement: StockMovement
    by: str
    serial: str | None
    put_right: float

    @property
    def stands_for(self) -> float:
        return self.movement.quantity + self.put_right


@dataclass(frozen=True, slots=True)
class Promise:
    """An open reservation: so much for this blank."""

    serial: str
    quantity: float
    at: datetime
    by: str


def there_of() -> ColumnElement[float]:
    """SQL for the amount on hand of the lot in the outer query."""
    total = select(func.coalesce(func.sum(StockMovement.quantity), 0.0))
    return total.where(StockMovement.item_id == StockItem.id).correlate(StockItem).scalar_subquery()


def spoken_for_of() -> ColumnElement[float]:
    """SQL for the reserved amount of the lot in the outer query."""
    total = select(func.coalesce(func.sum(Reservation.quantity), 0.0))
    total = total.where(Reservation.item_id == StockItem.id, col(Reservation.ended_at).is_(None))
    return total.correlate(StockItem).scalar_subquery()


def shelf(
    session: Session, kind: StockKind | None = None, used_up: bool = False, species_id: int | None = None
) -> list[Lot]:
    """The lots of a kind (or all) by kind, then name: those in stock, or with `used_up` those used up."""
    statement = (
        select(StockItem, Species, there_of(), spoken_for_of())
        .join(Species, col(Species.id) == StockItem.species_id, isouter=True)
        .order_by(StockItem.kind, StockItem.name, col(StockItem.id))
        .limit(MOST_SHOWN)
    )
    statement = statement.where(col(StockItem.used_up) == used_up)
    if kind:
        statement = statement.where(StockItem.kind == kind)
    if species_id:
        statement = statement.where(StockItem.species_id == species_id)
    return [Lot(item, species, _tidy(there), _tidy(spoken)) for item, species, there, spoken in session.exec(statement)]


def lot(session: Session, item: StockItem) -> Lot:
    """One lot with its amounts."""
    statement = select(there_of(), spoken_for_of()).where(StockItem.id == item.id).select_from(StockItem)
    there, spoken_for = session.exec(statement).one()
    species = session.get(Species, item.species_id) if item.species_id else None
    return Lot(item, species, _tidy(there), _tidy(spoken_for))


def movements(session: Session, item_id: int, only: int | None = None, limit: int = 200) -> list[Line]:
    """A lot's movements (or only one of them), newest first, each with the sum of its corrections."""
    statement = (
        select(StockMovement, Person.name, Blank.serial)
        .join(Person, col(Person.id) == StockMovement.by)
        .join(Blank, col(Blank.id) == StockMovement.blank_id, isouter=True)
        .where(StockMovement.item_id == item_id)
        .order_by(col(StockMovement.id).desc())
        .limit(limit)
    )
    if only is not None:
        statement = statement.where(or_(col(StockMovement.id) == only, col(StockMovement.corrects_id) == only))
    rows = session.exec(statement).all()
    right: dict[int, float] = {}
    for movement, _by, _serial in rows:
        if movement.corrects_id:
            right[movement.corrects_id] = right.get(movement.corrects_id, 0.0) + movement.quantity
    return [Line(movement, by, serial, right.get(movement.id or 0, 0.0)) for movement, by, serial in rows]


def promises(session: Session, item_id: int) -> list[Promise]:
    """The open reservations of a lot, oldest first."""
    rows = session.exec(
        select(Blank.serial, Reservation.quantity, Reservation.at, Person.name)
        .join(Blank, col(Blank.id) == Reservation.blank_id)
        .join(Person, col(Person.id) == Reservation.by)
        .where(Reservation.item_id == item_id, col(Reservation.ended_at).is_(None))
        .order_by(col(Reservation.id))
    )
    return [Promise(serial, quantity, at, by) for serial, quantity, at, by in rows]


def show_quantity(quantity: float, unit: str) -> str:
    """An amount with its unit: 1 piece, 12 pieces, 250 ml."""
    number = f"{quantity:.3f}".rstrip("0").rstrip(".").replace("-", "\N{MINUS SIGN}")
    if unit == "piece":
        return f"{number} {'piece' if abs(quantity) == 1 else 'pieces'}"
    return f"{number} {unit}"


def signed_quantity(quantity: float, unit: str) -> str:
    """The same, with its sign: +12 pieces, −2 pieces."""
    return ("+" if quantity > 0 else "") + show_quantity(quantity, unit)


def _tidy(total: float) -> float:
    """A sum of decimal amounts without the rounding errors of binary fractions."""
    return round(float(total), 6) + 0.0
