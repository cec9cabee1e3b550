"""The shop's diary: who did what to which order, lot, pattern or person, in plain words."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from webapp.models import Event, Person, now
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import show_note


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the diary as a page shows it; `by` is empty for what followed by itself."""

    at: datetime
    by: str
    what: str
    why: str


def write(
    session: Session,
    who: Who | None,
    subject: str,
    subject_id: int | None,
    what: str,
    why: str = "",
    at: datetime | None = None,
) -> None:
    """Add a line about `subject`. Long lines are cut to what the column holds."""
    assert subject_id is not None
    if len(what) > 300:
        what = what[:299] + "\N{HORIZONTAL ELLIPSIS}"
    by = who.id if who else None
    session.add(Event(at=at or now(), by=by, subject=subject, subject_id=subject_id, what=what, why=why[:1000]))


def read(session: Session, subject: str, subject_id: int | None, limit: int = 200) -> list[Entry]:
    """The lines about one thing, newest first."""
    rows = session.exec(
        select(Event, Person.name)
        .join(Person, col(Person.id) == Event.by, isouter=True)
        .where(Event.subject == subject, Event.subject_id == subject_id)
        .order_by(col(Event.at).desc(), col(Event.id).desc())
        .limit(limit)
    )
    return [Entry(event.at, name or "", show_note(event.what), event.why) for event, name in rows]
