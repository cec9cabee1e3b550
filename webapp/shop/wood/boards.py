"""Single boards: moisture readings, and the flaws that no piece may contain."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlalchemy import or_
from sqlmodel import Session, col, select

from webapp.models import BoardFlaw, MoistureReading, Person, StockItem, StockKind, now
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.stock.forms import OF_WOOD
from webapp.shop.stock.lists import lot
from webapp.shop.units.lengths import Length
from webapp.shop.units.rough import rough_length
from webapp.shop.units.sizes import between

Place = Annotated[Length, between(0.0, 6096.0)]


class ReadMoisture(BaseModel):
    """What the moisture meter shows [percent]."""

    percent: Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)]
    note: Annotated[str, StringConstraints(max_length=300)] = ""


class FlawAsked(BaseModel):
    """A stretch that no piece may contain, from the marked end; with edges only where it does not go right across."""

    start: Place
    end: Place
    near_edge: Place | None = None
    far_edge: Place | None = None
    what: Annotated[str, StringConstraints(max_length=120)] = ""
    board: Annotated[int, Field(ge=1, le=1000)] | None = None  # which of several in the lot; empty: each of them


@dataclass(frozen=True, slots=True)
class Read:
    """A moisture reading as a page shows it."""

    at: datetime
    percent: float
    note: str
    by: str


def read_moisture(session: Session, who: Who, item_id: int, asked: ReadMoisture) -> MoistureReading:
    """Record a moisture reading; the label shows the latest. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    item = find(session, StockItem, item_id, "lot of stock", lock=True)
    if item.kind not in OF_WOOD:
        raise Refused("Only wood has a moisture content.")
    made = MoistureReading(item_id=item_id, percent=asked.percent, note=asked.note, by=who.id)
    item.moisture = asked.percent
    session.add(item)
    session.add(made)
    session.flush()
    return made


def moisture_readings(session: Session, item_id: int, limit: int = 100) -> list[Read]:
    """A lot's moisture readings, newest first."""
    rows = session.exec(
        select(MoistureReading, Person.name)
        .join(Person, col(Person.id) == MoistureReading.by)
        .where(MoistureReading.item_id == item_id)
        .order_by(col(MoistureReading.id).desc())
        .limit(limit)
    )
    return [Read(row.at, row.percent, row.note, name) for row, name in rows]


def flaws(session: Session, item_id: int) -> list[BoardFlaw]:
    """The flaws a board still has, in order from its marked end."""
    statement = select(BoardFlaw).where(BoardFlaw.item_id == item_id, col(BoardFlaw.gone_at).is_(None))
    return list(session.exec(statement.order_by(col(BoardFlaw.start), col(BoardFlaw.id))))


def marked_on(found: Sequence[BoardFlaw], number: int) -> list[BoardFlaw]:
    """Those of a lot's flaws that its board of this number has, from 1."""
    return [flaw for flaw in found if flaw.board in (None, number)]


def changed_since(session: Session, item_ids: Sequence[int], moment: datetime) -> list[BoardFlaw]:
    """The flaws of these boards that were marked, or removed, after this moment."""
    later = or_(col(BoardFlaw.at) > moment, col(BoardFlaw.gone_at) > moment)
    return list(session.exec(select(BoardFlaw).where(col(BoardFlaw.item_id).in_(item_ids), later)))


def add_flaw(session: Session, who: Who, item_id: int, asked: FlawAsked) -> BoardFlaw:
    """Mark a flaw on a board, so that no plan puts a piece there. Raises NotAllowed, NotFound, Refused, Invalid."""
    who.must_work()
    board = board_of(session, item_id, lock=True)
    wrong = {}
    if asked.end <= asked.start:
        wrong["end"] = "It must end beyond where it begins."
    if board.length is not None and asked.start >= board.length:
        wrong["start"] = "That is beyond the board's end."
    if (asked.near_edge is None) != (asked.far_edge is None):
        wrong["far_edge"] = "Give both edges, or neither where it goes right across."
    elif asked.near_edge is not None and asked.far_edge is not None and asked.far_edge <= asked.near_edge:
        wrong["far_edge"] = "It must lie beyond the near edge."
    if asked.board is not None and asked.board > max(1, int(lot(session, board).there)):
        wrong["board"] = "The lot has no such board."
    if wrong:
        raise Invalid(wrong)
    made = BoardFlaw(item_id=item_id, by=who.id, **asked.model_dump())
    session.add(made)
    ends = f"from {rough_length(asked.start, who.units)} to {rough_length(asked.end, who.units)}"
    which = f" on board {asked.board}" if asked.board else ""
    what = f"Flaw marked: {asked.what or 'flaw'} {ends}{which}"
    diary.write(session, who, "lot", item_id, what)
    session.flush()
    return made


def remove_flaw(session: Session, who: Who, item_id: int, flaw_id: int) -> None:
    """Remove a flaw that is gone, or was none. Raises NotAllowed, NotFound, Refused."""
    who.must_work()
    board_of(session, item_id, lock=True)
    flaw = find(session, BoardFlaw, flaw_id, "flaw")
    if flaw.item_id != item_id or flaw.gone_at is not None:
        raise Refused("That flaw was already removed.")
    flaw.gone_at = now()
    session.add(flaw)
    at = rough_length(flaw.start, who.units)
    diary.write(session, who, "lot", item_id, f"Flaw removed: {flaw.what or 'flaw'} at {at}")
    session.flush()


def board_of(session: Session, item_id: int, lock: bool = False) -> StockItem:
    """A lot that is a board. Raises NotFound, Refused."""
    board = find(session, StockItem, item_id, "lot of stock", lock=lock)
    if board.kind is not StockKind.BOARD:
        raise Refused(f"{board.name} is not a board.")
    return board
