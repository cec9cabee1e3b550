"""Blanks as the rack and the list show them: what is shown beside each, along indexes, however many there are."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, bindparam, case
from sqlmodel import Session, col, func, select

from acoustics.flute.instrument import Instrument
from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderedFlute,
    Pattern,
    PatternRevision,
    Person,
    Species,
    Stage,
    StepKind,
)
from webapp.shop.patterns.revisions import read_instrument
from webapp.shop.units import keys

PAGE = 40


class Waiting(StrEnum):
    """What one may look for besides stage and wood."""

    GLUE_UP = "glue-up"
    CLAMPS = "clamps"
    VOICING = "voicing"
    TUNING = "tuning"
    LATE = "late"


@dataclass(frozen=True, slots=True)
class Seen:
    """A blank with what is shown beside it."""

    blank: Blank
    wood: str
    colour: str
    pattern_id: int
    pattern: str
    revision: int
    order: int | None
    customer: str | None
    hands: str | None = None

    @property
    def called(self) -> str:
        """What it is called beside its serial: key, wood and for whom."""
        return f"{keys.show_note(self.blank.key)} {self.wood}, for {self.customer or 'the shop'}"

    def is_late(self, today: date) -> bool:
        due, working = self.blank.due_on, self.blank.status is BlankStatus.IN_WORK
        return working and due is not None and due < today

    def is_waiting(self, moment: datetime) -> bool:
        """Whether there is nothing to do on it but wait."""
        blank = self.blank
        return blank.waits_for is not None and (blank.waits_until is None or blank.waits_until > moment)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which blanks to list."""

    status: BlankStatus | None = BlankStatus.IN_WORK
    stage: Stage | None = None
    waiting: Waiting | None = None
    key: str | None = None
    species_id: int | None = None
    hands_id: int | None = None


@lru_cache(maxsize=1)
def _beside() -> Any:
    """The one statement for what is shown beside blanks; building it costs more than running it."""
    statement: Any = (
        select(Blank, Species, Pattern, PatternRevision.number)
        .add_columns(col(Order.number), col(Customer.name), col(Person.name))
        .join(Species, col(Species.id) == Blank.species_id)
        .join(PatternRevision, col(PatternRevision.id) == Blank.revision_id)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Order, col(Order.id) == OrderedFlute.order_id, isouter=True)
        .join(Customer, col(Customer.id) == Order.customer_id, isouter=True)
        .join(Person, col(Person.id) == Blank.hands_id, isouter=True)
        .where(col(Blank.id).in_(bindparam("ids", expanding=True)))
    )
    return statement


def seen(session: Session, ids: Sequence[int]) -> list[Seen]:
    """These blanks in this order, each with wood, pattern, order and customer; one query."""
    if not ids:
        return []
    found = {
        blank.id: Seen(blank, wood.name, wood.colour, pattern.id or 0, pattern.name, revision, order, customer, hands)
        for blank, wood, pattern, revision, order, customer, hands in session.exec(_beside(), params={"ids": list(ids)})
    }
    return [found[blank_id] for blank_id in ids if blank_id in found]


def ids_in(
    session: Session, where: Sequence[ColumnElement[bool]], order_by: Any, limit: int, offset: int = 0
) -> list[int]:
    """Ids of blanks for which all of `where` holds, in this order."""
    statement = select(Blank.id).where(*where).order_by(*order_by).limit(limit).offset(offset)
    return [blank_id for blank_id in session.exec(statement) if blank_id is not None]


def ids_due_first(session: Session, where: Sequence[ColumnElement[bool]], limit: int, offset: int = 0) -> list[int]:
    """Ids of blanks for which all of `where` holds, the nearest due date first, then those without one.

    Two queries, each along an index: the two databases sort empty dates to opposite ends.
    """
    due = col(Blank.due_on)
    dated = [*where, due.is_not(None)]
    found = ids_in(session, dated, [due, col(Blank.id)], limit, offset)
    if len(found) == limit:
        return found
    before = offset and not found and session.exec(select(func.count()).select_from(Blank).where(*dated)).one()
    rest = max(0, offset - int(before)) if not found else 0
    return found + ids_in(session, [*where, due.is_(None)], [col(Blank.id)], limit - len(found), rest)


def due_first(session: Session, where: Sequence[ColumnElement[bool]], limit: int, offset: int = 0) -> list[Seen]:
    """As `ids_due_first`, with what is shown beside each."""
    return seen(session, ids_due_first(session, where, limit, offset))


def conditions(wanted: Wanted, today: date) -> list[ColumnElement[bool]]:
    """What must hold for a blank to be listed."""
    where: list[ColumnElement[bool]] = []
    # Only what is in work is in clamps: asked for by the wait alone, it is found along the index of waits.
    if wanted.waiting is Waiting.CLAMPS:
        pass
    elif wanted.waiting:
        where.append(col(Blank.status) == BlankStatus.IN_WORK)
    elif wanted.status:
        where.append(col(Blank.status) == wanted.status)
    if wanted.stage:
        where.append(col(Blank.stage) == wanted.stage)
    if wanted.key:
        where.append(col(Blank.key).in_(keys.spellings(wanted.key)))
    if wanted.species_id:
        where.append(col(Blank.species_id) == wanted.species_id)
    if wanted.hands_id:
        where.append(col(Blank.hands_id) == wanted.hands_id)
    match wanted.waiting:
        case Waiting.GLUE_UP:
            where += [col(Blank.next_kind) == StepKind.GLUE_UP, col(Blank.waits_for).is_(None)]
        case Waiting.CLAMPS:
            where.append(col(Blank.waits_for).in_(("glue", "clamps")))
        case Waiting.VOICING:
            where.append(col(Blank.next_kind) == StepKind.FUNDAMENTAL)
        case Waiting.TUNING:
            where.append(col(Blank.next_kind) == StepKind.READINGS)
        case Waiting.LATE:
            where.append(col(Blank.due_on) < today)
    return where


def listed(session: Session, wanted: Wanted, today: date, page: int) -> tuple[list[Seen], bool]:
    """One page of blanks, and whether there are more; those in work by due date, the others newest first."""
    where = conditions(wanted, today)
    offset = (page - 1) * PAGE
    if wanted.waiting or wanted.status is BlankStatus.IN_WORK:
        found = due_first(session, where, PAGE + 1, offset)
    else:
        found = seen(session, ids_in(session, where, [col(Blank.id).desc()], PAGE + 1, offset))
    return found[:PAGE], len(found) > PAGE


def by_part_of_serial(session: Session, typed: str) -> list[Seen]:
    """Blanks whose serial is this, ends with it, or has it in it: the nearest match first, those in work before others.

    At most twelve. Looks through all serials, which lie together in their index.
    """
    plain = "".join(c for c in typed if c.isprintable()).lower()[:20]
    if not plain:
        return []
    serial = func.lower(Blank.serial)
    part = plain.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    for like in (serial == plain, serial.like(f"%{part}", escape="\\"), serial.like(f"%{part}%", escape="\\")):
        order = [case((col(Blank.status) == BlankStatus.IN_WORK, 0), else_=1), col(Blank.id).desc()]
        if ids := ids_in(session, [like], order, 12):
            return seen(session, ids)
    return []


def instruments(session: Session, blanks: Sequence[Seen]) -> dict[int, Instrument]:
    """The instrument of each revision that these blanks are made from, by the revision's id."""
    wanted = {one.blank.revision_id for one in blanks}
    rows = session.exec(
        select(PatternRevision.id, PatternRevision.instrument).where(col(PatternRevision.id).in_(wanted))
    )
    return {revision_id: read_instrument(document) for revision_id, document in rows if revision_id is not None}
