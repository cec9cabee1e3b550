"""When the shop works: everyone's hours at the bench by the day of the week, closed days, and days someone is away."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field, StringConstraints, model_validator
from sqlmodel import Session, col, delete, select

from webapp.models import BenchHours, DayOff, Person, Role
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who

WEEKDAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
ASSUMED: Final = (4.0, 4.0, 4.0, 4.0, 4.0, 0.0, 0.0)
"""Hours at the bench of each maker and owner, by weekday, until the shop states its own (common practice, no published
source): the rest of the day goes to customers, tools and the broom."""

LONGEST_CLOSED: Final = 400  # days

Hours = Annotated[float, Field(ge=0, le=16, allow_inf_nan=False)]


class WeekAsked(BaseModel):
    """One person's hours at the bench on each day of the week."""

    monday: Hours = 0.0
    tuesday: Hours = 0.0
    wednesday: Hours = 0.0
    thursday: Hours = 0.0
    friday: Hours = 0.0
    saturday: Hours = 0.0
    sunday: Hours = 0.0


class DayOffAsked(BaseModel):
    """Closed days, or one person's days away; `last` may stay empty for a single day."""

    first: date
    last: date | None = None
    person_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None
    why: Annotated[str, StringConstraints(max_length=120)] = ""

    @model_validator(mode="after")
    def _in_order(self) -> "DayOffAsked":
        if self.last is not None and not 0 <= (self.last - self.first).days <= 366:
            raise ValueError("The last day must not lie before the first, nor more than a year after it.")
        return self


@dataclass(frozen=True, slots=True)
class Week:
    """One person's week at the bench; `assumed`: the shop has not stated it."""

    person: Person
    hours: tuple[float, ...]
    assumed: bool

    @property
    def total(self) -> float:
        return sum(self.hours)


@dataclass(frozen=True, slots=True)
class BenchDays:
    """Hours at the bench on each day from `start`, all together and of the one person who has most."""

    start: date
    hours: NDArray[np.float64]
    longest: NDArray[np.float64]


def weeks(session: Session) -> list[Week]:
    """The week of everyone active who works at the bench, or has hours stated."""
    stated: dict[int, list[float]] = {}
    for row in session.exec(select(BenchHours)):
        stated.setdefault(row.person_id, [0.0] * 7)[row.weekday] = row.hours
    found = []
    for person in session.exec(select(Person).where(col(Person.active)).order_by(Person.name)):
        assert person.id is not None
        if person.id in stated:
            found.append(Week(person, tuple(stated[person.id]), False))
        elif person.role in (Role.OWNER, Role.MAKER):
            found.append(Week(person, ASSUMED, True))
    return found


def days_off(session: Session, since: date | None = None) -> list[DayOff]:
    """Closed days and days away that are not over on `since`, the next first."""
    statement = select(DayOff).order_by(col(DayOff.first), col(DayOff.id))
    return list(session.exec(statement.where(col(DayOff.last) >= since) if since else statement))


def bench_days(session: Session, start: date, count: int) -> BenchDays:
    """The hours of `count` days from `start`."""
    by_person = []
    off = days_off(session, start)
    first_weekday = start.weekday()
    for week in weeks(session):
        hours = np.array([week.hours[(first_weekday + n) % 7] for n in range(7)], float)
        own = np.tile(hours, count // 7 + 1)[:count]
        for one in off:
            if one.person_id in (None, week.person.id):
                own[max(0, (one.first - start).days) : max(0, (one.last - start).days + 1)] = 0.0
        by_person.append(own)
    if not by_person:
        return BenchDays(start, np.zeros(count), np.zeros(count))
    every = np.array(by_person)
    return BenchDays(start, every.sum(axis=0), every.max(axis=0))


@dataclass(frozen=True, slots=True)
class OpenDays:
    """On which days somebody works at the bench."""

    weeks: tuple[Week, ...]
    off: tuple[DayOff, ...]

    def is_open(self, day: date) -> bool:
        """Whether anybody works on a day; where nobody ever does, no day is closed."""
        at_work = [week for week in self.weeks if any(week.hours)]
        away = {one.person_id for one in self.off if one.first <= day <= one.last}
        return not at_work or any(week.hours[day.weekday()] and not away & {None, week.person.id} for week in at_work)

    def next_open(self, day: date) -> date:
        """The day itself, or the first one after it on which somebody works."""
        days = (day + timedelta(days=n) for n in range(LONGEST_CLOSED))
        return next((one for one in days if self.is_open(one)), day)


def open_days(session: Session) -> OpenDays:
    return OpenDays(tuple(weeks(session)), tuple(days_off(session)))


def set_week(session: Session, who: Who, person_id: int, asked: WeekAsked) -> None:
    """State someone's hours at the bench. Raises NotAllowed, NotFound."""
    who.must(Role.OWNER)
    person = find(session, Person, person_id, "person", lock=True)
    hours = [getattr(asked, name) for name in WEEKDAYS]
    stated = session.exec(select(BenchHours).where(BenchHours.person_id == person_id))
    before = {row.weekday: row.hours for row in stated}
    if [before.get(n) for n in range(7)] == hours:
        return
    session.exec(delete(BenchHours).where(col(BenchHours.person_id) == person_id))
    session.add_all([BenchHours(person_id=person_id, weekday=n, hours=value) for n, value in enumerate(hours)])
    diary.write(session, who, "shop", 1, f"Hours at the bench of {person.name}: {said(hours)}")
    session.flush()


def close(session: Session, who: Who, asked: DayOffAsked) -> DayOff:
    """The shop is closed, or someone is away. Raises NotAllowed, NotFound."""
    who.must(Role.OWNER, Role.OFFICE)
    name = find(session, Person, asked.person_id, "person").name if asked.person_id else ""
    made = DayOff(first=asked.first, last=asked.last or asked.first, person_id=asked.person_id, why=asked.why)
    session.add(made)
    span = f"{made.first:%-d %b %Y}" + (f" to {made.last:%-d %b %Y}" if made.last != made.first else "")
    diary.write(session, who, "shop", 1, f"{name} is away {span}" if name else f"Closed {span}", asked.why)
    session.flush()
    return made


def open_again(session: Session, who: Who, day_off_id: int) -> None:
    """The shop is open after all, or the person is there. Raises NotAllowed, NotFound, Refused."""
    who.must(Role.OWNER, Role.OFFICE)
    row = find(session, DayOff, day_off_id, "closed day")
    if row.last < date.today() - timedelta(days=1):
        raise Refused("Those days are over: dates that were calculated from them stay as they are.")
    diary.write(session, who, "shop", 1, f"Not away or closed after all on {row.first:%-d %b %Y}")
    session.delete(row)
    session.flush()


def said(hours: list[float]) -> str:
    """A week in words: Mon 4, Tue 4, 8 h in all."""
    days = [f"{name[:3].capitalize()} {h:g}" for name, h in zip(WEEKDAYS, hours, strict=True) if h]
    return f"{', '.join(days)}; {sum(hours):g} h a week" if days else "none"
