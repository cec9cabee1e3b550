"""Orders: taken, quoted, confirmed, built, handed over or withdrawn; every change is recorded in words."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    IssuedKind,
    NoticeSeen,
    Order,
    OrderedFlute,
    OrderStatus,
    Shop,
    now,
)
from webapp.shop.base.errors import Doubtful, Invalid, NotFound, Refused, Stale
from webapp.shop.base.finding import find, held
from webapp.shop.orders import (
    changes as order_changes,
    fields as order_fields,
    issued,
    money as order_money,
    prices,
    repair_state,
)
from webapp.shop.orders.checks import (
    BEFORE_THE_SHOP,
    OPEN,
    PROMISED,
    as_words,
    change,
    customer_for,
    flutes_in_words,
    must_issue,
    must_price,
    said,
    today,
    wrong_customer,
    wrong_due,
    wrong_facts,
    wrong_flute,
)
from webapp.shop.orders.fields import OrderField
from webapp.shop.orders.forms import (
    ChangeOrder,
    Facts,
    FluteAsked,
    ForWhom,
    FurtherFlutes,
    MoreFlutes,
    SeenNotice,
    TakeOrder,
    Withdraw,
)
from webapp.shop.orders.terms import notices
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who

__all__ = ["BEFORE_THE_SHOP", "OPEN", "PROMISED", "today"]


def order_of(session: Session, number: int) -> Order:
    """An order by the number on its papers. Raises NotFound."""
    order = None
    if 0 < number < 2**31:
        order = session.exec(select(Order).where(Order.number == number)).first()
    if order is None:
        raise NotFound(f"There is no order {number}.")
    return order


def take_order(session: Session, who: Who, asked: TakeOrder) -> Order:
    """Enter an order: its customer (known or new), its flutes, its date. Raises NotAllowed, Invalid."""
    who.must_work()
    amounts.check_asked(who, asked, "ordered_flute")
    if asked.status is not OrderStatus.ENQUIRY:
        must_issue(who, "status")
    wrong = wrong_facts(asked, today(session), asked.status)
    wrong |= wrong_flute(session, asked, asked.status) | wrong_customer(session, asked)
    if wrong:
        raise Invalid(wrong)
    order = new_order(session, who, asked, asked.status, asked)
    _add_flutes(session, order, asked)
    diary.write(session, who, "order", order.id, f"Taken as {as_words(asked.status)}: {flutes_in_words(asked)}")
    given_out(session, who, order)
    session.flush()
    return order


def new_order(session: Session, who: Who, for_whom: ForWhom, status: OrderStatus, facts: Facts) -> Order:
    """The row of a new order with the next number, nothing on it yet."""
    shop = find(session, Shop, 1, "shop", lock=True)
    order = Order(
        number=shop.next_order,
        customer_id=customer_for(session, who, for_whom),
        status=status,
        taken_on=today(session),
        currency=shop.currency,
        **facts.model_dump(include=set(Facts.model_fields)),
    )
    shop.next_order += 1
    session.add_all([shop, order])
    session.flush()
    return order


def given_out(session: Session, who: Who, order: Order) -> None:
    """Issue the paper of an order that is taken as quoted or confirmed already."""
    if order.status is OrderStatus.QUOTED:
        issued.give_out(session, who, order, IssuedKind.QUOTE)
    elif order.status is OrderStatus.CONFIRMED:
        issued.give_out(session, who, order, IssuedKind.CONFIRMATION)


def add_flutes(session: Session, who: Who, number: int, asked: FurtherFlutes, version: int) -> Order:
    """Add flutes to an order that is not ready yet. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    amounts.check_asked(who, asked, "ordered_flute")
    order = open_order(session, who, number, version)
    if order.status is OrderStatus.READY:
        raise Refused("This order is ready to be handed over: take another flute as a new order.")
    must_price(who, order, "ordered_flute.price")
    if wrong := wrong_flute(session, asked, order.status):
        raise Invalid(wrong)
    order_changes.must_say_why(order, asked.why)
    _add_flutes(session, order, asked)
    words = flutes_in_words(asked)
    order_changes.write(session, who, order, "Added", "", words, asked.why)
    diary.write(session, who, "order", order.id, f"Added: {words}", asked.why)
    return _changed(session, order)


def change_order(session: Session, who: Who, number: int, asked: ChangeOrder) -> Order:
    """Change the fields that are given; what is not given stays. Raises NotAllowed, NotFound, Stale, Refused, Invalid.

    What the customer was promised changes for a reason only; the shop's own note needs none.
    """
    amounts.check_asked(who, asked, "customer_order", nothing_counts=True)
    order = _open_order(session, who, number, asked.version)
    given = asked.given()
    if "due_on" in given and (wrong := wrong_due(given["due_on"], order.taken_on, order.status)):
        raise Invalid(wrong)
    _must_be_to_come(session, order, given.get("due_on"), asked.sure)
    changes = []
    for field in order_fields.FIELDS:
        before = field.of(order)
        if field.name in given and (after := _emptied(session, order, field, given[field.name])) != before:
            changes.append((field, before, after))
    if any(field.agreed for field, _, _ in changes):
        order_changes.must_say_why(order, asked.why)
    for field, before, after in changes:
        was, is_now = (field.said(value, order.currency) for value in (before, after))
        diary.write(
            session,
            who,
            "order",
            order.id,
            change(field.words, was, is_now),
            asked.why if field.agreed else "",
            about_money=field.is_money,
        )
        if field.agreed:
            order_changes.write(session, who, order, field.words, said(was), said(is_now), asked.why)
        setattr(order, field.name, after)
        if field.name == "due_on":
            _due_with_the_order(session, order)
    return _changed(session, order) if changes else order


def _must_be_to_come(session: Session, order: Order, due_on: date | None, sure: str) -> None:
    """Ask about a date that has passed. Raises Doubtful."""
    if due_on is None or due_on == order.due_on or due_on >= today(session) or sure == due_on.isoformat():
        return
    raise Doubtful(f"{due_on.isoformat()} has passed already: should it be due then?", due_on.isoformat())


def quote(session: Session, who: Who, number: int, version: int) -> Order:
    """Issue a quote, or a new one where there is one already. Raises NotAllowed, NotFound, Stale, Refused.

    The quote is kept word for word, with the day until which it is valid.
    """
    must_issue(who)
    order = _open_order(session, who, number, version)
    if order.status not in BEFORE_THE_SHOP:
        raise Refused(f"This order is {order.status}: only an enquiry can be quoted.")
    _must_be_priced(session, order)
    order.status = OrderStatus.QUOTED
    paper = issued.give_out(session, who, order, IssuedKind.QUOTE)
    return _move_on(session, who, order, OrderStatus.QUOTED, f"Quoted (quote {paper.number})")


def confirm(session: Session, who: Who, number: int, version: int) -> Order:
    """The customer wants it, at this price, by this date. Raises NotAllowed, NotFound, Stale, Refused."""
    must_issue(who)
    order = _open_order(session, who, number, version)
    if order.status not in BEFORE_THE_SHOP:
        raise Refused(f"This order is {order.status} already.")
    _must_be_priced(session, order)
    if order.due_on is None:
        raise Refused("A confirmed order needs a date: set the due date first.")
    if (stands := notices.of_order(session, order)).terms:
        raise Refused(f"The order is no longer what {stands.paper} says: quote it again, or say that this was seen.")
    order.status = OrderStatus.CONFIRMED
    issued.give_out(session, who, order, IssuedKind.CONFIRMATION)
    _move_on(session, who, order, OrderStatus.CONFIRMED, "Confirmed")
    if order.id is not None and _blanks(session, order):  # taken from the shelf before
        order.status = OrderStatus.IN_THE_SHOP
        _due_with_the_order(session, order)
        mark_ready_if_done(session, order.id)
        session.flush()
    return order


def confirm_again(session: Session, who: Who, number: int, version: int) -> Order:
    """Issue a confirmation that carries what changed since the last one.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    must_issue(who)
    order = _open_order(session, who, number, version)
    if order.status not in PROMISED:
        raise Refused(f"This order is {order.status}: it has not been confirmed yet.")
    if issued.latest(session, order, IssuedKind.CONFIRMATION) and not order_changes.untold(session, order):
        raise Refused("Nothing has changed since the last confirmation.")
    _must_be_priced(session, order)
    paper = issued.give_out(session, who, order, IssuedKind.CONFIRMATION)
    return _move_on(session, who, order, order.status, f"Confirmation {paper.number} issued")


def seen(session: Session, who: Who, number: int, asked: SeenNotice) -> Order:
    """What stands on the order as a notice was seen, and is left as it is.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = _open_order(session, who, number, asked.version)
    stands = notices.of_order(session, order)
    if stands.mark != asked.mark:
        raise Refused("Nothing of that stands on the order any more, or it is another thing by now: look again.")
    if stands.terms:
        must_issue(who, "mark")
    assert order.id is not None
    session.add(NoticeSeen(order_id=order.id, mark=asked.mark, by=who.id))
    words = ", ".join(one.what for one in stands.all)
    than = f" (other than {stands.paper} says)" if stands.terms else ""
    diary.write(session, who, "order", order.id, f"Seen and left as it is: {words}{than}")
    return _changed(session, order)


def withdraw(session: Session, who: Who, number: int, asked: Withdraw) -> Order:
    """The customer no longer wants it; its blanks are the shop's own from now on.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    order = _open_order(session, who, number, asked.version)
    for blank in _blanks(session, order):
        _let_go(session, who, order, blank, f"Order {order.number} was withdrawn; it belongs to the shop now")
    for repair in repair_state.of_order(session, order):
        repair_state.break_off(session, who, repair, f"Order {order.number} was withdrawn; given back as it is")
    return _move_on(session, who, order, OrderStatus.WITHDRAWN, "Withdrawn", asked.why)


def hand_over(session: Session, who: Who, number: int, version: int, unpaid: bool = False) -> Order:
    """The customer has the flutes: the order and one finished blank for each flute are handed over.

    Where something is outstanding it has to be said that it is handed over unpaid.
    Raises NotAllowed, NotFound, Stale, Refused, Invalid.
    """
    order = _open_order(session, who, number, version)
    if order.status is not OrderStatus.READY:
        raise Refused(f"This order is {order.status}: it can be handed over once every flute is finished.")
    owed = order_money.account(session, order).outstanding
    if owed > 0 and not unpaid:
        raise Invalid({"unpaid": f"{_outstanding(who, order, owed)} for this order: hand it over all the same?"})
    handed: set[int | None] = set()
    for blank in _blanks(session, order):
        if blank.status is BlankStatus.FINISHED and blank.ordered_flute_id not in handed:
            handed.add(blank.ordered_flute_id)
            blank.status = BlankStatus.HANDED_OVER
            blank.version += 1
            session.add(blank)
            diary.write(session, who, "blank", blank.id, f"Handed over with order {order.number}")
        elif blank.status in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
            _let_go(session, who, order, blank, f"Not needed for order {order.number}; it belongs to the shop now")
    repair_state.hand_back(session, who, order)
    order.handed_over_at = now()
    if owed > 0:
        words = f"Handed over unpaid: {prices.money(owed, order.currency)} outstanding"
        diary.write(session, who, "order", order.id, words, about_money=True)
    return _move_on(session, who, order, OrderStatus.HANDED_OVER, "Handed over")


def not_handed_over(session: Session, who: Who, number: int, asked: Withdraw) -> Order:
    """The hand-over was recorded by mistake: the order is ready again, and its flutes are in the shop.

    Blanks that it no longer needed stay the shop's. Raises NotAllowed, NotFound, Stale, Refused.
    """
    who.must_work()
    order = find(session, Order, order_of(session, number).id or 0, "order", lock=True)
    if order.version != asked.version:
        raise Stale({"version": str(order.version)})
    if order.status is not OrderStatus.HANDED_OVER:
        raise Refused(f"This order is {order.status}: it was not handed over.")
    words = f"Not handed over after all: order {order.number} is ready again"
    for blank in _blanks(session, order):
        if blank.status is BlankStatus.HANDED_OVER:
            blank.status = BlankStatus.FINISHED
            blank.version += 1
            session.add(blank)
            diary.write(session, who, "blank", blank.id, words, asked.why)
    repair_state.take_in_again(session, who, order, words, asked.why)
    order.handed_over_at = None
    return _move_on(session, who, order, OrderStatus.READY, "Not handed over after all: ready again", asked.why)


def mark_ready_if_done(session: Session, order_id: int) -> None:
    """When every flute has a finished blank and every repair is done, the order is ready."""
    order = find(session, Order, order_id, "order", lock=True)
    if order.status not in (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP):
        return
    session.flush()
    if repair_state.any_waiting(session, order_id):
        return
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


def open_order(
    session: Session, who: Who, number: int, version: int, shown: Callable[[Order], dict[str, str]] | None = None
) -> Order:
    """The order, locked, if this person may change it as it stands. For rules about its flutes, repairs and prices:
    where it changed meanwhile, they are told what `shown` says, and its version.

    Raises NotAllowed, NotFound, Stale, Refused.
    """
    who.must_work()
    order = find(session, Order, order_of(session, number).id or 0, "order", lock=True)
    if order.version != version:
        raise Stale((shown(order) if shown else {}) | {"version": str(order.version)})
    return _open_order(session, who, number, version)


def changed(session: Session, order: Order) -> Order:
    """Count the change."""
    return _changed(session, order)


def _open_order(session: Session, who: Who, number: int, version: int) -> Order:
    who.must_work()
    order = order_of(session, number)
    assert order.id is not None
    order = find(session, Order, order.id, "order", lock=True)
    if order.version != version:
        raise Stale(amounts.visible(who.role, "customer_order", order_fields.as_now(order)))
    if order.status not in OPEN:
        raise Refused(f"This order is {order.status}; it can no longer be changed.")
    return order


def _changed(session: Session, order: Order) -> Order:
    order.version += 1
    session.add(order)
    session.flush()
    return order


def _move_on(session: Session, who: Who, order: Order, to: OrderStatus, words: str, why: str = "") -> Order:
    order.status = to
    diary.write(session, who, "order", order.id, words, why)
    return _changed(session, order)


def _blanks(session: Session, order: Order) -> list[Blank]:
    flutes = select(OrderedFlute.id).where(OrderedFlute.order_id == order.id)
    statement = select(Blank).where(col(Blank.ordered_flute_id).in_(flutes)).order_by(col(Blank.id))
    return list(session.exec(held(statement)))


def _due_with_the_order(session: Session, order: Order) -> None:
    """The blanks in work are due when their order is."""
    for blank in _blanks(session, order):
        if blank.status is BlankStatus.IN_WORK:
            blank.due_on = order.due_on
            session.add(blank)


def _emptied(session: Session, order: Order, field: OrderField, value: Any) -> Any:
    """A value as the order keeps it. A deposit that is emptied is the usual share: as agreed, where one was told."""
    if value is not None:
        return value
    if field.name == "deposit" and order.deposit is not None and order.status is not OrderStatus.ENQUIRY:
        return order_money.usual_deposit(session, order)
    return field.empty


def _outstanding(who: Who, order: Order, owed: Decimal) -> str:
    """That something is outstanding, and how much for those who see it."""
    if not amounts.sees(who.role, "customer_order.outstanding"):
        return "Something is still outstanding"
    return f"{prices.money(owed, order.currency)} is still outstanding"


def _let_go(session: Session, who: Who, order: Order, blank: Blank, words: str) -> None:
    if blank.status not in (BlankStatus.IN_WORK, BlankStatus.FINISHED):
        return
    blank.ordered_flute_id = None
    blank.due_on = None
    blank.version += 1
    session.add(blank)
    diary.write(session, who, "blank", blank.id, words)
    diary.write(session, who, "order", order.id, f"Blank {blank.serial} belongs to the shop now")


def _must_be_priced(session: Session, order: Order) -> None:
    if not flutes_of(session, order) and not repair_state.of_order(session, order):
        raise Refused("Nothing is asked for yet: add the flute once its key and wood are known.")
    if unpriced := order_money.unpriced(session, order):
        words = ", ".join(unpriced)
        raise Refused(f"{words[:1].upper()}{words[1:]} has no price yet.")


def _add_flutes(session: Session, order: Order, asked: MoreFlutes) -> None:
    assert order.id is not None
    last = max((flute.position for flute in flutes_of(session, order)), default=0)
    given = asked.model_dump(include=set(FluteAsked.model_fields)) | {"price": asked.price or Decimal(0)}
    for n in range(1, asked.count + 1):
        session.add(OrderedFlute(order_id=order.id, position=last + n, **given))
    session.flush()
