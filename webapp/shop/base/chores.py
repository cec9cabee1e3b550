"""Chores that the program does by itself: one process at a time takes one, and writes down how it went."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.exc import IntegrityError, SQLAlchemyError
from sqlmodel import Session, col, or_, update

from webapp.db import Database
from webapp.models import Chore, now

BACKUP = "backup"
AGAIN_AFTER_A_FAULT = timedelta(hours=1)
HOLD = timedelta(seconds=60)
"""A process that has ended without a word loses its chore after so long."""


@dataclass(slots=True)
class Held:
    """A chore that this process does now; what goes wrong is to be written into it."""

    fault: str = ""


@contextmanager
def holding(database: Database, name: str, every: timedelta) -> Iterator[Held | None]:
    """Do a chore that is due and that no other process is at; None where there is nothing to do.

    It is held for as long as the block takes.
    """
    with database.write() as session:
        taken = take(session, name, every, HOLD)
    if not taken:
        yield None
        return
    held, over = Held(), threading.Event()
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


def take(session: Session, name: str, every: timedelta, hold: timedelta) -> bool:
    """Whether this process may do the chore now: it is due, and no other process holds it. Commits.

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
        col(Chore.tried_at) <= moment - min(every, AGAIN_AFTER_A_FAULT),
        col(Chore.tried_at) > moment,
    )
    taken = session.exec(
        update(Chore).where(col(Chore.name) == name, free, due, calm).values(held_until=moment + hold, tried_at=moment)
    )
    session.commit()
    return taken.rowcount == 1


def finish(session: Session, name: str, fault: str = "") -> None:
    """Write down that the chore is done, or what went wrong; gives it free. Commits."""
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
