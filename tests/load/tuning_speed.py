"""How long one piece of advice takes, from JSON to JSON: at every stage of the work, and where something is amiss.

Run: OMP_NUM_THREADS=1 python -m tests.load.tuning_speed

Processor time of one core, so that what else the machine does hardly counts; the quicker of two runs of each.
"""

import json
import time
from collections.abc import Sequence
from typing import Any

import numpy as np

from acoustics.commands import advise
from tests.load.tuning_bench import Bench, Task, by_advice


def asked(bench: Bench, **more: Any) -> list[str]:
    """What `advise` was asked on the way to a finished flute, as text; the flute as it was after each reading."""
    by_advice(bench, **more)
    document = bench.document(**more)
    readings = document["readings"]
    found = [json.dumps(document | {"readings": []}), json.dumps(document)]
    for count in range(1, len(readings) + 1):
        now = readings[min(count, len(readings) - 1)]["instrument"]
        found.append(json.dumps(document | {"readings": readings[:count], "instrument": now}))
    return found


def amiss(bench: Bench) -> list[str]:
    """Flutes that miss their key, and readings that contradict one another."""
    by_advice(bench)
    document = bench.document()
    found = []
    for factor in (0.95, 1.05):
        targets = [t | {"frequency": t["frequency"] * factor} for t in document["targets"]]
        found.append(json.dumps(document | {"targets": targets}))
    for every in (2, 3, 5):
        wrong = [
            r | {"frequency": r["frequency"] * (2.0 if i % every == 0 else 1.0)}
            for i, r in enumerate(document["readings"])
        ]
        found.append(json.dumps(document | {"readings": wrong}))
    found.append(json.dumps(document | {"readings": document["readings"] * 6}))
    return found


def measure(documents: Sequence[str]) -> list[float]:
    """Processor time of each, ms."""
    times = []
    for document in documents:
        tries = []
        for _ in range(2):
            began = time.process_time()
            json.dumps(advise(json.loads(document)))
            tries.append(1e3 * (time.process_time() - began))
        times.append(min(tries))
    return times


def main() -> None:
    """Print the table."""
    runs = {
        "six holes, A4": asked(Bench.drawn(Task.of("A4"), 5)),
        "six holes, D5": asked(Bench.drawn(Task.of("D5"), 6)),
        "six holes, F4, truth twice as wide": asked(Bench.drawn(Task.of("F4"), 7, 2.0)),
        "six holes, drills of 0.25 mm": asked(
            Bench.drawn(Task.of("A4"), 9), drills=[4.0 + 0.25 * i for i in range(37)]
        ),
        "five holes, major pentatonic": asked(Bench.drawn(Task.of("G4", 5, "major pentatonic"), 8)),
        "amiss": amiss(Bench.drawn(Task.of("A4"), 11)),
    }
    print(f"{'':38}{'asked':>8}{'median ms':>11}{'p95 ms':>9}{'slowest ms':>12}")
    every: list[float] = []
    for name, documents in runs.items():
        times = measure(documents)
        every += times
        print(f"{name:38}{len(times):8d}{np.median(times):11.1f}{np.percentile(times, 95):9.1f}{max(times):12.1f}")
    print(f"{'all':38}{len(every):8d}{np.median(every):11.1f}{np.percentile(every, 95):9.1f}{max(every):12.1f}")


if __name__ == "__main__":
    main()
