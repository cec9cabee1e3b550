"""A SQLite shop is held by cards in a folder beside it: each names its holder, who keeps it locked for life."""

import json
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from webapp import db
from webapp.keeping.hold.file_lock import FileLock
from webapp.keeping.hold.holder import Holder

GATE = "gate"
FOLDER = ".in-use"
"""How the name of the folder ends; it begins with that of the database."""
_AT_THE_GATE = 20.0


class Card:
    """The card of this process."""

    def __init__(self, lock: FileLock) -> None:
        self._lock = lock

    def release(self) -> None:
        """Before the lock: a card without one is nobody's, and whoever looks next removes it."""
        self._lock.path.unlink(missing_ok=True)
        self._lock.release()


def take(url: str, me: Holder, serving: bool) -> Card | None:
    """A card for this process, or None where others are in the way."""
    folder = _folder(url)
    if not folder.parent.is_dir():
        raise FileNotFoundError(f"there is no shop here: {folder.parent.absolute()} does not exist")
    folder.mkdir(mode=0o700, exist_ok=True)
    with _through_the_gate(folder):
        others = _living(folder)
        if any(other.alone for other in others) or (me.alone and others):
            return None
        lock = FileLock(folder / secrets.token_hex(8))
        if not lock.take():
            return None
        said = {"program": me.program, "pid": me.pid, "host": me.host, "since": me.since.isoformat(), "alone": me.alone}
        lock.write(json.dumps(said).encode())
        return Card(lock)


def holders(url: str) -> list[Holder]:
    """Whoever has a card and lives."""
    folder = _folder(url)
    if not folder.is_dir():
        return []
    with _through_the_gate(folder):
        return _living(folder)


def _folder(url: str) -> Path:
    path = db.sqlite_path(url)
    assert path is not None
    return path.with_name(path.name + FOLDER)


@contextmanager
def _through_the_gate(folder: Path) -> Iterator[None]:
    """One at a time looks at the cards and adds one."""
    until = time.monotonic() + _AT_THE_GATE
    with FileLock(folder / GATE) as gate:
        while not gate.take():
            if time.monotonic() > until:
                raise OSError(f"{folder / GATE} stays locked")
            time.sleep(0.01)
        yield


def _living(folder: Path) -> list[Holder]:
    """Removes the cards of those that have ended."""
    found = []
    for path in folder.iterdir():
        if path.name == GATE:
            continue
        with FileLock(path) as lock:
            if lock.take():
                path.unlink(missing_ok=True)
                continue
        try:
            said = json.loads(path.read_bytes())
            found.append(Holder(**{**said, "since": datetime.fromisoformat(said["since"])}))
        except FileNotFoundError:
            continue  # it ended just now
    return sorted(found, key=lambda holder: holder.since)
