"""Guesses at a secret: the one way to compare what was typed with a password, a code or a spare code.

Each is counted before it is compared, in a short transaction of its own, so that of many at once no more are compared
than the limit allows; what turns out to be right is taken off the count again. Wrong tries are counted by the name
that was typed and by where they came from. A browser where that person has signed in before is counted by itself, so
that guesses made elsewhere never make its owner wait (OWASP, Blocking Brute Force Attacks: device cookies). NIST SP
800-63B 5.2.2 asks for at most 100 wrong tries in a row on one account; OWASP ASVS 4.0.3, 2.2.1, for at most 100 in an
hour.

API keys, invitations, customers' and calendars' addresses and the cookies' tokens are 256 random bits: nobody guesses
those, so they are looked up by their digest and not counted.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, TypeVar

import sqlalchemy as sa
from sqlmodel import Session, col, delete, func, or_, select

from webapp.db import Database
from webapp.models import FailedTry, KnownBrowser, Person, now
from webapp.security import passwords
from webapp.shop.base.errors import Invalid
from webapp.shop.people import diary, news as account_news
from webapp.shop.people.accounts import digest

log = logging.getLogger("flutebench.door")

WINDOW: Final = timedelta(minutes=15)
TRIES_BY_NAME: Final = 10
TRIES_BY_ADDRESS: Final = 40
TRIES_BY_KNOWN: Final = 10
KEPT: Final = timedelta(days=1)
# A try dated later than this was made before the clock was set back: nobody knows how long ago, so it counts no more.
AHEAD: Final = timedelta(minutes=1)
_MINUTES: Final = int(WINDOW.total_seconds() // 60)
# Of PostgreSQL's advisory locks: whoever counts a try waits for the one before to be counted.
_ONE_BY_ONE: Final = sa.text("SELECT pg_advisory_xact_lock(7135)")

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Visitor:
    """The browser at the door: where it comes from, what it is, and the token that shows it was here before."""

    address: str
    device: str = ""
    known: str = ""


def guess(
    database: Database, visitor: Visitor, name: str, field: str, compare: Callable[[Person | None], Result | None]
) -> Result | None:
    """What `compare` gives for the active person of this name (None: there is none); None for a wrong guess.

    Nothing is locked while it compares. Raises Invalid at `field` after too many wrong tries, and Crowded.
    """
    with passwords.place():
        counted, person = _count(database, visitor, name, field)
        try:
            found = compare(person)
        except BaseException:
            # It was not compared to its end, or it was right and what follows went wrong: no wrong try.
            _take_off(database, counted)
            raise
        if found is None:
            _keep(database, counted, plain(name))
        else:
            _take_off(database, counted)
        return found


def known_browser(session: Session, visitor: Visitor, person: Person | None) -> KnownBrowser | None:
    """The browser, where it is known to be this person's."""
    if not visitor.known or person is None:
        return None
    found = session.get(KnownBrowser, digest(visitor.known))
    return found if found is not None and found.person_id == person.id else None


def plain(name: str) -> str:
    """A name to sign in with, as it is kept."""
    return name.strip().lower()[:80]


def _count(database: Database, visitor: Visitor, name: str, field: str) -> tuple[int, Person | None]:
    """Count a try, whose number it gives, before it is compared; and whose name it is. Raises Invalid."""
    with database.write() as session:
        if session.get_bind().dialect.name == "postgresql":
            session.execute(_ONE_BY_ONE)
        # Read now that it is this one's turn: the tries before it are not later than it.
        moment = now()
        session.exec(
            delete(FailedTry).where(or_(col(FailedTry.at) < moment - KEPT, col(FailedTry.at) > moment + AHEAD))
        )
        person = session.exec(select(Person).where(Person.sign_in_name == plain(name), col(Person.active))).first()
        browser = known_browser(session, visitor, person)
        tried = FailedTry(
            name_digest=digest(plain(name)),
            address_digest=digest(visitor.address),
            known_digest=browser.token_digest if browser else "",
            at=moment,
        )
        if _is_too_many(session, tried):
            log.warning("too many wrong tries for person %s", person.id if person else "unknown")
        else:
            session.add(tried)
            session.flush()
    if tried.id is None:
        raise Invalid(
            {
                field: f"Too many wrong tries. Wait {_MINUTES} minutes, or sign in from a browser where you have "
                "signed in before. Whoever keeps the computer can set a new password."
            }
        )
    return tried.id, person


def _is_too_many(session: Session, tried: FailedTry) -> bool:
    if tried.known_digest:
        return _recent(session, tried.at, FailedTry.known_digest == tried.known_digest) >= TRIES_BY_KNOWN
    by_name = _recent(session, tried.at, FailedTry.name_digest == tried.name_digest, FailedTry.known_digest == "")
    by_address = _recent(session, tried.at, FailedTry.address_digest == tried.address_digest)
    return by_name >= TRIES_BY_NAME or by_address >= TRIES_BY_ADDRESS


def _recent(session: Session, moment: datetime, *which: object) -> int:
    recent = select(func.count()).select_from(FailedTry).where(FailedTry.at > moment - WINDOW, *which)  # type: ignore[arg-type]
    return session.exec(recent).one()


def _take_off(database: Database, counted: int) -> None:
    """It was no wrong try."""
    with database.write() as session:
        session.exec(delete(FailedTry).where(col(FailedTry.id) == counted))


def _keep(database: Database, counted: int, name: str) -> None:
    """It was wrong: the person's diary says so once a quarter of an hour, and the person is told where so many tries
    were made that no more are taken."""
    with database.write() as session:
        person = session.exec(select(Person).where(Person.sign_in_name == name)).first()
        tried = session.get(FailedTry, counted)
        if person is not None and tried is not None:
            so_far = _recent(session, tried.at, FailedTry.name_digest == digest(name), col(FailedTry.id) <= counted)
            if so_far == 1:
                what = "Someone tried to sign in with a wrong password or code"
                diary.write(session, None, "person", person.id, what)
            if so_far == TRIES_BY_NAME:
                what = f"{TRIES_BY_NAME} tries to sign in failed within {_MINUTES} minutes"
                account_news.tell(session, None, person, what)
        log.warning("wrong password or code for person %s", person.id if person else "unknown")
