"""Which boards to cut into which pieces with the least waste: an integer program, solved by HiGHS through scipy.

How a small shop saws, and so what the program allows (guillotine cuts in this order):

1. a length is crosscut from the board's marked end; the rest, where it is worth keeping, goes back on the rack;
2. both ends and both edges of what is sawn up lose a strip (checks, snipe, a straight edge);
3. it is ripped into strips, each as wide as one of the wanted sizes;
4. each strip is crosscut into blocks between the flaws that lie in it;
5. each block is resawn into as many pieces as its thickness gives.

Every cut costs its kerf. A narrower piece may lie in a wider strip; pieces are never turned, since that would turn
the grain. Along a strip every combination of lengths is one column; across a board with flaws that do not reach
from edge to edge, strips start at the edge, after another strip or after a flaw, which loses nothing (a strip that
starts elsewhere can be moved towards the edge until it meets one of these).

Two programs are solved one after the other: first the fewest pieces short (those for orders weigh most), then, with no
more short than that, the least wood sawn up. `bound` is what HiGHS proved that no plan can do better than.
"""

import time
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from webapp.shop.wood.plans.filling import Group, Way, crosscuts, grouped, is_partial, places
from webapp.shop.wood.plans.problem import EPS, Block, Board, BoardCut, Plan, Rules, Strip, Want, layers
from webapp.shop.wood.plans.program import Program


def plan(
    boards: Sequence[Board],
    wants: Sequence[Want],
    rules: Rules,
    seconds: float = 20.0,
    progress: Callable[[str], None] = lambda _: None,
) -> Plan:
    """The least wood sawn up that gives what is wanted, or as much of it as the boards can give.

    Takes about `seconds`, less where the best is proven before. Raises ValueError for a size that is not positive.
    """
    sizes = [(b.length, b.width, b.thickness) for b in boards] + [(w.length, w.width, w.thickness) for w in wants]
    if any(size <= 0 for three in sizes for size in three):
        raise ValueError("boards and wants: every size must be positive")
    progress("Finding the ways to fill each board")
    writer = _Writer(boards, wants, rules)
    if not writer.lengths:
        short = tuple(want.count for want in wants)
        return Plan((), short, 0.0, 0.0, 0.0, True)
    started = time.monotonic()
    progress("Finding whether the boards give all that is wanted")
    weights = {column: want.weight for column, want in zip(writer.short, wants, strict=True)}
    first = writer.program.solve(weights, seconds / 3)
    if first.x is None:
        raise RuntimeError(f"no plan was found within {seconds:g} s")
    best = sum(weights[column] * round(first.x[column]) for column in writer.short)
    proven = bool(first.mip_dual_bound is not None and first.mip_dual_bound >= best - 1e-3)
    writer.program.row(dict(weights), high=best + 1e-6)
    progress("Finding the least waste")
    second = writer.program.solve(writer.wood, seconds - (time.monotonic() - started))
    chosen = second.x if second.x is not None else first.x
    bound = float(second.mip_dual_bound) if second.mip_dual_bound is not None else 0.0
    return writer.read(chosen, bound if np.isfinite(bound) else 0.0, proven)


class _Writer:
    """Writes the program for some boards and wants, and reads a plan from its solution. Volumes in dm3 inside."""

    def __init__(self, boards: Sequence[Board], wants: Sequence[Want], rules: Rules) -> None:
        self.boards, self.wants, self.rules = boards, wants, rules
        self.program = Program()
        self.wood: dict[int, float] = {}
        self.lengths: dict[int, list[tuple[float, int]]] = {}
        self.groups: dict[int, list[Group]] = {}
        self.given: list[dict[int, float]] = [{} for _ in wants]
        self.short = [self.program.add(("short", i), want.count) for i, want in enumerate(wants)]
        for index, board in enumerate(boards):
            self._board(index, board)
        for column, want, given in zip(self.short, wants, self.given, strict=True):
            self.program.row({**given, column: 1.0}, low=want.count)

    def _board(self, index: int, board: Board) -> None:
        rules = self.rules
        room = board.width - 2 * rules.edges
        fits = {
            i: many
            for i, want in enumerate(self.wants)
            if want.width <= room + EPS and (many := layers(board.thickness, want.thickness, rules.resaw_kerf))
        }
        widths = sorted({self.wants[i].width for i in fits})
        groups = [group for group in grouped(board, self.wants, rules, widths, fits) if group.ways]
        if not groups:
            return
        ends = sorted({way.end for group in groups for ways in group.ways for way in ways})
        cuts = crosscuts(board, rules, ends)
        volume = board.width * board.thickness / 1e6
        columns: list[int] = []
        for at, before in zip(cuts, [0.0, *cuts], strict=False):
            column = self.program.add(("sawn", index, at), 1)
            self.wood[column] = (at - before) * volume
            if columns:
                self.program.row({columns[-1]: 1.0, column: -1.0}, low=0.0)
            columns.append(column)
        self.lengths[index] = list(zip(cuts, columns, strict=True))
        self._across(index, board, groups, widths)
        self.groups[index] = groups
        for group in groups:
            for span, ways in enumerate(group.ways):
                self._along(index, group, span, ways)
        self._area(index, board, groups)

    def _area(self, index: int, board: Board, groups: list[Group]) -> None:
        """What the blocks cover, kerfs included, fits into what is sawn off. It follows from the other rows for whole
        numbers; stated, it gives the solver a far better bound."""
        rules = self.rules
        across = board.width - 2 * rules.edges + rules.kerf
        terms: dict[int, float] = {}
        before = 0.0
        for at, column in self.lengths[index]:
            reach = max(0.0, min(at, board.length - rules.ends + rules.kerf) - rules.ends)
            terms[column] = -(reach - before) * across / 1e4
            before = reach
        for group in groups:
            for columns in group.columns.values():
                for column, way in columns:
                    terms[column] = (way.end - way.start) * (group.width + rules.kerf) / 1e4
        self.program.row(terms, high=1e-6)

    def _across(self, index: int, board: Board, groups: list[Group], widths: list[float]) -> None:
        """How many strips of each kind lie side by side."""
        room, kerf = board.width - 2 * self.rules.edges + self.rules.kerf + EPS, self.rules.kerf
        for group in groups:
            group.most = int(room // (group.width + kerf))
            group.column = self.program.add(("strips", index, group.width), group.most)
        self.program.row({g.column: g.width + kerf for g in groups}, high=room)
        if not is_partial(board):
            return
        # A path from edge to edge: at each place one may lay a strip or go on to the next place.
        edges = [*places(board, self.rules, widths), board.width]
        flow: dict[float, dict[int, float]] = {place: {} for place in edges}
        for here, there in pairwise(edges):
            column = self.program.add(("skip", index), 1)
            flow[here][column], flow[there][column] = 1.0, -1.0
        for group in groups:
            group.laid = {}
            for y in group.places:
                column = self.program.add(("strip", index, y), 1)
                group.laid[y] = column
                flow[round(y, 6)][column] = 1.0
                after = round(y + group.width + kerf, 6)
                flow[after if after in flow else board.width][column] = -1.0
            self.program.row({**dict.fromkeys(group.laid.values(), 1.0), group.column: -1.0}, low=0.0, high=0.0)
        for place in edges[:-1]:
            start = 1.0 if place == edges[0] else 0.0
            self.program.row(flow[place], low=start, high=start)

    def _along(self, index: int, group: Group, span: int, ways: list[Way]) -> None:
        """Each strip's stretch is filled in at most one way, and none reaches beyond what is sawn off."""
        board = self.boards[index]
        each: dict[int, float] = {group.column: -1.0}
        by_cut: dict[int, dict[int, float]] = {}
        for way in ways:
            column = self.program.add(("way", index), group.most)
            group.columns.setdefault(span, []).append((column, way))
            each[column] = 1.0
            cut = next(column for at, column in self.lengths[index] if way.end <= at + EPS)
            by_cut.setdefault(cut, {})[column] = 1.0
            for i, n in way.taken:
                many = layers(board.thickness, self.wants[i].thickness, self.rules.resaw_kerf)
                self.given[i][column] = float(n * many)
        self.program.row(each, high=0.0)
        for cut, terms in by_cut.items():
            self.program.row({**terms, cut: -float(group.most)}, high=0.0)

    def read(self, x: Any, bound: float, proven: bool) -> Plan:
        """The plan that a solution describes; pieces that nobody wants are left out."""
        left = [want.count for want in self.wants]
        cuts = []
        for index, groups in self.groups.items():
            strips, y = [], self.rules.edges
            for group in groups:
                for n, blocks in enumerate(self._strips(x, index, group)):
                    kept = tuple(self._wanted(blocks, left))
                    if kept:
                        strips.append(Strip(group.place(x, n, y), group.width, kept))
                        y += group.width + self.rules.kerf
            if strips:
                reached = max(b.x + self.wants[b.want].length for s in strips for b in s.blocks) + self.rules.kerf
                sawn = next(at for at, _ in self.lengths[index] if reached <= at + 2 * EPS)
                cuts.append(BoardCut(self.boards[index], sawn, tuple(sorted(strips, key=lambda s: s.y))))
        sawn_up = sum(cut.sawn * cut.board.width * cut.board.thickness for cut in cuts)
        pieces = sum(self.wants[b.want].volume * b.pieces for cut in cuts for strip in cut.strips for b in strip.blocks)
        short = tuple(max(0, n) for n in left)
        return Plan(tuple(cuts), short, sawn_up, pieces, min(bound * 1e6, sawn_up), proven)

    def _strips(self, x: Any, index: int, group: Group) -> list[list[Block]]:
        board = self.boards[index]
        strips: list[list[Block]] = [[] for _ in range(round(x[group.column]))]
        for columns in group.columns.values():
            ways = [way for column, way in columns for _ in range(round(x[column]))]
            for strip, way in zip(strips, ways, strict=False):
                at = way.start
                for i, n in way.taken:
                    many = layers(board.thickness, self.wants[i].thickness, self.rules.resaw_kerf)
                    for _ in range(n):
                        strip.append(Block(at, i, many))
                        at += self.wants[i].length + self.rules.kerf
        return strips

    @staticmethod
    def _wanted(blocks: list[Block], left: list[int]) -> Iterator[Block]:
        for block in sorted(blocks, key=lambda block: block.x):
            if left[block.want] > 0:
                left[block.want] -= block.pieces
                yield block
