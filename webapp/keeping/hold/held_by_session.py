"""A PostgreSQL shop is held by an advisory lock of a session of its own, whose name says who holds it."""

import logging
import os
import re
import signal
import threading
from contextlib import suppress

import sqlalchemy as sa

from webapp.keeping.hold.holder import Holder

log = logging.getLogger("flutebench")

KEY = 0x466C7574
"""What this program calls the lock, in each database that it uses."""
LOOK_EVERY = 5.0
_NAME = re.compile(r"flutebench (.+) (\d+)@(.*)")
_HOLDERS = sa.text(
    """SELECT a.application_name, a.backend_start, l.mode FROM pg_locks l JOIN pg_stat_activity a ON a.pid = l.pid
    WHERE l.locktype = 'advisory' AND l.classid = 0 AND l.objid = :key AND l.objsubid = 1 AND l.granted
    AND l.database = (SELECT oid FROM pg_database WHERE datname = current_database()) AND l.pid <> pg_backend_pid()
    ORDER BY a.backend_start"""
)


class Session:
    """The session that holds the lock; while serving, it is opened again where the connection broke."""

    def __init__(self, url: str, me: Holder) -> None:
        # At most 63 characters of a name are kept.
        self._engine = _engine(url, f"flutebench {me.program} {me.pid}@{me.host}"[:63])
        self._alone = me.alone
        self._connection: sa.Connection | None = None
        self._over = threading.Event()
        self._thread: threading.Thread | None = None

    def take(self) -> bool:
        """Whether the lock is ours now."""
        connection = self._engine.connect()
        how = "pg_try_advisory_lock" if self._alone else "pg_try_advisory_lock_shared"
        if connection.execute(sa.text(f"SELECT {how}(:key)"), {"key": KEY}).scalar_one():
            self._connection = connection
            return True
        connection.close()
        return False

    def watch(self) -> None:
        """Look now and then whether the session still stands: the database's server may have been started again."""
        self._thread = threading.Thread(target=self._watch, name="holds the shop", daemon=True)
        self._thread.start()

    def release(self) -> None:
        self._over.set()
        if self._thread is not None:
            self._thread.join(timeout=20)
        if self._connection is not None:
            with suppress(sa.exc.DBAPIError):
                self._connection.close()
        self._engine.dispose()

    def _watch(self) -> None:
        while not self._over.wait(LOOK_EVERY):
            try:
                assert self._connection is not None
                self._connection.execute(sa.text("SELECT 1"))
            except sa.exc.DBAPIError:
                if not self._held_again():
                    log.error("another program took the shop for itself while the database was away: stopping")
                    os.kill(os.getpid(), signal.SIGTERM)
                    return

    def _held_again(self) -> bool:
        """False where somebody else took the shop meanwhile; True too where the database is still away."""
        with suppress(sa.exc.DBAPIError):
            if self._connection is not None:
                self._connection.invalidate()
                self._connection.close()
        try:
            return self.take()
        except sa.exc.DBAPIError:
            return True


def take(url: str, me: Holder, serving: bool) -> Session | None:
    """A session that holds the shop, or None where others are in the way."""
    session = Session(url, me)
    if not session.take():
        session.release()
        return None
    if serving:
        session.watch()
    return session


def holders(url: str) -> list[Holder]:
    """Whose sessions hold the shop."""
    engine = _engine(url, "flutebench")
    try:
        with engine.connect() as connection:
            rows = connection.execute(_HOLDERS, {"key": KEY}).all()
    finally:
        engine.dispose()
    found = []
    for name, since, mode in rows:
        said = _NAME.fullmatch(name or "")
        program, pid, host = (said[1], int(said[2]), said[3]) if said else (name or "of unknown name", 0, "")
        found.append(Holder(program, pid, host, since, mode == "ExclusiveLock"))
    return found


def _engine(url: str, name: str) -> sa.Engine:
    arguments = {"application_name": name}
    return sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool, connect_args=arguments)
