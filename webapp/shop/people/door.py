"""The door: who may come in, how often one may guess, and the second step.

Wrong tries are counted by the name that was typed and by where they came from. A browser where that person has
signed in before is counted by itself, so that guesses made elsewhere never make its owner wait (OWASP, Blocking
Brute Force Attacks: device cookies). NIST SP 800-63B 5.2.2 asks for at most 100 wrong tries in a row on one account;
OWASP ASVS 4.0.3, 2.2.1, for at most 100 in an hour.

Each decision stands in the log, with the person's number alone: names and addresses do not.
"""

import logging
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, delete, func, select

from webapp.models import FailedTry, KnownBrowser, Person, SignIn, now
from webapp.security.passwords import hash_password, needs_rehash, verify_password
from webapp.security.sealing import Seal
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import held
from webapp.shop.people import diary, news as account_news, second_step
from webapp.shop.people.accounts import Who, digest, open_sign_in

log = logging.getLogger("flutebench.door")

WINDOW = timedelta(minutes=15)
TRIES_BY_NAME = 10
TRIES_BY_ADDRESS = 40
TRIES_BY_KNOWN = 10
_MINUTES = int(WINDOW.total_seconds() // 60)
KEPT = timedelta(days=1)
FOR_THE_CODE = timedelta(minutes=10)
KNOWN_FOR = timedelta(days=400)

WRONG = "That name and password do not go together."
WRONG_CODE = "That is not the code of this moment. Wait for the next one and try again."


@dataclass(frozen=True, slots=True)
class Visitor:
    """The browser at the door: where it comes from, what it is, and the token that shows it was here before."""

    address: str
    device: str = ""
    known: str = ""


@dataclass(frozen=True, slots=True)
class Entered:
    """The cookie's token; whether a code is awaited; a new token to know the browser by, where it has none."""

    token: str
    awaits_code: bool
    known: str = ""


def check(session: Session, visitor: Visitor, name: str, password: str, field: str = "password") -> Person | None:
    """Whose name and password these are, or None. Changes nothing: the slow hashing holds no lock.

    Raises Invalid where there were too many wrong tries.
    """
    person = session.exec(select(Person).where(Person.sign_in_name == _plain(name), col(Person.active))).first()
    _let_guess(session, visitor, name, person, field)
    fits = verify_password(password, person.password_hash if person else None)
    return person if fits else None


def note_failure(session: Session, visitor: Visitor, name: str, person: Person | None = None) -> None:
    """Write down a wrong try; the person's own diary says so once a quarter of an hour. Commits.

    The person is told where so many tries were made that no more are taken.
    """
    moment = now()
    name_digest = digest(_plain(name))
    session.exec(delete(FailedTry).where(col(FailedTry.at) < moment - KEPT))
    known = _known(session, visitor, person or _person(session, name))
    before = _count(session, FailedTry.name_digest == name_digest)
    session.add(
        FailedTry(name_digest=name_digest, address_digest=digest(visitor.address), known_digest=known, at=moment)
    )
    found = person or _person(session, name)
    if found and before == 0:
        diary.write(session, None, "person", found.id, "Someone tried to sign in with a wrong password or code")
    if found and before + 1 == TRIES_BY_NAME:
        what = f"{TRIES_BY_NAME} tries to sign in failed within {_MINUTES} minutes"
        account_news.tell(session, None, found, what)
    session.commit()
    log.warning("wrong password or code for person %s", found.id if found else "unknown")


def let_in(session: Session, visitor: Visitor, person: Person, password: str, days: int) -> Entered:
    """Open a sign-in for the person that `check` found; with a second step it still awaits the code. Commits."""
    if password and needs_rehash(person.password_hash):
        stored = session.get(Person, person.id)
        assert stored is not None
        stored.password_hash = hash_password(password)
    if person.code_secret is not None:
        token = open_sign_in(session, person, days, visitor.device, awaits_code=True)
        log.info("person %s gave the password and owes the code", person.id)
        return Entered(token, awaits_code=True)
    return _entered(session, visitor, person, days)


def awaiting(session: Session, token: str) -> Person | None:
    """Who gave their password in this browser and still owes the code."""
    return session.exec(
        select(Person)
        .join(SignIn, col(SignIn.person_id) == Person.id)
        .where(
            SignIn.token_digest == digest(token),
            col(SignIn.awaits_code),
            SignIn.created_at > now() - FOR_THE_CODE,
            col(Person.active),
        )
    ).first()


def enter_with_code(session: Session, seal: Seal, visitor: Visitor, token: str, code: str, days: int) -> Entered:
    """The second step: with the right code, a fresh sign-in in place of the one that waited. Commits.

    Raises Invalid with what is wrong, after it was written down.
    """
    person = awaiting(session, token)
    if person is None:
        raise Invalid({"": "That took too long. Begin again with your name and password."})
    # Held before the tries are counted: many codes sent at once wait for each other.
    locked = session.exec(held(select(Person).where(Person.id == person.id))).one()
    _let_guess(session, visitor, person.sign_in_name, person, "code")
    if not second_step.takes(session, seal, locked, code):
        if second_step.was_taken(seal, locked, code):
            account_news.tell(session, None, locked, "A code from the telephone was typed a second time and refused")
        note_failure(session, visitor, person.sign_in_name, person)
        raise Invalid({"code": WRONG_CODE})
    session.exec(delete(SignIn).where(col(SignIn.token_digest) == digest(token)))
    return _entered(session, visitor, person, days)


def sign_out_everywhere(session: Session, who: Who) -> None:
    """End all of this person's sign-ins, here too, and forget their browsers. Commits."""
    session.exec(delete(SignIn).where(col(SignIn.person_id) == who.id))
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == who.id))
    diary.write(session, who, "person", who.id, "Signed out everywhere")
    session.commit()
    log.info("person %s signed out everywhere", who.id)


def sign_out_there(session: Session, who: Who, mark: str) -> None:
    """End the one sign-in of this person whose digest begins so. Commits."""
    if len(mark) >= 16:
        ending = col(SignIn.token_digest).startswith(mark, autoescape=True)
        session.exec(delete(SignIn).where(col(SignIn.person_id) == who.id, ending))
    session.commit()


def sign_ins(session: Session, who: Who) -> list[SignIn]:
    """Where this person is signed in now, last seen first."""
    mine = select(SignIn).where(SignIn.person_id == who.id, SignIn.expires_at > now(), ~col(SignIn.awaits_code))
    return list(session.exec(mine.order_by(col(SignIn.seen_at).desc())))


def confirm(session: Session, who: Who, token: str) -> str:
    """The password was typed once more in this browser: a fresh token in place of its old one. Commits."""
    old = session.get(SignIn, digest(token))
    fresh = secrets.token_urlsafe(32)
    if old is not None:
        kept = old.model_dump(exclude={"token_digest", "confirmed_at"})
        session.delete(old)
        session.add(SignIn(token_digest=digest(fresh), confirmed_at=now(), **kept))
    session.commit()
    log.info("person %s gave the password again", who.id)
    return fresh


def _entered(session: Session, visitor: Visitor, person: Person, days: int) -> Entered:
    known, moment = "", now()
    found = session.get(KnownBrowser, _known(session, visitor, person))
    if found is not None:
        found.seen_at = moment
    else:
        known = secrets.token_urlsafe(32)
        assert person.id is not None
        _tell_of_new_browser(session, visitor, person.id, moment)
        session.add(KnownBrowser(token_digest=digest(known), person_id=person.id))
        session.exec(delete(KnownBrowser).where(col(KnownBrowser.seen_at) < moment - KNOWN_FOR))
    token = open_sign_in(session, person, days, visitor.device, began=moment)
    log.info("person %s signed in", person.id)
    return Entered(token, awaits_code=False, known=known)


def _tell_of_new_browser(session: Session, visitor: Visitor, person_id: int, moment: datetime) -> None:
    """Whoever has browsers that are known is told of one more; the very first is nobody's news."""
    others = session.exec(select(KnownBrowser.token_digest).where(KnownBrowser.person_id == person_id)).first()
    if others is not None:
        what = f"Signed in with a browser not seen before: {visitor.device or 'of an unknown kind'}"
        account_news.tell(session, None, session.get_one(Person, person_id), what, moment)


def _let_guess(session: Session, visitor: Visitor, name: str, person: Person | None, field: str) -> None:
    if known := _known(session, visitor, person):
        slowed = _count(session, FailedTry.known_digest == known) >= TRIES_BY_KNOWN
    else:
        by_name = _count(session, FailedTry.name_digest == digest(_plain(name)), FailedTry.known_digest == "")
        slowed = by_name >= TRIES_BY_NAME
        slowed = slowed or _count(session, FailedTry.address_digest == digest(visitor.address)) >= TRIES_BY_ADDRESS
    if slowed:
        log.warning("too many wrong tries for person %s", person.id if person else "unknown")
        raise Invalid(
            {
                field: f"Too many wrong tries. Wait {_MINUTES} minutes, or sign in from a browser where you have "
                "signed in before. Whoever keeps the computer can set a new password."
            }
        )


def _count(session: Session, *which: object) -> int:
    recent = select(func.count()).select_from(FailedTry).where(FailedTry.at > now() - WINDOW, *which)  # type: ignore[arg-type]
    return session.exec(recent).one()


def _known(session: Session, visitor: Visitor, person: Person | None) -> str:
    """The digest of the browser's token where it is known to be this person's, else nothing."""
    if not visitor.known or person is None:
        return ""
    found = session.get(KnownBrowser, digest(visitor.known))
    return found.token_digest if found is not None and found.person_id == person.id else ""


def _person(session: Session, name: str) -> Person | None:
    return session.exec(select(Person).where(Person.sign_in_name == _plain(name))).first()


def _plain(name: str) -> str:
    return name.strip().lower()[:80]
