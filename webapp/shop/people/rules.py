"""People: added with a first password, given a role, put away when they leave; and what each may set for themselves."""

import secrets
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, delete, select

from webapp.models import Degrees, KnownBrowser, Person, Role, SignIn, Units
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.people import accounts, diary, news as account_news, tokens
from webapp.shop.people.accounts import NewPassword, Proof, Who

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
    degrees: Degrees | None = None


def person(session: Session, person_id: int) -> Person:
    """Raises NotFound."""
    return find(session, Person, person_id, "person")


def first_password(asked: NewPerson) -> NewPassword:
    """The first password of someone new, checked and hashed before anything is locked. Raises Invalid, Crowded."""
    # Whoever is to be invited gets a password that nobody knows.
    return accounts.new_password(asked.password or secrets.token_urlsafe(32), asked.sign_in_name)


def another_password(sign_in_name: str, asked: PersonAsked) -> NewPassword | None:
    """The password that the owner typed for someone, if any, checked and hashed before anything is locked.

    Raises Invalid, Crowded.
    """
    return accounts.new_password(asked.password, sign_in_name) if asked.password else None


def add(session: Session, who: Who, asked: NewPerson, password: NewPassword) -> Person:
    """Give someone an account. Raises NotAllowed, Invalid."""
    who.must(Role.OWNER)
    new = accounts.new_person(session, asked.name, asked.sign_in_name, password, asked.role)
    diary.write(session, who, "person", new.id, f"{new.name} may sign in, as {new.role}")
    session.flush()
    return new


def change(session: Session, who: Who, person_id: int, asked: PersonAsked, password: NewPassword | None) -> Person:
    """Change someone's name, role or password, or put them away. One active owner always stays.

    Putting someone away, another role and a new password end all their sign-ins. Raises NotAllowed, NotFound, Invalid.
    """
    who.must(Role.OWNER)
    known = find(session, Person, person_id, "person", lock=True)
    loses_owner = known.role is Role.OWNER and known.active and (asked.role is not Role.OWNER or not asked.active)
    if loses_owner and _active_owners(session) == 1:
        field = "role" if asked.role is not Role.OWNER else "active"
        raise Invalid({field: "This is the only owner: make someone else owner first."})
    if password:
        known.password_hash = password.hashed
        account_news.tell(session, who, known, "A new password was set")
    if asked.name != known.name:
        diary.write(session, who, "person", known.id, f"Name: was {known.name}, is now {asked.name}")
    if asked.role is not known.role:
        account_news.tell(session, who, known, f"Role: was {known.role}, is now {asked.role}")
        tokens.forget_answers(session, person_id)
    if asked.active != known.active:
        diary.write(session, who, "person", known.id, "May sign in again" if asked.active else "May no longer sign in")
    ends = password is not None or not asked.active or asked.role is not known.role
    known.name, known.role, known.active = asked.name, asked.role, asked.active
    session.add(known)
    if ends:
        _end_sign_ins(session, person_id)
    session.flush()
    return known


def change_own_password(session: Session, who: Who, proof: Proof, password: NewPassword, token: str) -> None:
    """Change one's own password and end one's sign-ins everywhere but here. Raises Invalid."""
    me = find(session, Person, who.id, "person", lock=True)
    if not proof.of(me):
        raise Invalid({"present": "The password was changed just now."})
    me.password_hash = password.hashed
    session.add(me)
    _end_sign_ins(session, who.id, but=accounts.digest(token))
    account_news.tell(session, who, me, "The password was changed")
    session.flush()


def change_own_units(session: Session, who: Who, asked: OwnUnits) -> None:
    """Show lengths this person's way from now on. Open to everyone: it changes nothing of the shop's."""
    me = find(session, Person, who.id, "person", lock=True)
    me.units, me.degrees = asked.units, asked.degrees
    session.add(me)
    session.flush()


def _active_owners(session: Session) -> int:
    # Locked one by one: two owners who put each other away at once must not both succeed.
    owners = select(Person.id).where(Person.role == Role.OWNER, col(Person.active)).with_for_update()
    return len(session.exec(owners).all())


def _end_sign_ins(session: Session, person_id: int, but: str = "") -> None:
    session.exec(delete(SignIn).where(col(SignIn.person_id) == person_id, col(SignIn.token_digest) != but))
    session.exec(delete(KnownBrowser).where(col(KnownBrowser.person_id) == person_id))
