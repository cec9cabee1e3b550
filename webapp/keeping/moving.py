"""Moving a whole shop from SQLite to PostgreSQL or back: every row copied, then compared one by one."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Table
from sqlmodel import SQLModel

from webapp import db
from webapp.keeping.hold import in_use

_BATCH = 500
DIFFERS = "The row {row} of {table} did not arrive as it was. Nothing was kept there."


class CanNotMove(Exception):
    """The shop can't be moved as things stand; the text says why. Nothing was changed where it came from."""


@dataclass(frozen=True, slots=True)
class Moved:
    """How many rows were copied and found equal, by table."""

    rows: dict[str, int]


def move(source: str, target: str, stop: bool = False) -> Moved:
    """Copy all rows of the shop at the address `source` to the empty database at `target` and prove them equal.

    Nobody else may have either open; with `stop`, servers on this computer are asked to end first.

    Both must have this program's schema (that of the target is made). All rows go in one transaction, so a move that is
    cut short leaves an empty target. The source is only read. Raises CanNotMove, SchemaTooNew, InUse.
    """
    if sa.engine.make_url(source) == sa.engine.make_url(target):
        raise CanNotMove("The shop lies there already.")
    if path := db.sqlite_path(target):
        path.parent.mkdir(parents=True, exist_ok=True)
    with in_use.used(source, "move", alone=True, stop=stop), in_use.used(target, "move", alone=True):
        return _move(source, target)


def _move(source: str, target: str) -> Moved:
    if db.schema_revision(source) != db.newest_revision():
        raise CanNotMove("Bring the shop's schema up to date first: flutebench migrate")
    db.migrate(target)
    origin, goal = db.make_engine(source), db.make_engine(target)
    try:
        with _snapshot(origin) as reading:
            with goal.connect() as writing:
                writing = writing.execution_options(writes=True)
                _refuse_rows(writing)
                rows = {table.name: _copy(table, reading, writing) for table in SQLModel.metadata.sorted_tables}
                _follow_on(writing)
                for table in SQLModel.metadata.sorted_tables:
                    _compare(table, reading, writing)
                writing.commit()
            # Once more from what was really kept, by a connection of its own.
            _prove(reading, goal, DIFFERS)
        # And with what is there now: somebody may know nothing of our lock.
        with _snapshot(origin) as reading:
            _prove(
                reading,
                goal,
                "Another program wrote to the shop while it was moved: the row {row} of {table} is another now. "
                "Nothing was kept in the new place. End that program and move the shop again.",
            )
        with goal.connect() as connection:
            # So that the new database chooses the right index from the first page on.
            connection.execute(sa.text("ANALYZE"))
            connection.commit()
    finally:
        origin.dispose()
        goal.dispose()
    return Moved(rows)


def _snapshot(engine: sa.Engine) -> Connection:
    """A connection that sees the same state throughout, whoever writes meanwhile."""
    if engine.dialect.name == "postgresql":
        return engine.connect().execution_options(isolation_level="REPEATABLE READ")
    return engine.connect()


def _refuse_rows(connection: Connection) -> None:
    for table in SQLModel.metadata.sorted_tables:
        if table.name in _FILLED:
            continue
        if connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one():
            raise CanNotMove(f"There are rows in {table.name} there already; a shop moves only to an empty database.")
    for table in reversed(SQLModel.metadata.sorted_tables):
        if table.name in _FILLED:
            connection.execute(table.delete())


# Rows that a new schema brings with it.
_FILLED = {"change_count"}


def _copy(table: Table, reading: Connection, writing: Connection) -> int:
    count = 0
    batch: list[dict[str, Any]] = []
    for row in _rows(table, reading):
        batch.append(dict(row))
        if len(batch) == _BATCH:
            writing.execute(table.insert(), batch)
            count += len(batch)
            batch = []
    if batch:
        writing.execute(table.insert(), batch)
    return count + len(batch)


def _prove(reading: Connection, goal: sa.Engine, words: str) -> None:
    """Compare what was kept, and empty the new place again where it is another. Raises CanNotMove."""
    try:
        with goal.connect() as written:
            for table in SQLModel.metadata.sorted_tables:
                _compare(table, reading, written, words)
    except CanNotMove:
        with goal.connect().execution_options(writes=True) as emptied:
            for table in reversed(SQLModel.metadata.sorted_tables):
                emptied.execute(table.delete())
            emptied.commit()
        raise


def _compare(table: Table, reading: Connection, writing: Connection, words: str = DIFFERS) -> None:
    for here, there in zip_longest(_rows(table, reading), _rows(table, writing)):
        if here is None or there is None or dict(here) != dict(there):
            key = [column.name for column in table.primary_key]
            named = {name: (here or there)[name] for name in key}
            raise CanNotMove(words.format(row=named, table=table.name))


def _rows(table: Table, connection: Connection) -> Iterator[Any]:
    """All rows in the order of their keys; texts are put in order by their bytes, since databases differ in that."""
    bytewise = "C" if connection.dialect.name == "postgresql" else "BINARY"
    order = [
        sa.collate(column, bytewise) if isinstance(column.type, sa.String | sa.Enum) else column
        for column in table.primary_key
    ]
    result = connection.execution_options(stream_results=True).execute(sa.select(table).order_by(*order))
    yield from result.yield_per(_BATCH).mappings()


def _follow_on(connection: Connection) -> None:
    """Let PostgreSQL number new rows after those that were copied; SQLite looks for itself."""
    if connection.dialect.name != "postgresql":
        return
    for table in SQLModel.metadata.sorted_tables:
        for column in table.primary_key:
            if isinstance(column.type, sa.Integer) and column.autoincrement is not False and not column.foreign_keys:
                name = connection.execute(
                    sa.select(sa.func.pg_get_serial_sequence(f'"{table.name}"', column.name))
                ).scalar_one()
                if name:
                    top = sa.select(sa.func.coalesce(sa.func.max(column), 0)).scalar_subquery()
                    connection.execute(sa.select(sa.func.setval(name, top + 1, False)))
