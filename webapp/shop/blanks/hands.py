"""Whose hands a blank is in, so that everyone finds their own on the rack. It may be left empty."""

from typing import Annotated

from pydantic import BaseModel, Field
from sqlmodel import Session, col, select

from webapp.models import Blank, Person, Role
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.blanks.state import lock
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who


class GiveTo(BaseModel):
    """Who has it now; nobody in particular where it is left empty."""

    hands_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None


def people(session: Session) -> list[tuple[int, str]]:
    """Those who may work on a blank, by name."""
    statement = select(Person.id, Person.name).where(col(Person.active), Person.role != Role.VIEWER)
    return [(person_id, name) for person_id, name in session.exec(statement.order_by(Person.name)) if person_id]


def check(session: Session, hands_id: int | None) -> None:
    """Raises Invalid where this is nobody who works here."""
    if hands_id is not None and hands_id not in dict(people(session)):
        raise Invalid({"hands_id": "Choose one of the list."})


def give_to(session: Session, who: Who, blank_id: int, asked: GiveTo) -> Blank:
    """Say whose hands a blank is in. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    check(session, asked.hands_id)
    blank = lock(session, blank_id)
    if blank.hands_id != asked.hands_id:
        blank.hands_id = asked.hands_id
        session.add(blank)
        name = dict(people(session)).get(asked.hands_id or 0)
        diary.write(session, who, "blank", blank.id, f"In the hands of {name}" if name else "In nobody's hands")
    session.flush()
    return blank
