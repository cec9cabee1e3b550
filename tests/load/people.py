"""People at work at once on a real server: mixed pages and writes, every write checked in the database at the end.

    python -m tests.load.people [--people 50] [--seconds 180] [--kind sqlite postgresql] [--pause 1.0]

Each person has a sign-in of their own, looks at pages and writes: stock received, steps recorded, readings taken at the
bench, customers edited. Three in a hundred ask for something heavy: a traveler as PDF, a new pattern from the engine,
dates calculated from the queue, a sign-in. Prints the times by page and over the run, what was lost or doubled, and the
server's memory. Clients and server share the machine.
"""

import argparse
import statistics
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from itertools import chain
from pathlib import Path

from tests.load.person import HEAVY, Asked, Worker
from tests.load.serving import demo_shops, machine, memory, processor, serving
from tests.load.written import check, prepare


def line(name: str, asked: Iterable[Asked]) -> str:
    times = [one.took for one in asked]
    if not times:
        return f"{name:28}{0:8}"
    cuts = [1000 * q for q in (statistics.quantiles(times, n=100) if len(times) > 1 else times * 99)]
    return f"{name:28}{len(times):8}{cuts[49]:9.1f}{cuts[94]:9.1f}{cuts[98]:9.1f}{1000 * max(times):9.1f}"


def report(workers: list[Worker], seconds: float) -> None:
    every = sorted(chain(*(worker.asked for worker in workers)), key=lambda one: one.at)
    by_name: dict[str, list[Asked]] = defaultdict(list)
    for one in every:
        by_name[one.name].append(one)
    print(f"{'ms':28}{'asked':>8}{'p50':>9}{'p95':>9}{'p99':>9}{'most':>9}")
    for name, asked in sorted(by_name.items(), key=lambda item: (item[1][0].heavy, item[0])):
        print(line(name, asked))
    print(line("all but the heavy", [one for one in every if not one.heavy]))
    print(line("all", every))
    step, begin = max(10.0, seconds / 6), every[0].at
    parts = [[one for one in every if n * step <= one.at - begin < (n + 1) * step] for n in range(int(seconds / step))]
    for n, part in enumerate(parts):
        print(line(f"  from second {n * step:.0f} on", [one for one in part if not one.heavy]))
    print(f"{len(every) / seconds:.1f} requests a second")


def run(url: str, folder: Path, asked: argparse.Namespace) -> list[str]:
    shop, before = prepare(url, asked.people)
    held = []
    with serving(url, folder) as (address, pid):
        began, end = processor(pid), time.monotonic() + asked.seconds
        workers = [Worker(n, address, token, shop, asked.pause, asked.heavy) for n, token in enumerate(shop.tokens)]
        threads = [threading.Thread(target=worker.run, args=(end,)) for worker in workers]
        for thread in threads:
            thread.start()
        while time.monotonic() < end:
            held.append(memory(pid))
            time.sleep(min(asked.seconds / 12, 10))
        for thread in threads:
            thread.join()
        held.append(memory(pid))
        busy = processor(pid) - began
    report(workers, asked.seconds)
    print(f"the server's process took {100 * busy / asked.seconds:.0f} % of one core; {machine()}")
    print(f"memory in MB: {' '.join(f'{one:.0f}' for one in held)}")
    writes = sum(w.received + len(w.recorded) + len(w.read) + sum(map(len, w.edited.values())) for w in workers)
    print(f"{writes} writes acknowledged, {sum(w.refused for w in workers)} stale edits refused")
    wrong = check(url, shop, before, workers)
    odd: Counter[str] = sum((worker.odd for worker in workers), Counter())
    wrong += [f"{what}: {count} times" for what, count in odd.items()]
    print("\n".join(wrong) if wrong else "no error, nothing lost, nothing twice", flush=True)
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=180.0)
    parser.add_argument("--pause", type=float, default=1.0, help="mean seconds between two things that a person does")
    parser.add_argument("--heavy", type=float, default=HEAVY, help="share of what is asked that is heavy")
    parser.add_argument("--kind", nargs="+", default=["sqlite", "postgresql"])
    asked = parser.parse_args()
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        for kind, url, place in demo_shops(Path(folder), asked.kind):
            print(f"\n{kind}: {asked.people} people, {asked.seconds:.0f} s", flush=True)
            wrong += run(url, place, asked)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
