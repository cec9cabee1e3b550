"""Accounts and sign-in: people, passwords, and where they are signed in."""

import hashlib
import logging
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from sqlmodel import Session, col, delete, select
from zxcvbn import zxcvbn
from zxcvbn.matching import L33T_TABLE

from webapp.models import Degrees, KnownBrowser, Person, Role, Shop, SignIn, SignInsLast, Units, now
from webapp.security.passwords import hash_password
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound

log = logging.getLogger("flutebench.door")

SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 128
# Of 0 to 4: more than 10^6 guesses.
HARD_ENOUGH = 2
_FOR_LETTERS = {sign for signs in L33T_TABLE.values() for sign in signs}
# A sign-in's last use is written down no more often than this, so that reading a page costs no write.
SEEN_EVERY, SEEN_EVERY_OF_A_DAY = timedelta(minutes=10), timedelta(minutes=1)
# However often it is used, a sign-in ends after this long: then the password is asked for again. OWASP ASVS 4.0.3,
# 3.3.2, asks for 30 days at level 1, and at level 2 for 12 hours, or 30 minutes unused: what a shop may choose instead.
LONGEST = timedelta(days=30)
A_DAY, A_DAY_UNUSED = timedelta(hours=12), timedelta(minutes=30)


@dataclass(frozen=True, slots=True)
class Who:
    """The person at the screen: enough to record who did it and to show lengths their way."""

    id: int
    name: str
    role: Role
    units: Units
    degrees: Degrees = Degrees.C

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


@dataclass(frozen=True, slots=True)
class NewPassword:
    """A password that was found good enough, as it will be kept."""

    hashed: str


@dataclass(frozen=True, slots=True)
class Proof:
    """That this person typed their password just now; made by `door.prove` alone. Holds the hash it was compared with:
    where that is another one by now, nothing is proved any more."""

    person_id: int
    sign_in_name: str
    password_hash: str

    def of(self, person: Person) -> bool:
        """Whether it is this person's, and still holds."""
        return (person.id, person.password_hash) == (self.person_id, self.password_hash)


def new_password(password: str, sign_in_name: str) -> NewPassword:
    """Check a password that is to be this person's, and hash it. Takes a while: to be done before anything is locked.

    Raises Invalid, Crowded.
    """
    check_password(password, sign_in_name.strip().lower())
    return NewPassword(hash_password(password))


def add_person(session: Session, who: Who, name: str, sign_in_name: str, password: str, role: Role) -> Person:
    """Give someone an account. Only the owner may. Raises NotAllowed, Invalid."""
    who.must(Role.OWNER)
    return new_person(session, name, sign_in_name, new_password(password, sign_in_name), role)


def new_person(session: Session, name: str, sign_in_name: str, password: NewPassword, role: Role) -> Person:
    """Add an account to the session. Raises Invalid."""
    sign_in_name = sign_in_name.strip().lower()
    if session.exec(select(Person.id).where(Person.sign_in_name == sign_in_name)).first():
        raise Invalid({"sign_in_name": "Someone here already signs in with that name."})
    person = Person(name=name.strip(), sign_in_name=sign_in_name, password_hash=password.hashed, role=role)
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
    if _score(password, sign_in_name) < HARD_ENOUGH or _says_nothing_new(password, sign_in_name):
        raise Invalid({"password": "That is too easy to guess. A few words that do not belong together do well."})


def _says_nothing_new(password: str, sign_in_name: str) -> bool:
    """Whether it is little more than the name that one signs in with, or the program's, over and over."""
    rest = password.lower().replace("flutebench", "")
    if len(sign_in_name) > 2:
        rest = rest.replace(sign_in_name, "")
    return len("".join(rest.split())) < SHORTEST_PASSWORD // 2


@dataclass(frozen=True, slots=True)
class Strength:
    """How hard a password is to guess, from 0 to 4, and in words."""

    score: int
    words: str


def strength(password: str) -> Strength:
    """What the meter beside a new password shows while it is typed."""
    if len(password) > LONGEST_PASSWORD:
        return Strength(0, f"Too long: use at most {LONGEST_PASSWORD} characters.")
    score = _score(password, "")
    if score < HARD_ENOUGH or _says_nothing_new(password, ""):
        return Strength(min(score, 1), "Too easy to guess.")
    if len(password) < SHORTEST_PASSWORD:
        return Strength(1, f"Too short: {SHORTEST_PASSWORD - len(password)} more.")
    return Strength(score, ("Good enough.", "Hard to guess.", "Very hard to guess.")[score - HARD_ENOUGH])


def _score(password: str, sign_in_name: str) -> int:
    """0 to 4. The library's work grows with the length, and manifold with the number of signs that may stand for a
    letter (4 for a, | for l): it is given 72 characters, of no more than ten such signs. With less it thinks a
    password easier to guess, never harder."""
    kept: dict[str, None] = {}
    for sign in password[:72]:
        if sign in _FOR_LETTERS and len(kept) < 10:
            kept.setdefault(sign)
    looked_at = "".join(sign for sign in password[:72] if sign in kept or sign not in _FOR_LETTERS)
    score: int = zxcvbn(looked_at, [sign_in_name, "flutebench"])["score"]
    return score


def set_password(session: Session, sign_in_name: str, password: str) -> Person:
    """Set someone's password and end all their sign-ins. For the command line. Raises NotFound, Invalid."""
    # Hashed before the session asks anything: from then on it may hold the lock.
    new = new_password(password, sign_in_name)
    person = session.exec(select(Person).where(Person.sign_in_name == sign_in_name.strip().lower())).first()
    if person is None:
        raise NotFound(f"Nobody signs in as {sign_in_name}.")
    person.password_hash = new.hashed
    for sign_in in session.exec(select(SignIn).where(SignIn.person_id == person.id)):
        session.delete(sign_in)
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == person.id))
    return person


class Found(NamedTuple):
    """What is known of a browser that is signed in: who it is, whether it is time to write down that they were seen,
    when the sign-in began and the password was last typed, what its person was not told of, and whether they have a
    second step."""

    who: Who
    is_due: bool
    began: datetime
    confirmed: datetime
    untold_since: datetime | None
    has_second_step: bool


def lasting(session: Session, days: int) -> tuple[timedelta, timedelta]:
    """How long a sign-in lasts here: unused, and in all. `days`: the setting of whoever keeps the computer."""
    shop = session.get(Shop, 1)
    if shop is not None and shop.sign_ins_last is SignInsLast.DAY:
        return A_DAY_UNUSED, A_DAY
    return timedelta(days=days), max(LONGEST, timedelta(days=days))


def open_sign_in(
    session: Session,
    person: Person,
    days: int,
    device: str = "",
    awaits_code: bool = False,
    began: datetime | None = None,
) -> str:
    """A fresh random token for this person's browser."""
    assert person.id is not None
    session.exec(delete(SignIn).where(col(SignIn.expires_at) < now()))
    token = secrets.token_urlsafe(32)
    began = began or now()
    session.add(
        SignIn(
            token_digest=digest(token),
            person_id=person.id,
            created_at=began,
            seen_at=began,
            expires_at=began + lasting(session, days)[0],
            awaits_code=awaits_code,
            device=device[:60],
        )
    )
    return token


def sign_out(session: Session, token: str) -> None:
    if found := session.get(SignIn, digest(token)):
        log.info("person %s signed out", found.person_id)
        session.delete(found)


def who_is(session: Session, token: str) -> Found | None:
    """The person behind a cookie's token."""
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
    of_a_day = shop is not None and shop.sign_ins_last is SignInsLast.DAY
    return Found(
        Who(person.id, person.name, person.role, units, person.degrees or (shop.degrees if shop else Degrees.C)),
        now() - found.seen_at > (SEEN_EVERY_OF_A_DAY if of_a_day else SEEN_EVERY),
        found.created_at,
        found.confirmed_at or found.created_at,
        person.untold_since,
        person.code_secret is not None,
    )


def keep_alive(session: Session, token: str, days: int) -> None:
    """Note that the browser was seen, and let its sign-in last from now, but not beyond its whole time."""
    if found := session.get(SignIn, digest(token)):
        unused, in_all = lasting(session, days)
        found.seen_at = now()
        found.expires_at = min(now() + unused, found.created_at + in_all)


def digest(token: str) -> str:
    """What the database keeps of a token: someone who reads the table can't sign in with it."""
    return hashlib.sha256(token.encode()).hexdigest()


def people(session: Session) -> list[Person]:
    return list(session.exec(select(Person).order_by(Person.name)))
