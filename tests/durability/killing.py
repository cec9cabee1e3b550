"""Kills a server at work again and again, and checks after each time what is on the disk."""

import random
import socket
import sqlite3
import threading
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from tests import postgresql
from tests.durability.serving import Killable
from tests.durability.writing import Writer
from webapp import db
from webapp.db import Database
from webapp.models import Person, StockItem, StockKind, StockMovement
from webapp.shop.people import accounts


@dataclass(frozen=True)
class Outcome:
    """What came of it: forms acknowledged, sent, lost, carried out twice, oddly answered; unsound files found."""

    kills: int
    acknowledged: int
    sent: int
    lost: list[str]
    doubled: list[str]
    odd: list[str]
    unsound: list[str]


def kill_again_and_again(
    data: Path,
    url: str,
    person_id: int,
    kills: int,
    people: int,
    seed: int = 1,
    seconds: float = 1e6,
    database: postgresql.Killable | None = None,
) -> Outcome:
    """Kill the server `kills` times, or for so long, while `people` write to the shop at `url`, set up already.

    With `database`, that is killed instead: at once, hard, or one of its sessions, in turn.
    """
    killed = 0
    item_id, cookie = _prepare(url, person_id)
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    writers = [Writer(n, f"http://127.0.0.1:{port}", cookie, item_id) for n in range(people)]
    end, chance = threading.Event(), random.Random(seed)
    unsound: list[str] = []
    lost: set[str] = set()
    with Killable(data, url) as server:
        server.start(port)
        threads = [threading.Thread(target=writer.run, args=(end,)) for writer in writers]
        for thread in threads:
            thread.start()
        done, began = 0, time.monotonic()
        while killed < kills and time.monotonic() - began < seconds:
            killed += 1
            target = done + chance.randrange(1, 12)
            until = time.monotonic() + 30
            while (done := sum(len(w.entries) for w in writers)) < target and time.monotonic() < until:
                time.sleep(0.001)
            time.sleep(chance.random() * 0.02)
            acknowledged = {e.note for w in writers for e in list(w.entries) if e.acknowledged}
            if database is None:
                server.kill()
                lost |= acknowledged - _notes(url, unsound)
                server.start(port)
            else:
                (database.stop_at_once, database.kill, database.kill_a_session)[killed % 3]()
                database.start()
                lost |= acknowledged - _notes(url, unsound)
        end.set()
        for thread in threads:
            thread.join(timeout=60)
    kept = _all_notes(url)
    entries = [e for w in writers for e in w.entries]
    lost |= {e.note for e in entries if e.acknowledged} - set(kept)
    return Outcome(
        killed,
        sum(e.acknowledged for e in entries),
        len(entries),
        sorted(lost),
        sorted({note for note in kept if kept.count(note) > 1} | (set(kept) - {e.note for e in entries})),
        [text for w in writers for text in w.odd],
        unsound,
    )


def _prepare(url: str, person_id: int) -> tuple[int, str]:
    """A lot to receive into, and a sign-in to do it with."""
    database = Database(url)
    with database.write() as session:
        session.add(item := StockItem(kind=StockKind.CORD, name="cord", unit="m"))
        token = accounts.open_sign_in(session, session.get_one(Person, person_id), 1)
        item_id = item.id
    database.close()
    assert item_id is not None
    return item_id, token


def _notes(url: str, unsound: list[str]) -> set[str]:
    """The notes that are on record right after a kill; with SQLite, whether the file is sound."""
    path = db.sqlite_path(url)
    if path is not None:
        with closing(sqlite3.connect(path)) as connection:
            found = connection.execute("PRAGMA quick_check").fetchone()[0]
            if found != "ok" or connection.execute("PRAGMA foreign_key_check").fetchone():
                unsound.append(str(found))
    return set(_all_notes(url))


def _all_notes(url: str) -> list[str]:
    engine = db.make_engine(url)
    with engine.connect() as connection:
        found = connection.execute(sa.select(StockMovement.note)).scalars().all()
    engine.dispose()
    return [note for note in found if note]
