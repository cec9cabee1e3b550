"""Who has the shop open: every server for as long as it lives, and alone whoever puts another shop in its place.

The hold goes with the process, even one that is killed. With SQLite it is a locked file beside the database that says
who holds it; with PostgreSQL an advisory lock of a session (PostgreSQL documentation, 13.3.5) whose name says so.
"""

import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Protocol

import sqlalchemy as sa

from webapp import db
from webapp.keeping.hold import held_by_file, held_by_session
from webapp.keeping.hold.holder import Holder

SERVING = ("serve", "demo")
PATIENCE = 70.0
"""Seconds that a server which was asked to stop may take: it answers what is under way first."""


class InUse(Exception):
    """Somebody else has the shop open; the text says who, and what to do."""

    def __init__(self, place: str, holders: list[Holder], could_stop: bool) -> None:
        who = " and ".join(map(str, holders)) or "another program"
        self.holders = holders
        if any(holder.alone for holder in holders):
            advice = "Wait until it has ended, then do this again."
        elif could_stop and any(holder.program in SERVING and holder.is_here() for holder in holders):
            advice = "Stop it first, or do this again with --stop-shop."
        else:
            advice = "Stop it there first, then do this again."
        super().__init__(f"The shop in {place} is in use by {who}. {advice} Nothing was changed.")


class Hold(Protocol):
    """What keeps the shop ours until it is released, or the process ends."""

    def release(self) -> None: ...


def place(url: str) -> str:
    """Where a shop lies, in words for people; never with a password."""
    path = db.sqlite_path(url)
    return str(path.resolve()) if path else sa.engine.make_url(url).render_as_string()


def holders(url: str) -> list[Holder]:
    """Who has the shop open now."""
    return _kind(url).holders(url)


@contextmanager
def used(
    url: str, program: str, alone: bool = False, stop: bool = False, patience: float = 0.0, serving: bool = False
) -> Iterator[None]:
    """Have the shop open, beside others or `alone`, for as long as the block takes.

    With `stop`, servers on this computer are asked to end first. Waits for `patience` seconds. One that is `serving`
    ends itself where its hold is lost and somebody else took the shop for itself. Raises InUse.
    """
    hold = _taken(url, Holder.me(program, alone), stop, patience, serving)
    try:
        yield
    finally:
        hold.release()


def _taken(url: str, me: Holder, stop: bool, patience: float, serving: bool) -> Hold:
    kind = _kind(url)
    if stop:
        patience = max(patience, PATIENCE)
        for holder in kind.holders(url):
            _ask_to_stop(holder)
    until = time.monotonic() + patience
    while (hold := kind.take(url, me, serving)) is None:
        found = kind.holders(url)
        # With nobody there any more it is tried again: whoever was in the way has just ended.
        grace = 0.0 if found else 2.0
        if time.monotonic() > until + grace or (stop and found and not any(one.is_here() for one in found)):
            raise InUse(place(url), found, could_stop=me.alone and not stop)
        time.sleep(0.1)
    return hold


def _ask_to_stop(holder: Holder) -> None:
    """Only a server of ours on this computer: it ends its requests, and keeps what it was calculating for the next."""
    if holder.program in SERVING and holder.is_here() and _is_ours(holder.pid):
        with suppress(ProcessLookupError, PermissionError):
            os.kill(holder.pid, signal.SIGTERM)


def _is_ours(pid: int) -> bool:
    """Where the system tells: in a container of the same name, that number may be somebody else's process."""
    told = Path(f"/proc/{pid}/cmdline")
    if not Path("/proc/self/cmdline").exists():
        return True
    with suppress(OSError):
        words = told.read_bytes()
        return b"flutebench" in words or b"webapp" in words
    return False


class _Kind(Protocol):
    def take(self, url: str, me: Holder, serving: bool) -> Hold | None: ...
    def holders(self, url: str) -> list[Holder]: ...


def _kind(url: str) -> _Kind:
    return held_by_file if db.sqlite_path(url) else held_by_session
