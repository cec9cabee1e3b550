"""The database: engine, read and write sessions, and bringing the schema up to date.

SQLite runs with the driver in autocommit and our own BEGIN: a write session takes the write lock at once
(BEGIN IMMEDIATE), so that two people can never both read, then both write, and lose one of the two changes. Within one
process writers take turns in the order they came (webapp/turns.py).
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, event
from sqlalchemy.exc import OperationalError
from sqlmodel import Session

import migrations
from webapp.changes import CountingSession
from webapp.turns import Turns

RENEW = 6 * 3600  # s after which a connection is opened again
PATIENCE = 15.0  # s to wait for the database before someone is told that it is busy
_TURN = "turn"


class SchemaTooNew(RuntimeError):
    """The database was written by a newer Flutebench than this one."""


def make_engine(url: str) -> Engine:
    """An engine for the address, with the pragmas and the BEGIN that SQLite needs."""
    if not url.startswith("sqlite"):
        return sa.create_engine(url, pool_pre_ping=True, pool_use_lifo=True, pool_size=10, max_overflow=30)
    # The connection used last is used next: a few stay warm, and only those fill their page caches.
    arguments = {"timeout": PATIENCE, "check_same_thread": False}
    how = {"pool_use_lifo": True, "pool_size": 10, "max_overflow": 80, "pool_recycle": RENEW}
    engine = sa.create_engine(url, connect_args=arguments, **how)
    turns = Turns()

    @event.listens_for(engine, "connect")
    def _pragmas(connection: sqlite3.Connection, _record: Any) -> None:
        connection.isolation_level = None
        for pragma in (
            "journal_mode = WAL",
            "synchronous = FULL",
            "foreign_keys = ON",
            f"busy_timeout = {PATIENCE * 1000:.0f}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        if not connection.get_execution_options().get("writes", False):
            connection.exec_driver_sql("BEGIN")
            return
        # Kept until the connection goes back to the pool, which is after the commit or the rollback.
        if not connection.info.get(_TURN):
            if not turns.take(PATIENCE):
                raise OperationalError("BEGIN IMMEDIATE", None, sqlite3.OperationalError("database is locked"))
            connection.info[_TURN] = True
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    @event.listens_for(engine, "checkin")
    def _next(_connection: sqlite3.Connection | None, record: Any) -> None:
        if record.info.pop(_TURN, False):
            turns.give()

    return engine


class Database:
    """An engine with two kinds of session: one that looks, and one that is a unit of work."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.engine = make_engine(url)
        self._writer = self.engine.execution_options(writes=True)

    @contextmanager
    def read(self) -> Iterator[Session]:
        with Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """One unit of work: committed at the end of the block, and rolled back where an error leaves it."""
        with self.begin() as session:
            yield session
            session.commit()

    @contextmanager
    def begin(self) -> Iterator[Session]:
        """A unit of work whose caller commits, for whoever may not answer before that is done."""
        with CountingSession(self._writer, expire_on_commit=False) as session:
            yield session

    def look_after(self) -> None:
        """Have SQLite count again what lies in its tables, so that it goes on choosing the right index; PostgreSQL does
        that by itself.

        All of each index is looked at: with a part of it alone (PRAGMA analysis_limit), one that begins with many rows
        without a value seems to be of no use. Takes 0.3 s with 100,000 blanks, to be done once a day, and connections
        learn of it only when they are opened again.
        """
        if self.engine.dialect.name == "sqlite":
            with self._writer.connect() as connection:
                connection.execute(sa.text("ANALYZE"))
                connection.commit()
            self.engine.dispose()

    def close(self) -> None:
        self.engine.dispose()


def sqlite_path(url: str) -> Path | None:
    """Where the SQLite file lies, or None for PostgreSQL."""
    parsed = sa.engine.make_url(url)
    return Path(parsed.database) if parsed.get_backend_name() == "sqlite" and parsed.database else None


def alembic_config(url: str) -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(migrations.__file__).parent))
    config.set_main_option("path_separator", "os")
    config.attributes["url"] = url
    return config


def schema_revision(url: str) -> str | None:
    """The schema's revision now, or None for a database without tables."""
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            return revision_of(connection)
    finally:
        engine.dispose()


def revision_of(connection: Connection) -> str | None:
    """The schema's revision as this connection sees it."""
    return MigrationContext.configure(connection).get_current_revision()


@cache
def newest_revision() -> str | None:
    """The schema's revision that this program was written for."""
    return ScriptDirectory.from_config(alembic_config("")).get_current_head()


def migrate(url: str, backups: Path | None = None) -> bool:
    """Bring the schema up to date, keeping a copy of a SQLite file first. True where something changed.

    Raises SchemaTooNew where the database knows a revision that this program does not.
    """
    path = sqlite_path(url)
    if path:
        path.parent.mkdir(parents=True, exist_ok=True)
    config = alembic_config(url)
    known = ScriptDirectory.from_config(config)
    present = schema_revision(url)
    if present == known.get_current_head():
        return False
    if present is not None and present not in {script.revision for script in known.walk_revisions()}:
        raise SchemaTooNew(
            f"The database is at schema {present}, which this version of Flutebench does not know. "
            "Start the newer version, or restore a backup made with this one."
        )
    if path and path.exists() and present is not None:
        folder = backups or path.parent / "backups"
        copy_sqlite(path, folder / f"before-{known.get_current_head()}-{_stamp()}.sqlite3")
        settle(folder)
        settle(folder.parent)
    command.upgrade(config, "head")
    return True


def copy_sqlite(source: Path, target: Path) -> None:
    """A consistent copy of a SQLite database that may be in use, by SQLite's own online backup."""
    target.parent.mkdir(parents=True, exist_ok=True)
    partial = target.with_name(target.name + ".partial")
    partial.unlink(missing_ok=True)
    with closing(sqlite3.connect(source)) as origin, closing(sqlite3.connect(partial)) as copy:
        origin.backup(copy)
        if (found := copy.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
            raise sqlite3.DatabaseError(f"the copy of {source} is not sound: {found}")
        copy.execute("PRAGMA journal_mode = DELETE")
    partial.replace(target)


def settle(path: Path) -> None:
    """Have a file, or a folder's list of names, written to the disk itself, so that a loss of power can't undo it.

    Windows knows no such thing of a folder.
    """
    if os.name != "posix" and path.is_dir():
        return
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _stamp() -> str:
    return datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
