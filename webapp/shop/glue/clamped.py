"""What is in clamps and what may go in: the rows of the glue-up page."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlmodel import Session, col, select

from webapp.models import Adhesive, Blank, GluedBlank, GlueUp, Person, Shop, Species
from webapp.shop.base.finding import find
from webapp.shop.blanks.lists import Seen, Waiting, Wanted, conditions, due_first
from webapp.shop.glue.rules import free_places, minutes_over

MOST = 60


@dataclass(frozen=True, slots=True)
class InIt:
    """One blank in a glue-up, and the clamp place it lies in."""

    blank: Blank
    wood: str
    place: int | None


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

    @property
    def warned(self) -> list[str]:
        """What spoke against gluing when glue was spread."""
        return self.glue_up.warned.splitlines()

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
    for glue_up, glued, blank in rows:
        if glue_up.id not in found:
            adhesive = adhesives[glue_up.adhesive_id]
            found[glue_up.id] = Running(
                glue_up, adhesive.name, adhesive.lowest_temperature, people.get(glue_up.by, ""), []
            )
        found[glue_up.id].inside.append(InIt(blank, woods.get(blank.species_id, ""), glued.place))
    return sorted(
        found.values(), key=lambda one: (one.glue_up.out_at is not None, one.glue_up.out_at or one.glue_up.spread_at)
    )


@dataclass(frozen=True, slots=True)
class Place:
    """One of the shop's clamp places: what lies in it and until when; both None where it is free."""

    number: int
    blank: Blank | None
    until: datetime | None


def places(session: Session, sets: list[Running]) -> list[Place]:
    """Every clamp place in its order, and after them what lies in none of them."""
    shop = find(session, Shop, 1, "shop")
    inside = [(one.place, one.blank, each.glue_up.out_at) for each in sets for one in each.inside]
    by_number = {place: (blank, until) for place, blank, until in inside if place}
    unplaced = [(blank, until) for place, blank, until in inside if not place or place > shop.clamp_places]
    free = free_places(session)
    found = []
    for number in range(1, shop.clamp_places + 1):
        blank, until = by_number.get(number, (None, None))
        if blank is None and number not in free and unplaced:
            blank, until = unplaced.pop(0)
        found.append(Place(number, blank, until))
    return found


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something a person wants to hear of at its time."""

    key: str
    at: datetime
    what: str
    more: str


SOON = 0.75  # of the open time: the clamps had better be at hand


def alarms(session: Session) -> list[Alarm]:
    """What the clocks of the running glue-ups lead to: open time nearly over, over, clamps that can come off."""
    found = []
    for one in running(session):
        made = one.glue_up
        serials = ", ".join(it.blank.serial for it in one.inside)
        if made.out_at is None:
            over = made.spread_at + timedelta(minutes=made.open_minutes)
            soon = made.spread_at + timedelta(minutes=made.open_minutes * SOON)
            left = (over - soon).total_seconds() / 60
            found.append(Alarm(f"soon-{made.id}", soon, f"Clamp soon: {left:.0f} min of open time left", serials))
            found.append(Alarm(f"open-{made.id}", over, "The open time is over: clamp it now", serials))
        else:
            key = f"out-{made.id}-{int(made.out_at.timestamp())}"
            found.append(Alarm(key, made.out_at, "Can come out of the clamps", serials))
    return sorted(found, key=lambda alarm: alarm.at)


def awaiting(session: Session) -> list[Seen]:
    """Blanks ready for glue-up, the first due first."""
    any_day = date.min  # which day it is plays no part here
    return due_first(session, conditions(Wanted(waiting=Waiting.GLUE_UP), any_day), MOST)


def last_one(session: Session) -> GlueUp | None:
    """The glue-up begun last, for what the next one is likely to use."""
    return session.exec(select(GlueUp).order_by(col(GlueUp.id).desc()).limit(1)).first()
