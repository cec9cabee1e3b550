"""Counting many lots at once: all lines are recorded, or none, and every difference is explained."""

from dataclasses import dataclass

from sqlmodel import Session

from webapp.models import MovementReason, StockItem, StockKind
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people.accounts import Who
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import Counting
from webapp.shop.stock.lists import Lot, lot, shelf, show_quantity

MOST_LINES = 120


@dataclass(frozen=True, slots=True)
class Counted:
    """The result of a count sheet: how many lots were counted, how many of them differed."""

    lots: int
    differed: int


def sheet(session: Session, kind: StockKind | None = None) -> list[Lot]:
    """The lots to count, in the order of a walk along the shelves: by place, then name."""
    lots = shelf(session, kind)
    return sorted(lots, key=lambda one: (one.item.place.lower() or "~", one.item.name.lower(), one.item.id))[
        :MOST_LINES
    ]


def count_sheet(session: Session, who: Who, lines: list[Counting]) -> Counted:
    """Record a sheet of counts. Raises NotAllowed, NotFound, Invalid (fields `counted_7`, `why_7` for lot 7).

    Where stock of a lot moved after the sheet was shown, its line is refused: the count may be out of date.
    """
    who.must_work()
    if not lines:
        raise Invalid({"": "Enter at least one count."})
    wrong: dict[str, str] = {}
    differed = 0
    for line in sorted(lines, key=lambda one: one.item_id):
        item = find(session, StockItem, line.item_id, "lot of stock", lock=True)
        there = lot(session, item).there
        if fault := _fault(item, line, there):
            wrong[fault[0]] = fault[1]
            continue
        difference = round(line.counted - there, 6)
        differed += bool(difference)
        stock.move(session, who, item, difference, MovementReason.COUNTED, line.why or "As on record.")
    if wrong:
        raise Invalid(wrong)
    return Counted(len(lines), differed)


def _fault(item: StockItem, line: Counting, there: float) -> tuple[str, str] | None:
    if item.unit == "piece" and line.counted != int(line.counted):
        return f"counted_{item.id}", "Pieces come in whole numbers."
    if line.said is not None and abs(line.said - there) > 1e-6:
        return f"counted_{item.id}", f"It has changed since: the record now says {show_quantity(there, item.unit)}."
    difference = round(line.counted - there, 6)
    if difference and not line.why:
        words = f"{show_quantity(abs(difference), item.unit)} {'missing' if difference < 0 else 'too many'}"
        return f"why_{item.id}", f"{words}: explain the difference."
    return None
