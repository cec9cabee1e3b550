"""How long dates take with a full rack, how good they were in the demo's year, and how quick search is. Prints tables.

    python -m tests.load.promise_speed [--open 200] [--runs 1000] [--demo shop.sqlite3] [--blanks 100000]

`--demo`: a demo shop's file to look back over, instead of making one; it is opened for reading only.
`--blanks`: so many blanks are written for the search to look through (0: leave that out).
"""

import argparse
import random
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from sqlmodel import select

from seed_demo.make import make_demo
from tests.load.rack_speed import fill, median_ms
from webapp.db import Database
from webapp.models import Customer, Order, OrderedFlute, OrderStatus, Species, StepRecord, index_all
from webapp.shop import search
from webapp.shop.scheduling import hindsight, queue_dates, shopfloor
from webapp.shop.scheduling.promise_queue import Queue
from webapp.shop.scheduling.queue_parts import Job
from webapp.shop.scheduling.queue_sim import play
from webapp.shop.scheduling.shopfloor import Shopfloor, hands


def crowded(at: Shopfloor, moment: datetime, count: int) -> Queue:
    """A queue of so many flutes at every stage of their way, two to an order."""
    learned = at.learned(moment)
    whole = queue_dates.queue(at.entries, learned, at.waits, moment).whole
    dice = random.Random(5)
    jobs = [
        Job(f"order {n // 2 + 1}", whole[dice.randrange(len(whole)) :] if n < 60 else whole, whole)
        for n in range(count)
    ]
    return Queue(tuple(jobs), count, whole)


def dates(at: Shopfloor, moment: datetime, count: int, runs: int) -> None:
    learned, present = at.learned(moment), crowded(at, moment, count)
    jobs, bench = present.with_new(queue_dates.MOST_NEW), at.bench(at.learned(moment), moment)
    took = []
    for _ in range(3):
        before, worked = time.perf_counter(), time.process_time()
        played = play(jobs, hands(learned), bench, runs, queue_dates.SEED)
        took.append((time.perf_counter() - before, time.process_time() - worked))
    _, likely, safe = queue_dates.quantiles(played.done[count])
    print(f"{count} open flutes, {runs} runs: {min(took)[0]:.2f} s, of the processor {min(took)[1]:.2f} s (best of 3)")
    print(f"the next one is likely in {likely:.0f} days, safe in {safe:.0f}")
    own, queue_dates.queue = queue_dates.queue, lambda *_: present  # the crowded queue instead of the shop's
    took = []
    for _ in range(3):
        before, worked = time.perf_counter(), time.process_time()
        found = queue_dates.queue_dates(at, moment)
        took.append((time.perf_counter() - before, time.process_time() - worked))
    clock, processor = min(took)
    print(f"with what would help, three times {queue_dates.RUNS_FOR_HELP} runs besides, and how long flutes took:")
    print(f"{clock:.2f} s, of the processor {processor:.2f} s (best of 3; goal: under 2 s)")
    for name in ("clamps", "hours", "first"):
        off = [value[2] for value in found["help"][name]["new"]]
        print(f"  {name}: the days it brings are off by {max(off):.1f} at most (standard error, from few runs)")
    queue_dates.queue = own


def look_back(at: Shopfloor, moment: datetime) -> None:
    before = time.perf_counter()
    found = hindsight.look_back(at, moment)
    rows = found["orders"]
    print(f"\nLooking back over {len(rows)} orders: {time.perf_counter() - before:.1f} s")
    print(f"the safe date would have held {found['safe_held']} times, the likely one {found['likely_held']} times")
    wait = [(datetime.fromisoformat(r["safe"]) - datetime.fromisoformat(r["likely"])).days for r in rows if r["safe"]]
    print(f"from likely to safe: {sum(wait) / len(wait):.0f} days on average")


def looking(folder: Path, count: int) -> None:
    url = f"sqlite:///{folder / 'many.sqlite3'}"
    before = time.perf_counter()
    fill(url, count, 300)
    database = Database(url)
    with database.write() as session:
        species = session.exec(select(Species.id)).all()
        people = [
            Customer(name=f"{first} {last}")
            for first in ("Zoë", "Fenna", "Ivo")
            for last in ("Marlow", "Inkpen", "Yarrow")
        ]
        session.add_all(people)
        session.flush()
        for number in range(1, 301):
            order = Order(number=number, customer_id=people[number % 9].id or 0, currency="EUR")
            order.status, order.taken_on = OrderStatus.CONFIRMED, datetime.now(UTC).date()
            order.note = "a case lined with felt" if number % 7 == 0 else ""
            session.add(order)
            session.flush()
            session.add(
                OrderedFlute(
                    order_id=order.id or 0, key="A4", scale="minor pentatonic", species_id=species[number % 9] or 1
                )
            )
        session.commit()
        index_all(session.connection())
        session.commit()
    print(f"\n{count} blanks written and indexed in {time.perf_counter() - before:.0f} s")
    for typed in ("zoe", "walnut", "wal", "A4", "A", "0500", "050001", "felt case", "minor", "pattern"):
        with database.read() as session:
            clock, processor = median_ms(lambda typed=typed: search.find(session, typed), 11)
            found = search.find(session, typed)
            many = f"{len(found.blanks)} blanks, {len(found.orders)} orders"
            print(f"{typed!r:14} {clock:8.1f} ms {processor:8.1f} ms processor   {many}")
    database.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--open", type=int, default=200)
    parser.add_argument("--runs", type=int, default=queue_dates.RUNS)
    parser.add_argument("--demo", type=Path)
    parser.add_argument("--blanks", type=int, default=100_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = asked.demo or Path(folder) / "demo.sqlite3"
        if asked.demo is None:
            make_demo(f"sqlite:///{path}", "for this measurement alone")
        database = Database(f"sqlite:///{path}")
        with database.read() as session:
            before = time.perf_counter()
            at = shopfloor.floor(session)
            entries = len(session.exec(select(StepRecord.id)).all())
            print(f"{entries} entries read in {time.perf_counter() - before:.2f} s")
        database.close()
        moment = datetime.now(UTC).astimezone(at.zone)
        dates(at, moment, asked.open, asked.runs)
        look_back(at, moment)
        if asked.blanks:
            looking(Path(folder), asked.blanks)


if __name__ == "__main__":
    main()
