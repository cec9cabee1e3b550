"""A thousand flutes tuned by advice, and by the plain habit beside it: how they end, with how many cuts and readings.

Run: python -m tests.load.tuning_simulation [FLUTES] [PROCESSES] [ROWS]

ROWS are numbers of rows, as 0,2 for the advice alone; all where not given.

Each flute's truth (window, bore, holes, air) is drawn from the stated prior, from one twice as wide, or around the
habits of a shop that has learned from 30 flutes. Readings scatter by 3 cents, cuts by 0.05 mm; what is on paper is what
was meant. The advice is asked through JSON only and knows nothing of the truth. Flutes that nobody could bring in tune
from where they start, even knowing the truth, are counted apart: their holes are in the wrong places.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from acoustics.learning.estimate import FinishedFlute, learn
from tests.load.tuning_bench import (
    Bench,
    Outcome,
    Task,
    by_advice,
    by_habit,
    finished,
    outcome,
    reachable,
    summary,
)

KEYS = ("A4", "F4", "C5", "D4", "G4", "E5")
SHOP_MEAN = (0.2, 0.003, -0.02, 4.0)
"""An invented shop: its windows act longer, its bores wider and its holes narrower than the model has them."""
FIRST = 30_000
"""Seed of the first flute. The constants of the advice were chosen on seeds from 10,000 to 29,999, never on these."""
SHOP_WIDTH = 0.5
"""Its flutes scatter half as much around that as the stated prior."""
_TASKS: dict[str, Task] = {}


def task_of(seed: int) -> Task:
    key = KEYS[seed % len(KEYS)]
    if key not in _TASKS:
        _TASKS[key] = Task.of(key)
    return _TASKS[key]


def one(job: tuple[int, float, tuple[float, ...], str, dict[str, Any]]) -> tuple[bool, Outcome]:
    """Tune one flute: (seed, width of the truth, its mean, by advice or habit, what advise is told besides)."""
    seed, width, mean, by, more = job
    bench = Bench.drawn(task_of(seed), seed, width, mean)
    possible = reachable(bench)
    last = by_habit(bench) if by == "habit" else by_advice(bench, **more)
    return possible, outcome(bench, last)


def shop_of(flutes: int) -> dict[str, Any]:
    """What a shop has learned from its first flutes, each tuned by habit and heard once more."""
    documents = []
    for i in range(flutes):
        bench = Bench.drawn(task_of(i), 500_000 + i, SHOP_WIDTH, SHOP_MEAN, room=0.0)
        documents.append(FinishedFlute.from_json(finished(bench, str(i), KEYS[i % len(KEYS)]), f"flutes[{i}]"))
    return learn(documents).shop()


def main(flutes: int, processes: int, chosen: Sequence[int]) -> None:
    """Print the table."""
    shop = shop_of(30) if 5 in chosen else {}
    still = (0.0, 0.0, 0.0, 0.0)
    runs = {
        "advice, truth from the stated prior": (1.0, still, "advice", {}),
        "plain habit, the same flutes": (1.0, still, "habit", {}),
        "advice, truth twice as wide": (2.0, still, "advice", {}),
        "plain habit, the same flutes ": (2.0, still, "habit", {}),
        "advice, a shop's flutes, nothing learned": (SHOP_WIDTH, SHOP_MEAN, "advice", {}),
        "advice, the same, learned from 30": (SHOP_WIDTH, SHOP_MEAN, "advice", {"shop": shop}),
    }
    print(f"{flutes} flutes each; keys {', '.join(KEYS)}; tolerance 5 cents, risk 0.02, files and reamers")
    columns = ("flutes", "too sharp %", "notes within %", "flutes within %", "cuts", "readings", "not done %")
    print(f"{'':42}" + "".join(f"{name:>17}" for name in (*columns, "beyond reach", "seconds")))
    with ProcessPoolExecutor(processes) as pool:
        for name, (width, mean, by, more) in (list(runs.items())[i] for i in chosen):
            began = time.perf_counter()
            jobs = [(FIRST + i, width, mean, by, more) for i in range(flutes)]
            found = []
            for done, result in enumerate(pool.map(one, jobs, chunksize=4), 1):
                found.append(result)
                if done % 100 == 0:
                    so_far = summary([end for possible, end in found if possible])
                    shown = ", ".join(f"{value:.2f} {what}" for what, value in so_far.items())
                    print(f"{name}, so far: {shown}", file=sys.stderr, flush=True)
            row = summary([end for possible, end in found if possible])
            beyond = sum(not possible for possible, _ in found)
            row |= {"beyond reach": beyond, "seconds": time.perf_counter() - began}
            shown = "".join(f"{row[c]:17.2f}" for c in (*columns, "beyond reach", "seconds"))
            print(f"{name:42}{shown}", flush=True)


if __name__ == "__main__":
    given = sys.argv[1:]
    which = [int(row) for row in given[2].split(",")] if len(given) > 2 else range(6)
    main(int(given[0]) if given else 1000, int(given[1]) if len(given) > 1 else 2, which)
