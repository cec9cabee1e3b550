"""Keys for programs: made by a person for themselves, shown once, and kept only as a digest."""

import secrets
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import Annotated, Final

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select, update

from webapp.models import Answered, Person, Role, Token, Units, now
from webapp.shop.base.errors import NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.people import diary, news as account_news
from webapp.shop.people.accounts import Who, digest

BEGINS: Final = "fb_"
MOST: Final = 20
USED_EVERY: Final = timedelta(minutes=5)


class Scope(StrEnum):
    """What a key is for. What its person may not do, it may not do either."""

    READ = "read"
    WORK = "work"
    OFFICE = "office"


WORDS: Final = {
    Scope.READ: "look at everything its person may see",
    Scope.WORK: "record steps, readings, cuts, defects and glue-ups, open blanks, save patterns and routings, "
    "saw boards",
    Scope.OFFICE: "customers, orders, prices, payments, promised dates, imported tables, stock, settings",
}


class TokenAsked(BaseModel):
    """A new key: what it is for, what it may do, and for how many days (none: until it is revoked)."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    scopes: Annotated[list[Scope], Field(min_length=1)]
    days: Annotated[int, Field(ge=1, le=3650)] | None = None


@dataclass(frozen=True, slots=True)
class Bearer:
    """The person whom a key speaks for, and what it may do."""

    who: Who
    token: Token
    scopes: frozenset[Scope]


def make(session: Session, who: Who, asked: TokenAsked) -> tuple[Token, str]:
    """A new key and its text, which is shown this once. Raises Refused."""
    open_now = [token for token in of_person(session, who) if token.revoked_at is None]
    if len(open_now) >= MOST:
        raise Refused(f"There are {MOST} keys already: revoke one that is no longer used.")
    text = BEGINS + secrets.token_urlsafe(32)
    made = Token(
        digest=digest(text),
        person_id=who.id,
        name=asked.name,
        begins=text[:9],
        scopes=" ".join(sorted(set(asked.scopes))),
        expires_at=now() + timedelta(days=asked.days) if asked.days else None,
    )
    session.add(made)
    me = find(session, Person, who.id, "person")
    account_news.tell(session, who, me, f"API key made: {asked.name} ({made.scopes})")
    session.flush()
    return made, text


def of_person(session: Session, who: Who) -> list[Token]:
    """A person's own keys, the newest first."""
    return list(session.exec(select(Token).where(Token.person_id == who.id).order_by(col(Token.id).desc())))


def every(session: Session, who: Who) -> list[tuple[Token, Person]]:
    """Everyone's keys that are still good, for the owner. Raises NotAllowed."""
    who.must(Role.OWNER)
    statement = select(Token, Person).join(Person, col(Person.id) == Token.person_id)
    return list(session.exec(statement.where(col(Token.revoked_at).is_(None)).order_by(Person.name, col(Token.id))))


def revoke(session: Session, who: Who, token_id: int) -> Token:
    """End a key: one's own, or as the owner anyone's. Raises NotFound."""
    token = find(session, Token, token_id, "key", lock=True)
    if token.person_id != who.id and who.role is not Role.OWNER:
        raise NotFound(f"There is no key {token_id}.")
    if token.revoked_at is None:
        token.revoked_at = now()
        session.add(token)
        diary.write(session, who, "person", token.person_id, f"API key revoked: {token.name}")
    session.flush()
    return token


def forget_answers(session: Session, person_id: int) -> None:
    """Answers that are kept for repeated requests were for what this person might see then: that the requests were
    carried out stays known, what was answered does not."""
    keys = select(Token.id).where(Token.person_id == person_id)
    nothing = {"status": 0, "location": "", "etag": "", "body": ""}
    session.exec(update(Answered).where(col(Answered.token_id).in_(keys)).values(nothing))


def bearer(session: Session, text: str) -> Bearer | None:
    """Whom a key speaks for; None where it is unknown, revoked, over, or its person has left."""
    row = session.exec(
        select(Token, Person)
        .join(Person, col(Person.id) == Token.person_id)
        .where(Token.digest == digest(text), col(Token.revoked_at).is_(None), col(Person.active))
    ).first()
    if row is None or (row[0].expires_at is not None and row[0].expires_at <= now()):
        return None
    token, person = row
    assert person.id is not None
    scopes = frozenset(Scope(word) for word in token.scopes.split())
    return Bearer(Who(person.id, person.name, person.role, Units.MM), token, scopes)


def is_due(token: Token) -> bool:
    """Whether it is time to write down that the key was used: now and then, so that looking costs no write."""
    return token.used_at is None or now() - token.used_at > USED_EVERY


def note_use(session: Session, token_id: int) -> None:
    """Write down that a key was used."""
    token = find(session, Token, token_id, "key")
    token.used_at = now()
    session.add(token)
    session.flush()
