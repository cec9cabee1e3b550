"""The blank as it was built so far: how thick it was at each moment, and what turning and finish will still do."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.models import Blank, BlankStep, StepKind, StepState, StockItem, StockKind
from webapp.shop.bench import cuts
from webapp.shop.blanks.state import COUNTS_AS_PASSED, counted, records_of, steps_of

TURNED: Final = "turned"
THINNEST: Final = 0.5
"""mm of wall below which a gauged outside is not believed."""


@dataclass(frozen=True, slots=True)
class Built:
    """`design` as the pattern has it; `square` before turning and `turned` after it; `turned_at` None: not yet.
    `side` is the width of the square [mm], None where nothing is to be turned or nobody knows."""

    design: Instrument
    square: Instrument
    turned: Instrument
    turned_at: datetime | None
    side: float | None
    steps: tuple[BlankStep, ...]

    @property
    def now(self) -> Instrument:
        return self.square if self.turned_at is None else self.turned

    def at(self, moment: datetime) -> Instrument:
        """As it was then."""
        return self.turned if self.turned_at is not None and moment >= self.turned_at else self.square

    @property
    def wall_to_come(self) -> float:
        """mm that still come off outside."""
        return max(0.0, self.now.body.wall - self.design.body.wall) if self.turned_at is None else 0.0

    @property
    def coats_to_come(self) -> bool:
        """Whether sealing or coats are still open: finish in bore and holes moves the pitch a little."""
        return any(step.kind is StepKind.COAT and step.state is not StepState.PASSED for step in self.steps)

    @property
    def open_steps(self) -> tuple[str, ...]:
        """The names of what is still to be done that moves the pitch."""
        return tuple(
            step.name
            for step in self.steps
            if step.state is not StepState.PASSED and (step.code in (TURNED, "sanded") or step.kind is StepKind.COAT)
        )


def of(session: Session, blank: Blank) -> Built:
    """From the blank's own routing, its records and its wood; where a size was never measured, the pattern's."""
    assert blank.id is not None
    design = cuts.designed(session, blank)
    steps = tuple(steps_of(session, blank.id))
    turning = next((step for step in steps if step.code == TURNED), None)
    if turning is None:
        # This shop's routing does not turn: the blank has its outside from the start.
        return Built(design, design, design, blank.opened_at, None, steps)
    passed = [
        record
        for record in counted(records_of(session, blank.id))
        if record.step_id == turning.id and record.outcome in COUNTS_AS_PASSED
    ]
    last = passed[-1] if passed and turning.state is StepState.PASSED else None
    measured = last.value if last is not None else None
    side = _square(session, blank)
    if side is not None and _wall(design, side) <= design.body.wall:
        side = None
    return Built(
        design,
        design if side is None else _with_outside(design, side),
        design if measured is None else _with_outside(design, measured),
        last.at if last is not None else None,
        side,
        steps,
    )


def _square(session: Session, blank: Blank) -> float | None:
    """Outside of two halves glued together [mm], from the lot they came from."""
    item = session.get(StockItem, blank.item_id) if blank.item_id else None
    if item is None or item.kind is not StockKind.HALVES or item.thickness is None:
        return None
    return 2 * item.thickness


def _with_outside(design: Instrument, outside: float) -> Instrument:
    wall = _wall(design, outside)
    if wall < THINNEST:
        return design
    more = wall - design.body.wall
    holes = [
        tuple(hole if hole.wall is None else replace(hole, wall=max(THINNEST, hole.wall + more)) for hole in group)
        for group in (design.holes, design.foot_holes)
    ]
    return replace(design, body=replace(design.body, wall=wall), holes=holes[0], foot_holes=holes[1])


def _wall(design: Instrument, outside: float) -> float:
    return (outside - _widest(design)) / 2


def _widest(design: Instrument) -> float:
    return max(diameter for _, diameter in design.bore)
