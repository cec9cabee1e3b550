"""The thread that makes backups while the shop is open. With several processes, one of them does it each time."""

import logging
import sqlite3
import threading
from datetime import timedelta

from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.keeping import rotation
from webapp.keeping.archive import NotSound
from webapp.keeping.backing_up import back_up, remove_leftovers
from webapp.settings import Settings
from webapp.shop.base import chores

log = logging.getLogger("flutebench.backups")

BACKUP = chores.BACKUP
LOOK_EVERY = 300.0


class Schedule:
    """Looks every few minutes whether a backup is due. `wake` makes it look at once."""

    def __init__(self, settings: Settings, database: Database) -> None:
        self._settings = settings
        self._database = database
        self._signal = threading.Event()
        self._ending = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        if self._settings.backup_hours:
            self._thread = threading.Thread(target=self._run, name="backups", daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """Let a backup that is being made come to its end: it stands under its name only then."""
        self._ending = True
        self._signal.set()
        if self._thread is not None:
            self._thread.join(timeout=20)

    def _run(self) -> None:
        # The first look comes after the shop has opened: people wait for that.
        wait = 20.0
        while True:
            self._signal.wait(wait)
            self._signal.clear()
            if self._ending:
                return
            wait = LOOK_EVERY
            try:
                make_if_due(self._settings, self._database, timedelta(hours=self._settings.backup_hours))
            except (SQLAlchemyError, sqlite3.Error, OSError):
                log.exception("no backup could be made")


def make_if_due(settings: Settings, database: Database, every: timedelta) -> bool:
    """Make a backup where one is due and no other process is at it; True where one was made."""
    with chores.holding(database, BACKUP, every) as held:
        if held is None:
            return False
        try:
            remove_leftovers(settings)
            made = back_up(settings)
            removed = rotation.rotate(settings.backup_folder)
            log.info("backup made and checked: %s; %d old ones removed", made.name, len(removed))
        except (NotSound, OSError, SQLAlchemyError, sqlite3.Error) as error:
            held.fault = str(error) or type(error).__name__
            log.error("backup failed: %s", held.fault)
    return not held.fault
