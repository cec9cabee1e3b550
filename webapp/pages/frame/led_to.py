"""Where forms led to, written down a moment after they were answered, so that nobody waits for it.

What a form asked for is stored with its key in one transaction before it is answered. The page that the answer leads to
is known only afterwards; it matters only where the answer was lost on its way and the browser sends the form again.
"""

import logging
import threading
import time

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError

from webapp.db import Database
from webapp.models import Submission

log = logging.getLogger("flutebench")

TOGETHER = 0.02  # s to wait for others, that are then written in the same transaction
TRIES = 5


class LedTo:
    """The thread that writes them down, started with the first. `of` knows also what is not written yet."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._waiting: dict[str, str] = {}
        self._changed = threading.Condition()
        self._thread: threading.Thread | None = None
        self._ending = False

    def note(self, key: str, address: str) -> None:
        """A form with this key led to this address."""
        with self._changed:
            self._waiting[key] = address
            if self._thread is None and not self._ending:
                self._thread = threading.Thread(target=self._run, name="led to", daemon=True)
                self._thread.start()
            self._changed.notify()

    def of(self, key: str) -> str | None:
        """Where the form led to, as long as that is not in the database yet."""
        return self._waiting.get(key)

    def close(self) -> None:
        """Write down what is still waiting."""
        with self._changed:
            self._ending = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join(timeout=10)

    def _run(self) -> None:
        tries = 0
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting or self._ending)
                if not self._waiting:
                    return
            time.sleep(TOGETHER)
            some = dict(self._waiting)
            tries += 1
            try:
                self._write(some)
            except DatabaseError as error:
                log.warning("where %d forms led to was not noted: %s", len(some), error.orig)
                if tries < TRIES and not self._ending:
                    time.sleep(1)
                    continue
            tries = 0
            with self._changed:
                for key, address in some.items():
                    if self._waiting.get(key) == address:
                        del self._waiting[key]

    def _write(self, some: dict[str, str]) -> None:
        table = Submission.__table__  # type: ignore[attr-defined]
        statement = sa.update(table).where(table.c.key == sa.bindparam("of")).values(went_to=sa.bindparam("to"))
        with self._database.write() as session:
            session.connection().execute(statement, [{"of": key, "to": to} for key, to in some.items()])
            session.commit()
