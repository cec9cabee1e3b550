"""A calculated plan as screens show it: woods, lettered boards, numbered pieces, what is short and what is waste."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from sqlmodel import Session

from webapp.models import CuttingPlan, Species
from webapp.shop.base.finding import find
from webapp.shop.wood import boards as boards_of_wood
from webapp.shop.wood.plans.rules import sawn_of


@dataclass(frozen=True, slots=True)
class Size:
    """One size of piece in a plan: its number stands on every such piece."""

    number: int
    length: float
    width: float
    thickness: float
    wanted: int
    short: int
    why: str


@dataclass(frozen=True, slots=True)
class Block:
    """A block of a strip: where it begins and ends from the marked end [mm], and what is written on it."""

    start: float
    end: float
    label: str


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip as it is ripped, from the straightened edge on."""

    width: float
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class ShownBoard:
    """One board of a plan. `marks` and `pieces` are (x, y, ...) as drawings take them."""

    number: int
    letter: str
    item_id: int
    name: str
    place: str
    length: float
    width: float
    thickness: float
    sawn: float
    marks: tuple[tuple[float, float, float, float], ...]
    pieces: tuple[tuple[float, float, float, float, str], ...]
    rips: tuple[float, ...]
    counts: tuple[tuple[int, int], ...]  # number of the size, how many pieces
    resawn: bool
    done: bool
    strips: tuple[Strip, ...]

    @property
    def running(self) -> tuple[float, ...]:
        """Where something is cut, from the marked end."""
        ends = {round(end, 3) for strip in self.strips for block in strip.blocks for end in (block.start, block.end)}
        return tuple(sorted(ends | {round(self.sawn, 3)}))

    def steps(self, rules: dict[str, float], measure: Callable[[float], str]) -> list[str]:
        """What to do at the saw, in its order."""
        kerf = measure(rules["kerf"])
        trim = f"Trim {measure(rules['ends'])} off the marked end. " if rules["ends"] else ""
        rest = self.length - self.sawn
        found = [
            f"{trim}Crosscut at {measure(self.sawn)} from the marked end; {measure(rest)} goes back."
            if rest > 0.5
            else f"{trim}All of its length is used; {measure(rules['ends'])} is trimmed off the far end."
        ]
        if rules["edges"]:
            found.append(f"Straighten one edge: {measure(rules['edges'])} off.")
        groups = [(measure(width), len(list(some))) for width, some in groupby(self.strips, key=lambda s: s.width)]
        widths = ", then ".join(f"{count} of {width}" for width, count in groups)
        found.append(f"Rip from that edge, in this order: {widths}. Each cut takes {kerf}.")
        first = 1
        for ends, some in groupby(self.strips, key=lambda strip: strip.blocks):
            count = len(list(some))
            which = f"Strip {first}" if count == 1 else f"Strips {first} to {first + count - 1}"
            first += count
            cuts = ", ".join(f"{measure(b.start)} to {measure(b.end)} (piece {b.label})" for b in ends)
            found.append(f"{which}: crosscut from the marked end {cuts}.")
        if self.resawn:
            found.append("Resaw the blocks that are marked with a ×.")
        return found


@dataclass(frozen=True, slots=True)
class ShownWood:
    """One wood of a plan. Volumes in mm3."""

    species: Species
    sizes: tuple[Size, ...]
    boards: tuple[ShownBoard, ...]
    sawn: float
    pieces: float
    bound: float
    gap: float
    fewest_short_proven: bool

    @property
    def short(self) -> int:
        return sum(size.short for size in self.sizes)

    @property
    def waste(self) -> float:
        return 1 - self.pieces / self.sawn if self.sawn else 0.0


@dataclass(frozen=True, slots=True)
class Shown:
    woods: tuple[ShownWood, ...]
    stale: tuple[int, ...] = ()  # lots whose flaws changed after the plan was made

    @property
    def boards(self) -> int:
        return sum(len(wood.boards) for wood in self.woods)

    @property
    def done(self) -> int:
        return sum(board.done for wood in self.woods for board in wood.boards)


def shown(session: Session, plan: CuttingPlan) -> Shown | None:
    """The plan to show; none before it is calculated."""
    if plan.result is None:
        return None
    assert plan.id is not None
    done = sawn_of(session, plan.id)
    woods, first, letters = [], 1, 0
    for part in plan.result["woods"]:
        sizes = []
        for n, want in enumerate(part["wants"], start=first):
            size = Size(n, want["length"], want["width"], want["thickness"], want["count"], want["short"], want["why"])
            sizes.append(size)
        boards = []
        for cut in part["cuts"]:
            boards.append(_board(plan, cut, first, letters, part["wants"], cut["board"] in done))
            letters += 1
        first += len(sizes)
        species = find(session, Species, part["wood"], "wood")
        woods.append(
            ShownWood(
                species,
                tuple(sizes),
                tuple(boards),
                part["sawn"],
                part["pieces"],
                part["bound"],
                part["gap"],
                part["fewest_short_proven"],
            )
        )
    lots = sorted({board.item_id for wood in woods for board in wood.boards if not board.done})
    changed = {flaw.item_id for flaw in boards_of_wood.changed_since(session, lots, plan.started_at)}
    return Shown(tuple(woods), tuple(lot for lot in lots if lot in changed))


def _board(
    plan: CuttingPlan, cut: dict[str, Any], first: int, letters: int, wants: list[dict[str, Any]], done: bool
) -> ShownBoard:
    board = plan.asked["boards"][cut["board"]]
    pieces, counts, resawn = [], dict[int, int](), False
    strips = []
    for strip in sorted(cut["strips"], key=lambda strip: strip["y"]):
        blocks = []
        for block in sorted(strip["blocks"], key=lambda block: block["x"]):
            want = wants[block["want"]]
            number = first + block["want"]
            many = block["pieces"]
            resawn = resawn or many > 1
            counts[number] = counts.get(number, 0) + many
            label = f"{number}" if many == 1 else f"{many} × {number}"
            pieces.append((block["x"], strip["y"], want["length"], want["width"], label))
            blocks.append(Block(block["x"], block["x"] + want["length"], label))
        strips.append(Strip(strip["width"], tuple(blocks)))
    marks = [
        (
            flaw["start"],
            flaw["end"],
            flaw["near"] if flaw["near"] is not None else 0.0,
            flaw["far"] if flaw["far"] is not None else board["width"],
        )
        for flaw in board["flaws"]
    ]
    return ShownBoard(
        cut["board"],
        letter(letters),
        board["item"],
        board["name"] + (f", board {board['copy'] + 1} of {board['of']}" if board.get("of", 1) > 1 else ""),
        board["place"],
        board["length"],
        board["width"],
        board["thickness"],
        cut["sawn"],
        tuple(marks),
        tuple(pieces),
        tuple(strip.width for strip in strips),
        tuple(sorted(counts.items())),
        resawn,
        done,
        tuple(strips),
    )


def letter(n: int) -> str:
    """A, B ... Z, AA, AB ... for the n-th board, from 0."""
    return letter(n // 26 - 1) + chr(65 + n % 26) if n >= 26 else chr(65 + n)
