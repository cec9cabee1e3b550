"""All that dates are calculated from: the shop's entries, what is learned from them, hours, clamps and waits."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from sqlmodel import Session, col, select

from webapp.models import Adhesive, GlueUp, Shop, Stage, StageMinutes, now
from webapp.shop.base.finding import find
from webapp.shop.scheduling import past_entries, past_work, working_days
from webapp.shop.scheduling.past_entries import Entries
from webapp.shop.scheduling.past_work import STAGES, Learned
from webapp.shop.scheduling.promise_queue import Waits
from webapp.shop.scheduling.queue_parts import LONGEST, Bench, Hands

BACK: Final = 2 * 366
"""Days before today for which hours are known: a year to look back from, and a year of past before that."""


@dataclass(frozen=True, slots=True)
class Shopfloor:
    """All that a forecast needs: entries, the usual hours and waits, the days at the bench and the clamps."""

    zone: tzinfo
    entries: Entries
    stated: dict[Stage, float]
    waits: Waits
    days: working_days.BenchDays
    places: int

    def learned(self, moment: datetime) -> Learned:
        return past_work.learn(self.entries, moment, self.stated, self.planned(moment))

    def planned(self, moment: datetime) -> list[tuple[date, float]]:
        """The Mondays of the year before, and the hours at the bench of their weeks."""
        start = moment.date() - timedelta(days=365)
        monday = start - timedelta(days=start.weekday())
        found = []
        while monday <= moment.date():
            at = (monday - self.days.start).days
            if at >= 0:
                found.append((monday, float(self.days.hours[at : at + 7].sum())))
            monday += timedelta(days=7)
        return found

    def bench(self, learned: Learned, moment: datetime, more_places: int = 0, more_hours: float = 0.0) -> Bench:
        """The days from `moment` on; `more_hours` a week go to the days on which somebody works."""
        at = (moment.date() - self.days.start).days
        hours = self.days.hours[at : at + LONGEST].copy()
        longest = self.days.longest[at : at + LONGEST]
        if more_hours:
            working = hours > 0
            a_week = max(1.0, 7 * float(working[:364].mean()))
            hours[working] += more_hours / a_week
        hours[0] *= _rest_of_day(moment)
        pace = learned.pace
        return Bench(
            hours,
            longest,
            pace.mean,
            pace.sd,
            float(np.hypot(pace.unsure, learned.pace_drift)),
            _a_day(self.places + more_places, self.waits.clamps),
            moment.weekday(),
        )


def floor(session: Session) -> Shopfloor:
    """Read what is needed; a handful of queries and a good while of calculation."""
    shop = find(session, Shop, 1, "shop")
    zone = ZoneInfo(shop.timezone)
    start = now().astimezone(zone).date() - timedelta(days=BACK)
    stated = {row.stage: row.minutes / 60 for row in session.exec(select(StageMinutes)) if row.minutes > 0}
    entries = past_entries.read(session, zone)
    days = working_days.bench_days(session, start, BACK + LONGEST)
    return Shopfloor(zone, entries, stated, _waits(session), days, shop.clamp_places)


def hands(learned: Learned) -> Hands:
    figures = [learned.stages[stage] for stage in STAGES]
    return Hands(
        tuple(figure.sd for figure in figures),
        tuple(figure.unsure for figure in figures),
        tuple(learned.spoilt[stage] for stage in STAGES),
    )


def _waits(session: Session) -> Waits:
    glue_up = session.exec(select(GlueUp).order_by(col(GlueUp.id).desc()).limit(1)).first()
    times = glue_up or session.exec(select(Adhesive).order_by(col(Adhesive.id)).limit(1)).first()
    return Waits(times.clamp_minutes / 60, times.cure_minutes / 60) if times else Waits()


def _a_day(places: int, clamped: float) -> int:
    """How many flutes can go into clamps on one day: a place is used again after its time and half an hour of hands,
    but no more than three times, and never sooner than its glue allows."""
    if clamped > 24:
        return max(1, int(places * 24 / clamped))
    return places * max(1, min(3, int(8 / (clamped + 0.5))))


def _rest_of_day(moment: datetime) -> float:
    """Which part of today's hours is still to come, the working day being 8 to 18."""
    return min(1.0, max(0.0, (18 - moment.hour - moment.minute / 60) / 10))
