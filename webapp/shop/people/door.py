"""The door: who may come in, with which password and which second step, and where they are signed in.

Whatever is typed to prove who somebody is, here or behind a screen that is signed in, goes through `guesses`.

Each decision stands in the log, with the person's number alone: names and addresses do not.
"""

import logging
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, delete, select

from webapp.db import Database
from webapp.models import KnownBrowser, Person, SignIn, now
from webapp.security.passwords import hash_password, needs_rehash, verify_password
from webapp.security.sealing import Seal
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people import diary, guesses, news as account_news, second_step
from webapp.shop.people.accounts import Proof, Who, digest, open_sign_in
from webapp.shop.people.guesses import Visitor

log = logging.getLogger("flutebench.door")

FOR_THE_CODE = timedelta(minutes=10)
KNOWN_FOR = timedelta(days=400)

WRONG = "That name and password do not go together."
WRONG_CODE = "That is not the code of this moment. Wait for the next one and try again."
TOO_LONG = "That took too long. Begin again with your name and password."
NOT_YOURS = "That is not your password."
NO_KEY = (
    "This computer lacks the key to the codes of your telephone: the shop was brought here without it. Type a spare "
    "code, or ask whoever keeps the computer: the guide's chapter on backups says what to do."
)


@dataclass(frozen=True, slots=True)
class Entered:
    """The cookie's token; whether a code is awaited; a new token to know the browser by, where it has none."""

    token: str
    awaits_code: bool
    known: str = ""


def check(database: Database, visitor: Visitor, name: str, password: str, field: str = "password") -> Person | None:
    """Whose name and password these are, or None, which is counted. Nothing is locked while the password is hashed.

    Raises Invalid at `field` where there were too many wrong tries, and Crowded.
    """

    def fits(person: Person | None) -> Person | None:
        if not verify_password(password, person.password_hash if person else None):
            return None
        assert person is not None
        if needs_rehash(person.password_hash):
            _hash_again(database, person, password)
        return person

    return guesses.guess(database, visitor, name, field, fits)


def prove(database: Database, visitor: Visitor, who: Who, password: str, field: str = "present") -> Proof:
    """That this is the password of the person at the screen. Raises Invalid at `field`, and Crowded."""
    with database.read() as session:
        name = find(session, Person, who.id, "person").sign_in_name
    person = check(database, visitor, name, password, field)
    if person is None or person.id != who.id:
        raise Invalid({field: NOT_YOURS})
    return Proof(who.id, name, person.password_hash)


def _hash_again(database: Database, person: Person, password: str) -> None:
    """Keep the same password at today's cost."""
    old, person.password_hash = person.password_hash, hash_password(password)
    with database.write() as session:
        stored = find(session, Person, person.id or 0, "person", lock=True)
        if stored.password_hash == old:
            stored.password_hash = person.password_hash


def let_in(session: Session, visitor: Visitor, person: Person, days: int) -> Entered:
    """Open a sign-in for the person that `check` found; with a second step it still awaits the code."""
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


def enter_with_code(database: Database, seal: Seal, visitor: Visitor, token: str, code: str, days: int) -> Entered:
    """The second step: with the right code, a fresh sign-in in place of the one that waited.

    Raises Invalid with what is wrong, after it was written down, and Crowded.
    """
    with database.read() as session:
        waiting = awaiting(session, token)
    if waiting is None:
        raise Invalid({"": TOO_LONG})

    def fits(person: Person | None) -> Entered | None:
        if person is None or person.id is None:
            return None
        with database.read() as session:
            kept = second_step.kept_spare_codes(session, person.id)
        found = second_step.recognised(seal, person, kept, code)
        if found is None:
            return None
        with database.write() as session:
            if not second_step.use_up(session, person.id, found):
                return None
            ended = session.exec(delete(SignIn).where(col(SignIn.token_digest) == digest(token)))
            if ended.rowcount != 1:
                raise Invalid({"": TOO_LONG})
            return _entered(session, visitor, person, days)

    entered = guesses.guess(database, visitor, waiting.sign_in_name, "code", fits)
    if entered is None:
        raise Invalid({"code": WRONG_CODE if second_step.can_be_checked(seal, waiting) else NO_KEY})
    return entered


def sign_out_everywhere(session: Session, who: Who) -> None:
    """End all of this person's sign-ins, here too, and forget their browsers."""
    session.exec(delete(SignIn).where(col(SignIn.person_id) == who.id))
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == who.id))
    diary.write(session, who, "person", who.id, "Signed out everywhere")
    log.info("person %s signed out everywhere", who.id)


def sign_out_there(session: Session, who: Who, mark: str) -> None:
    """End the one sign-in of this person whose digest begins so."""
    if len(mark) >= 16:
        ending = col(SignIn.token_digest).startswith(mark, autoescape=True)
        session.exec(delete(SignIn).where(col(SignIn.person_id) == who.id, ending))


def sign_ins(session: Session, who: Who) -> list[SignIn]:
    """Where this person is signed in now, last seen first."""
    mine = select(SignIn).where(SignIn.person_id == who.id, SignIn.expires_at > now(), ~col(SignIn.awaits_code))
    return list(session.exec(mine.order_by(col(SignIn.seen_at).desc())))


def confirm(session: Session, who: Who, token: str) -> str:
    """The password was typed once more in this browser: a fresh token in place of its old one."""
    old = session.get(SignIn, digest(token))
    fresh = secrets.token_urlsafe(32)
    if old is not None:
        kept = old.model_dump(exclude={"token_digest", "confirmed_at"})
        session.delete(old)
        session.add(SignIn(token_digest=digest(fresh), confirmed_at=now(), **kept))
    log.info("person %s gave the password again", who.id)
    return fresh


def _entered(session: Session, visitor: Visitor, person: Person, days: int) -> Entered:
    known, moment = "", now()
    found = guesses.known_browser(session, visitor, person)
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
