"""The rack: what lies on each stage's shelf, what comes out of clamps next, what needs doing, what is due."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Any
from weakref import WeakKeyDictionary

from sqlmodel import Session, col, func, select

from webapp import changes
from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderStatus,
    Stage,
    is_open,
)
from webapp.shop.blanks.lists import Seen, Waiting, Wanted, conditions, ids_due_first, ids_in, seen

ON_A_SHELF = 12
COMING_OUT = 8
DUE_WITHIN = timedelta(days=14)
MOST_DUE = 8
MOST_KEPT = 50  # different filters whose counts are remembered


@dataclass(frozen=True, slots=True)
class Shelf:
    """One stage: how many blanks lie there, which is due first, what the next hand movement is and on which blank."""

    stage: Stage
    count: int
    waiting: int
    lying: list[Seen]
    first_due: Seen | None
    next: Seen | None


@dataclass(frozen=True, slots=True)
class Due:
    """An order that is due soon, or late."""

    number: int
    customer: str
    due_on: date
    late: bool
    ready: bool


@dataclass(frozen=True, slots=True)
class Rack:
    """All that the home screen shows."""

    shelves: list[Shelf]
    coming_out: list[Seen]
    awaiting: dict[Waiting, int]
    due: list[Due]

    @property
    def anything(self) -> bool:
        """Whether any blank is in work."""
        return self.count > 0

    @property
    def count(self) -> int:
        """How many blanks are on its shelves."""
        return sum(shelf.count for shelf in self.shelves)

    @property
    def everything(self) -> list[Seen]:
        return [one for shelf in self.shelves for one in shelf.lying] + self.coming_out


def mark(session: Session, moment: datetime, today: date) -> str:
    """A mark that is the same as long as the rack looks the same: two look-ups, whatever is on record.

    It changes with every change in the shop, when a wait is over, and at midnight.
    """
    over = session.exec(
        select(Blank.waits_until)
        .where(col(Blank.waits_until) <= moment)
        .order_by(col(Blank.waits_until).desc())
        .limit(1)
    ).first()
    return f"{changes.count(session)}-{over.timestamp():.0f}-{today}" if over else f"{changes.count(session)}-{today}"


def rack(session: Session, moment: datetime, today: date, wanted: Wanted | None = None) -> Rack:
    """What the rack shows now; a fixed number of queries along indexes, however many blanks are on record.

    With `wanted`, only such blanks lie on the shelves; what is counted beside them and comes out next stays whole.
    """
    where = [col(Blank.status) == BlankStatus.IN_WORK, *conditions(wanted or Wanted(), today)]
    counts, awaiting = _counted(session, where, wanted, today)
    on_shelf = {
        stage: ids_due_first(session, [*where, col(Blank.stage) == stage], ON_A_SHELF) if stage in counts else []
        for stage in Stage
    }
    waits = [col(Blank.waits_for).in_(("clamps", "cure", "coat")), col(Blank.waits_until) > moment]
    coming = ids_in(session, waits, [col(Blank.waits_until), col(Blank.id)], COMING_OUT)
    shown = dict.fromkeys([*(blank_id for lying in on_shelf.values() for blank_id in lying), *coming])
    found = {one.blank.id: one for one in seen(session, list(shown))}
    shelves = []
    for stage, ids in on_shelf.items():
        count, waiting = counts.get(stage, (0, 0))
        lying = [found[blank_id] for blank_id in ids]
        first = lying[0] if lying and lying[0].blank.due_on else None
        shelves.append(Shelf(stage, count, waiting, lying, first, _next(lying, moment)))
    return Rack(shelves, [found[blank_id] for blank_id in coming], awaiting, _due(session, today))


Counts = tuple[dict[Stage, tuple[int, int]], dict[Waiting, int]]
# What was counted last, for each database: (the count of changes it holds for, the counts by what was wanted).
_kept: WeakKeyDictionary[Any, tuple[tuple[int, date], dict[Wanted | None, Counts]]] = WeakKeyDictionary()


def _counted(session: Session, where: list[Any], wanted: Wanted | None, today: date) -> Counts:
    """How many lie and wait at each stage, and how many await what: counted once for each change of the shop.

    All devices ask again after a change, and counting is the one thing here that takes longer the more is in work.
    """
    pool = session.get_bind().engine.pool
    stamp = (changes.count(session), today)
    held_for, held = _kept.get(pool, (None, {}))
    if held_for == stamp and wanted in held:
        return held[wanted]
    by_stage = session.exec(
        select(Blank.stage, func.count(), func.count(col(Blank.waits_for))).where(*where).group_by(col(Blank.stage))
    )
    lying: dict[Stage, tuple[int, int]] = {Stage(stage): (count, waiting) for stage, count, waiting in by_stage}
    found = lying, _awaiting(session, today)
    _kept[pool] = (stamp, {**(held if held_for == stamp and len(held) < MOST_KEPT else {}), wanted: found})
    return found


def _next(lying: Sequence[Seen], moment: datetime) -> Seen | None:
    """The first due blank on which something can be done now."""
    return next((one for one in lying if not one.is_waiting(moment)), None)


def _awaiting(session: Session, today: date) -> dict[Waiting, int]:
    counts = session.exec(_count_awaiting(today)).one()
    return dict(zip(Waiting, counts, strict=True))


@lru_cache(maxsize=2)
def _count_awaiting(today: date) -> Any:
    """One statement that counts for each of them, along its own index."""
    counts: list[Any] = [
        select(func.count()).select_from(Blank).where(*conditions(Wanted(waiting=waiting), today)).scalar_subquery()
        for waiting in Waiting
    ]
    return select(*counts)


def _due(session: Session, today: date) -> list[Due]:
    statement = (
        select(Order.number, Customer.name, col(Order.due_on), Order.status)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(
            col(Order.status).in_((OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP, OrderStatus.READY)),
            is_open(),
            col(Order.due_on).is_not(None),
            col(Order.due_on) <= today + DUE_WITHIN,
        )
        .order_by(col(Order.due_on), col(Order.number))
        .limit(MOST_DUE)
    )
    return [
        Due(number, customer, due_on, due_on < today, status is OrderStatus.READY)
        for number, customer, due_on, status in session.exec(statement)
        if due_on is not None
    ]
