"""Looking back: the dates that would have been named for orders now finished, beside the days they were finished."""

from datetime import datetime, timedelta
from typing import Any, Final

from webapp.shop.past_entries import Entries, OrderSeen
from webapp.shop.promise_queue import NEW, queue
from webapp.shop.queue_dates import SEED, Progress, day_of, quantiles
from webapp.shop.queue_sim import play
from webapp.shop.shopfloor import Shopfloor, hands

ORDERS: Final = 60
RUNS: Final = 300
LEAST: Final = timedelta(days=60)
"""The entries before an order must go back so far for its dates to have been reckoned from a past at all."""


def finished_orders(entries: Entries) -> list[tuple[OrderSeen, datetime]]:
    """The orders whose flutes are all finished, with the moment of the last one, oldest first."""
    finished: dict[int, datetime] = {}
    for blank in entries.blanks.values():
        if blank.flute_id is not None and blank.finished:
            finished[blank.flute_id] = min(blank.finished, finished.get(blank.flute_id, blank.finished))
    found = [
        (order, max(finished[flute] for flute in order.flutes))
        for order in entries.orders.values()
        if order.flutes and all(flute in finished for flute in order.flutes)
    ]
    return sorted(found, key=lambda one: one[1])


def look_back(at: Shopfloor, moment: datetime, progress: Progress | None = None, most: int = ORDERS) -> dict[str, Any]:
    """For each of the last orders: what would have been said on the day it was taken, from what was known then. JSON.

    Nothing that happened later is looked at: neither entries nor orders, nor what they taught.
    """
    began = min((entry.at for entry in at.entries.rows), default=moment)
    usable = [one for one in finished_orders(at.entries) if one[0].taken - began >= LEAST][-most:]
    rows = []
    for number, (order, finished) in enumerate(usable):
        if progress:
            progress(100 * number // len(usable), 100)
        earliest, likely, safe = _dates_then(at, order)
        rows.append(
            {
                "order": order.number,
                "taken": order.taken.date().isoformat(),
                "flutes": len(order.flutes),
                "earliest": earliest.isoformat() if earliest else None,
                "likely": likely.isoformat() if likely else None,
                "safe": safe.isoformat() if safe else None,
                "finished": finished.date().isoformat(),
                "likely_held": likely is None or finished.date() <= likely,
                "safe_held": safe is None or finished.date() <= safe,
            }
        )
    return {
        "at": moment.isoformat(),
        "orders": rows,
        "likely_held": sum(1 for row in rows if row["likely_held"]),
        "safe_held": sum(1 for row in rows if row["safe_held"]),
        "runs": RUNS,
    }


def _dates_then(at: Shopfloor, order: OrderSeen) -> tuple[Any, Any, Any]:
    then = order.taken
    learnt = at.learnt(then)
    present = queue(at.entries, learnt, at.waits, then, without=order.id)
    jobs = present.with_new(len(order.flutes))
    # What comes behind in the queue can't hold it up: only what stands before it is played.
    jobs = jobs[: present.promised + len(order.flutes)]
    played = play(jobs, hands(learnt), at.bench(learnt, then), RUNS, SEED)
    rows = [n for n, job in enumerate(jobs) if job.key == NEW]
    earliest, likely, safe = (day_of(then, value) for value in quantiles(played.done[rows].max(axis=0)))
    return earliest, likely, safe
