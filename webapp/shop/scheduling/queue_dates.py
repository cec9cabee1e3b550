"""Dates from the queue: of every open order, of one taken now, and what would bring them forward."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from webapp.shop.scheduling import past_work
from webapp.shop.scheduling.past_work import Learned
from webapp.shop.scheduling.promise_queue import NEW, Queue, queue
from webapp.shop.scheduling.queue_parts import Bench, Job
from webapp.shop.scheduling.queue_sim import play
from webapp.shop.scheduling.shopfloor import Shopfloor, hands

RUNS: Final = 1000
RUNS_FOR_HELP: Final = 300
BATCHES: Final = 10
SEED: Final = 1811
"""The same queue gives the same dates: whoever asks twice gets the same answer."""
MOST_NEW: Final = 12
"""Flutes of a would-be order that dates are kept for."""
MORE_HOURS: Final = 6.0
EARLIEST, LIKELY, SAFE = 0.05, 0.5, 0.9
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One simulation of the queue."""

    jobs: list[Job]
    done: NDArray[np.float32]
    waited: dict[str, float]


def queue_dates(at: Shopfloor, moment: datetime, progress: Progress | None = None) -> dict[str, Any]:
    """Dates of every open order and of a would-be one, and what would bring them forward. JSON."""
    learned = at.learned(moment)
    present = queue(at.entries, learned, at.waits, moment)
    crew = hands(learned)
    tick = _parts(progress)

    def played(
        runs: int, jobs: list[Job], bench: Bench, part: tuple[int, int], luck: Sequence[int] | None = None
    ) -> Outcome:
        watch = [n for n, job in enumerate(jobs) if job.key == NEW][:1]
        found = play(jobs, crew, bench, runs, SEED, watch, tick(*part), luck)
        return Outcome(jobs, found.done, found.waited)

    bench = at.bench(learned, moment)
    base = played(RUNS, present.with_new(MOST_NEW), bench, (0, 55))
    result: dict[str, Any] = {
        "at": moment.isoformat(),
        "orders": _orders(base.jobs, base.done, moment, at),
        "new": _new(base.jobs, base.done, moment),
        "waited": base.waited,
        "work_days": _work_days(present, learned, bench),
        "jobs": len(present.jobs),
        "promised": present.promised,
        "runs": RUNS,
        "learnt": said(learned),
        "took": past_work.took(at.entries, moment),
        "help": {},
    }
    more = max(2, at.places // 2)
    queued = present.with_new(MOST_NEW)
    # The would-be flutes stand first, and yet each flute has the luck that it has in the queue as it is.
    new = range(present.promised, present.promised + MOST_NEW)
    first = [*new, *(n for n in range(len(queued)) if n not in new)]
    ways = {
        "clamps": (queued, at.bench(learned, moment, more_places=more), None),
        "hours": (queued, at.bench(learned, moment, more_hours=MORE_HOURS), None),
        "first": (present.with_new(MOST_NEW, first=True), bench, first),
    }
    # The first runs of many are just what fewer runs are.
    as_it_is = base.done[:, :RUNS_FOR_HELP]
    result["help"]["none"] = _help(base.jobs, as_it_is, as_it_is, moment)
    for n, (name, (jobs, its_bench, luck)) in enumerate(ways.items()):
        changed = played(RUNS_FOR_HELP, jobs, its_bench, (55 + 15 * n, 70 + 15 * n), luck)
        done = changed.done if luck is None else changed.done[np.argsort(luck)]
        result["help"][name] = _help(base.jobs, done, as_it_is, moment)
    result["more_places"] = more
    return result


def day_of(moment: datetime, days: float) -> date | None:
    """The day on which so many days from the midnight before `moment` are over; None: beyond four years."""
    return moment.date() + timedelta(days=int(days)) if np.isfinite(days) else None


def quantiles(done: NDArray[np.float32]) -> tuple[float, float, float]:
    """Earliest (1 in 20), likely (1 in 2), safe (9 in 10) of one order's moments, each reached in just so many runs."""
    ordered = np.sort(done)
    earliest, likely, safe = (float(ordered[int(np.ceil(q * len(ordered))) - 1]) for q in (EARLIEST, LIKELY, SAFE))
    return earliest, likely, safe


def said(learned: Learned) -> dict[str, Any]:
    """What was learned, for the page that shows it. JSON."""
    return {
        "stages": {
            stage.value: {"hours": figure.mean, "sd": figure.sd, "count": figure.count}
            for stage, figure in learned.stages.items()
        },
        "pace": {"mean": learned.pace.mean, "sd": learned.pace.sd, "weeks": learned.pace.count},
        "given_up": learned.given_up,
        "flutes": learned.flutes,
    }


def _orders(jobs: list[Job], done: NDArray[np.float32], moment: datetime, at: Shopfloor) -> dict[str, Any]:
    due = {f"order {order.number}": order for order in at.entries.orders.values()}
    found = {}
    for key, moments in _by_key(jobs, done).items():
        order = due.get(key)
        if order is None:
            continue
        one = _dates(moments, moment)
        if np.isfinite(order.due):
            until = order.due - moment.date().toordinal() + 1
            one["on_time"] = float((moments < until).mean())
            one["due"] = date.fromordinal(int(order.due)).isoformat()
        found[str(order.number)] = one
    return found


def _new(jobs: list[Job], done: NDArray[np.float32], moment: datetime) -> list[dict[str, Any]]:
    rows = [n for n, job in enumerate(jobs) if job.key == NEW]
    return [_dates(done[rows[: count + 1]].max(axis=0), moment) for count in range(len(rows))]


def _help(
    jobs: list[Job], done: NDArray[np.float32], as_it_is: NDArray[np.float32], moment: datetime
) -> dict[str, Any]:
    """Likely and safe days of each order and of would-be ones [days from the start], and how far off the days that the
    likely one comes forward may be (standard error)."""

    def said(changed: NDArray[np.float32], before: NDArray[np.float32]) -> list[float]:
        return [*quantiles(changed)[1:], _error(changed, before)]

    before = _by_key(jobs, as_it_is)
    found: dict[str, Any] = {
        key.removeprefix("order "): said(moments, before[key])
        for key, moments in _by_key(jobs, done).items()
        if key.startswith("order ")
    }
    rows = [n for n, job in enumerate(jobs) if job.key == NEW]
    each = [rows[: count + 1] for count in range(len(rows))]
    found["new"] = [said(done[some].max(axis=0), as_it_is[some].max(axis=0)) for some in each]
    return {key: value for key, value in found.items() if key == "new" or np.isfinite(value).all()}


def _error(changed: NDArray[np.float32], before: NDArray[np.float32]) -> float:
    """The standard error of how far the likely day comes forward, from batches of runs that share their luck (batch
    means: Law, Simulation Modeling and Analysis, 5th ed., 2015, section 9.5; from memory)."""
    shape = (BATCHES, -1)
    with np.errstate(invalid="ignore"):
        gains = np.median(before.reshape(shape), axis=1) - np.median(changed.reshape(shape), axis=1)
        return float(gains.std(ddof=1) / np.sqrt(BATCHES))


def _by_key(jobs: list[Job], done: NDArray[np.float32]) -> dict[str, NDArray[np.float32]]:
    rows: dict[str, list[int]] = {}
    for n, job in enumerate(jobs):
        rows.setdefault(job.key, []).append(n)
    return {key: done[at].max(axis=0) for key, at in rows.items()}


def _dates(moments: NDArray[np.float32], moment: datetime) -> dict[str, Any]:
    days = [day_of(moment, value) for value in quantiles(moments)]
    return {
        name: day.isoformat() if day else None for name, day in zip(("earliest", "likely", "safe"), days, strict=True)
    }


def _parts(progress: Progress | None) -> Callable[[int, int], Progress | None]:
    """One progress bar over several simulations: each has its part of a hundred."""

    def part(low: int, high: int) -> Progress | None:
        if progress is None:
            return None
        return lambda done, total: progress(low + (high - low) * done // max(1, total), 100)

    return part


def _work_days(present: Queue, learned: Learned, bench: Bench) -> float:
    """Days of work before everything promised is made, at the shop's pace."""
    hours = sum(piece.total for job in present.jobs[: present.promised] for piece in job.left)
    a_week = float(bench.hours[1:365].mean()) * 7 * learned.pace.mean
    return hours / a_week * 7 if a_week > 0 else 0.0
