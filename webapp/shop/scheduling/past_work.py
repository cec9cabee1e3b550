"""How long the shop's work has really taken: learned from its own entries, with caution as long as there are few.

Nobody times anything. An entry says only when a step was done, so the hours of a step lie between that entry and the
one before it on the same day: the person's last one or the blank's last one, whichever is later, for the step can't
have been begun before either. What began on an earlier day, or took longer than half a day, is left out and counted as
that step's usual time. Whatever this misses in general is made good by the pace: the part of the planned hours that
turned up in flutes, week by week, calculated from the same hours.

Few entries say little, so each figure is drawn towards a stated one: logarithms are taken as normal with unknown mean
and spread, the stated figure counts as `TRUST` flutes (conjugate prior: Gelman et al., Bayesian Data Analysis, 3rd ed.,
section 3.3; from memory).
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import exp, log, sqrt
from statistics import fmean, quantiles
from typing import Final

from webapp.models import BlankStatus, Outcome, Stage
from webapp.shop.scheduling.past_entries import Entries, Entry

STAGES: Final = tuple(Stage)
HOURS: Final = {
    Stage.BORING: 2.5,
    Stage.GLUING: 1.0,
    Stage.FLUE: 1.0,
    Stage.VOICING: 1.5,
    Stage.TUNING: 3.0,
    Stage.FINISHING: 1.5,
}
"""Hours of work one flute takes at each stage, waiting left aside, until the shop's own entries say otherwise (common
practice, no published source)."""
SPREAD: Final = 0.4
"""Spread of the logarithm of a stage's hours from flute to flute, to begin with: two flutes in three lie between two
thirds and one and a half times the usual."""
PACE: Final = 0.7
PACE_SPREAD: Final = 0.3
SPOILT: Final = 0.01
TRUST: Final = 4.0
YEAR: Final = timedelta(days=365)
LONGEST_STEP: Final = 4.0
LEAST: Final = 0.05
"""Hours at a stage; less than that was written down all at once, not worked."""
BUSY: Final = 4
"""A week counts for the pace when at least so many flutes were open as it began: else there was nothing to do."""


Planned = Sequence[tuple[date, float]]


@dataclass(frozen=True, slots=True)
class Figure:
    """A spread of hours: mean, the logarithm's spread, how unsure the mean is (also as a logarithm), from how many."""

    mean: float
    sd: float
    unsure: float
    count: int


@dataclass(slots=True)
class Learned:
    """What the shop's past says of its work."""

    stages: dict[Stage, Figure]
    steps: dict[str, float]
    pace: Figure
    pace_drift: float
    spoilt: dict[Stage, float]
    given_up: int = 0
    flutes: int = 0
    shares: dict[Stage, float] = field(default_factory=dict)

    def hours(self, stage: Stage, code: str, codes: list[str]) -> float:
        """Usual hours of one step among those that a blank has at its stage."""
        weights = [self._weight(stage, one) for one in codes]
        total = sum(weights)
        return self.stages[stage].mean * self._weight(stage, code) / total if total else 0.0

    def _weight(self, stage: Stage, code: str) -> float:
        return self.steps.get(code, self.shares.get(stage, 0.25))


def drawn(values: list[float], mean: float, spread: float, trust: float = TRUST) -> Figure:
    """The figure that these values (above 0) and the stated one agree on."""
    logs = [log(value) for value in values]
    count = len(logs)
    prior = log(mean) - spread**2 / 2
    average = fmean(logs) if logs else prior
    middle = (trust * prior + count * average) / (trust + count)
    squares = trust * spread**2 + sum((x - average) ** 2 for x in logs)
    squares += trust * count / (trust + count) * (average - prior) ** 2
    sd = sqrt(squares / (trust + count))
    return Figure(exp(middle + sd**2 / 2), sd, sd / sqrt(trust + count), count)


def learn(
    entries: Entries, until: datetime, stated: dict[Stage, float] | None = None, planned: Planned = ()
) -> Learned:
    """What could be known at `until` from the entries of the year before.

    `stated`: the shop's own usual hours of each stage. `planned`: Mondays and the hours at the bench of their weeks.
    """
    since = until - YEAR
    usual = HOURS | (stated or {})
    steps, shares, of_stage, of_week = _sums(entries, since, until)
    whole: dict[Stage, list[float]] = {stage: [] for stage in STAGES}
    entered: dict[Stage, int] = dict.fromkeys(STAGES, 0)
    for (blank_id, stage), hours in of_stage.items():
        entered[stage] += 1
        if hours > LEAST and entries.complete(blank_id, stage, since, until):
            whole[stage].append(hours)
    given_up = [b for b in entries.blanks.values() if b.status is BlankStatus.FIREWOOD]
    lost = [b for b in given_up if b.last and since <= b.last <= until]
    spoilt = {}
    for stage in STAGES:
        bad = sum(1 for b in lost if b.stage is stage)
        spoilt[stage] = (bad + SPOILT * 30) / (entered[stage] + 30)
    pace, drift = _pace(entries, of_week, planned, until)
    return Learned(
        {stage: drawn(whole[stage], usual[stage], SPREAD) for stage in STAGES},
        steps,
        pace,
        drift,
        spoilt,
        len(lost),
        min((len(values) for values in whole.values()), default=0),
        shares,
    )


def took(entries: Entries, until: datetime) -> dict[str, dict[str, int]]:
    """The minutes that flutes finished in the year before `until` took at each stage, as their entries show them. JSON.

    A stage of a flute that was begun before that year, or lacks an entry, is left out.
    """
    since = until - YEAR
    found: dict[Stage, list[float]] = {stage: [] for stage in STAGES}
    for (blank_id, stage), hours in _sums(entries, since, until)[2].items():
        finished = entries.blanks[blank_id].finished
        if (
            finished
            and since <= finished <= until
            and hours > LEAST
            and entries.complete(blank_id, stage, since, until)
        ):
            found[stage].append(60 * hours)
    return {stage.value: middle_half(minutes) for stage, minutes in found.items() if minutes}


def middle_half(values: Sequence[float]) -> dict[str, int]:
    """The one in the middle, the ends of the middle half, and how many there are. JSON; whole numbers."""
    low, middle, high = quantiles(values, n=4, method="inclusive") if len(values) > 1 else [values[0]] * 3
    return {"middle": round(middle), "low": round(low), "high": round(high), "count": len(values)}


Sums = tuple[dict[str, float], dict[Stage, float], dict[tuple[int, Stage], float], dict[date, float]]


def _sums(entries: Entries, since: datetime, until: datetime) -> Sums:
    """Usual hours of each step, and of a step at each stage; the hours of each blank at each stage, of each week."""
    timed = [entry for entry in entries.rows if since <= entry.at <= until and entry.outcome is not Outcome.TAKEN_BACK]
    took = _hours(timed)
    by_code: dict[str, list[float]] = defaultdict(list)
    for entry, hours in zip(timed, took, strict=True):
        if hours is not None and (step := entries.steps.get(entry.step_id)):
            by_code[step.code].append(hours)
    steps = {code: fmean(values) for code, values in by_code.items() if len(values) >= 5}
    shares = {stage: _middle([steps[code] for code in entries.codes[stage] if code in steps]) for stage in STAGES}
    of_stage: dict[tuple[int, Stage], float] = defaultdict(float)
    of_week: dict[date, float] = defaultdict(float)
    for entry, hours in zip(timed, took, strict=True):
        step = entries.steps.get(entry.step_id)
        if step is None:
            continue
        known = hours if hours is not None else steps.get(step.code, shares[step.stage])
        of_stage[entry.blank_id, step.stage] += known
        day = entry.at.date()
        of_week[day - timedelta(days=day.weekday())] += known
    return steps, shares, of_stage, of_week


def _hours(timed: list[Entry]) -> list[float | None]:
    """Hours that each entry's work took, None where nothing of that day came before it."""
    last_of_person: dict[int, datetime] = {}
    last_of_blank: dict[int, datetime] = {}
    found: list[float | None] = []
    for entry in timed:
        befores = [
            before
            for before in (last_of_person.get(entry.by), last_of_blank.get(entry.blank_id))
            if before is not None and before.date() == entry.at.date()
        ]
        hours = (entry.at - max(befores)).total_seconds() / 3600 if befores else None
        found.append(hours if hours is not None and hours <= LONGEST_STEP else None)
        last_of_person[entry.by] = last_of_blank[entry.blank_id] = entry.at
    return found


def _pace(entries: Entries, of_week: dict[date, float], planned: Planned, until: datetime) -> tuple[Figure, float]:
    """The part of the planned hours that went into flutes, and how it drifts from month to month (as a logarithm)."""
    begun = sorted(b.opened for b in entries.blanks.values())
    ended = sorted(b.ended for b in entries.blanks.values() if b.ended)
    logs: list[float] = []
    for monday, hours in planned:
        if hours <= 0 or monday + timedelta(days=7) > until.date():
            continue
        start = datetime.combine(monday, datetime.min.time(), until.tzinfo)
        if bisect_left(begun, start) - bisect_left(ended, start) < BUSY:
            continue
        logs.append(min(2.0, max(0.05, of_week.get(monday, 0.0) / hours)))
    figure = drawn(logs, PACE, PACE_SPREAD)
    # What whole months differ by beyond the scatter of their weeks does not average out: it is a drift.
    months = [fmean(log(x) for x in logs[n : n + 4]) for n in range(0, len(logs) - 3, 4)]
    if len(months) < 3:
        return figure, 0.1
    middle = fmean(months)
    between = sum((m - middle) ** 2 for m in months) / (len(months) - 1)
    return figure, sqrt(max(0.05**2, between - figure.sd**2 / 4))


def _middle(values: list[float]) -> float:
    return sorted(values)[len(values) // 2] if values else 0.25
