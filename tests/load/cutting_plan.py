"""How near to the best a cutting plan comes in its time, for shops of several sizes; prints a table.

.venv/bin/python -m tests.load.cutting_plan [seconds]
"""

import sys
import time
from random import Random

from webapp.shop.wood.plans.problem import Board, Flaw, Rules, Want
from webapp.shop.wood.plans.solver import plan

RULES = Rules(kerf=3.2, resaw_kerf=2.0, ends=20.0, edges=4.0, shortest_rest=300.0)


def shop(boards: int, kinds: int, flawed: bool, seed: int) -> tuple[list[Board], list[Want]]:
    """Boards of common sizes, and about half as many halves wanted as they could give."""
    dice = Random(seed)
    made = []
    for n in range(boards):
        length, width = dice.uniform(1500, 2700), dice.uniform(120, 230)
        at, near = dice.uniform(200, length - 300), dice.uniform(0, width - 40)
        flaws = (Flaw(at, at + 60, near, near + 40),) if flawed and n % 2 else ()
        made.append(Board(n, length, width, dice.choice([27.0, 27.0, 54.0]), flaws))
    wants = [
        Want(
            dice.uniform(420, 680),
            dice.choice([36.0, 38.0, 41.0, 44.0]),
            20.0,
            dice.randint(4, 4 * boards // kinds + 4),
        )
        for _ in range(kinds)
    ]
    return made, wants


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    print(f"{'boards':>6} {'kinds':>5} {'flaws':>5} {'short':>5} {'sawn dm3':>9} {'waste':>6} {'gap':>6} {'s':>6}")
    for boards, kinds, flawed in ((3, 2, False), (6, 3, False), (6, 3, True), (12, 5, False), (20, 6, True)):
        had, wants = shop(boards, kinds, flawed, 7)
        started = time.perf_counter()
        made = plan(had, wants, RULES, seconds)
        took = time.perf_counter() - started
        waste = 1 - made.pieces / made.sawn if made.sawn else 0.0
        flaws = "yes" if flawed else "no"
        print(
            f"{boards:6} {kinds:5} {flaws:>5} {sum(made.short):5} {made.sawn / 1e6:9.2f} "
            f"{waste:6.1%} {made.gap:6.1%} {took:6.1f}"
        )


if __name__ == "__main__":
    main()
