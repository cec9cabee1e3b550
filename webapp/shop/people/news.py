"""What happened to someone's account, told to its person on every screen until they say that they know.

The program sends no mail, so this is its only way (OWASP ASVS 4.0.3, 2.2.3 and 2.5.5, asks that people be told).
"""

from datetime import datetime

from sqlmodel import Session, col, select

from webapp.models import Event, Person, now
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Found, Who
from webapp.shop.people.diary import Entry

MOST = 20


def tell(session: Session, who: Who | None, person: Person, what: str, moment: datetime | None = None) -> None:
    """Write a line into the person's diary that they are to be told of."""
    moment = moment or now()
    person.untold_since = person.untold_since or moment
    session.add(person)
    diary.write(session, who, "person", person.id, what, at=moment)


def untold(session: Session, found: Found) -> list[Entry]:
    """What this person was not told of yet, newest first, without the beginning of this browser's own sign-in."""
    if found.untold_since is None:
        return []
    rows = session.exec(
        select(Event, Person.name)
        .join(Person, col(Person.id) == Event.by, isouter=True)
        .where(
            Event.subject == "person",
            Event.subject_id == found.who.id,
            Event.at >= found.untold_since,
            Event.at != found.began,
        )
        .order_by(col(Event.id).desc())
        .limit(MOST)
    )
    return [Entry(event.at, name or "", event.what, event.why) for event, name in rows]


def heard(session: Session, who: Who) -> None:
    """The person knows."""
    me = find(session, Person, who.id, "person", lock=True)
    me.untold_since = None
    session.add(me)
    session.flush()
