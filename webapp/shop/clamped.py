"""What is in clamps and what may go in: the rows of the glue-up page."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session, col, select

from webapp.models import Adhesive, Blank, GluedBlank, GlueUp, Person, Species
from webapp.shop.blank_list import Seen, Waiting, Wanted, conditions, due_first
from webapp.shop.glue_up import minutes_over

MOST = 60


@dataclass(frozen=True, slots=True)
class InIt:
    """One blank in a glue-up."""

    blank: Blank
    wood: str


@dataclass(frozen=True, slots=True)
class Running:
    """A glue-up with blanks still in it."""

    glue_up: GlueUp
    adhesive: str
    lowest_temperature: float
    by: str
    inside: list[InIt]

    @property
    def too_cold(self) -> bool:
        return self.glue_up.temperature < self.lowest_temperature

    @property
    def minutes_over(self) -> int:
        """By how much the open time was exceeded, or is by now; 0 where it was kept."""
        return minutes_over(self.glue_up)

    def is_over(self, moment: datetime) -> bool:
        return self.glue_up.out_at is not None and self.glue_up.out_at <= moment


def running(session: Session) -> list[Running]:
    """Glue-ups with blanks still in them: those to be clamped first, then by when they come out."""
    rows = session.exec(
        select(GlueUp, GluedBlank, Blank)
        .join(GluedBlank, col(GluedBlank.glue_up_id) == GlueUp.id)
        .join(Blank, col(Blank.id) == GluedBlank.blank_id)
        .where(col(GluedBlank.taken_out_at).is_(None))
        .order_by(col(Blank.serial))
    ).all()
    adhesives = {row.id: row for row in session.exec(select(Adhesive))}
    woods = dict(session.exec(select(Species.id, Species.name)).all())
    people = dict(session.exec(select(Person.id, Person.name)).all())
    found: dict[int | None, Running] = {}
    for glue_up, _, blank in rows:
        if glue_up.id not in found:
            adhesive = adhesives[glue_up.adhesive_id]
            found[glue_up.id] = Running(
                glue_up, adhesive.name, adhesive.lowest_temperature, people.get(glue_up.by, ""), []
            )
        found[glue_up.id].inside.append(InIt(blank, woods.get(blank.species_id, "")))
    return sorted(
        found.values(), key=lambda one: (one.glue_up.out_at is not None, one.glue_up.out_at or one.glue_up.spread_at)
    )


def awaiting(session: Session) -> list[Seen]:
    """Blanks ready for glue-up, the first due first."""
    any_day = date.min  # which day it is plays no part here
    return due_first(session, conditions(Wanted(waiting=Waiting.GLUE_UP), any_day), MOST)


def last_one(session: Session) -> GlueUp | None:
    """The glue-up begun last, for what the next one is likely to use."""
    return session.exec(select(GlueUp).order_by(col(GlueUp.id).desc()).limit(1)).first()
