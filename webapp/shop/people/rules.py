"""People: added with a first password, given a role, put away when they leave; and what each may set for themselves."""

import secrets
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, delete, select

from webapp.models import KnownBrowser, Person, Role, SignIn, Units
from webapp.security.passwords import hash_password, verify_password
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people import accounts, diary, news as account_news
from webapp.shop.people.accounts import Who

Name = Annotated[str, StringConstraints(min_length=1, max_length=80)]

ROLES = [
    (Role.OWNER.value, "Owner", "everything, people and settings too"),
    (Role.MAKER.value, "Maker", "the bench, orders, patterns, stock; no prices, costs or payments"),
    (Role.OFFICE.value, "Office", "what a maker may, and prices, costs and payments"),
    (Role.VIEWER.value, "Viewer", "looks, changes nothing"),
]


class NewPerson(BaseModel):
    """Someone who will work here: with a first password for them to change, or, without one, to be invited."""

    name: Name
    sign_in_name: Name
    password: str = ""
    role: Role


class PersonAsked(BaseModel):
    """What the owner may change about someone. A typed password replaces theirs."""

    name: Name
    role: Role
    active: bool = False
    password: str = ""


class OwnPassword(BaseModel):
    """The password now, and the one from now on."""

    present: str = Field(min_length=1)
    password: str = Field(min_length=1)


class OwnUnits(BaseModel):
    """How one person sees lengths; None follows the shop."""

    units: Units | None = None


def person(session: Session, person_id: int) -> Person:
    """Raises NotFound."""
    return find(session, Person, person_id, "person")


def add(session: Session, who: Who, asked: NewPerson) -> Person:
    """Give someone an account. Raises NotAllowed, Invalid."""
    who.must(Role.OWNER)
    # Whoever is to be invited gets a password that nobody knows.
    password = asked.password or secrets.token_urlsafe(32)
    new = accounts.new_person(session, asked.name, asked.sign_in_name, password, asked.role)
    diary.write(session, who, "person", new.id, f"{new.name} may sign in, as {new.role}")
    session.flush()
    return new


def change(session: Session, who: Who, person_id: int, asked: PersonAsked) -> Person:
    """Change someone's name, role or password, or put them away. One active owner always stays.

    Putting someone away, another role and a new password end all their sign-ins. Raises NotAllowed, NotFound, Invalid.
    """
    who.must(Role.OWNER)
    known = find(session, Person, person_id, "person", lock=True)
    loses_owner = known.role is Role.OWNER and known.active and (asked.role is not Role.OWNER or not asked.active)
    if loses_owner and _active_owners(session) == 1:
        field = "role" if asked.role is not Role.OWNER else "active"
        raise Invalid({field: "This is the only owner: make someone else owner first."})
    if asked.password:
        accounts.check_password(asked.password, known.sign_in_name)
        known.password_hash = hash_password(asked.password)
        account_news.tell(session, who, known, "A new password was set")
    if asked.name != known.name:
        diary.write(session, who, "person", known.id, f"Name: was {known.name}, is now {asked.name}")
    if asked.role is not known.role:
        account_news.tell(session, who, known, f"Role: was {known.role}, is now {asked.role}")
    if asked.active != known.active:
        diary.write(session, who, "person", known.id, "May sign in again" if asked.active else "May no longer sign in")
    ends = bool(asked.password) or not asked.active or asked.role is not known.role
    known.name, known.role, known.active = asked.name, asked.role, asked.active
    session.add(known)
    if ends:
        _end_sign_ins(session, person_id)
    session.flush()
    return known


def change_own_password(session: Session, who: Who, asked: OwnPassword, token: str) -> None:
    """Change one's own password and end one's sign-ins everywhere but here. Raises Invalid."""
    me = find(session, Person, who.id, "person", lock=True)
    if not verify_password(asked.present, me.password_hash):
        raise Invalid({"present": "That is not your password."})
    accounts.check_password(asked.password, me.sign_in_name)
    me.password_hash = hash_password(asked.password)
    session.add(me)
    _end_sign_ins(session, who.id, but=accounts.digest(token))
    account_news.tell(session, who, me, "The password was changed")
    session.flush()


def change_own_units(session: Session, who: Who, asked: OwnUnits) -> None:
    """Show lengths this person's way from now on. Open to everyone: it changes nothing of the shop's."""
    me = find(session, Person, who.id, "person", lock=True)
    me.units = asked.units
    session.add(me)
    session.flush()


def _active_owners(session: Session) -> int:
    # Locked one by one: two owners who put each other away at once must not both succeed.
    owners = select(Person.id).where(Person.role == Role.OWNER, col(Person.active)).with_for_update()
    return len(session.exec(owners).all())


def _end_sign_ins(session: Session, person_id: int, but: str = "") -> None:
    session.exec(delete(SignIn).where(col(SignIn.person_id) == person_id, col(SignIn.token_digest) != but))
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == person_id))
