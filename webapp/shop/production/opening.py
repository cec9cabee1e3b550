"""Opening blanks, and giving one up."""

from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from acoustics.notes.music import parse_note
from webapp.models import (
    Blank,
    BlankStatus,
    BlankStep,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Shop,
    Species,
    Stage,
    StepState,
    StockItem,
    StockKind,
    now,
)
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks import hands
from webapp.shop.blanks.state import latest_glue_up, lock, settle
from webapp.shop.learning.start_sizes import start_of
from webapp.shop.orders import repair_state
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.routings import rules as routings
from webapp.shop.routings.built_in import steps_for
from webapp.shop.stock import rules as stock

MOST_AT_ONCE = 50
HALVES_PER_BLANK = 2
DRAWN_CODES = ("bore", "glue-up", "flue", "window", "block", "turned")


class GiveUp(BaseModel):
    """Why a blank is given up."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


def open_blanks(
    session: Session,
    who: Who,
    flute_id: int | None,
    revision_id: int,
    species_id: int,
    item_id: int | None,
    count: int,
    hands_id: int | None = None,
) -> list[Blank]:
    """Open blanks from a pattern's revision, for a flute of an order or for the shelf; `hands_id`: who will make them.

    Each gets a serial and its own copy of the pattern's routing; each reserves two halves of `item_id`; a confirmed
    order is now in the shop. Raises NotAllowed, NotFound, Invalid, Refused.
    """
    who.must_work()
    if not 1 <= count <= MOST_AT_ONCE:
        raise Invalid({"count": f"Open between 1 and {MOST_AT_ONCE} blanks at a time."})
    revision = find(session, PatternRevision, revision_id, "revision")
    pattern = find(session, Pattern, revision.pattern_id, "pattern")
    species = find(session, Species, species_id, "wood")
    hands.check(session, hands_id)
    order = _for_order(session, flute_id, pattern, revision_id)
    if item_id is not None:
        _check_halves(session, item_id, species)
    instrument = instrument_of(revision)
    start = start_of(session, pattern, revision)
    sizes = start.sizes if start else None
    first = [hole.first for hole in sizes.holes] if sizes else None
    version = routings.to_open_from(session, pattern)
    plan = routings.steps_in(version)
    opened = []
    for serial in _serials(session, count):
        blank = Blank(
            serial=serial,
            ordered_flute_id=flute_id,
            revision_id=revision_id,
            species_id=species_id,
            item_id=item_id,
            key=pattern.key,
            due_on=order.due_on if order else None,
            opened_by=who.id,
            routing_version_id=version.id,
            hands_id=hands_id,
        )
        session.add(blank)
        session.flush()
        assert blank.id is not None
        session.add_all(steps_for(blank.id, instrument, species, first, plan, sizes))
        if item_id is not None:
            stock.reserve(session, who, item_id, blank.id, HALVES_PER_BLANK)
        for_what = f" for order {order.number}" if order else ""
        diary.write(
            session, who, "blank", blank.id, f"Opened from {pattern.name}, revision {revision.number}{for_what}"
        )
        settle(session, blank)
        opened.append(blank)
    if order:
        serials = ", ".join(blank.serial for blank in opened)
        diary.write(session, who, "order", order.id, f"{'Blank' if count == 1 else 'Blanks'} {serials} opened")
        if order.status is OrderStatus.CONFIRMED:
            order.status = OrderStatus.IN_THE_SHOP
            order.version += 1
            session.add(order)
    session.flush()
    return opened


def _for_order(session: Session, flute_id: int | None, pattern: Pattern, revision_id: int) -> Order | None:
    if flute_id is None:
        return None
    flute = find(session, OrderedFlute, flute_id, "ordered flute")
    order = find(session, Order, flute.order_id, "order", lock=True)
    if order.status in (OrderStatus.ENQUIRY, OrderStatus.QUOTED):
        raise Refused(f"Order {order.number} is not confirmed yet: confirm it, then open blanks for it.")
    if order.status not in (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP):
        raise Refused(f"Order {order.number} is {order.status}: no more blanks are opened for it.")
    if parse_note(flute.key) != parse_note(pattern.key):
        raise Refused(f"The order asks for {flute.key}, but {pattern.name} is in {pattern.key}.")
    if flute.revision_id is None:
        flute.revision_id = revision_id
        session.add(flute)
    return order


def _check_halves(session: Session, item_id: int, species: Species) -> None:
    item = find(session, StockItem, item_id, "lot of stock")
    if item.kind is not StockKind.HALVES:
        raise Invalid({"item_id": "Choose a lot of halves."})
    if item.species_id != species.id:
        raise Invalid({"item_id": f"That lot is not {species.name}."})


def _serials(session: Session, count: int) -> list[str]:
    """The next serials; the shop's row is held, so that no two blanks ever get the same."""
    shop = find(session, Shop, 1, "shop", lock=True)
    first = shop.next_serial
    shop.next_serial = first + count
    session.add(shop)
    session.flush()
    return [f"{shop.serial_prefix}{number:04d}" for number in range(first, first + count)]


def give_up(session: Session, who: Who, blank_id: int, asked: GiveUp) -> Blank:
    """Give a blank up as firewood, with a reason. Wood already cut stays used; what was reserved is released.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must_work()
    blank = lock_with_order(session, blank_id)
    if blank.status is BlankStatus.FIREWOOD:
        raise Refused(f"{blank.serial} was given up already.")
    if blank.status is BlankStatus.HANDED_OVER:
        raise Refused(f"{blank.serial} was handed over: the shop can no longer give it up.")
    repair_state.must_not_be_in_repair(session, blank)
    was_finished = blank.status is BlankStatus.FINISHED
    glued = latest_glue_up(session, blank_id)
    if glued and glued[0].taken_out_at is None:
        glued[0].taken_out_at, glued[0].taken_out_by = now(), who.id
        glued[0].why_early = f"given up: {asked.why}"[:300]
        session.add(glued[0])
    stock.give_back(session, who, blank_id, asked.why)
    blank.status, blank.given_up_at = BlankStatus.FIREWOOD, now()
    settle(session, blank)
    diary.write(session, who, "blank", blank.id, "Given up: firewood", asked.why)
    if order := order_of(session, blank):
        words = f"{blank.serial} became firewood: its flute of this order needs a new blank"
        diary.write(session, who, "order", order.id, words, asked.why)
    if was_finished:
        reopen_order(session, who, blank)
    session.flush()
    return blank


def reopen_order(session: Session, who: Who, blank: Blank) -> None:
    """An order that was ready is back in the shop when a flute of it is no longer finished."""
    order = order_of(session, blank, locked=True)
    if order and order.status is OrderStatus.READY:
        order.status = OrderStatus.IN_THE_SHOP
        order.version += 1
        session.add(order)
        diary.write(session, who, "order", order.id, f"Back in the shop: {blank.serial} is not finished")


def lock_with_order(session: Session, blank_id: int) -> Blank:
    """The blank, locked; near its end its order is locked first, as when an order is handed over: no deadlock.

    Raises NotFound.
    """
    seen = find(session, Blank, blank_id, "blank")
    if seen.stage is Stage.FINISHING:
        order_of(session, seen, locked=True)
    return lock(session, blank_id)


def order_of(session: Session, blank: Blank, locked: bool = False) -> Order | None:
    """The order that a blank is made for."""
    if blank.ordered_flute_id is None:
        return None
    flute = find(session, OrderedFlute, blank.ordered_flute_id, "ordered flute")
    return find(session, Order, flute.order_id, "order", lock=locked)


def progress(session: Session, blank_ids: list[int]) -> dict[int, set[str]]:
    """For each blank the codes of what a drawing of it shows as done; "holes" once every finger hole is drilled.

    One whose routing glues nothing is of one piece from the beginning: shown closed, as if it were glued.
    """
    done: dict[int, set[str]] = {blank_id: {"glue-up"} for blank_id in blank_ids}
    holes_open: set[int] = set()
    rows = session.exec(
        select(BlankStep.blank_id, BlankStep.code, BlankStep.state).where(
            col(BlankStep.blank_id).in_(blank_ids),
            col(BlankStep.code).in_(DRAWN_CODES) | col(BlankStep.code).like("hole-%"),
        )
    )
    for blank_id, code, state in rows:
        if code.startswith("hole-"):
            if state is StepState.PASSED:
                done[blank_id].add("holes")
            else:
                holes_open.add(blank_id)
        elif state is StepState.PASSED:
            done[blank_id].add(code)
        elif code == "glue-up":
            done[blank_id].discard(code)
    for blank_id in holes_open:
        done[blank_id].discard("holes")
    return done
