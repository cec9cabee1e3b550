"""Looking back: the dates that would have been promised for orders now finished, and the days they were finished.

What looking back shows also corrects the safe date. The queue knows nothing of orders that are taken later and jump
it, of fairs and illness. So it is noted how many times longer than the likely time each order really took, and the
safe date is put off until it would have held for nine in ten of those (split conformal prediction: Vovk, Gammerman and
Shafer, Algorithmic Learning in a Random World, 2005; from memory). It is never brought forward by this. Few finished
orders say little, so stated ones count beside them, as stated hours do in `past_work`: without them a shop's first
dozens of orders had safe dates by the queue's own spread alone, which is too narrow for all that it does not know.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from functools import cache
from math import ceil, exp, log
from statistics import NormalDist
from typing import Any, Final

from webapp.shop.scheduling.past_entries import Entries, OrderSeen
from webapp.shop.scheduling.promise_queue import NEW, queue
from webapp.shop.scheduling.queue_dates import SAFE, SEED, Progress, day_of, quantiles
from webapp.shop.scheduling.queue_sim import play
from webapp.shop.scheduling.shopfloor import Shopfloor, hands

ORDERS: Final = 60
RUNS: Final = 300
BEFORE: Final = 20
"""Orders before those, which only say how far to put the safe date off."""
LEAST: Final = timedelta(days=30)
"""The entries before an order must go back so far for its dates to be calculated from a past at all."""
STATED: Final = 20
LONGER: Final = 1.5
"""Nine orders in ten take up to one and a half times their likely time; that counts as so many orders (common practice,
no published source)."""


def finished_orders(entries: Entries) -> list[tuple[OrderSeen, datetime]]:
    """The orders whose flutes are all finished, with the moment of the last one, in the order they were taken."""
    finished: dict[int, datetime] = {}
    for blank in entries.blanks.values():
        if blank.flute_id is not None and blank.finished:
            finished[blank.flute_id] = min(blank.finished, finished.get(blank.flute_id, blank.finished))
    found = [
        (order, max(finished[flute] for flute in order.flutes))
        for order in entries.orders.values()
        if order.flutes and all(flute in finished for flute in order.flutes)
    ]
    return sorted(found, key=lambda one: (one[0].taken, one[0].number))


def look_back(at: Shopfloor, moment: datetime, progress: Progress | None = None, most: int = ORDERS) -> dict[str, Any]:
    """For each of the last orders: what would have been predicted on the day it was taken, by what was known. JSON.

    Nothing that happened later is looked at: neither entries nor orders, nor what was learned from them.
    """
    began = min((entry.at for entry in at.entries.rows), default=moment)
    usable = [one for one in finished_orders(at.entries) if one[0].taken - began >= LEAST][-most - BEFORE :]
    rows: list[dict[str, Any]] = []
    ratios: list[tuple[date, float]] = []
    for number, (order, finished) in enumerate(usable):
        if progress:
            progress(100 * number // len(usable), 100)
        taken, ended = order.taken.date(), finished.date()
        earliest, likely, safe = _dates_then(at, order)
        safe = put_off(taken, likely, safe, [ratio for day, ratio in ratios if day < taken])
        if likely is not None:
            ratios.append((ended, (ended - taken).days / max(1, (likely - taken).days)))
        rows.append(
            {
                "order": order.number,
                "taken": taken.isoformat(),
                "flutes": len(order.flutes),
                "earliest": _iso(earliest),
                "likely": _iso(likely),
                "safe": _iso(safe),
                "finished": ended.isoformat(),
                "likely_held": likely is None or ended <= likely,
                "safe_held": safe is None or ended <= safe,
            }
        )
    rows = rows[-most:]
    return {
        "at": moment.isoformat(),
        "orders": rows,
        "ratios": [ratio for _, ratio in ratios],
        "likely_held": sum(1 for row in rows if row["likely_held"]),
        "safe_held": sum(1 for row in rows if row["safe_held"]),
        "runs": RUNS,
    }


def put_off(taken: date, likely: date | None, safe: date | None, ratios: Sequence[float]) -> date | None:
    """The safe date, put off until it would have held for nine in ten orders of the past, stated ones among them."""
    if likely is None or safe is None:
        return safe
    known = sorted([*ratios, *_stated()])
    longest = known[min(len(known), ceil((len(known) + 1) * SAFE)) - 1]
    return max(safe, taken + timedelta(days=ceil((likely - taken).days * longest)))


@cache
def _stated() -> tuple[float, ...]:
    """The stated orders' ratios: spread evenly under a logarithmic normal curve about 1."""
    spread = log(LONGER) / NormalDist().inv_cdf(SAFE)
    return tuple(exp(spread * NormalDist().inv_cdf((n + 0.5) / STATED)) for n in range(STATED))


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _dates_then(at: Shopfloor, order: OrderSeen) -> tuple[date | None, date | None, date | None]:
    then = order.taken
    learned = at.learned(then)
    present = queue(at.entries, learned, at.waits, then, without=order.id)
    # What comes behind in the queue can't hold it up: only what comes before it is simulated.
    jobs = present.with_new(len(order.flutes))[: present.promised + len(order.flutes)]
    played = play(jobs, hands(learned), at.bench(learned, then), RUNS, SEED)
    rows = [n for n, job in enumerate(jobs) if job.key == NEW]
    earliest, likely, safe = (day_of(then, value) for value in quantiles(played.done[rows].max(axis=0)))
    return earliest, likely, safe
