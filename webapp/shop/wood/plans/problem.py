"""What a cutting plan is calculated from, and the plan: boards with flaws, wants, rules; cuts, strips, blocks [mm]."""

from dataclasses import dataclass

EPS = 1e-6


@dataclass(frozen=True, slots=True)
class Flaw:
    """From `start` to `end` along the board; between the edges, or right across where they are None [mm]."""

    start: float
    end: float
    near: float | None = None
    far: float | None = None


@dataclass(frozen=True, slots=True)
class Board:
    """A board to cut from [mm]; `key` is the caller's name for it."""

    key: int
    length: float
    width: float
    thickness: float
    flaws: tuple[Flaw, ...] = ()

    @property
    def volume(self) -> float:
        return self.length * self.width * self.thickness


@dataclass(frozen=True, slots=True)
class Want:
    """So many pieces of a size [mm], allowances included; one short weighs `weight`."""

    length: float
    width: float
    thickness: float
    count: int
    weight: float = 1.0

    @property
    def volume(self) -> float:
        return self.length * self.width * self.thickness


@dataclass(frozen=True, slots=True)
class Rules:
    """What sawing takes [mm]."""

    kerf: float
    resaw_kerf: float
    ends: float
    edges: float
    shortest_rest: float


@dataclass(frozen=True, slots=True)
class Block:
    """A block in a strip: where it begins along the board, which want it is, how many pieces it is resawn into."""

    x: float
    want: int
    pieces: int


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip: where it lies across the board [mm], how wide it is, its blocks."""

    y: float
    width: float
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class BoardCut:
    """How one board is cut: the length that is sawn up from its marked end, its strips."""

    board: Board
    sawn: float
    strips: tuple[Strip, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to cut. Volumes in mm3; `bound` is the least that could be sawn up, `gap` what may be lost to it (0..1)."""

    cuts: tuple[BoardCut, ...]
    short: tuple[int, ...]
    sawn: float
    pieces: float
    bound: float
    fewest_short_proven: bool

    @property
    def gap(self) -> float:
        return max(0.0, 1 - self.bound / self.sawn) if self.sawn > 0 else 0.0


def layers(thickness: float, piece: float, kerf: float) -> int:
    """How many pieces of a thickness a board gives by resawing [mm]."""
    return int((thickness + kerf + EPS) // (piece + kerf))


def clear_spans(board: Board, rules: Rules, y: float, width: float) -> tuple[tuple[float, float], ...]:
    """The stretches along the board in which a strip from `y` to `y + width` has no flaw [mm]."""
    at, last = rules.ends, board.length - rules.ends
    found = []
    for flaw in sorted(board.flaws, key=lambda flaw: flaw.start):
        near, far = (0.0, board.width) if flaw.near is None or flaw.far is None else (flaw.near, flaw.far)
        if far <= y + EPS or near >= y + width - EPS:
            continue
        if flaw.start > at:
            found.append((at, min(flaw.start, last)))
        at = max(at, flaw.end)
    if last > at:
        found.append((at, last))
    return tuple(found)
