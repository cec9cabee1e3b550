"""Calendar feeds: secret addresses at which a person's calendar reads what comes due.

Only the secret's digest is kept. A feed names no customer unless asked to: calendars are kept by others.
"""

import secrets
from datetime import timedelta
from typing import Literal

from pydantic import BaseModel, field_validator
from sqlmodel import Session, col, select

from webapp.models import CalendarFeed, Person, now
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who, digest

LONGEST_SECRET = 100
SEEN_EVERY = timedelta(hours=1)


class FeedAsked(BaseModel):
    """What a feed should hold: customers' names, and an alarm so many minutes before."""

    with_customers: bool = False
    alarm_minutes: Literal[0, 10, 30, 60] | None = None

    @field_validator("alarm_minutes", mode="before")
    @classmethod
    def _of_the_list(cls, value: object) -> object:
        if value in ("", None):
            return None
        if str(value) not in ("0", "10", "30", "60"):
            raise ValueError("Choose one of the list.")
        return int(str(value))


def feed_of(session: Session, who: Who) -> CalendarFeed | None:
    """The feed that a person has now."""
    statement = select(CalendarFeed).where(CalendarFeed.person_id == who.id, col(CalendarFeed.revoked_at).is_(None))
    return session.exec(statement.order_by(col(CalendarFeed.id).desc())).first()


def open_feed(session: Session, who: Who, asked: FeedAsked) -> str:
    """Give this person a feed, or a new address for it. Returns the secret part, which is shown once and never kept.

    Everyone does so for themselves; an earlier address no longer works from now on.
    """
    find(session, Person, who.id, "person", lock=True)
    renewed = _revoke(session, who)
    secret = secrets.token_urlsafe(32)
    session.add(CalendarFeed(person_id=who.id, digest=digest(secret), **asked.model_dump()))
    what = "Calendar feed has a new address; the old one no longer works" if renewed else "Calendar feed opened"
    diary.write(session, who, "person", who.id, what)
    session.flush()
    return secret


def revoke(session: Session, who: Who) -> None:
    """The feed's address no longer works from now on; nothing happens where there is none."""
    if _revoke(session, who):
        diary.write(session, who, "person", who.id, "Calendar feed closed")
    session.flush()


def _revoke(session: Session, who: Who) -> bool:
    feed = feed_of(session, who)
    if feed is None:
        return False
    feed.revoked_at = now()
    session.add(feed)
    return True


def by_secret(session: Session, secret: str) -> CalendarFeed:
    """The feed at this address. Raises NotFound, alike for an address that no longer works and one that never did."""
    feed = None
    if len(secret) <= LONGEST_SECRET:
        feed = session.exec(
            select(CalendarFeed)
            .join(Person, col(Person.id) == CalendarFeed.person_id)
            .where(CalendarFeed.digest == digest(secret), col(CalendarFeed.revoked_at).is_(None), col(Person.active))
        ).first()
    if feed is None:
        raise NotFound("There is no calendar at this address.")
    return feed


def is_read(session: Session, feed_id: int) -> None:
    """Note that a calendar reads this feed, no more often than once an hour."""
    feed = find(session, CalendarFeed, feed_id, "calendar feed", lock=True)
    feed.read_at = now()
    session.add(feed)
    session.flush()
