"""Orders: taken, quoted, confirmed, built, handed over or withdrawn; every change is written down in words."""

from datetime import date
from decimal import Decimal
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    Shop,
    Species,
    now,
)
from webapp.shop import customers, diary
from webapp.shop.accounts import Who
from webapp.shop.errors import Invalid, NotFound, Refused, Stale
from webapp.shop.finding import find
from webapp.shop.order_forms import ChangeOrder, FluteAsked, MoreFlutes, TakeOrder, Withdraw

FARTHEST_DUE = 10  # years from the day an order is taken
BEFORE_THE_SHOP = (OrderStatus.ENQUIRY, OrderStatus.QUOTED)
PROMISED = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP, OrderStatus.READY)
OPEN = (*BEFORE_THE_SHOP, *PROMISED)


def today(session: Session) -> date:
    """The day it is on the shop's own clock."""
    return now().astimezone(ZoneInfo(find(session, Shop, 1, "shop").timezone)).date()


def order_of(session: Session, number: int) -> Order:
    """An order by the number on its papers. Raises NotFound."""
    order = None
    if 0 < number < 2**31:
        order = session.exec(select(Order).where(Order.number == number)).first()
    if order is None:
        raise NotFound(f"There is no order {number}.")
    return order


def take_order(session: Session, who: Who, asked: TakeOrder) -> Order:
    """Write down an order: its customer (known or new), its flutes, its date. Raises NotAllowed, Invalid."""
    who.must_work()
    shop = find(session, Shop, 1, "shop", lock=True)
    taken_on = today(session)
    wrong = _wrong_facts(session, asked, taken_on, asked.status)
    wrong |= _wrong_flute(session, asked, asked.status)
    wrong |= _wrong_customer(session, asked)
    if wrong:
        raise Invalid(wrong)
    customer_id = _customer_for(session, who, asked)
    order = Order(
        number=shop.next_order,
        customer_id=customer_id,
        status=asked.status,
        taken_on=taken_on,
        due_on=asked.due_on,
        currency=shop.currency,
        note=asked.note,
    )
    shop.next_order += 1
    session.add_all([shop, order])
    session.flush()
    _add_flutes(session, order, asked)
    diary.write(session, who, "order", order.id, f"Taken as {_as_words(asked.status)}: {_flutes_in_words(asked)}")
    session.commit()
    return order


def add_flutes(session: Session, who: Who, number: int, asked: MoreFlutes, version: int) -> Order:
    """Further flutes on an order that is not ready yet. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    order = _open_order(session, who, number, version)
    if order.status is OrderStatus.READY:
        raise Refused("This order is ready to be handed over: take the further flute as an order of its own.")
    if wrong := _wrong_flute(session, asked, order.status):
        raise Invalid(wrong)
    _add_flutes(session, order, asked)
    diary.write(session, who, "order", order.id, f"Added: {_flutes_in_words(asked)}")
    return _changed(session, order)


def change_order(session: Session, who: Who, number: int, asked: ChangeOrder) -> Order:
    """Change the date or the note. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    order = _open_order(session, who, number, asked.version)
    if wrong := _wrong_facts(session, asked, order.taken_on, order.status):
        raise Invalid(wrong)
    changes = []
    if order.due_on != asked.due_on:
        changes.append(_change("Due", order.due_on, asked.due_on))
        order.due_on = asked.due_on
        for blank in _blanks_in_work(session, order):
            blank.due_on = asked.due_on
            session.add(blank)
    if order.note != asked.note:
        changes.append(_change("Note", order.note, asked.note))
        order.note = asked.note
    for change in changes:
        diary.write(session, who, "order", order.id, change)
    return _changed(session, order) if changes else order


def quote(session: Session, who: Who, number: int, version: int) -> Order:
    """The customer was told a price. Raises NotAllowed, NotFound, Stale, Refused."""
    order = _open_order(session, who, number, version)
    if order.status is not OrderStatus.ENQUIRY:
        raise Refused(f"This order is {order.status}: only an enquiry is quoted.")
    _must_be_priced(session, order)
    return _move_on(session, who, order, OrderStatus.QUOTED, "Quoted")


def confirm(session: Session, who: Who, number: int, version: int) -> Order:
    """The customer wants it, at this price, by this date. Raises NotAllowed, NotFound, Stale, Refused."""
    order = _open_order(session, who, number, version)
    if order.status not in BEFORE_THE_SHOP:
        raise Refused(f"This order is {order.status} already.")
    _must_be_priced(session, order)
    if order.due_on is None:
        raise Refused("A confirmed order needs a date: set the due date first.")
    return _move_on(session, who, order, OrderStatus.CONFIRMED, "Confirmed")


def withdraw(session: Session, who: Who, number: int, asked: Withdraw) -> Order:
    """The order comes to nothing; its blanks are the shop's own from now on.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = _open_order(session, who, number, asked.version)
    for blank in _blanks(session, order):
        _let_go(session, who, order, blank, f"Order {order.number} was withdrawn; this is the shop's own now")
    return _move_on(session, who, order, OrderStatus.WITHDRAWN, "Withdrawn", asked.why)


def hand_over(session: Session, who: Who, number: int, version: int) -> Order:
    """The customer has the flutes: the order and one finished blank for each flute are handed over.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = _open_order(session, who, number, version)
    if order.status is not OrderStatus.READY:
        raise Refused(f"This order is {order.status}: it is handed over once every flute is finished.")
    handed: set[int | None] = set()
    for blank in _blanks(session, order):
        if blank.status is BlankStatus.FINISHED and blank.ordered_flute_id not in handed:
            handed.add(blank.ordered_flute_id)
            blank.status = BlankStatus.HANDED_OVER
            blank.version += 1
            session.add(blank)
            diary.write(session, who, "blank", blank.id, f"Handed over with order {order.number}")
        elif blank.status in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
            _let_go(session, who, order, blank, f"Not needed for order {order.number}; this is the shop's own now")
    order.handed_over_at = now()
    return _move_on(session, who, order, OrderStatus.HANDED_OVER, "Handed over")


def mark_ready_if_done(session: Session, order_id: int) -> None:
    """When every flute has a finished blank, the order is ready; the caller commits."""
    order = find(session, Order, order_id, "order", lock=True)
    if order.status not in (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP):
        return
    session.flush()
    finished = select(Blank.ordered_flute_id).where(Blank.status == BlankStatus.FINISHED)
    waiting = select(OrderedFlute.id).where(OrderedFlute.order_id == order_id)
    waiting = waiting.where(col(OrderedFlute.id).not_in(finished.where(col(Blank.ordered_flute_id).is_not(None))))
    if session.exec(waiting.limit(1)).first() is None:
        order.status = OrderStatus.READY
        order.version += 1
        session.add(order)
        diary.write(session, None, "order", order.id, "Ready: every flute is finished")


def flutes_of(session: Session, order: Order) -> list[OrderedFlute]:
    statement = select(OrderedFlute).where(OrderedFlute.order_id == order.id)
    return list(session.exec(statement.order_by(col(OrderedFlute.position), col(OrderedFlute.id))))


def open_order(session: Session, who: Who, number: int, version: int) -> Order:
    """The order, locked, if this person may change it as it stands. For the rules about single flutes.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    return _open_order(session, who, number, version)


def changed(session: Session, order: Order) -> Order:
    """Count the change and commit."""
    return _changed(session, order)


def _open_order(session: Session, who: Who, number: int, version: int) -> Order:
    who.must_work()
    order = order_of(session, number)
    assert order.id is not None
    order = find(session, Order, order.id, "order", lock=True)
    if order.version != version:
        raise Stale(
            {
                "status": str(order.status),
                "due_on": order.due_on.isoformat() if order.due_on else "",
                "note": order.note,
            }
        )
    if order.status not in OPEN:
        raise Refused(f"This order is {order.status}; it does not change any more.")
    return order


def _changed(session: Session, order: Order) -> Order:
    order.version += 1
    session.add(order)
    session.commit()
    return order


def _move_on(session: Session, who: Who, order: Order, to: OrderStatus, words: str, why: str = "") -> Order:
    order.status = to
    diary.write(session, who, "order", order.id, words, why)
    return _changed(session, order)


def _blanks(session: Session, order: Order) -> list[Blank]:
    flutes = select(OrderedFlute.id).where(OrderedFlute.order_id == order.id)
    statement = select(Blank).where(col(Blank.ordered_flute_id).in_(flutes)).order_by(col(Blank.id))
    return list(session.exec(statement.with_for_update()))


def _blanks_in_work(session: Session, order: Order) -> list[Blank]:
    return [blank for blank in _blanks(session, order) if blank.status is BlankStatus.IN_WORK]


def _let_go(session: Session, who: Who, order: Order, blank: Blank, words: str) -> None:
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        return
    blank.ordered_flute_id = None
    blank.due_on = None
    blank.version += 1
    session.add(blank)
    diary.write(session, who, "blank", blank.id, words)
    diary.write(session, who, "order", order.id, f"Blank {blank.serial} is the shop's own now")


def _must_be_priced(session: Session, order: Order) -> None:
    unpriced = [str(flute.position) for flute in flutes_of(session, order) if flute.price <= 0]
    if unpriced:
        raise Refused(f"Flute {', '.join(unpriced)} has no price yet.")


def _add_flutes(session: Session, order: Order, asked: MoreFlutes) -> None:
    assert order.id is not None
    last = max((flute.position for flute in flutes_of(session, order)), default=0)
    given = asked.model_dump(include=set(FluteAsked.model_fields)) | {"price": asked.price or Decimal(0)}
    for n in range(1, asked.count + 1):
        session.add(OrderedFlute(order_id=order.id, position=last + n, **given))
    session.flush()


def _wrong_facts(
    session: Session, asked: TakeOrder | ChangeOrder, taken_on: date, status: OrderStatus
) -> dict[str, str]:
    if asked.due_on is None:
        return {"due_on": "A confirmed order needs a date."} if status in PROMISED else {}
    if asked.due_on < taken_on:
        return {"due_on": "Due before the order was taken."}
    if asked.due_on.year > taken_on.year + FARTHEST_DUE:
        return {"due_on": f"That is more than {FARTHEST_DUE} years ahead."}
    return {}


def _wrong_flute(session: Session, asked: FluteAsked, status: OrderStatus) -> dict[str, str]:
    wrong = {}
    if session.get(Species, asked.species_id) is None:
        wrong["species_id"] = "Choose one of the list."
    if status is not OrderStatus.ENQUIRY and not asked.price:
        wrong["price"] = "Write the price: only an enquiry goes without."
    return wrong


def _wrong_customer(session: Session, asked: TakeOrder) -> dict[str, str]:
    if isinstance(asked.customer_id, int):
        known = session.get(Customer, asked.customer_id)
        return {} if known else {"customer_id": "Choose one of the list."}
    if not asked.customer_name:
        return {"customer_name": "Please fill this in."}
    if asked.customer_id is None and customers.named(session, asked.customer_name):
        return {"customer_id": "Someone of this name is known here: choose them, or say that this is someone new."}
    return {}


def _customer_for(session: Session, who: Who, asked: TakeOrder) -> int:
    if isinstance(asked.customer_id, int):
        return asked.customer_id
    new = customers.add(session, who, asked.customer_name, asked.contact)
    assert new.id is not None
    return new.id


def _flutes_in_words(asked: MoreFlutes) -> str:
    what = f"{asked.key} {asked.scale}, {asked.holes} holes"
    return f"{asked.count} flutes in {what}" if asked.count > 1 else f"a flute in {what}"


def _as_words(status: OrderStatus) -> str:
    return {OrderStatus.ENQUIRY: "an enquiry"}.get(status, str(status))


def _change(words: str, before: object, after: object) -> str:
    return f"{words}: was {_said(before)}, is now {_said(after)}"


def _said(value: object) -> str:
    if value is None or value == "":
        return "nothing"
    text = f"{value.day} {value:%b %Y}" if isinstance(value, date) else str(value)
    return text if len(text) <= 120 else text[:119] + "\N{HORIZONTAL ELLIPSIS}"
