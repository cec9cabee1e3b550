"""Defects: what went wrong with a blank, where along it, and what was decided. Nothing written down is ever changed."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, func, select

from webapp.models import (
    Blank,
    BlankStatus,
    Defect,
    DefectCause,
    DefectChoice,
    DefectDecision,
    Person,
    Photo,
)
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.blanks.state import settle
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.production import new_aims, opening as blanks
from webapp.shop.production.opening import GiveUp, lock_with_order
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between

# The trade's names for them; common practice, no published source. A shop adds its own.
STANDARD = ("crack", "tear-out", "wandering bore", "over-cut", "knot or pocket", "open glue line")
MOST_OWN = 40
AIMS = (DefectChoice.SHORTEN, DefectChoice.ANOTHER_KEY)
Place = Annotated[Length, between(0.0, 2000.0)]


class RecordDefect(BaseModel):
    """What was found, where along the blank [mm from the mouth end], and whether it must be decided about first."""

    cause: Annotated[str, StringConstraints(min_length=1, max_length=40)]
    start: Place | None = None
    end: Place | None = None
    what: Annotated[str, StringConstraints(max_length=500)] = ""
    grave: bool = False


class Decide(BaseModel):
    """What is done about a defect, and why; for another length or key, the revision it is now made to, if any."""

    decided: DefectChoice
    why: Annotated[str, StringConstraints(min_length=1, max_length=500)]
    revision_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None


class NewCause(BaseModel):
    """A name of the shop's own for something that goes wrong."""

    name: Annotated[str, StringConstraints(min_length=2, max_length=40)]


@dataclass(frozen=True, slots=True)
class Made:
    """A decision, with who took it."""

    decision: DefectDecision
    by: str


@dataclass(frozen=True, slots=True)
class Found:
    """One defect as a page shows it: who found it, what was decided (the newest last), how many pictures there are."""

    defect: Defect
    by: str
    decisions: list[Made]
    pictures: int

    @property
    def no_defect(self) -> bool:
        """Whether it was written down by mistake."""
        return bool(self.decisions) and self.decisions[-1].decision.decided is DefectChoice.NO_DEFECT


def causes(session: Session) -> list[str]:
    """What may be chosen: the trade's names and the shop's own."""
    own = session.exec(select(DefectCause.name).where(col(DefectCause.retired).is_(False)).order_by(DefectCause.name))
    return [*STANDARD, *(name for name in own if name not in STANDARD)]


def add_cause(session: Session, who: Who, asked: NewCause) -> None:
    """Give a name to something that goes wrong. Raises NotAllowed, Invalid."""
    who.must_work()
    known = causes(session)
    name = asked.name.strip()
    if name.lower() in {one.lower() for one in known}:
        raise Invalid({"name": "There is that name already."})
    if len(known) >= MOST_OWN:
        raise Invalid({"name": f"There are {MOST_OWN} already: use one of them."})
    session.add(DefectCause(name=name, by=who.id))
    diary.write(session, who, "tools", 1, f"Cause of defects added: {name}")
    session.flush()


def record(session: Session, who: Who, blank_id: int, asked: RecordDefect) -> Defect:
    """Write a defect down; a grave one keeps the blank waiting until something is decided about it.

    Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    blank = lock_with_order(session, blank_id)
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        raise Refused(f"{blank.serial} is {blank.status}: nothing more is written down about it.")
    if asked.cause not in causes(session):
        raise Invalid({"cause": "Choose one of the list."})
    if asked.end is not None and asked.start is None:
        raise Invalid({"start": "Say where it begins too."})
    if asked.start is not None and asked.end is not None and asked.end < asked.start:
        raise Invalid({"end": "It ends before it begins."})
    made = Defect(blank_id=blank_id, stage=blank.stage, by=who.id, **asked.model_dump())
    session.add(made)
    diary.write(
        session, who, "blank", blank_id, f"{'Grave defect' if made.grave else 'Defect'}: {made.cause}", made.what
    )
    _settle(session, blank)
    session.flush()
    return made


def decide(session: Session, who: Who, defect_id: int, asked: Decide) -> DefectDecision:
    """Say what is done about a defect. Firewood gives the blank up; another length or key may give it new aims.

    A later decision takes the place of an earlier one, which stays on record. Raises NotAllowed, NotFound, Invalid,
    Refused.
    """
    who.must_work()
    defect = find(session, Defect, defect_id, "defect")
    blank = lock_with_order(session, defect.blank_id)
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        raise Refused(f"{blank.serial} is {blank.status}: there is nothing left to decide.")
    made = DefectDecision(defect_id=defect_id, decided=asked.decided, why=asked.why, by=who.id)
    if asked.decided in AIMS and asked.revision_id is not None:
        made.from_revision_id, made.to_revision_id = blank.revision_id, asked.revision_id
        new_aims.aim_at(session, who, blank, asked.revision_id, f"{defect.cause}: {asked.why}")
    session.add(made)
    defect.is_open = False
    session.add(defect)
    diary.write(session, who, "blank", blank.id, f"About the {defect.cause}: {asked.decided}", asked.why)
    if asked.decided is DefectChoice.FIREWOOD:
        for other in session.exec(select(Defect).where(Defect.blank_id == blank.id, col(Defect.is_open))).all():
            other.is_open = False
            session.add(other)
        blank.defects_open, blank.grave_defect = 0, False
        blanks.give_up(session, who, blank.id or 0, GiveUp(why=f"{defect.cause}: {asked.why}"[:300]))
        return made
    _settle(session, blank)
    session.flush()
    return made


def _settle(session: Session, blank: Blank) -> None:
    """Bring the blank's marks in line with its defects, and what it waits for with its marks."""
    session.flush()
    graves = session.exec(select(Defect.grave).where(Defect.blank_id == blank.id, col(Defect.is_open))).all()
    blank.defects_open, blank.grave_defect = len(graves), any(graves)
    settle(session, blank)


def of_blank(session: Session, blank_id: int | None) -> list[Found]:
    """The defects of a blank, the newest first, with what was decided about each."""
    rows = session.exec(
        select(Defect, Person.name)
        .join(Person, col(Person.id) == Defect.by)
        .where(Defect.blank_id == blank_id)
        .order_by(col(Defect.id).desc())
    ).all()
    ids = [defect.id for defect, _ in rows]
    decisions: dict[int, list[Made]] = {}
    pictures: dict[int | None, int] = {}
    if ids:
        for decision, name in session.exec(
            select(DefectDecision, Person.name)
            .join(Person, col(Person.id) == DefectDecision.by)
            .where(col(DefectDecision.defect_id).in_(ids))
            .order_by(col(DefectDecision.id))
        ):
            decisions.setdefault(decision.defect_id, []).append(Made(decision, name))
        counted = select(Photo.defect_id, func.count()).where(col(Photo.taken_back_at).is_(None))
        pictures = dict(session.exec(counted.where(col(Photo.defect_id).in_(ids)).group_by(col(Photo.defect_id))).all())
    return [Found(one, name, decisions.get(one.id or 0, []), pictures.get(one.id, 0)) for one, name in rows]


def undecided(session: Session, most: int = 60) -> list[tuple[Defect, str]]:
    """Defects that nothing was decided about, with the serials of their blanks, grave ones first."""
    rows = session.exec(
        select(Defect, Blank.serial)
        .join(Blank, col(Blank.id) == Defect.blank_id)
        .where(col(Defect.is_open), col(Blank.status).in_([BlankStatus.IN_WORK, BlankStatus.FINISHED]))
        .order_by(col(Defect.grave).desc(), col(Defect.id))
        .limit(most)
    ).all()
    return [(defect, serial) for defect, serial in rows]
