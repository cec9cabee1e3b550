"""Periodic work that the program does by itself: of several processes one claims it, and writes down how it went."""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.exc import IntegrityError, SQLAlchemyError
from sqlmodel import Session, col, or_, update

from webapp.db import Database
from webapp.models import Chore, now

log = logging.getLogger("flutebench")

RETRY_AFTER = timedelta(hours=1)
HOLD = timedelta(seconds=60)
"""A process that has ended without a word loses its claim after so long."""
FIRST, LOOK_EVERY = 20.0, 300.0  # s; the first look comes after the shop has opened: people wait for that


@dataclass(slots=True)
class Claim:
    """Periodic work that this process does now; what goes wrong is to be written into it."""

    fault: str = ""


@contextmanager
def claimed(database: Database, name: str, every: timedelta) -> Iterator[Claim | None]:
    """Claim what is due and no other process is at, for as long as the block takes; None where there is nothing."""
    with database.write() as session:
        mine = claim(session, name, every, HOLD)
    if not mine:
        yield None
        return
    held, over = Claim(), threading.Event()
    keeping = threading.Thread(target=_keep, args=(database, name, over), name=f"holds {name}", daemon=True)
    keeping.start()
    try:
        yield held
    except BaseException as error:
        held.fault = held.fault or type(error).__name__
        raise
    finally:
        over.set()
        keeping.join()
        with database.write() as session:
            finish(session, name, held.fault)


def _keep(database: Database, name: str, over: threading.Event) -> None:
    while not over.wait(HOLD.total_seconds() / 4):
        try:
            with database.write() as session:
                session.exec(update(Chore).where(col(Chore.name) == name).values(held_until=now() + HOLD))
                session.commit()
        except SQLAlchemyError:
            continue  # the next time, perhaps


def claim(session: Session, name: str, every: timedelta, hold: timedelta) -> bool:
    """Whether this process may do it now: it is due, and no other process holds it. Commits.

    One that ends without a word (killed, out of power) loses its hold after `hold`.
    """
    moment = now()
    if session.get(Chore, name) is None:
        session.add(Chore(name=name))
        try:
            session.commit()
        except IntegrityError:  # another process was first
            session.rollback()
    # Held for longer than anybody holds: the clock was set back since.
    held = col(Chore.held_until)
    free = or_(held.is_(None), held < moment, held > moment + max(hold, HOLD))
    due = or_(col(Chore.done_at).is_(None), col(Chore.done_at) <= moment - every, col(Chore.done_at) > moment)
    calm = or_(
        col(Chore.fault) == "",
        col(Chore.tried_at).is_(None),
        col(Chore.tried_at) <= moment - min(every, RETRY_AFTER),
        col(Chore.tried_at) > moment,
    )
    taken = session.exec(
        update(Chore).where(col(Chore.name) == name, free, due, calm).values(held_until=moment + hold, tried_at=moment)
    )
    session.commit()
    return taken.rowcount == 1


def finish(session: Session, name: str, fault: str = "") -> None:
    """Write down that it is done, or what went wrong; another may claim it. Commits."""
    chore = session.get_one(Chore, name)
    chore.held_until = None
    chore.fault = fault[:500]
    if not fault:
        chore.done_at = now()
    session.add(chore)
    session.commit()


def state(session: Session, name: str) -> tuple[datetime | None, str]:
    """When it was last done, and what went wrong since."""
    chore = session.get(Chore, name)
    return (chore.done_at, chore.fault) if chore else (None, "")


class Scheduler:
    """A thread that looks every few minutes whether something is due; each task claims its own work."""

    def __init__(self, *tasks: Callable[[], object]) -> None:
        self._tasks = tasks
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        self._ending.clear()
        self._thread = threading.Thread(target=self._run, name="schedule", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Let a task come to its end: a backup stands under its name only then."""
        self._ending.set()
        if self._thread is not None:
            self._thread.join(timeout=20)

    def _run(self) -> None:
        wait = FIRST
        while not self._ending.wait(wait):
            wait = LOOK_EVERY
            for task in self._tasks:
                try:
                    task()
                except (SQLAlchemyError, sqlite3.Error, OSError):
                    log.exception("periodic work failed")
