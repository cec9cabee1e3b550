"""Keeps the rows that search looks through in step with what they are about, in the same transaction.

A session notes which blanks, orders, customers, patterns and lots its flushes touch in a way that shows; their rows are
written again just before the commit. Rows that bypass the session (plain inserts) need `index_all`.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import Connection, event
from sqlalchemy.dialects.postgresql import insert as postgresql_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlalchemy.orm import Session
from sqlmodel import SQLModel, col

from webapp.models.blanks.blank import Blank, BlankStatus, Reading, StepRecord
from webapp.models.blanks.pattern import Pattern, PatternRevision
from webapp.models.folding import folded
from webapp.models.orders.order import Customer, Order, OrderedFlute, OrderStatus
from webapp.models.orders.repair import Repair
from webapp.models.search.search_row import SearchRow
from webapp.models.stock.stock import Species, StockItem, StockMovement

# Columns of several tables at once: more than the library's overloads are written for.
_select: Any = sa.select
_TOUCHED: Final = "to be found"
_RENAMED: Final = "found by another name"  # customers, woods, patterns: what goes by their names is touched too
LATER = "search rows later"
"""Set in `session.info`: what is touched is gathered, and written with the first commit after it is gone."""
_AT_ONCE: Final = 400
_WORD = re.compile(r"[^\W_]+(?:#\d?)?")
_CLOSED = (OrderStatus.HANDED_OVER, OrderStatus.WITHDRAWN)
_KEYS: Final = {"c#": "db", "d#": "eb", "f#": "gb", "g#": "ab", "a#": "bb"}
Text = tuple[bool, list[str], list[str]]  # at hand, what it goes by, notes


def words(text: str) -> list[str]:
    """The words of a text as they are compared: without case and accents; a sharp stays with its letter."""
    plain = folded(text.replace("\N{MUSIC SHARP SIGN}", "#").replace("\N{MUSIC FLAT SIGN}", "b"))
    return _WORD.findall(plain)


def key_words(key: str) -> list[str]:
    """A key in both its spellings: f#4, gb4."""
    plain = "".join(words(key))
    for sharp, flat in _KEYS.items():
        for one, other in ((sharp, flat), (flat, sharp)):
            if plain[:2] == one and plain[2:].isdigit():
                return [plain, other + plain[2:]]
    return [plain] if plain else []


def index(connection: Connection, kind: str, ids: Sequence[int]) -> None:
    """Write the search rows of these things again; one that is gone loses its row."""
    for start in range(0, len(ids), _AT_ONCE):
        some = list(ids[start : start + _AT_ONCE])
        found = _READERS[kind](connection, some)
        rows = [_row(kind, row_id, text) for row_id, text in sorted(found.items())]
        if gone := [row_id for row_id in some if row_id not in found]:
            connection.execute(sa.delete(SearchRow).where(col(SearchRow.kind) == kind, col(SearchRow.row_id).in_(gone)))
        if rows:
            _upsert(connection, rows)


def index_all(connection: Connection) -> None:
    """Write every search row again."""
    tables: dict[str, Any] = {
        "customer": Customer, "order": Order, "pattern": Pattern, "lot": StockItem, "blank": Blank
    }  # fmt: skip
    for kind, table in tables.items():
        index(connection, kind, list(connection.execute(_select(table.id).order_by(table.id)).scalars()))


def _row(kind: str, row_id: int, text: Text) -> dict[str, Any]:
    at_hand, head, notes = text
    said = [word for part in head + notes for word in words(part)]
    for part in head:
        if len(split := words(part)) > 1:
            said.append("".join(split)[:40])  # TQ-0141 is found as tq0141 too
    marks = [f"#{kind}"] + (["#open"] if at_hand else [])
    return {
        "kind": kind,
        "row_id": row_id,
        "at_hand": at_hand,
        "head": " · ".join(part for part in head if part),
        "notes": "\n".join(notes),
        "words": " ".join(dict.fromkeys([*marks, *said])),
    }


def _upsert(connection: Connection, rows: list[dict[str, Any]]) -> None:
    insert = postgresql_insert if connection.dialect.name == "postgresql" else sqlite_insert
    made = insert(SearchRow)
    fresh = {name: made.excluded[name] for name in ("at_hand", "head", "notes", "words")}
    connection.execute(made.on_conflict_do_update(index_elements=["kind", "row_id"], set_=fresh), rows)


def _blanks(connection: Connection, ids: list[int]) -> dict[int, Text]:
    asked = (
        _select(
            Blank.id, Blank.serial, Blank.key, Blank.status, Species.name, Pattern.name, Order.number, Customer.name
        )
        .join(Species, Species.id == Blank.species_id)
        .join(PatternRevision, PatternRevision.id == Blank.revision_id)
        .join(Pattern, Pattern.id == PatternRevision.pattern_id)
        .outerjoin(OrderedFlute, OrderedFlute.id == Blank.ordered_flute_id)
        .outerjoin(Order, Order.id == OrderedFlute.order_id)
        .outerjoin(Customer, Customer.id == Order.customer_id)
        .where(col(Blank.id).in_(ids))
    )
    found: dict[int, Text] = {}
    for blank_id, serial, key, status, wood, pattern, number, customer in connection.execute(asked):
        head = [serial, " ".join(key_words(key)), wood, pattern]
        head += [f"order {number}", customer] if number else []
        found[blank_id] = (status is BlankStatus.IN_WORK, head, [])
    noted = _select(StepRecord.blank_id, StepRecord.note, StepRecord.why).where(
        col(StepRecord.blank_id).in_(ids), sa.or_(col(StepRecord.note) != "", col(StepRecord.why) != "")
    )
    for blank_id, note, why in connection.execute(noted.order_by(StepRecord.id)):
        found[blank_id][2].extend(part for part in (note, why) if part)
    read = _select(Reading.blank_id, Reading.note).where(col(Reading.blank_id).in_(ids), col(Reading.note) != "")
    for blank_id, note in connection.execute(read.order_by(Reading.id)):
        found[blank_id][2].append(note)
    return found


def _orders(connection: Connection, ids: list[int]) -> dict[int, Text]:
    asked = (
        _select(Order.id, Order.number, Order.status, Order.note, Customer.name, Customer.contact)
        .join(Customer, Customer.id == Order.customer_id)
        .where(col(Order.id).in_(ids))
    )
    found: dict[int, Text] = {}
    for order_id, number, status, note, customer, contact in connection.execute(asked):
        notes = [part for part in (contact, note) if part]
        found[order_id] = (status not in _CLOSED, [f"order {number}", customer], notes)
    flutes = (
        _select(OrderedFlute.order_id, OrderedFlute.key, OrderedFlute.scale, OrderedFlute.extras, Species.name)
        .join(Species, Species.id == OrderedFlute.species_id)
        .where(col(OrderedFlute.order_id).in_(ids))
        .order_by(OrderedFlute.id)
    )
    for order_id, key, scale, extras, wood in connection.execute(flutes):
        _, head, notes = found[order_id]
        head.extend(part for part in (" ".join(key_words(key)), wood, scale) if part not in head)
        notes.extend([extras] if extras and extras not in notes else [])
    repaired = _select(Repair.order_id, Repair.described, Repair.asked, Repair.found, Blank.serial)
    repaired = repaired.outerjoin(Blank, Blank.id == Repair.blank_id).where(col(Repair.order_id).in_(ids))
    for order_id, *parts in connection.execute(repaired.order_by(Repair.id)):
        found[order_id][2].extend(part for part in parts if part)
    return found


def _customers(connection: Connection, ids: list[int]) -> dict[int, Text]:
    asked = _select(Customer.id, Customer.name, Customer.contact, Customer.note).where(col(Customer.id).in_(ids))
    return {
        customer_id: (True, [name], [part for part in (contact, note) if part])
        for customer_id, name, contact, note in connection.execute(asked)
    }


def _patterns(connection: Connection, ids: list[int]) -> dict[int, Text]:
    asked = _select(Pattern.id, Pattern.name, Pattern.key, Pattern.scale).where(col(Pattern.id).in_(ids))
    found: dict[int, Text] = {
        pattern_id: (True, [name, " ".join(key_words(key)), scale], [])
        for pattern_id, name, key, scale in connection.execute(asked)
    }
    noted = _select(PatternRevision.pattern_id, PatternRevision.note).where(
        col(PatternRevision.pattern_id).in_(ids), col(PatternRevision.note) != ""
    )
    for pattern_id, note in connection.execute(noted.order_by(PatternRevision.id)):
        found[pattern_id][2].append(note)
    return found


def _lots(connection: Connection, ids: list[int]) -> dict[int, Text]:
    asked = (
        _select(StockItem.id, StockItem.name, StockItem.kind, StockItem.place, StockItem.used_up, Species.name)
        .outerjoin(Species, Species.id == StockItem.species_id)
        .where(col(StockItem.id).in_(ids))
    )
    found: dict[int, Text] = {
        item_id: (not used_up, [part for part in (name, str(kind), wood, place) if part], [])
        for item_id, name, kind, place, used_up, wood in connection.execute(asked)
    }
    moved = _select(StockMovement.item_id, StockMovement.note).where(
        col(StockMovement.item_id).in_(ids), col(StockMovement.note) != ""
    )
    for item_id, note in connection.execute(moved.order_by(StockMovement.id)):
        if note not in found[item_id][2]:
            found[item_id][2].append(note)
    return found


_READERS: dict[str, Callable[[Connection, list[int]], dict[int, Text]]] = {
    "blank": _blanks,
    "order": _orders,
    "customer": _customers,
    "pattern": _patterns,
    "lot": _lots,
}
# Which changes of a row show, and whose search row they show in: (kind, the column that names it).
_SHOWN: dict[type, tuple[tuple[str, str, tuple[str, ...]], ...]] = {
    Blank: (("blank", "id", ("serial", "key", "status", "species_id", "ordered_flute_id")),),
    StepRecord: (("blank", "blank_id", ("note", "why")),),
    Reading: (("blank", "blank_id", ("note",)),),
    Order: (("order", "id", ("number", "status", "note", "customer_id")),),
    OrderedFlute: (("order", "order_id", ("key", "scale", "extras", "species_id", "order_id")),),
    Repair: (("order", "order_id", ("described", "asked", "found", "blank_id", "order_id")),),
    Customer: (("customer", "id", ("name", "contact", "note")),),
    Pattern: (("pattern", "id", ("name", "key", "scale")),),
    PatternRevision: (("pattern", "pattern_id", ("note", "pattern_id")),),
    StockItem: (("lot", "id", ("name", "kind", "place", "used_up", "species_id")),),
    StockMovement: (("lot", "item_id", ("note",)),),
}


@event.listens_for(Session, "after_flush")
def _note_touched(session: Session, _context: Any) -> None:
    touched: set[tuple[str, int]] = session.info.setdefault(_TOUCHED, set())
    for row in (*session.new, *session.dirty, *session.deleted):
        for kind, name, columns in _SHOWN.get(type(row), ()):
            if row in session.deleted or _changed(row, columns):
                touched.add((kind, getattr(row, name)))
        if (
            isinstance(row, Customer | Species | Pattern)
            and row not in session.new
            and _changed(row, ("name", "contact"))
        ):
            session.info.setdefault(_RENAMED, set()).add((type(row), row.id or 0))


@event.listens_for(Session, "before_commit")
def _write_touched(session: Session) -> None:
    if session.info.get(LATER):
        return
    session.flush()
    touched: set[tuple[str, int]] = session.info.pop(_TOUCHED, set())
    renamed: set[tuple[type[SQLModel], int]] = session.info.pop(_RENAMED, set())
    if not touched and not renamed:
        return
    connection = session.connection()
    for table, row_id in renamed:
        touched |= set(_named_after(connection, table, row_id))
    for kind in _READERS:
        if ids := sorted(row_id for one, row_id in touched if one == kind):
            index(connection, kind, ids)


@event.listens_for(Session, "after_soft_rollback")
def _forget_touched(session: Session, previous: Any) -> None:
    # What only a savepoint took back is looked at once more and found unchanged.
    if not previous.nested:
        session.info.pop(_TOUCHED, None)
        session.info.pop(_RENAMED, None)


def _changed(row: Any, columns: Iterable[str]) -> bool:
    """Whether one of these columns was changed by the flush; for a new row, whether one says anything."""
    state = sa.inspect(row)
    return any(
        history.added and (history.deleted or any(value not in (None, "") for value in history.added))
        for history in (state.attrs[name].history for name in columns if name in state.attrs)
    )


def _named_after(connection: Connection, table: type[SQLModel], row_id: int) -> list[tuple[str, int]]:
    """The things that are also found by the name of a customer, a wood or a pattern."""
    blanks = _select(Blank.id)
    if table is Customer:
        orders = _select(Order.id).where(col(Order.customer_id) == row_id)
        flutes = _select(OrderedFlute.id).where(col(OrderedFlute.order_id).in_(orders))
        asked = {"order": orders, "blank": blanks.where(col(Blank.ordered_flute_id).in_(flutes))}
    elif table is Species:
        orders = _select(OrderedFlute.order_id).where(col(OrderedFlute.species_id) == row_id)
        lots = _select(StockItem.id).where(col(StockItem.species_id) == row_id)
        asked = {"order": orders, "lot": lots, "blank": blanks.where(col(Blank.species_id) == row_id)}
    else:
        revisions = _select(PatternRevision.id).where(col(PatternRevision.pattern_id) == row_id)
        asked = {"blank": blanks.where(col(Blank.revision_id).in_(revisions))}
    return [(kind, found) for kind, statement in asked.items() for found in connection.execute(statement).scalars()]
