"""How long one piece of advice takes: six holes and twenty readings, on flutes at every stage of the work.

Run: python -m tests.load.tuning_speed
"""

import time

import numpy as np

from acoustics.tuning import advise
from tests.load.tuning_bench import Bench, Task, by_advice


def main() -> None:
    """Print the table: processor and wall time in ms."""
    bench = Bench.drawn(Task.of("A4"), 5)
    by_advice(bench)
    while len(bench.readings) < 20:
        bench.read("xxxxxx")
    document = bench.document()
    print(f"{'readings':>10}{'processor ms':>14}{'wall ms':>10}{'slowest ms':>12}")
    for count in (0, 1, 5, 10, 20):
        asked = document | {"readings": document["readings"][:count]}
        advise(asked)
        walls = []
        began = time.process_time()
        for _ in range(20):
            start = time.perf_counter()
            advise(asked)
            walls.append(1e3 * (time.perf_counter() - start))
        used = 1e3 * (time.process_time() - began) / 20
        print(f"{count:10d}{used:14.1f}{np.median(walls):10.1f}{max(walls):12.1f}")


if __name__ == "__main__":
    main()
