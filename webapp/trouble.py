"""What disk and database complain of, told apart in one place: for the pages and for the JSON API alike."""

import errno
import sqlite3
from dataclasses import dataclass
from typing import Final

import psycopg
from sqlalchemy.exc import DatabaseError, TimeoutError as PoolTimeout


@dataclass(frozen=True, slots=True)
class Trouble:
    """A status of HTTP, a kind for programs, and what people are told."""

    status: int
    kind: str
    title: str
    text: str


DISK_FULL: Final = Trouble(
    507,
    "disk-full",
    "The disk is full",
    "Nothing was saved, and nothing that was saved before is harmed. Whoever keeps the computer must make room on its "
    "disk; then send this again.",
)
READ_ONLY: Final = Trouble(
    503,
    "read-only",
    "The disk can't be written to",
    "Nothing was saved, and nothing that was saved before is harmed. The computer's disk, or the shop's folder on it, "
    "takes no writing at the moment. Whoever keeps the computer should run: flutebench doctor",
)
BUSY: Final = Trouble(
    503,
    "busy",
    "The database is busy or out of reach",
    "The database did not answer. Nothing was half saved. Try again in a moment; what you sent is not stored.",
)
DAMAGED: Final = Trouble(
    503,
    "damaged",
    "The database is damaged",
    "Stop the shop and leave its files as they are. Whoever keeps the computer should run flutebench doctor, and then "
    "flutebench restore with the newest backup.",
)
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_NO_WRITING = {errno.EROFS, errno.EACCES, errno.EPERM}
# Result codes of SQLite (sqlite.org/rescode.html) and states of PostgreSQL (its manual, appendix A); not their
# messages: a server speaks the language it was set up in.
_CODES = {
    sqlite3.SQLITE_FULL: DISK_FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: READ_ONLY,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: DAMAGED,
}
_STATES = {"53100": DISK_FULL, "25006": READ_ONLY, "XX001": DAMAGED, "XX002": DAMAGED}


def of(error: BaseException) -> Trouble | None:
    """The trouble that an error of the database or of the disk comes from; None for any other error."""
    if isinstance(error, PoolTimeout):
        return BUSY
    if isinstance(error, DatabaseError):
        return _of_the_database(error.orig)
    if isinstance(error, OSError) and error.errno in _FULL:
        return DISK_FULL
    if isinstance(error, OSError) and error.errno in _NO_WRITING:
        return READ_ONLY
    return None


def _of_the_database(error: BaseException | None) -> Trouble:
    """What a database's driver complains of."""
    if isinstance(error, psycopg.Error):
        return _STATES.get(error.sqlstate or "", BUSY)
    # The lowest byte of a result code is its kind.
    return _CODES.get(getattr(error, "sqlite_errorcode", 0) & 0xFF, BUSY)
