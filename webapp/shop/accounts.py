"""Accounts and sign-in: people, passwords, and where they are signed in."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import timedelta

from sqlmodel import Session, col, delete, select
from zxcvbn import zxcvbn

from webapp.models import KnownBrowser, Person, Role, Shop, SignIn, Units, now
from webapp.security.passwords import hash_password
from webapp.shop.errors import Invalid, NotAllowed, NotFound

SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 128
# Of 0 to 4: more than 10^6 guesses.
HARD_ENOUGH = 2
# A sign-in's last use is written down no more often than this, so that reading a page costs no write.
SEEN_EVERY = timedelta(minutes=10)
# However often it is used, a sign-in ends after this long: then the password is asked for again.
LONGEST = timedelta(days=180)


@dataclass(frozen=True, slots=True)
class Who:
    """The person at the screen: enough to record who did it and to show lengths their way."""

    id: int
    name: str
    role: Role
    units: Units

    def must(self, *roles: Role) -> None:
        """Raise NotAllowed unless this person has one of the roles (the owner always may)."""
        if self.role not in (Role.OWNER, *roles):
            raise NotAllowed(f"This needs the role {' or '.join([*roles, Role.OWNER])}; yours is {self.role}.")

    def must_work(self) -> None:
        """Raise NotAllowed for someone who may only look."""
        self.must(Role.MAKER, Role.OFFICE)


def is_set_up(session: Session) -> bool:
    """Whether the first run is over."""
    return session.get(Shop, 1) is not None


def add_person(session: Session, who: Who, name: str, sign_in_name: str, password: str, role: Role) -> Person:
    """Give someone an account. Only the owner may. Raises NotAllowed, Invalid."""
    who.must(Role.OWNER)
    person = new_person(session, name, sign_in_name, password, role)
    session.commit()
    return person


def new_person(session: Session, name: str, sign_in_name: str, password: str, role: Role) -> Person:
    """Check and add an account to the session; the caller commits. Raises Invalid."""
    sign_in_name = sign_in_name.strip().lower()
    check_password(password, sign_in_name)
    if session.exec(select(Person.id).where(Person.sign_in_name == sign_in_name)).first():
        raise Invalid({"sign_in_name": "Someone here already signs in with that name."})
    person = Person(name=name.strip(), sign_in_name=sign_in_name, password_hash=hash_password(password), role=role)
    session.add(person)
    session.flush()
    return person


def check_password(password: str, sign_in_name: str = "") -> None:
    """Length and being hard to guess count, not kinds of characters (NIST SP 800-63B, 5.1.1.2, asks for 8 and a
    list of common ones; OWASP ASVS 4.0.3, 2.1.1 and 2.1.7, for 12). The library zxcvbn knows common passwords, names,
    words, dates and rows of keys, and how people vary them (Wheeler, 2016, USENIX Security 25, pp. 157-173).

    Raises Invalid.
    """
    if len(password) < SHORTEST_PASSWORD:
        raise Invalid({"password": f"Use at least {SHORTEST_PASSWORD} characters; a few words do well."})
    if len(password) > LONGEST_PASSWORD:
        raise Invalid({"password": f"Use at most {LONGEST_PASSWORD} characters."})
    if zxcvbn(password[:72], [sign_in_name, "flutebench"])["score"] < HARD_ENOUGH:
        raise Invalid({"password": "That is too easy to guess. A few words that do not belong together do well."})


def set_password(session: Session, sign_in_name: str, password: str) -> Person:
    """Set someone's password and end all their sign-ins. For the command line. Raises NotFound, Invalid."""
    person = session.exec(select(Person).where(Person.sign_in_name == sign_in_name.strip().lower())).first()
    if person is None:
        raise NotFound(f"Nobody signs in as {sign_in_name}.")
    check_password(password, person.sign_in_name)
    person.password_hash = hash_password(password)
    for sign_in in session.exec(select(SignIn).where(SignIn.person_id == person.id)):
        session.delete(sign_in)
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == person.id))
    session.commit()
    return person


def open_sign_in(session: Session, person: Person, days: int, device: str = "", awaits_code: bool = False) -> str:
    """A fresh random token for this person's browser; commits."""
    assert person.id is not None
    session.exec(delete(SignIn).where(col(SignIn.expires_at) < now()))
    token = secrets.token_urlsafe(32)
    session.add(
        SignIn(
            token_digest=digest(token),
            person_id=person.id,
            expires_at=now() + timedelta(days=days),
            awaits_code=awaits_code,
            device=device[:60],
        )
    )
    session.commit()
    return token


def sign_out(session: Session, token: str) -> None:
    if found := session.get(SignIn, digest(token)):
        session.delete(found)
    session.commit()


def who_is(session: Session, token: str) -> tuple[Who, bool] | None:
    """The person behind a cookie's token, and whether it is time to write down that they were seen."""
    row = session.exec(
        select(SignIn, Person)
        .join(Person, col(Person.id) == SignIn.person_id)
        .where(
            SignIn.token_digest == digest(token),
            SignIn.expires_at > now(),
            ~col(SignIn.awaits_code),
            col(Person.active),
        )
    ).first()
    if row is None:
        return None
    found, person = row
    shop = session.get(Shop, 1)
    assert person.id is not None
    units = person.units or (shop.units if shop else Units.INCH)
    return Who(person.id, person.name, person.role, units), now() - found.seen_at > SEEN_EVERY


def keep_alive(session: Session, token: str, days: int) -> None:
    """Note that the browser was seen, and let its sign-in last from now, but not beyond half a year in all."""
    if found := session.get(SignIn, digest(token)):
        found.seen_at = now()
        found.expires_at = min(now() + timedelta(days=days), found.created_at + max(LONGEST, timedelta(days=days)))
    session.commit()


def digest(token: str) -> str:
    """What the database keeps of a token: someone who reads the table can't sign in with it."""
    return hashlib.sha256(token.encode()).hexdigest()


def people(session: Session) -> list[Person]:
    return list(session.exec(select(Person).order_by(Person.name)))
