"""The blank as it was built so far: how thick it was at each moment, and what turning and finish will still do."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.models import Blank, BlankStep, StepKind, StepState, StockItem, StockKind
from webapp.shop.bench import cuts, gauged
from webapp.shop.bench.gauged import with_outside
from webapp.shop.blanks.state import COUNTS_AS_PASSED, counted, records_of, steps_of

TURNED: Final = "turned"


@dataclass(frozen=True, slots=True)
class Built:
    """`design` as the pattern has it, with bore and head as they were gauged (`gauged` names what was); `square` before
    turning and `turned` after it; `turned_at` None: not yet. `side` is the width of the square [mm], None where nothing
    is to be turned or nobody knows."""

    design: Instrument
    square: Instrument
    turned: Instrument
    turned_at: datetime | None
    side: float | None
    steps: tuple[BlankStep, ...]
    gauged: tuple[str, ...] = ()

    @property
    def now(self) -> Instrument:
        return self.square if self.turned_at is None else self.turned

    def at(self, moment: datetime) -> Instrument:
        """As it was then."""
        return self.turned if self.turned_at is not None and moment >= self.turned_at else self.square

    @property
    def wall_to_come(self) -> float:
        """mm that still come off outside."""
        done = any(step.code == TURNED and step.state is StepState.PASSED for step in self.steps)
        return 0.0 if done else max(0.0, self.now.body.wall - self.design.body.wall)

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
    steps = tuple(steps_of(session, blank.id))
    records = records_of(session, blank.id)
    design, names = gauged.as_gauged(cuts.designed(session, blank), gauged.last_values(steps, records))
    turning = next((step for step in steps if step.code == TURNED), None)
    if turning is None:
        # This shop's routing does not turn: the blank has its outside from the start.
        return Built(design, design, design, blank.opened_at, None, steps, names)
    # An outside that did not pass is what it was measured at all the same.
    made = [
        record
        for record in counted(records)
        if record.step_id == turning.id and (record.outcome in COUNTS_AS_PASSED or record.value is not None)
    ]
    last = made[-1] if made else None
    measured = last.value if last is not None else None
    side = _square(session, blank)
    if side is not None and _wall(design, side) <= design.body.wall:
        side = None
    return Built(
        design,
        design if side is None else with_outside(design, side),
        design if measured is None else with_outside(design, measured),
        last.at if last is not None else None,
        side,
        steps,
        names,
    )


def _square(session: Session, blank: Blank) -> float | None:
    """Outside of two halves glued together [mm], from the lot they came from."""
    item = session.get(StockItem, blank.item_id) if blank.item_id else None
    if item is None or item.kind is not StockKind.HALVES or item.thickness is None:
        return None
    return 2 * item.thickness


def _wall(design: Instrument, outside: float) -> float:
    return (outside - _widest(design)) / 2


def _widest(design: Instrument) -> float:
    return max(diameter for _, diameter in design.bore)
