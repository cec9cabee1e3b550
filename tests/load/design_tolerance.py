"""Time of 10,000 toleranced flutes, of the table of sensitivities, and of start sizes, in processor time on one core.

python tests/load/design_tolerance.py [flutes]
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import sys
import time
import tracemalloc

from acoustics.designing.design import DesignRequest, design
from acoustics.designing.starting import start_sizes
from acoustics.designing.tolerance import monte_carlo, sensitivities


def main(flutes: int) -> None:
    request = DesignRequest.from_json({"key": "A4"})
    flute = design(request)
    targets = {n.fingering: n.target for n in flute.notes}
    monte_carlo(flute.instrument, request.air, targets, flutes=300)
    begun = time.process_time()
    spread = monte_carlo(flute.instrument, request.air, targets, flutes=flutes)
    made = time.process_time()
    sensitivities(flute.instrument, request.air, list(targets))
    told = time.process_time()
    start_sizes(flute.instrument, request.air, targets)
    ended = time.process_time()
    print(
        f"{flutes} flutes, {len(targets)} fingerings: {made - begun:.2f} s, {1e6 * (made - begun) / flutes:.0f} us each"
    )
    print(f"sensitivities {1e3 * (told - made):.0f} ms, start sizes {1e3 * (ended - told):.0f} ms")
    tracemalloc.start()
    monte_carlo(flute.instrument, request.air, targets, flutes=2000)
    print(f"most memory for 2000 flutes: {tracemalloc.get_traced_memory()[1] / 1e6:.1f} MB")
    print(f"all notes within {spread.tolerance:g} cents: {100 * spread.all_within:.1f} % of flutes; care for")
    for kind, share in spread.care[:6]:
        print(f"  {kind:16} {100 * share:4.1f} % of the variance")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
