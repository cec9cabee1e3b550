"""What a flute really cost: its share of the board with waste; glue, finish, cord; hands-on time at the shop's rates;
overhead on these, and what its options cost. The one function for it is `cost_of_blank`: whatever shows it asks that.

What is on record counts as it is. Where nothing is on record yet, what one flute usually takes stands in for it, and
the line says so. Waiting (clamps, cure, coats) costs no hands-on time.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from acoustics.flute.instrument import Instrument
from webapp.models import (
    Blank,
    BlankMinutes,
    BlankStatus,
    ChosenOption,
    Order,
    OrderedFlute,
    Reservation,
    Role,
    SawnLot,
    Stage,
    StockItem,
    StockKind,
    StockMovement,
)
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import lock
from webapp.shop.orders.price_customs import Customs, customs
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.workshop import minutes, supplies, workshop
from webapp.shop.stock import rules as stock
from webapp.shop.stock.halves import PER_BLANK, needed
from webapp.shop.stock.lists import shelf
from webapp.shop.wood.plans.purchases import sawing_yield

CENT = Decimal("0.01")
STAGES = tuple(Stage)


class MinutesWere(BaseModel):
    """What a blank really took at a stage, and why it was another time than usual."""

    stage: Stage
    minutes: Annotated[int, Field(ge=0, le=10_000)]
    why: Annotated[str, StringConstraints(max_length=300)] = ""


@dataclass(frozen=True, slots=True)
class CostLine:
    """One thing that went into a flute; `usual` where it is not on record yet but what one flute usually takes."""

    what: str
    kind: str
    quantity: float
    unit: str
    amount: Decimal
    usual: bool
    item_id: int | None = None


@dataclass(frozen=True, slots=True)
class TimeLine:
    """Hands-on time at a stage; `own` where this blank has a time of its own, `done` once the stage lies behind it."""

    stage: Stage
    minutes: int
    amount: Decimal
    own: bool
    done: bool
    why: str


@dataclass(frozen=True, slots=True)
class BlankCost:
    """What one blank costs. `so_far` counts what is on record and the stages behind it, `total` all of it."""

    serial: str
    materials: tuple[CostLine, ...]
    time: tuple[TimeLine, ...]
    overhead: Decimal = Decimal(0)
    options: Decimal = Decimal(0)

    @property
    def material(self) -> Decimal:
        return sum((line.amount for line in self.materials), Decimal(0))

    @property
    def work(self) -> Decimal:
        return sum((line.amount for line in self.time), Decimal(0))

    @property
    def minutes(self) -> int:
        return sum(line.minutes for line in self.time)

    @property
    def total(self) -> Decimal:
        return self.material + self.work + self.overhead + self.options

    @property
    def so_far(self) -> Decimal:
        materials = sum((line.amount for line in self.materials if not line.usual), Decimal(0))
        return materials + sum((line.amount for line in self.time if line.done), Decimal(0))


def may_see(who: Who) -> bool:
    """Whether costs in money are shown to this person."""
    return amounts.sees(who.role, "blank.cost")


def cost_of_blank(session: Session, blank_id: int) -> BlankCost:
    """What a blank costs, whoever asks: the caller sees to `may_see`. Raises NotFound."""
    blank = find(session, Blank, blank_id, "blank")
    materials, time = tuple(_materials(session, blank)), tuple(_time(session, blank))
    custom = customs(session)
    plain = BlankCost(blank.serial, materials, time)
    overhead = (plain.total * custom.pricing.overhead_percent / 100).quantize(CENT)
    return BlankCost(blank.serial, materials, time, overhead, _options(session, custom, blank))


def cost_of_order(session: Session, order: Order) -> list[BlankCost]:
    """What each blank of an order costs, those that became firewood included."""
    flutes = select(OrderedFlute.id).where(OrderedFlute.order_id == order.id)
    ids = session.exec(select(Blank.id).where(col(Blank.ordered_flute_id).in_(flutes)).order_by(col(Blank.id))).all()
    return [cost_of_blank(session, blank_id) for blank_id in ids if blank_id is not None]


def materials_of(session: Session, blank: Blank, kind: StockKind) -> list[CostLine]:
    """What was taken from the shelf for a blank, or is reserved, of one kind of stock."""
    taken = [line for line in _on_record(session, blank) if line.kind == kind]
    return taken or [line for line in _reserved(session, blank) if line.kind == kind]


def _materials(session: Session, blank: Blank) -> list[CostLine]:
    lines = _on_record(session, blank) + _reserved(session, blank)
    on_record = {line.kind for line in lines}
    for item, quantity in supplies(session):
        if item.kind.value not in on_record:
            lines.append(_line(item, quantity, item.unit_cost * Decimal(str(quantity)), True))
    order = [kind.value for kind in StockKind]
    return sorted(lines, key=lambda line: order.index(line.kind))


def _on_record(session: Session, blank: Blank) -> list[CostLine]:
    rows = session.exec(
        select(StockItem, StockMovement)
        .join(StockMovement, col(StockMovement.item_id) == StockItem.id)
        .where(StockMovement.blank_id == blank.id)
        .order_by(StockItem.kind, col(StockItem.id))
    )
    taken: dict[int | None, tuple[StockItem, float, Decimal]] = {}
    for item, moved in rows:
        each = _each(session, item, moved.unit_cost)
        _, before, amount = taken.get(item.id, (item, 0.0, Decimal(0)))
        taken[item.id] = (item, before - moved.quantity, amount - each * Decimal(str(moved.quantity)))
    return [_line(item, quantity, amount, False) for item, quantity, amount in taken.values() if quantity]


def _reserved(session: Session, blank: Blank) -> list[CostLine]:
    rows = session.exec(
        select(StockItem, Reservation.quantity)
        .join(Reservation, col(Reservation.item_id) == StockItem.id)
        .where(Reservation.blank_id == blank.id, col(Reservation.ended_at).is_(None))
    )
    return [_line(item, quantity, _each(session, item, None) * Decimal(str(quantity)), True) for item, quantity in rows]


def _each(session: Session, item: StockItem, unit_cost: Decimal | None) -> Decimal:
    """What one of a lot cost: its exact share of its board, else what it cost on the day, else what it costs now."""
    if sawn := session.exec(select(SawnLot).where(SawnLot.item_id == item.id)).first():
        return sawn.cost / sawn.count
    return item.unit_cost if unit_cost is None else unit_cost


def _line(item: StockItem, quantity: float, amount: Decimal, usual: bool) -> CostLine:
    return CostLine(
        item.name, item.kind.value, round(quantity, 6), item.unit, amount.quantize(CENT), usual, item_id=item.id
    )


def _options(session: Session, custom: Customs, blank: Blank) -> Decimal:
    """What the options of the flute that this blank is made for cost the shop."""
    chosen = select(ChosenOption).where(ChosenOption.ordered_flute_id == blank.ordered_flute_id)
    found = session.exec(chosen).all() if blank.ordered_flute_id and blank.status is not BlankStatus.FIREWOOD else []
    return sum((option_cost(custom, one) for one in found), Decimal(0)).quantize(CENT)


def option_cost(custom: Customs, option: ChosenOption) -> Decimal:
    """Its materials, and its minutes at what an hour costs on average."""
    return option.materials + custom.an_hour * option.minutes / 60


def _time(session: Session, blank: Blank) -> list[TimeLine]:
    own = {
        row.stage: row
        for row in session.exec(
            select(BlankMinutes).where(BlankMinutes.blank_id == blank.id).order_by(col(BlankMinutes.id))
        )
    }
    custom = customs(session)
    hourly = {rate.stage: rate.hourly for rate in custom.rates} if custom.is_set else {}
    rate = workshop(session).hourly_rate
    reached = STAGES.index(blank.stage)
    over = blank.status in (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)
    lines = []
    for stage, usual in minutes(session).items():
        row = own.get(stage)
        done = over or row is not None or STAGES.index(stage) < reached
        if blank.status is BlankStatus.FIREWOOD and not done and STAGES.index(stage) > reached:
            continue  # what was never started cost nothing
        took = row.minutes if row else usual
        amount = (hourly.get(stage, rate) * Decimal(took) / 60).quantize(CENT)
        lines.append(TimeLine(stage, took, amount, row is not None, done, row.why if row else ""))
    return lines


def set_minutes(session: Session, who: Who, blank_id: int, asked: MinutesWere) -> BlankMinutes:
    """This blank took another time at a stage than usual. Raises NotAllowed, NotFound."""
    who.must(Role.MAKER, Role.OFFICE)
    find(session, Blank, blank_id, "blank")
    made = BlankMinutes(blank_id=blank_id, stage=asked.stage, minutes=asked.minutes, why=asked.why, by=who.id)
    session.add(made)
    diary.write(session, who, "blank", blank_id, f"{asked.minutes} minutes at {asked.stage}", asked.why)
    session.flush()
    return made


def take_supplies(session: Session, who: Who, blank_id: int) -> int:
    """Take from stock what one flute usually takes, of each kind that is not on record yet; how many lots moved.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    blank = lock(session, blank_id)
    if blank.status is BlankStatus.FIREWOOD:
        raise Refused(f"{blank.serial} is firewood: nothing more can be used for it.")
    due = [line for line in _materials(session, blank) if line.usual and line.kind != StockKind.HALVES]
    if not due:
        raise Refused("What one flute usually takes is on record for this blank already.")
    for line in due:
        assert line.item_id is not None
        stock.use(session, who, line.item_id, line.quantity, blank_id, "what one flute usually takes")
    session.flush()
    return len(due)


@dataclass(frozen=True, slots=True)
class WoodPrice:
    """What two halves cost: at the mean of so many pieces that lie there, or sawn from the boards there."""

    amount: Decimal
    pieces: float = 0.0
    from_boards: bool = False


def wood_price(session: Session, species_id: int, instrument: Instrument | None) -> WoodPrice | None:
    """What two halves of a wood cost by what lies on the shelf; None where no price is known."""
    halves = [
        lot for lot in shelf(session, StockKind.HALVES, species_id=species_id) if lot.there > 0 and lot.item.unit_cost
    ]
    if halves:
        total = sum((lot.item.unit_cost * Decimal(str(lot.there)) for lot in halves), Decimal(0))
        count = sum(lot.there for lot in halves)
        return WoodPrice(PER_BLANK * total / Decimal(str(count)), count)
    boards = [
        (lot.item.unit_cost, lot.item.length * lot.item.width * lot.item.thickness)
        for lot in shelf(session, StockKind.BOARD, species_id=species_id)
        if lot.item.unit_cost and lot.item.length and lot.item.width and lot.item.thickness
    ]
    if not boards or instrument is None:
        return None
    size = needed(instrument, workshop(session))
    volume = PER_BLANK * size.length * size.width * size.thickness / sawing_yield(session)
    per_volume = sum((cost for cost, _ in boards), Decimal(0)) / Decimal(sum(volume for _, volume in boards))
    return WoodPrice(per_volume * Decimal(volume), from_boards=True)
