"""Cutting plans against brute force on small cases and the area bound on large ones; every plan is laid out.

What a plan may look like is stated in webapp/shop/wood/plans/solver.py; the brute force here tries every set of strips,
every filling of every strip and every crosscut, and shares no code with it.
"""

from collections import Counter
from collections.abc import Iterator
from itertools import combinations_with_replacement
from random import Random

import pytest

from webapp.shop.wood.plans.problem import Board, Flaw, Plan, Rules, Want, layers
from webapp.shop.wood.plans.solver import plan

RULES = Rules(kerf=3.0, resaw_kerf=2.0, ends=20.0, edges=4.0, shortest_rest=300.0)


def check(made: Plan, wants: list[Want], rules: Rules) -> None:
    """Nothing overlaps, nothing lies in a flaw or beyond the part that is sawn, the sums are right."""
    given: Counter[int] = Counter()
    for cut in made.cuts:
        board = cut.board
        boxes = []
        for strip in cut.strips:
            assert strip.y >= rules.edges - 1e-6
            assert strip.y + strip.width <= board.width - rules.edges + 1e-6
            for block in strip.blocks:
                want = wants[block.want]
                assert want.width <= strip.width + 1e-6
                assert block.pieces == layers(board.thickness, want.thickness, rules.resaw_kerf) >= 1
                assert block.x >= rules.ends - 1e-6
                end = block.x + want.length
                assert end <= min(board.length - rules.ends, cut.sawn) + 1e-6
                boxes.append((block.x, end, strip.y, strip.y + strip.width))
                given[block.want] += block.pieces
                for flaw in board.flaws:
                    near, far = (flaw.near or 0.0), (flaw.far if flaw.far is not None else board.width)
                    clear = end <= flaw.start + 1e-6 or block.x >= flaw.end - 1e-6
                    assert clear or strip.y + strip.width <= near + 1e-6 or strip.y >= far - 1e-6
        for i, one in enumerate(boxes):
            for other in boxes[:i]:
                along = one[0] >= other[1] + rules.kerf - 1e-6 or other[0] >= one[1] + rules.kerf - 1e-6
                across = one[2] >= other[3] + rules.kerf - 1e-6 or other[2] >= one[3] + rules.kerf - 1e-6
                assert along or across, "two blocks overlap, or leave no kerf"
        rest = board.length - cut.sawn
        assert rest == 0 or rest >= rules.shortest_rest - 1e-6
    assert [max(0, want.count - given[i]) for i, want in enumerate(wants)] == list(made.short)
    assert made.bound <= made.sawn + 1e-3
    assert made.pieces <= made.sawn


def fillings(room: float, wants: list[Want], width: float, kerf: float, used: float = 0.0) -> Iterator[Counter[int]]:
    yield Counter()
    for i, want in enumerate(wants):
        if want.width <= width and used + want.length <= room:
            for more in fillings(room, wants, width, kerf, used + want.length + kerf):
                yield more + Counter({i: 1})


def brute_force(board: Board, wants: list[Want], rules: Rules) -> float | None:
    """The least length of one clear board that gives all that is wanted, by trying everything."""
    widths = sorted({want.width for want in wants})
    room = board.width - 2 * rules.edges
    many = [layers(board.thickness, want.thickness, rules.resaw_kerf) for want in wants]
    best = None
    for strips in (s for n in range(1, 5) for s in combinations_with_replacement(widths, n)):
        if sum(strips) + rules.kerf * (len(strips) - 1) > room:
            continue
        options = []
        for width in strips:
            seen = {tuple(sorted(f.items())) for f in fillings(board.length - 2 * rules.ends, wants, width, rules.kerf)}
            options.append([dict(one) for one in seen])
        # Depth first over the strips, keeping for each way of giving only its longest strip.
        states: dict[tuple[int, ...], float] = {(0,) * len(wants): 0.0}
        for fills in options:
            after: dict[tuple[int, ...], float] = {}
            for have, reach in states.items():
                for fill in fills:
                    got = tuple(
                        min(w.count, h + fill.get(i, 0) * many[i])
                        for i, (h, w) in enumerate(zip(have, wants, strict=True))
                    )
                    end = sum(wants[i].length * n + rules.kerf * n for i, n in fill.items())
                    farthest = max(reach, rules.ends + end if fill else 0.0)
                    if farthest < after.get(got, 1e9):
                        after[got] = farthest
            states = after
        reach = states.get(tuple(want.count for want in wants))
        if reach is not None:
            sawn = reach if board.length - reach >= rules.shortest_rest else board.length
            best = sawn if best is None else min(best, sawn)
    return best


@pytest.mark.parametrize("seed", range(12))
def test_one_board_is_cut_as_well_as_trying_everything(seed: int) -> None:
    dice = Random(seed)
    board = Board(1, dice.uniform(1100, 2100), dice.uniform(90, 150), dice.choice([22.0, 45.0]))
    wants = [
        Want(dice.choice([380.0, 455.0, 520.0]) + n, dice.choice([34.0, 41.0]), 20.0, dice.randint(1, 5))
        for n in range(dice.randint(1, 3))
    ]
    made = plan([board], wants, RULES, seconds=60)
    check(made, wants, RULES)
    least = brute_force(board, wants, RULES)
    if least is None:
        assert sum(made.short) > 0
    else:
        assert made.short == (0,) * len(wants)
        assert made.sawn == pytest.approx(least * board.width * board.thickness)
        assert made.gap < 1e-4


def test_flaws_are_cut_around() -> None:
    """Two strips, a knot at the near edge: by hand, 2 x 500 in the far strip and 500 beyond the knot."""
    board = Board(1, 1200.0, 100.0, 22.0, (Flaw(100.0, 300.0, 0.0, 40.0),))
    wants = [Want(500.0, 42.0, 20.0, 4)]
    made = plan([board], wants, RULES, seconds=60)
    check(made, wants, RULES)
    assert made.short == (1,)
    clear = plan([Board(1, 1200.0, 100.0, 22.0)], wants, RULES, seconds=60)
    check(clear, wants, RULES)
    assert clear.short == (0,)
    across = plan([Board(1, 1200.0, 100.0, 22.0, (Flaw(560.0, 640.0),))], wants, RULES, seconds=60)
    check(across, wants, RULES)
    assert across.short == (0,), "a flaw between two lengths costs nothing"
    middle = plan([Board(1, 1200.0, 100.0, 22.0, (Flaw(200.0, 210.0, 44.0, 46.0),))], wants, RULES, seconds=60)
    check(middle, wants, RULES)
    assert middle.short == (1,), "one of the two strips must run through the knot"


def test_orders_come_before_stock_and_a_thick_board_is_resawn() -> None:
    board = Board(1, 600.0, 60.0, 44.0)
    wants = [Want(520.0, 40.0, 20.0, 2, weight=1.0), Want(530.0, 40.0, 20.0, 2, weight=20.0)]
    made = plan([board], wants, RULES, seconds=60)
    check(made, wants, RULES)
    assert made.short == (2, 0)
    assert made.cuts[0].strips[0].blocks[0].pieces == 2


def test_the_board_that_leaves_the_least_waste_is_taken() -> None:
    boards = [Board(1, 2400.0, 200.0, 22.0), Board(2, 560.0, 92.0, 22.0)]
    wants = [Want(515.0, 40.0, 20.0, 2)]
    made = plan(boards, wants, RULES, seconds=60)
    check(made, wants, RULES)
    assert [cut.board.key for cut in made.cuts] == [2]


@pytest.mark.parametrize(
    ("boards", "wants"),
    [
        (12, [Want(490.0, 38.0, 19.0, 30)]),
        (4, [Want(490.0, 38.0, 19.0, 6), Want(560.0, 38.0, 20.0, 4, 20.0)]),
    ],
)
def test_a_shop_full_of_boards_comes_near_the_area_that_is_needed(boards: int, wants: list[Want]) -> None:
    """Whatever the plan, each piece takes its area of the board's whole thickness: nothing can saw up less than that.

    The time given is far more than these take: they are solved to the end, so that the clock decides nothing.
    """
    dice = Random(5)
    had = [Board(n, dice.uniform(1500, 2600), dice.uniform(120, 220), 27.0) for n in range(boards)]
    made = plan(had, wants, RULES, seconds=120)
    check(made, wants, RULES)
    area = sum(want.length * want.width * 27.0 * want.count for want in wants)
    assert made.short == (0,) * len(wants)
    assert area <= made.bound <= made.sawn + 1e-3
    assert made.sawn <= 1.25 * area
    assert made.gap < 1e-4


def test_nothing_wanted_or_nothing_there_is_no_plan() -> None:
    assert plan([], [Want(500, 40, 20, 2)], RULES).short == (2,)
    assert plan([Board(1, 2000, 100, 22)], [], RULES).cuts == ()
    with pytest.raises(ValueError, match="positive"):
        plan([Board(1, 0, 100, 22)], [], RULES)
