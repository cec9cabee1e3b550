"""Invitations: a secret address, good once and for a week, where someone chooses their own password."""

import secrets
from datetime import timedelta

from pydantic import BaseModel, Field
from sqlmodel import Session, col, delete, select

from webapp.models import Invitation, KnownBrowser, Person, SignIn, now
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.people import accounts, diary, news as account_news
from webapp.shop.people.accounts import NewPassword, Who, digest

GOOD_FOR = timedelta(days=7)


class ChosenPassword(BaseModel):
    """The password that the invited person chose."""

    password: str = Field(min_length=1)


def invite(session: Session, who: Who, person_id: int) -> str:
    """A new secret for this person, in place of any before; shown this once. Raises NotAllowed, NotFound."""
    who.must()
    person = find(session, Person, person_id, "person", lock=True)
    session.exec(delete(Invitation).where(col(Invitation.person_id) == person.id))
    token = secrets.token_urlsafe(32)
    session.add(
        Invitation(token_digest=digest(token), person_id=person_id, made_by=who.id, expires_at=now() + GOOD_FOR)
    )
    account_news.tell(session, who, person, "An invitation to choose a password was made")
    session.flush()
    return token


def invited(session: Session, token: str) -> Person:
    """Whom this secret address invites. Raises NotFound where it was used, is too old or never was."""
    person = session.exec(
        select(Person)
        .join(Invitation, col(Invitation.person_id) == Person.id)
        .where(Invitation.token_digest == digest(token), Invitation.expires_at > now(), col(Person.active))
    ).first()
    if person is None:
        raise NotFound("This invitation was used already or is too old. Ask the shop's owner for a new one.")
    return person


def choose(session: Session, token: str, asked: ChosenPassword) -> NewPassword:
    """The password that the invited person chose, checked and hashed, in a session that only reads.

    Raises NotFound, Invalid, Crowded.
    """
    person = invited(session, token)
    session.rollback()
    return accounts.new_password(asked.password, person.sign_in_name)


def accept(session: Session, token: str, chosen: NewPassword) -> Person:
    """Set the password and use the invitation up; sign-ins from before end. Raises NotFound."""
    person = invited(session, token)
    used = session.exec(delete(Invitation).where(col(Invitation.token_digest) == digest(token)))
    if used.rowcount != 1:
        raise NotFound("This invitation was used just now.")
    person.password_hash = chosen.hashed
    # They were here themselves just now: there is nothing left to tell.
    person.untold_since = None
    session.add(person)
    session.exec(delete(SignIn).where(col(SignIn.person_id) == person.id))
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == person.id))
    diary.write(session, None, "person", person.id, "Chose a password by invitation")
    session.flush()
    return person
