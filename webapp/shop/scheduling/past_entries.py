"""The shop's entries of about the last year, read once: which step of which blank was done when, by whom."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Final

import sqlalchemy as sa
from sqlmodel import Session, col, func, select

from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    GluedBlank,
    GlueUp,
    Order,
    OrderedFlute,
    OrderStatus,
    Outcome,
    Repair,
    Stage,
    StepKind,
    StepRecord,
    is_open,
)

MOST: Final = 20_000
"""Entries that are looked at, the newest ones: about a year of 400 flutes."""
PASSED: Final = (Outcome.PASSED, Outcome.LET_PASS)
_AT_ONCE: Final = 500


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry, its moment on the shop's own clock."""

    id: int
    step_id: int
    blank_id: int
    outcome: Outcome
    at: datetime
    by: int
    corrects: int | None


@dataclass(frozen=True, slots=True)
class StepSeen:
    """A step of a blank's own routing."""

    id: int
    stage: Stage
    position: int
    code: str
    kind: StepKind
    nominal: float | None
    while_waiting: bool
    repair: int | None


@dataclass(slots=True)
class BlankSeen:
    """A blank and its way so far. `ended`: finished or given up."""

    id: int
    flute_id: int | None
    revision_id: int
    status: BlankStatus
    stage: Stage
    opened: datetime
    finished: datetime | None
    last: datetime | None = None
    steps: list[StepSeen] = field(default_factory=list)
    passed: dict[int, datetime] = field(default_factory=dict)  # step -> when it was passed for good

    @property
    def ended(self) -> datetime | None:
        return self.finished or (self.last if self.status is BlankStatus.FIREWOOD else None)


@dataclass(frozen=True, slots=True)
class Glued:
    """A blank's place in a glue-up."""

    added: datetime
    taken_out: datetime | None
    cured: datetime | None


@dataclass(frozen=True, slots=True)
class OrderSeen:
    """An order that was ever confirmed, and the ids of its flutes."""

    id: int
    number: int
    status: OrderStatus
    taken: datetime
    due: float  # ordinal of the day; infinite: none
    handed: datetime | None
    flutes: tuple[int, ...]


@dataclass(slots=True)
class Entries:
    """All that the queue and the pace are calculated from."""

    rows: list[Entry]
    steps: dict[int, StepSeen]
    blanks: dict[int, BlankSeen]
    orders: dict[int, OrderSeen]
    glued: dict[int, list[Glued]]
    codes: dict[Stage, list[str]]
    repairs: dict[int, int]  # blanks that came in for repair and are still here -> the order

    def complete(self, blank_id: int, stage: Stage, since: datetime, until: datetime) -> bool:
        """Whether every step of this stage was passed within this time."""
        blank = self.blanks[blank_id]
        steps = [step for step in blank.steps if step.stage is stage]
        return bool(steps) and all((at := blank.passed.get(step.id)) and since <= at <= until for step in steps)


def read(session: Session, zone: tzinfo) -> Entries:
    """A handful of queries, whatever is on record."""
    newest = session.exec(select(func.max(StepRecord.id))).one() or 0
    records = session.execute(
        sa.select(
            *(col(getattr(StepRecord, name)) for name in ("id", "step_id", "blank_id", "outcome", "at", "by")),
            col(StepRecord.corrects_id),
        )
        .where(col(StepRecord.id) > newest - MOST)
        .order_by(col(StepRecord.at), col(StepRecord.id))
    )
    rows = [Entry(r[0], r[1], r[2], r[3], _on(r[4], zone), r[5], r[6]) for r in records]
    open_now = session.exec(select(Blank.id).where(Blank.status == BlankStatus.IN_WORK)).all()
    ids = sorted({row.blank_id for row in rows} | {i for i in open_now if i is not None})
    blanks = _blanks(session, ids, zone)
    rows = [row for row in rows if row.blank_id in blanks]
    steps = _steps(session, blanks)
    _passed(rows, blanks)
    codes: dict[Stage, list[str]] = {stage: [] for stage in Stage}
    for step in steps.values():
        if step.code not in codes[step.stage]:
            codes[step.stage].append(step.code)
    repairs = _repairs(session, blanks, zone)
    return Entries(rows, steps, blanks, _orders(session, blanks, zone), _glued(session, ids, zone), codes, repairs)


def _on(moment: datetime, zone: tzinfo) -> datetime:
    return moment.astimezone(zone)


def _chunks(ids: list[int]) -> Iterable[list[int]]:
    return (ids[n : n + _AT_ONCE] for n in range(0, len(ids), _AT_ONCE))


def _blanks(session: Session, ids: list[int], zone: tzinfo) -> dict[int, BlankSeen]:
    found = {}
    for some in _chunks(ids):
        for blank in session.exec(select(Blank).where(col(Blank.id).in_(some))):
            assert blank.id is not None
            found[blank.id] = BlankSeen(
                blank.id,
                blank.ordered_flute_id,
                blank.revision_id,
                blank.status,
                blank.stage,
                _on(blank.opened_at, zone),
                _on(blank.finished_at, zone) if blank.finished_at else None,
            )
    return found


def _repairs(session: Session, blanks: dict[int, BlankSeen], zone: tzinfo) -> dict[int, int]:
    """Which flutes are here for repair, for which order. A flute was finished when it was built, not when mended."""
    found = {}
    for repair in session.exec(select(Repair).where(col(Repair.begun_at).is_not(None)).order_by(col(Repair.id).desc())):
        blank = blanks.get(repair.blank_id or 0)
        if blank is None:
            continue
        if repair.built_at is not None:
            blank.finished = _on(repair.built_at, zone)
        if repair.done_at is None and blank.status is BlankStatus.IN_WORK:
            found[blank.id] = repair.order_id
    return found


def _steps(session: Session, blanks: dict[int, BlankSeen]) -> dict[int, StepSeen]:
    found = {}
    for some in _chunks(sorted(blanks)):
        names = ("blank_id", "id", "stage", "position", "code", "kind", "nominal", "while_waiting", "repair_id")
        statement = sa.select(*(col(getattr(BlankStep, name)) for name in names))
        statement = statement.where(col(BlankStep.blank_id).in_(some)).order_by(col(BlankStep.position))
        for blank_id, *rest in session.execute(statement):
            step = StepSeen(*rest)
            found[step.id] = step
            blanks[blank_id].steps.append(step)
    return found


def _passed(rows: list[Entry], blanks: dict[int, BlankSeen]) -> None:
    """When each step was passed for good: the first passing entry that nobody took back."""
    gone = {row.corrects for row in rows if row.outcome is Outcome.TAKEN_BACK}
    for row in rows:
        blank = blanks[row.blank_id]
        blank.last = max(blank.last or row.at, row.at)
        if row.outcome in PASSED and row.id not in gone:
            blank.passed.setdefault(row.step_id, row.at)


def _orders(session: Session, blanks: dict[int, BlankSeen], zone: tzinfo) -> dict[int, OrderSeen]:
    """Orders with a flute among these blanks, and those that are open."""
    flute_ids = sorted({blank.flute_id for blank in blanks.values() if blank.flute_id is not None})
    promised = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP)
    open_now = session.exec(select(Order.id).where(col(Order.status).in_(promised), is_open()))
    order_ids = {order_id for order_id in open_now if order_id is not None}
    for some in _chunks(flute_ids):
        order_ids |= set(session.exec(select(OrderedFlute.order_id).where(col(OrderedFlute.id).in_(some))))
    flutes: dict[int, list[int]] = defaultdict(list)
    orders = {}
    for some in _chunks(sorted(order_ids)):
        for flute_id, order_id in session.exec(
            select(OrderedFlute.id, OrderedFlute.order_id)
            .where(col(OrderedFlute.order_id).in_(some))
            .order_by(col(OrderedFlute.position))
        ):
            flutes[order_id].append(flute_id or 0)
        for order in session.exec(select(Order).where(col(Order.id).in_(some))):
            assert order.id is not None
            taken = datetime(order.taken_on.year, order.taken_on.month, order.taken_on.day, 12, tzinfo=zone)
            due = float(order.due_on.toordinal()) if order.due_on else float("inf")
            handed = _on(order.handed_over_at, zone) if order.handed_over_at else None
            orders[order.id] = OrderSeen(
                order.id, order.number, order.status, taken, due, handed, tuple(flutes[order.id])
            )
    return orders


def _glued(session: Session, ids: list[int], zone: tzinfo) -> dict[int, list[Glued]]:
    found: dict[int, list[Glued]] = defaultdict(list)
    for some in _chunks(ids):
        statement = (
            select(GluedBlank, GlueUp.cured_at)
            .join(GlueUp, col(GlueUp.id) == GluedBlank.glue_up_id)
            .where(col(GluedBlank.blank_id).in_(some))
            .order_by(col(GlueUp.id))
        )
        for place, cured in session.exec(statement):
            out = _on(place.taken_out_at, zone) if place.taken_out_at else None
            found[place.blank_id].append(Glued(_on(place.added_at, zone), out, _on(cured, zone) if cured else None))
    return found
