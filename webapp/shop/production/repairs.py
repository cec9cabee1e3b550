"""Repairs, retuning and checks: lines of an order about a flute that exists.

A flute of the shop's own goes back to the rack with a short routing behind the steps it was built by, so that its
whole history stays together. Of a flute made elsewhere the shop knows only what it is told: it is described, worked
at and given back, and nothing is said of it that nobody measured.
"""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Blank, BlankStatus, Customer, Order, OrderStatus, Repair, RepairKind, now
from webapp.shop.base.errors import Invalid, NotFound, Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import by_serial, lock, settle, steps_of
from webapp.shop.orders import changes as order_changes, prices, repair_state, rules as orders
from webapp.shop.orders.checks import as_words, must_issue, must_price, wrong_customer, wrong_facts
from webapp.shop.orders.forms import Amount, Because, Early, Facts, ForWhom
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.production.opening import order_of as order_of_blank
from webapp.shop.production.repair_steps import steps_for

Told = Annotated[str, StringConstraints(max_length=500)]
Asked = Annotated[str, StringConstraints(min_length=1, max_length=1000)]


class RepairAsked(BaseModel):
    """What is to be done to which flute: one of ours by its serial, or another by its description."""

    kind: RepairKind = RepairKind.REPAIR
    whose: Literal["ours", "other"] = "ours"
    serial: Annotated[str, StringConstraints(max_length=20)] = ""
    described: Told = ""
    asked: Asked
    price: Amount | None = None


class TakeRepair(RepairAsked, Facts, ForWhom):
    """An order for a repair as it is taken on one page."""

    status: Early = OrderStatus.ENQUIRY


class FurtherRepair(RepairAsked, Because):
    """A repair added to an order."""

    version: int


class ChangeRepair(Because):
    """What is changed of a repair."""

    version: int
    asked: Asked
    price: Amount | None = None


class Found(BaseModel):
    """What was found and done, in words for the player."""

    version: int
    found: Annotated[str, StringConstraints(min_length=1, max_length=1000)]


def take(session: Session, who: Who, asked: TakeRepair) -> Order:
    """Take an order for a repair. Raises NotAllowed, Invalid."""
    who.must_work()
    amounts.check_asked(who, asked, "repair")
    if asked.status is not OrderStatus.ENQUIRY:
        must_issue(who, "status")
    wrong = wrong_facts(asked, orders.today(session), asked.status) | wrong_customer(session, asked)
    blank, wrong_flute = _which(session, asked)
    if wrong := wrong | wrong_flute | _wrong_price(asked, asked.status):
        raise Invalid(wrong)
    order = orders.new_order(session, who, asked, asked.status, asked)
    _add(session, order, asked, blank)
    diary.write(session, who, "order", order.id, f"Taken as {as_words(asked.status)}: {_in_words(asked, blank)}")
    orders.given_out(session, who, order)
    session.flush()
    return order


def add(session: Session, who: Who, number: int, asked: FurtherRepair) -> Order:
    """A repair on an order that is open. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    amounts.check_asked(who, asked, "repair")
    order = orders.open_order(session, who, number, asked.version)
    if order.status is OrderStatus.READY:
        raise Refused("This order is ready to be handed over: take the repair as an order of its own.")
    must_price(who, order, "repair.price")
    blank, wrong = _which(session, asked)
    if wrong := wrong | _wrong_price(asked, order.status):
        raise Invalid(wrong)
    order_changes.must_say_why(order, asked.why)
    _add(session, order, asked, blank)
    words = _in_words(asked, blank)
    order_changes.write(session, who, order, "Added", "", words, asked.why)
    diary.write(session, who, "order", order.id, f"Added: {words}", asked.why)
    return orders.changed(session, order)


def change(session: Session, who: Who, number: int, repair_id: int, asked: ChangeRepair) -> Repair:
    """Change what is asked or its price. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    amounts.check_asked(who, asked, "repair")
    order = orders.open_order(session, who, number, asked.version)
    repair = repair_of(session, order, repair_id)
    prices_it = amounts.changes(who.role, "repair.price")
    price = (asked.price or Decimal(0)).quantize(Decimal("0.01")) if prices_it else repair.price
    if prices_it and order.status is not OrderStatus.ENQUIRY and asked.price is None:
        raise Invalid({"price": "Write the price, or 0 where nothing is charged."})
    changes = []
    if repair.asked != asked.asked:
        changes.append(("what is asked", repair.asked, asked.asked))
    if repair.price != price:
        was, is_now = (prices.money(amount, order.currency) for amount in (repair.price, price))
        changes.append(("price", was, is_now))
    if changes:
        order_changes.must_say_why(order, asked.why)
    for name, was, is_now in changes:
        what = f"{str(repair.kind).capitalize()} {repair.position}, {name}"
        words = f"{what}: was {was[:110]}, is now {is_now[:110]}"
        diary.write(session, who, "order", order.id, words, asked.why, about_money=name == "price")
        order_changes.write(session, who, order, what, was, is_now, asked.why)
    repair.asked, repair.price = asked.asked, price
    session.add(repair)
    if changes:
        orders.changed(session, order)
    return repair


def leave_out(session: Session, who: Who, number: int, repair_id: int, version: int, why: str = "") -> None:
    """Take a repair off an order, where it was not begun. Raises NotAllowed, NotFound, Stale, Refused,
    Invalid."""
    order = orders.open_order(session, who, number, version)
    repair = repair_of(session, order, repair_id)
    if repair.begun_at:
        raise Refused("This repair was begun: finish it, or withdraw the order and the flute goes back as it is.")
    if len(repair_state.of_order(session, order)) + len(orders.flutes_of(session, order)) == 1:
        raise Refused("This is all that the order is about: withdraw the order instead.")
    order_changes.must_say_why(order, why)
    what = f"{repair.kind} {repair.position}"
    order_changes.write(session, who, order, "Left out", what, "", why)
    diary.write(session, who, "order", order.id, f"Left out: {what}", why)
    session.delete(repair)
    session.flush()
    assert order.id is not None
    orders.mark_ready_if_done(session, order.id)
    orders.changed(session, order)


def begin(session: Session, who: Who, number: int, repair_id: int, version: int) -> Repair:
    """The flute is here: one of ours goes back to the rack with the repair's steps.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = orders.open_order(session, who, number, version)
    repair = repair_of(session, order, repair_id)
    if order.status not in (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP):
        raise Refused(f"This order is {order.status}: a repair is begun once its order is confirmed.")
    if repair.begun_at:
        raise Refused("This repair was begun already.")
    repair.begun_at = now()
    if repair.blank_id is not None:
        blank = lock(session, repair.blank_id)
        _must_be_here(session, blank, order)
        _to_the_rack(session, who, order, repair, blank)
    if order.status is OrderStatus.CONFIRMED:
        order.status = OrderStatus.IN_THE_SHOP
    session.add(repair)
    diary.write(session, who, "order", order.id, f"{str(repair.kind).capitalize()} {repair.position} begun")
    orders.changed(session, order)
    return repair


def write_found(session: Session, who: Who, number: int, repair_id: int, asked: Found) -> Repair:
    """Write down what was found and done; of a flute made elsewhere this also says that its repair is done.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = orders.open_order(session, who, number, asked.version)
    repair = repair_of(session, order, repair_id)
    if repair.begun_at is None:
        raise Refused("Begin the repair first: the flute has to be here.")
    repair.found = asked.found
    session.add(repair)
    diary.write(session, who, "order", order.id, f"{str(repair.kind).capitalize()} {repair.position}: {asked.found}")
    if repair.blank_id is None and repair.done_at is None:
        repair.done_at = now()
        session.flush()
        assert order.id is not None
        orders.mark_ready_if_done(session, order.id)
    orders.changed(session, order)
    return repair


def blank_finished(session: Session, who: Who, blank: Blank) -> None:
    """Called when the last step of a blank is passed: the repair it was here for is done."""
    repair = repair_state.under_way(session, blank.id)
    if repair is None:
        return
    repair.done_at = now()
    # It was built when it was built: a repair makes it no younger.
    blank.finished_at = repair.built_at or blank.finished_at
    session.add_all([repair, blank])
    session.flush()
    order = find(session, Order, repair.order_id, "order", lock=True)
    diary.write(session, who, "order", order.id, f"{str(repair.kind).capitalize()} {repair.position} done")
    orders.mark_ready_if_done(session, repair.order_id)


def blank_reopened(session: Session, who: Who, blank: Blank) -> None:
    """Called when an entry of a finished blank was taken back: its last repair is not done after all."""
    statement = select(Repair).where(Repair.blank_id == blank.id, col(Repair.done_at).is_not(None))
    repair = session.exec(statement.order_by(col(Repair.id).desc()).limit(1)).first()
    order = session.get(Order, repair.order_id) if repair else None
    if repair is None or order is None or order.status not in (OrderStatus.READY, OrderStatus.IN_THE_SHOP):
        return
    repair.done_at = None
    session.add(repair)
    if order.status is OrderStatus.READY:
        order.status = OrderStatus.IN_THE_SHOP
        order.version += 1
        session.add(order)
        diary.write(session, who, "order", order.id, f"Back in the shop: {blank.serial} is not finished")


def player_of(session: Session, serial: str) -> Customer | None:
    """The customer that the flute of this serial was made for, if any."""
    try:
        order = order_of_blank(session, by_serial(session, serial))
    except NotFound:
        return None
    return session.get(Customer, order.customer_id) if order else None


def of_blank(session: Session, blank_id: int | None) -> list[tuple[Repair, Order]]:
    """The repairs of a flute with their orders, the latest first."""
    statement = select(Repair, Order).join(Order, col(Order.id) == Repair.order_id)
    return list(session.exec(statement.where(Repair.blank_id == blank_id).order_by(col(Repair.id).desc())))


def repair_of(session: Session, order: Order, repair_id: int) -> Repair:
    """A repair of this order. Raises NotFound."""
    repair = find(session, Repair, repair_id, "repair")
    if repair.order_id != order.id:
        raise NotFound(f"Order {order.number} has no repair {repair_id}.")
    return repair


def _to_the_rack(session: Session, who: Who, order: Order, repair: Repair, blank: Blank) -> None:
    assert repair.id is not None and blank.id is not None
    repair.came_as, repair.built_at = blank.status, blank.finished_at
    last = max((step.position for step in steps_of(session, blank.id)), default=0)
    session.add_all(steps_for(repair.id, repair.kind, blank.id, last))
    blank.status, blank.due_on = BlankStatus.IN_WORK, order.due_on
    settle(session, blank)
    diary.write(session, who, "blank", blank.id, f"Back on the rack: {repair.kind}, order {order.number}", repair.asked)


def _must_be_here(session: Session, blank: Blank, order: Order) -> None:
    if blank.status not in (BlankStatus.FINISHED, BlankStatus.HANDED_OVER):
        raise Refused(f"{blank.serial} is {blank.status}: only a flute that is built can be repaired.")
    own = order_of_blank(session, blank)
    if own and own.id != order.id and blank.status is BlankStatus.FINISHED and own.status in orders.OPEN:
        raise Refused(f"{blank.serial} still waits for order {own.number}: hand that over first.")


def _which(session: Session, asked: RepairAsked) -> tuple[Blank | None, dict[str, str]]:
    """The flute that is meant, and what is wrong with how it is named."""
    if asked.whose == "other":
        return None, {} if asked.described else {"described": "Describe the flute: how it is told from others."}
    if not asked.serial:
        return None, {"serial": "Write the serial that is on the flute."}
    try:
        blank = by_serial(session, asked.serial)
    except NotFound:
        return None, {"serial": "No flute of this serial was made here: look again, or describe it as made elsewhere."}
    if blank.status is BlankStatus.IN_WORK and not repair_state.under_way(session, blank.id):
        return None, {"serial": f"{blank.serial} is not built yet."}
    if blank.status is BlankStatus.FIREWOOD:
        return None, {"serial": f"{blank.serial} was given up: it never became a flute."}
    return blank, {}


def _wrong_price(asked: RepairAsked, status: OrderStatus) -> dict[str, str]:
    if status is not OrderStatus.ENQUIRY and asked.price is None:
        return {"price": "Write the price, or 0 where nothing is charged."}
    return {}


def _add(session: Session, order: Order, asked: RepairAsked, blank: Blank | None) -> None:
    assert order.id is not None
    last = max((one.position for one in repair_state.of_order(session, order)), default=0)
    repair = Repair(
        order_id=order.id,
        position=last + 1,
        kind=asked.kind,
        blank_id=blank.id if blank else None,
        described="" if blank else asked.described,
        asked=asked.asked,
        price=asked.price or Decimal(0),
    )
    session.add(repair)
    session.flush()


def _in_words(asked: RepairAsked, blank: Blank | None) -> str:
    return f"{asked.kind} of {f'flute {blank.serial}' if blank else asked.described}"
