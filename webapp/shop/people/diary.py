"""The shop's diary: who did what to which order, lot, pattern or person, in plain words."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from webapp.models import Event, Person, now
from webapp.shop.people import amounts
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
    about_money: bool = False,
) -> None:
    """Add a line about `subject`. Long lines are cut to what the column holds. `about_money`: only those who see money
    read it."""
    assert subject_id is not None
    if about_money:
        subject += amounts.ABOUT_MONEY
    if len(what) > 300:
        what = what[:299] + "\N{HORIZONTAL ELLIPSIS}"
    by = who.id if who else None
    session.add(Event(at=at or now(), by=by, subject=subject, subject_id=subject_id, what=what, why=why[:1000]))


def read(session: Session, who: Who, subject: str, subject_id: int | None, limit: int = 200) -> list[Entry]:
    """The lines about one thing that this person may read, newest first."""
    sees = amounts.sees_money(who.role)
    subjects = [subject, subject + amounts.ABOUT_MONEY] if sees else [subject]
    rows = session.exec(
        select(Event, Person.name)
        .join(Person, col(Person.id) == Event.by, isouter=True)
        .where(col(Event.subject).in_(subjects), Event.subject_id == subject_id)
        .order_by(col(Event.at).desc(), col(Event.id).desc())
        .limit(limit)
    )
    said = str if sees else amounts.without_amounts
    return [Entry(event.at, name or "", show_note(said(event.what)), said(event.why)) for event, name in rows]
