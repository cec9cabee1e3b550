"""Who did what, over the whole shop: the diary with its filters, for the owner."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from pydantic import BaseModel
from sqlmodel import Session, col, select

from webapp.models import Event, Person
from webapp.shop.people.accounts import Who
from webapp.shop.people.amounts import ABOUT_MONEY
from webapp.shop.units.keys import show_note

A_PAGE = 100

# What an entry is about, in words for the list.
SUBJECTS = {
    "order": "Orders",
    "customer": "Customers",
    "blank": "Blanks",
    "pattern": "Patterns",
    "routing": "Routings",
    "lot": "Stock",
    "wood": "Woods",
    "plan": "Cutting plans",
    "wanted": "Wanted stock",
    "adhesive": "Adhesives",
    "tools": "Drills",
    "workshop": "Hours and places",
    "shop": "The shop",
    "person": "People",
}


class Asked(BaseModel):
    """What the owner looks for; `before` is the id below which the next page begins."""

    person: int | None = None
    subject: str = ""
    day: date | None = None
    before: int | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One line: when, who (empty: the program), about what, and where to look at it."""

    at: datetime
    by: str
    subject: str
    what: str
    why: str
    address: str


@dataclass(frozen=True, slots=True)
class Lines:
    lines: list[Line]
    before: int | None


def read(session: Session, who: Who, asked: Asked, timezone: str) -> Lines:
    """A page of the diary, newest first. Raises NotAllowed for anyone but the owner."""
    who.must()
    query = select(Event, Person.name).join(Person, col(Person.id) == Event.by, isouter=True)
    if asked.person is not None:
        query = query.where(Event.by == asked.person)
    if asked.subject:
        query = query.where(col(Event.subject).in_([asked.subject, asked.subject + ABOUT_MONEY]))
    if asked.day is not None:
        # From midnight to midnight: a day on which the clocks change has 23 or 25 hours.
        begins, ends = (
            datetime.combine(day, time(), ZoneInfo(timezone)).astimezone(UTC)
            for day in (asked.day, asked.day + timedelta(days=1))
        )
        query = query.where(Event.at >= begins, Event.at < ends)
    if asked.before is not None:
        query = query.where(col(Event.id) < asked.before)
    rows = session.exec(query.order_by(col(Event.id).desc()).limit(A_PAGE + 1)).all()
    lines = [
        Line(event.at, name or "", _subject(event.subject), show_note(event.what), event.why, _address(event))
        for event, name in rows[:A_PAGE]
    ]
    return Lines(lines, rows[A_PAGE - 1][0].id if len(rows) > A_PAGE else None)


def subjects(session: Session) -> list[tuple[str, str]]:
    """What the diary speaks of, for the choice above it."""
    found = session.exec(select(Event.subject).distinct().order_by(Event.subject)).all()
    return [(subject, _subject(subject)) for subject in sorted({one.removesuffix(ABOUT_MONEY) for one in found})]


def _subject(subject: str) -> str:
    subject = subject.removesuffix(ABOUT_MONEY)
    return SUBJECTS.get(subject, subject.replace("_", " ").capitalize())


def _address(event: Event) -> str:
    """The page of what the entry is about, where its number leads there."""
    bases = {"customer": "/customers", "pattern": "/patterns", "person": "/shop/people"}
    base = bases.get(event.subject)
    return f"{base}/{event.subject_id}" if base else ""
