"""Chores that the program does by itself: one process at a time takes one, and writes down how it went."""

from datetime import datetime, timedelta

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, or_, update

from webapp.models import Chore, now

AGAIN_AFTER_A_FAULT = timedelta(hours=1)


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
    free = or_(col(Chore.held_until).is_(None), col(Chore.held_until) < moment)
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
