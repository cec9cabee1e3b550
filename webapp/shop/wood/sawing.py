"""Sawing a board: it is used up or shortened, its pieces become lots of their own, with their share of its cost.

A board is sawn from its marked end; what is left keeps the board's label, and its fresh end becomes the marked one.
The cost of the length that was sawn up, waste included, is shared among the pieces by volume. Of a lot of several
boards, the one that is sawn first becomes a lot of its own.
"""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import (
    BoardFlaw,
    CuttingPlan,
    MoistureReading,
    MovementReason,
    Sawing,
    SawnLot,
    Species,
    StockItem,
    StockKind,
    now,
)
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import Note, Size
from webapp.shop.stock.lists import lot
from webapp.shop.units.lengths import Length
from webapp.shop.units.rough import rough_length
from webapp.shop.units.sizes import between
from webapp.shop.wood.boards import board_of, flaws

CENT = Decimal("0.01")
MOST_KINDS = 6


class Pieces(BaseModel):
    """Pieces of one size that came off the board [mm]."""

    kind: Literal[StockKind.HALVES, StockKind.BLOCK_BLANK] = StockKind.HALVES
    count: Annotated[int, Field(ge=1, le=500)]
    length: Size
    width: Size
    thickness: Size


class Saw(BaseModel):
    """How a board was sawn: how much of its length is left (none: it is used up), where the pieces are kept."""

    length_after: Annotated[Length, between(0.0, 6096.0)] = 0.0
    place: Annotated[str, StringConstraints(max_length=60)] = ""
    note: Note = ""


def saw(
    session: Session,
    who: Who,
    board_id: int,
    asked: Saw,
    pieces: list[Pieces],
    of_plan: tuple[int, int] | None = None,
) -> Sawing:
    """Record that a board was sawn. `of_plan`: a cutting plan and which of its boards this is.

    Raises NotAllowed, NotFound, Refused, Invalid (of a piece: `count_1`).
    """
    who.must_work()
    board = board_of(session, board_id, lock=True)
    plan_id, plan_cut = of_plan or (None, None)
    if plan_id is not None:
        find(session, CuttingPlan, plan_id, "cutting plan")
    if lot(session, board).there < 1:
        raise Refused(f"{board.name}: none is left. If there is one, count it first.")
    _check(board, asked, pieces)
    board = _one_of(session, who, board, _number_of(session, of_plan))
    assert board.id is not None and board.length and board.width and board.thickness
    before, after = board.length, asked.length_after
    cost = board.unit_cost if after == 0 else (board.unit_cost * Decimal((before - after) / before)).quantize(CENT)
    made = Sawing(
        board_id=board.id,
        plan_id=plan_id,
        plan_cut=plan_cut,
        length_before=before,
        length_after=after,
        cost=cost,
        sawn_volume=(before - after) * board.width * board.thickness,
        piece_volume=sum(_volume(piece) * piece.count for piece in pieces),
        note=asked.note,
        by=who.id,
    )
    session.add(made)
    session.flush()
    assert made.id is not None
    for piece, share in zip(pieces, _shares(cost, pieces), strict=True):
        given = _receive(session, who, board, piece, share, asked.place or board.place)
        assert given.id is not None
        session.add(SawnLot(sawing_id=made.id, item_id=given.id, count=piece.count, cost=share))
    words = ", ".join(f"{piece.count} {_named(piece)}" for piece in pieces)
    if after:
        board.length, board.unit_cost = after, board.unit_cost - cost
        _move_flaws(session, board, before - after)
        left = f"{rough_length(after, who.units)} of its length is left"
        diary.write(session, who, "lot", board.id, f"Sawn: {words}; {left}", asked.note)
    else:
        stock.move(session, who, board, -1, MovementReason.USED, f"Sawn: {words}")
        _move_flaws(session, board, before)
        diary.write(session, who, "lot", board.id, f"Sawn up: {words}", asked.note)
    session.add(board)
    session.flush()
    return made


def _check(board: StockItem, asked: Saw, pieces: list[Pieces]) -> None:
    if not (board.length and board.width and board.thickness):
        raise Refused("Write the board's length, width and thickness on its label first: its cost is shared by size.")
    if not pieces:
        raise Invalid({"count_1": "Enter what came off the board."})
    if asked.length_after >= board.length:
        raise Invalid({"length_after": "That is all of the board: nothing would have been sawn."})
    used = board.length - asked.length_after
    wrong = {}
    for n, piece in enumerate(pieces, start=1):
        for name, size, most in (
            ("length", piece.length, used),
            ("width", piece.width, max(board.width, board.thickness)),
            ("thickness", piece.thickness, max(board.width, board.thickness)),
        ):
            if size > most + 0.01:
                wrong[f"{name}_{n}"] = "Larger than the board allows."
    volume = sum(_volume(piece) * piece.count for piece in pieces)
    if not wrong and volume > used * board.width * board.thickness * 1.001:
        wrong["count_1"] = "These pieces hold more wood than was sawn up: check counts, sizes and the length left."
    if wrong:
        raise Invalid(wrong)


def _number_of(session: Session, of_plan: tuple[int, int] | None) -> int:
    """Which board of its lot is sawn, from 1: the one that the plan names, else the first."""
    if of_plan is None:
        return 1
    planned = find(session, CuttingPlan, of_plan[0], "cutting plan").asked["boards"]
    return int(planned[of_plan[1]]["copy"]) + 1 if of_plan[1] < len(planned) else 1


def _one_of(session: Session, who: Who, board: StockItem, number: int) -> StockItem:
    """The board itself, or the one of this number in its lot, with a label and flaws of its own."""
    if lot(session, board).there < 2:
        return board
    copied = board.model_dump(exclude={"id", "reorder_at", "created_at", "used_up"})
    one = StockItem(**copied)
    session.add(one)
    session.flush()
    assert one.id is not None and board.id is not None
    stock.move(session, who, board, -1, MovementReason.USED, f"One board separated as lot {one.id}")
    stock.move(session, who, one, 1, MovementReason.RECEIVED, f"One board of lot {board.id}")
    for flaw in flaws(session, board.id):
        if flaw.board in (None, number):
            session.add(BoardFlaw(**flaw.model_dump(exclude={"id", "item_id", "board"}), item_id=one.id))
        if flaw.board == number:
            flaw.gone_at = now()
        elif flaw.board is not None and flaw.board > number:
            flaw.board -= 1  # the boards that stay are counted again from 1
        session.add(flaw)
    if one.moisture is not None:
        session.add(MoistureReading(item_id=one.id, percent=one.moisture, note="as its lot", by=who.id))
    diary.write(session, who, "lot", one.id, f"One board of lot {board.id}, {board.name}")
    return one


def _receive(session: Session, who: Who, board: StockItem, piece: Pieces, share: Decimal, place: str) -> StockItem:
    species = find(session, Species, board.species_id or 0, "wood")
    item = StockItem(
        kind=piece.kind,
        name=f"{species.name}, {_named(piece)} from board {board.id}"[:120],
        species_id=board.species_id,
        unit="piece",
        length=piece.length,
        width=piece.width,
        thickness=piece.thickness,
        moisture=board.moisture,
        unit_cost=(share / piece.count).quantize(CENT),
        source=board.source,
        papers=board.papers,
        place=place,
    )
    session.add(item)
    session.flush()
    assert item.id is not None
    stock.move(
        session, who, item, piece.count, MovementReason.RECEIVED, f"Sawn from board {board.id}, {board.name}"[:500]
    )
    if board.moisture is not None:
        session.add(MoistureReading(item_id=item.id, percent=board.moisture, note="as its board", by=who.id))
    return item


def _shares(cost: Decimal, pieces: list[Pieces]) -> list[Decimal]:
    """The cost shared by volume, to the cent; the last share takes what rounding leaves."""
    total = sum(_volume(piece) * piece.count for piece in pieces)
    shares = [(cost * Decimal(_volume(piece) * piece.count / total)).quantize(CENT) for piece in pieces[:-1]]
    return [*shares, cost - sum(shares, Decimal(0))]


def _move_flaws(session: Session, board: StockItem, sawn: float) -> None:
    """Shift flaws to the new marked end; those in the part that was sawn up are gone."""
    assert board.id is not None
    for flaw in flaws(session, board.id):
        if flaw.end <= sawn:
            flaw.gone_at = now()
        else:
            flaw.start, flaw.end = max(0.0, flaw.start - sawn), flaw.end - sawn
        session.add(flaw)


def _volume(piece: Pieces) -> float:
    return piece.length * piece.width * piece.thickness


def _named(piece: Pieces) -> str:
    if piece.kind is StockKind.HALVES:
        return "half" if piece.count == 1 else "halves"
    return "block blank" if piece.count == 1 else "block blanks"


def given_by(session: Session, board_id: int) -> list[tuple[Sawing, list[tuple[SawnLot, StockItem]]]]:
    """What a board gave, newest sawing first."""
    rows = session.exec(
        select(Sawing, SawnLot, StockItem)
        .join(SawnLot, col(SawnLot.sawing_id) == Sawing.id)
        .join(StockItem, col(StockItem.id) == SawnLot.item_id)
        .where(Sawing.board_id == board_id)
        .order_by(col(Sawing.id).desc(), col(SawnLot.id))
    )
    found: dict[int, tuple[Sawing, list[tuple[SawnLot, StockItem]]]] = {}
    for sawing, sawn, item in rows:
        assert sawing.id is not None
        found.setdefault(sawing.id, (sawing, []))[1].append((sawn, item))
    return list(found.values())


def came_from(session: Session, item_id: int) -> tuple[Sawing, StockItem, SawnLot] | None:
    """The sawing and the board that a lot of pieces came from; none for one that was bought as it is."""
    return session.exec(
        select(Sawing, StockItem, SawnLot)
        .join(SawnLot, col(SawnLot.sawing_id) == Sawing.id)
        .join(StockItem, col(StockItem.id) == Sawing.board_id)
        .where(SawnLot.item_id == item_id)
    ).first()
