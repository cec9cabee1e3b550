"""The invented shop's year before its present work: some hundred and twenty flutes, ordered, made and handed over.

The shop is played step by step: people with their own weeks at the bench, good and slow weeks, batches of glue-ups,
a spoilt flute now and then. What comes out is written as the shop's rules would have written it, but many rows at a
time, since a hundred thousand checks would make the demo slow (a test holds the two beside each other).
"""

import heapq
from datetime import date, datetime, timedelta
from math import exp
from random import Random

from sqlmodel import Session

from seed_demo.history_names import FAMILY, FIRST
from seed_demo.history_plan import Flute, Taken
from seed_demo.history_rows import Rows
from webapp.models import PatternRevision, StepKind
from webapp.shop.people.accounts import Who
from webapp.shop.scheduling import working_days
from webapp.shop.scheduling.working_days import DayOffAsked, WeekAsked

FROM, LAST_TAKEN = -365, -84
SEED = 90210
BETWEEN_ORDERS = 5.8  # days, mostly; some come on one another's heels
# Hours at the bench from Monday to Friday: the owner, then the makers in the order of scenario.PEOPLE.
WEEKS = [(0, 5, 0, 5, 0), (6, 6, 6, 6, 6), (5, 0, 5, 0, 5)]
CLOSED = [(-226, -217, "Summer holiday"), (-12, -12, "Machine day: everything oiled and set"), (19, 21, "At the fair")]
AWAY = [(-160, -151, 1, "Away"), (33, 37, 2, "Away")]
PRICES = {"Heron in A": 262, "Heron in G": 240, "Heron in F sharp": 290, "Bittern in E": 335, "Wren in C": 218}
WOODS = ("western redcedar", "eastern redcedar", "black walnut", "black cherry", "sugar maple")
HARD = {"black walnut": 1.15, "black cherry": 1.1, "sugar maple": 1.2}
# Minutes at the bench for a step; the others take some ten.
MINUTES = {
    "halves": 38, "bore": 56, "flaws": 16, "bore-sanded": 24, "halves-meet": 26, "plug-kerfs": 20, "dry-fit": 9,
    "glue-up": 14, "scraped": 12, "planed": 30, "flue": 44, "window": 34, "back-wall": 14, "edge": 30, "block": 32,
    "fundamental": 12, "turned": 48, "sanded": 30, "tuned": 52, "edges": 24, "last-tuning": 30, "final-check": 14,
}  # fmt: skip
SPOILT = 0.03
SPOILT_AT = {"flue", "window", "turned"}


class Past:
    """The year before, made once and written bit by bit, so that its orders lie among the others in time."""

    def __init__(
        self, session: Session, owner: Who, makers: list[Who], patterns: dict[str, PatternRevision], today: datetime
    ) -> None:
        self.session, self.owner, self.makers, self.patterns = session, owner, makers, patterns
        self.today = today.replace(hour=0, minute=0, second=0, microsecond=0)
        self.dice = Random(SEED)  # noqa: S311  (scatter for a demo, no secret)
        self.rows = Rows(session, owner, makers, patterns, self.dice)
        self.routings = {name: self.rows.steps(name, WOODS[0]) for name in patterns}
        self.orders = self._taken()
        self.flutes: list[Flute] = []
        self._work()
        self._written = 0

    def until(self, day: int) -> None:
        """Write down the orders that were taken up to this day, with all that became of them."""
        fresh = []
        while self._written < len(self.orders) and self.orders[self._written].day <= day:
            fresh.append(self.orders[self._written])
            self._written += 1
        if not fresh:
            return
        for order in fresh:
            flutes = [flute for flute in self.flutes if flute.order == order.number]
            self.rows.order(order, flutes, self._moment(order.day, 9), PRICES[order.pattern])
        self.rows.write()

    def _moment(self, day: int, hour: float) -> datetime:
        return self.today + timedelta(days=day, hours=hour)

    def _taken(self) -> list[Taken]:
        dice, found, day, number = self.dice, [], float(FROM), 0
        names = list(self.patterns)
        while day < LAST_TAKEN:
            many = dice.choices((1, 2, 3, 4), (55, 27, 12, 6))[0]
            number += 1
            pattern = dice.choices(names, (34, 26, 16, 10, 14)[: len(names)])[0]
            promised = 44 + dice.randint(0, 20) + 5 * many
            name = f"{dice.choice(FIRST)} {dice.choice(FAMILY)}"
            found.append(Taken(number, int(day), int(day) + promised, name, pattern, dice.choice(WOODS), many))
            day += dice.expovariate(1 / BETWEEN_ORDERS) if dice.random() < 0.8 else 0.4
        return found

    def _hours(self, person: int, day: date, pace: float) -> float:
        ahead = (day - self.today.date()).days
        if any(first <= ahead <= last for first, last, _ in CLOSED):
            return 0.0
        if any(first <= ahead <= last and who == person for first, last, who, _ in AWAY):
            return 0.0
        week = WEEKS[person] if person < len(WEEKS) else (4, 4, 4, 4, 4)
        return week[day.weekday()] * pace if day.weekday() < 5 else 0.0

    def _work(self) -> None:
        """Day after day: whoever is there takes what is due first, and stays with it while there is something to do."""
        dice = self.dice
        waiting = sorted(self.orders, key=lambda one: one.day)
        open_now: list[Flute] = []
        pace = 1.0
        for day in range(FROM, -2):
            today = self.today + timedelta(days=day)
            if today.weekday() == 0 or day == FROM:
                pace = min(1.15, max(0.45, 0.86 * exp(dice.gauss(-0.02, 0.2))))
            while waiting and waiting[0].day < day:
                open_now += self._open(waiting.pop(0), today)
            free: list[tuple[datetime, int, datetime]] = []
            for person in range(len(self.makers)):
                hours = self._hours(person, today.date(), pace)
                begins = today + timedelta(hours=8 + dice.random())
                if hours:
                    heapq.heappush(free, (begins, person, begins + timedelta(hours=hours)))
            self._day(free, open_now)
            self._glue(open_now, today)
            for flute in [one for one in open_now if one.done or one.at < 0]:
                open_now.remove(flute)
                if flute.at < 0:
                    # Spoilt: another one is begun for the same order the next day.
                    open_now.append(self._flute(flute, today, again=True))

    def _open(self, order: Taken, today: datetime) -> list[Flute]:
        fresh = [Flute(order.number, n, order.pattern, order.wood, order.due, today, 1.0) for n in range(order.flutes)]
        return [self._flute(one, today + timedelta(minutes=one.place)) for one in fresh]

    def _flute(self, like: Flute, today: datetime, again: bool = False) -> Flute:
        slow = exp(self.dice.gauss(0, 0.2)) * HARD.get(like.wood, 1.0)
        opened = today + timedelta(hours=17.8 if again else 7.9)
        made = Flute(like.order, like.place, like.pattern, like.wood, like.due, opened, slow)
        if not again and self.dice.random() < SPOILT:
            made.lost_at = self.dice.choice(sorted(SPOILT_AT))
        self.flutes.append(made)
        return made

    def _day(self, free: list[tuple[datetime, int, datetime]], open_now: list[Flute]) -> None:
        last: dict[int, Flute] = {}
        while free:
            moment, person, end = heapq.heappop(free)
            flute = self._pick(open_now, moment, last.get(person))
            if flute is None:
                if moment + timedelta(minutes=25) < end:
                    heapq.heappush(free, (moment + timedelta(minutes=25), person, end))
                continue
            last[person] = flute
            step = self.routings[flute.pattern][flute.at]
            usual = MINUTES.get(step.code, 10) * flute.slow * exp(self.dice.gauss(-0.06, 0.35))
            usual = max(3.0, usual) - flute.spent
            left = (end - moment).total_seconds() / 60
            if usual > left + 15:
                # Not finished today: continued tomorrow, by whoever comes to it.
                flute.spent += left
                flute.free = end + timedelta(hours=10)
                continue
            moment += timedelta(minutes=usual + self.dice.uniform(0.5, 4))
            self._record(flute, person, moment)
            heapq.heappush(free, (moment, person, end))

    def _pick(self, open_now: list[Flute], moment: datetime, last: Flute | None) -> Flute | None:
        if last is not None and last.done is None and last.at >= 0 and self._ready(last, moment):
            return last
        able = [flute for flute in open_now if flute.done is None and flute.at >= 0 and self._ready(flute, moment)]
        return min(able, key=lambda flute: (flute.due + self.dice.gauss(0, 3), flute.opened), default=None)

    def _ready(self, flute: Flute, moment: datetime) -> bool:
        steps = self.routings[flute.pattern]
        at_glue = flute.at < len(steps) and steps[flute.at].kind is StepKind.GLUE_UP
        return not at_glue and flute.opened <= moment and (flute.free is None or flute.free <= moment)

    def _record(self, flute: Flute, person: int, moment: datetime) -> None:
        steps = self.routings[flute.pattern]
        step = steps[flute.at]
        if step.code == flute.lost_at:
            flute.done, flute.free = None, moment
            flute.made.append((-1, person, moment))
            flute.at = -1
            return
        flute.made.append((flute.at, person, moment))
        flute.at, flute.spent, flute.free = flute.at + 1, 0.0, moment
        if step.kind is StepKind.COAT:
            flute.free = moment + timedelta(minutes=step.nominal or 720)
        if flute.at == len(steps):
            flute.done = moment

    def _glue(self, open_now: list[Flute], today: datetime) -> None:
        """At the end of a day what awaits glue-up goes into clamps together: eight at most, one alone after a day."""
        ready = [
            f for f in open_now if f.at >= 0 and f.done is None and self.routings[f.pattern][f.at].code == "glue-up"
        ]
        ready = [f for f in ready if f.free is not None and f.free < today + timedelta(hours=16.2)]
        if not ready or (len(ready) == 1 and ready[0].free and ready[0].free > today - timedelta(hours=8)):
            return
        spread = max(f.free for f in ready[:8] if f.free) + timedelta(minutes=self.dice.uniform(4, 9))
        clamped = spread + timedelta(minutes=self.dice.uniform(2.5, 6.5))
        person = max(range(len(self.makers)), key=lambda p: self._hours(p, today.date(), 1.0))
        for n, flute in enumerate(ready[:8]):
            steps = self.routings[flute.pattern]
            out = clamped + timedelta(minutes=50)
            flute.glued = (spread, clamped, out)
            flute.made.append((flute.at, person, out))
            flute.at += 1
            while steps[flute.at].while_waiting:
                flute.made.append((flute.at, person, clamped + timedelta(minutes=3 + 2 * n)))
                flute.at += 1
            flute.free = clamped + timedelta(hours=24, minutes=1)


def set_calendar(session: Session, owner: Who, makers: list[Who], today: datetime) -> None:
    """The hours at the bench, and the days on which nobody or one person is there."""
    for who, week in zip(makers, WEEKS, strict=False):
        names = working_days.WEEKDAYS[:5]
        working_days.set_week(
            session, owner, who.id, WeekAsked(**{n: float(h) for n, h in zip(names, week, strict=True)})
        )
    for first, last, why in CLOSED:
        working_days.close(session, owner, _days(today, first, last, None, why))
    for first, last, person, why in AWAY:
        if person < len(makers):
            working_days.close(session, owner, _days(today, first, last, makers[person].id, why))


def _days(today: datetime, first: int, last: int, person_id: int | None, why: str) -> DayOffAsked:
    days = [(today + timedelta(days=n)).date() for n in (first, last)]
    return DayOffAsked(first=days[0], last=days[1], person_id=person_id, why=why)
