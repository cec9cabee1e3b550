"""Whether the shop can be written to: its database, and the folder of its pictures and backups."""

import os
import tempfile
import threading
import time
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError

from webapp.db import Database
from webapp.settings import Settings

LOOK_EVERY = 5.0
"""Seconds for which what was found holds: whoever asks more often costs the disk nothing."""
_FILE_BYTES = 1_000_000
# More than the pages of a database have room for, so that SQLite has to ask for new ones.
_ROW_CHARACTERS = {"sqlite": 300_000, "postgresql": 500}


class Writable:
    """Looks when asked, and remembers for a moment what it found."""

    def __init__(self, settings: Settings, database: Database) -> None:
        self._data, self._database = settings.data, database
        self._lock = threading.Lock()
        self._found, self._at = False, -LOOK_EVERY

    def look(self) -> bool:
        with self._lock:
            if time.monotonic() >= self._at + LOOK_EVERY:
                self._found = can_write_to_folder(self._data) and can_write_to_database(self._database)
                self._at = time.monotonic()
            return self._found


def can_write_to_folder(folder: Path) -> bool:
    """A real file on the disk itself: free space alone says nothing of quotas and of disks gone read-only."""
    try:
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(bytes(_FILE_BYTES))
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        return False
    return True


def can_write_to_database(database: Database) -> bool:
    """A row that is large enough to need room, taken back again. No screen hears of it."""
    words = "x" * _ROW_CHARACTERS[database.engine.dialect.name]
    try:
        with database.engine.execution_options(writes=True).connect() as connection:
            added = sa.text("INSERT INTO chore (name, fault) VALUES ('can it be written to', :words)")
            connection.execute(added, {"words": words})
            connection.rollback()
    except SQLAlchemyError:
        return False
    return True
