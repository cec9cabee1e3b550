"""How a board may be filled: where its strips may lie, how each stretch between flaws may be cut into blocks.

Strips of one width with the same clear stretches are alike, so that the program counts them instead of naming each.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from webapp.shop.wood.plans.problem import EPS, Board, Rules, Want, clear_spans

MOST_COLUMNS = 1500  # ways to fill one stretch; beyond, only those that leave no room for a further piece
MOST_LENGTHS = 60  # lengths at which a board may be crosscut; beyond, they are rounded up to STEP
STEP = 5.0  # mm


@dataclass(frozen=True, slots=True)
class Way:
    """One way to fill a stretch: which wants how often, and where its last kerf ends."""

    start: float
    taken: tuple[tuple[int, int], ...]
    end: float


@dataclass(slots=True)
class Group:
    """Strips that are alike: their width, where they may lie, how each of their stretches may be filled."""

    width: float
    places: list[float]
    ways: list[list[Way]]
    most: int = 0
    column: int = -1
    laid: dict[float, int] | None = None
    columns: dict[int, list[tuple[int, Way]]] = field(default_factory=dict)

    def place(self, x: Any, n: int, otherwise: float) -> float:
        """Where the n-th strip lies: as the solution says, or beside the one before."""
        if self.laid is None:
            return otherwise
        return [y for y, column in sorted(self.laid.items()) if round(x[column])][n]


def grouped(
    board: Board, wants: Sequence[Want], rules: Rules, widths: list[float], fits: dict[int, int]
) -> Iterator[Group]:
    """Strips of one width and with the same clear stretches are alike."""
    alike: dict[tuple[float, tuple[tuple[float, float], ...]], list[float]] = {}
    for width in widths:
        for y in places(board, rules, widths) if is_partial(board) else [rules.edges]:
            if y + width <= board.width - rules.edges + EPS:
                alike.setdefault((width, clear_spans(board, rules, y, width)), []).append(y)
    for (width, spans), ys in alike.items():
        inside = {i: many for i, many in fits.items() if wants[i].width <= width + EPS}
        ways = [list(_ways(span, wants, rules, inside)) for span in spans]
        if any(ways):
            yield Group(width, ys, ways)


def is_partial(board: Board) -> bool:
    """Whether the board has flaws that do not reach from edge to edge."""
    return any(flaw.near is not None for flaw in board.flaws)


def places(board: Board, rules: Rules, widths: list[float]) -> list[float]:
    """Where a strip may start across a board with flaws that do not reach from edge to edge."""
    last = board.width - rules.edges
    found: set[float] = set()
    waiting = [rules.edges, *(flaw.far for flaw in board.flaws if flaw.far is not None)]
    while waiting:
        y = round(waiting.pop(), 6)
        if y in found or y < rules.edges or y > last:
            continue
        found.add(y)
        waiting += [y + width + rules.kerf for width in widths]
    return sorted(found)


def _ways(span: tuple[float, float], wants: Sequence[Want], rules: Rules, inside: dict[int, int]) -> Iterator[Way]:
    """Every combination of blocks that fits a stretch, each no oftener than is wanted."""
    kerf, room = rules.kerf, span[1] - span[0] + rules.kerf + EPS
    sizes = sorted(inside, key=lambda i: -wants[i].length)
    found: list[tuple[tuple[int, ...], float]] = []

    def fill(at: int, counts: tuple[int, ...], used: float) -> None:
        if at == len(sizes):
            if any(counts):
                found.append((counts, used))
            return
        want = wants[sizes[at]]
        each = want.length + kerf
        most = min(int((room - used) // each), -(-want.count // inside[sizes[at]]))
        for n in range(most + 1):
            fill(at + 1, (*counts, n), used + n * each)

    fill(0, (), 0.0)
    if len(found) > MOST_COLUMNS:
        shortest = min(wants[i].length for i in sizes) + kerf
        found = [one for one in found if room - one[1] < shortest][:MOST_COLUMNS]
    for counts, used in found:
        taken = tuple((i, n) for i, n in zip(sizes, counts, strict=True) if n)
        yield Way(span[0], taken, span[0] + used)


def crosscuts(board: Board, rules: Rules, ends: list[float]) -> list[float]:
    """The lengths at which the board may be crosscut; where too little would be left, all of it is sawn up."""
    longest = board.length - rules.shortest_rest
    cuts = {end for end in ends if end <= longest + EPS}
    if len(cuts) > MOST_LENGTHS:
        cuts = {min(longest, -(-end // STEP) * STEP) for end in cuts}
    if any(end > longest + EPS for end in ends):
        cuts.add(board.length)
    return sorted(cuts)
