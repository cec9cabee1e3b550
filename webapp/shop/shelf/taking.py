"""A flute of the shelf is taken by an order, and given back: nothing is lost by either, both stand in the diary."""

from typing import Annotated

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session

from acoustics.notes.music import parse_note
from webapp.models import (
    Blank,
    BlankStatus,
    Order,
    OrderedFlute,
    OrderStatus,
    Pattern,
    PatternRevision,
    Species,
)
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import by_serial, lock
from webapp.shop.orders import changes as order_changes, flutes as ordered_flutes, repair_state, rules as orders
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.shelf.rules import ON_THE_SHELF, said_of
from webapp.shop.units.keys import show_note


class Take(BaseModel):
    """Which flute; `version` is that of the order as it was on the screen."""

    serial: Annotated[str, StringConstraints(min_length=1, max_length=40)]
    version: int


class GiveBack(Take):
    """Which flute goes back to the shelf, and why if there is anything to say."""

    why: Annotated[str, StringConstraints(max_length=500)] = ""


def take(session: Session, who: Who, number: int, flute_id: int, asked: Take) -> Blank:
    """The order's flute is this one of the shelf from now on; another wood than was asked for is noted as a change.

    Once the flute is finished, what was being built for the order instead belongs to the shop. Raises NotAllowed,
    NotFound, Stale, Refused, Invalid.
    """
    order = orders.open_order(session, who, number, asked.version)
    flute = ordered_flutes.flute_of(session, order, flute_id)
    blank = wanted(session, asked.serial)
    must_be_free(session, blank)
    _must_fit(session, blank, flute)
    before = ordered_flutes.blanks_of(session, flute)
    if done := [one.serial for one in before if one.status is not BlankStatus.IN_WORK]:
        raise Refused(f"Flute {flute.position} is finished already: {done[0]}. Give that one back first.")
    blank.ordered_flute_id = flute.id
    blank.due_on = order.due_on if blank.status is BlankStatus.IN_WORK else None
    blank.version += 1
    session.add(blank)
    what = f"{blank.serial} taken from the shelf for flute {flute.position}"
    diary.write(session, who, "order", order.id, what)
    diary.write(session, who, "blank", blank.id, f"Taken from the shelf for order {order.number}")
    _as_it_is(session, who, order, flute, blank)
    if blank.status is BlankStatus.FINISHED:
        for other in before:
            _lay_back(session, who, order, lock(session, other.id or 0), f"{blank.serial} was taken instead")
    if order.status is OrderStatus.CONFIRMED:
        order.status = OrderStatus.IN_THE_SHOP
    session.add_all([order, flute])
    session.flush()
    orders.mark_ready_if_done(session, order.id or 0)
    orders.changed(session, order)
    return blank


def give_back(session: Session, who: Who, number: int, flute_id: int, asked: GiveBack) -> Blank:
    """A flute of the order, finished or in work, is the shop's own from now on; the order needs another.

    Raises NotAllowed, NotFound, Stale, Refused, Invalid.
    """
    order = orders.open_order(session, who, number, asked.version)
    flute = ordered_flutes.flute_of(session, order, flute_id)
    blank = wanted(session, asked.serial)
    if blank.ordered_flute_id != flute.id or blank.status not in ON_THE_SHELF:
        raise Invalid({"serial": f"{blank.serial} is not built for flute {flute.position} of order {number}."})
    repair_state.must_not_be_in_repair(session, blank)
    _lay_back(session, who, order, blank, asked.why)
    session.flush()
    left = ordered_flutes.blanks_of(session, flute)
    if order.status is OrderStatus.READY and not any(one.status is BlankStatus.FINISHED for one in left):
        order.status = OrderStatus.IN_THE_SHOP
        diary.write(session, who, "order", order.id, f"Back in the shop: flute {flute.position} needs another flute")
    session.add(order)
    orders.changed(session, order)
    return blank


def wanted(session: Session, serial: str) -> Blank:
    """The flute of this serial, locked."""
    try:
        return lock(session, by_serial(session, serial).id or 0)
    except NotFound as error:
        raise Invalid({"serial": str(error)}) from None


def must_be_free(session: Session, blank: Blank) -> None:
    """Raise Invalid, at the field, for a flute that is somebody's already: none is sold twice."""
    if blank.status is BlankStatus.HANDED_OVER:
        raise Invalid({"serial": f"{blank.serial} has left the shop: it is sold."})
    if blank.ordered_flute_id is not None:
        taken = find(session, OrderedFlute, blank.ordered_flute_id, "ordered flute")
        number = find(session, Order, taken.order_id, "order").number
        words = f"{blank.serial} is order {number}'s: a flute is sold once. Give it back there first."
        raise Invalid({"serial": words})
    if blank.status not in ON_THE_SHELF:
        raise Invalid({"serial": f"{blank.serial} is {blank.status}."})
    if blank.grave_defect:
        raise Invalid({"serial": f"{blank.serial} has a grave defect: decide about that first."})
    repair_state.must_not_be_in_repair(session, blank)


def _must_fit(session: Session, blank: Blank, flute: OrderedFlute) -> None:
    pattern = pattern_of(session, blank)
    if parse_note(pattern.key) != parse_note(flute.key):
        words = f"{blank.serial} is in {show_note(blank.key)}, and the order asks for {show_note(flute.key)}."
        raise Invalid({"serial": words})
    if not ordered_flutes.fits(pattern, flute):
        words = f"{pattern.scale}, {pattern.holes} holes, A4 at {pattern.a4:g} Hz, {pattern.temperament}"
        raise Invalid({"serial": f"{blank.serial} is another flute than was asked for: {words}."})


def pattern_of(session: Session, blank: Blank) -> Pattern:
    """The pattern that a blank is built from."""
    revision = find(session, PatternRevision, blank.revision_id, "revision")
    return find(session, Pattern, revision.pattern_id, "pattern")


def _as_it_is(session: Session, who: Who, order: Order, flute: OrderedFlute, blank: Blank) -> None:
    """The order says what the flute is: its pattern and its wood, and the shelf's price where none was agreed."""
    flute.revision_id = blank.revision_id
    if flute.species_id != blank.species_id:
        was, is_now = (find(session, Species, one, "wood").name for one in (flute.species_id, blank.species_id))
        what, why = f"Flute {flute.position}, wood", f"{blank.serial} taken from the shelf"
        diary.write(session, who, "order", order.id, f"{what}: was {was}, is now {is_now}", why)
        order_changes.write(session, who, order, what, was, is_now, why)
        flute.species_id = blank.species_id
    if not flute.price and (price := said_of(session, blank).price):
        flute.price = price
        words = f"Flute {flute.position}: priced as on the shelf"
        diary.write(session, who, "order", order.id, words, about_money=True)


def _lay_back(session: Session, who: Who, order: Order, blank: Blank, why: str) -> None:
    blank.ordered_flute_id = blank.due_on = None
    blank.version += 1
    session.add(blank)
    diary.write(session, who, "blank", blank.id, f"Given back by order {order.number}; it belongs to the shop now", why)
    diary.write(session, who, "order", order.id, f"{blank.serial} given back: it belongs to the shop now", why)
