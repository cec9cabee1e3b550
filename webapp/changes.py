"""Counting changes: every transaction that changes something in the shop counts up one number at its very end.

An open screen shows that number and asks now and then whether it is still the same. It is right with several
processes and several writers: the row is held from the count to the commit only, so whoever sees the new number sees
what was changed. Sign-ins and the like do not count: no screen shows them.
"""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlmodel import Session, SQLModel, select

from webapp.models import ChangeCount

QUIET = {
    "sign_in",
    "known_browser",
    "failed_try",
    "spare_code",
    "invitation",
    "submission",
    "spread_run",
    "print_run",
    "printed_file",
    "change_count",
    "forecast",
    "chore",
    "import_draft",
    "api_token",
    "api_answered",
}
_CHANGED = "changed"
_WROTE = "wrote"
# The same words on both databases (SQLite 3.24, PostgreSQL 9.5).
_COUNT = sa.text(
    "INSERT INTO change_count (id, count) VALUES (1, 1) ON CONFLICT (id) DO UPDATE SET count = change_count.count + 1"
)


class CountingSession(Session):
    """A session whose commits count as changes where they changed something."""


@event.listens_for(CountingSession, "after_flush")
def _note(session: Any, _context: Any) -> None:
    rows = [*session.new, *session.dirty, *session.deleted]
    if any(getattr(row, "__tablename__", "") != "submission" for row in rows):
        session.info[_WROTE] = True
    if any(isinstance(row, SQLModel) and row.__tablename__ not in QUIET for row in rows):
        session.info[_CHANGED] = True


@event.listens_for(CountingSession, "do_orm_execute")
def _note_many(state: Any) -> None:
    """Rows changed by one statement, without being loaded."""
    if state.is_insert or state.is_update or state.is_delete:
        state.session.info[_WROTE] = True
        table = getattr(state.statement, "table", None)
        if table is None or table.name not in QUIET:
            state.session.info[_CHANGED] = True


@event.listens_for(CountingSession, "before_commit")
def _count(session: Any) -> None:
    session.flush()
    if session.info.pop(_CHANGED, False):
        session.execute(_COUNT)


@event.listens_for(CountingSession, "after_soft_rollback")
def _forget(session: Any, _previous: Any) -> None:
    session.info.pop(_CHANGED, None)
    session.info.pop(_WROTE, None)


@event.listens_for(CountingSession, "after_commit")
def _kept(session: Any) -> None:
    session.info.pop(_WROTE, None)


def has_written(session: Session) -> bool:
    """Whether something waits for this session's commit, beside the key by which a repeated form is known."""
    session.flush()
    return bool(session.info.get(_WROTE, False))


def count(session: Session) -> int:
    """How many changes there have been."""
    return session.exec(select(ChangeCount.count).where(ChangeCount.id == 1)).first() or 0
