"""What is checked before an order is taken or changed, and the words in which it is recorded."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session

from webapp.models import Customer, Order, OrderStatus, Shop, Species, now
from webapp.shop.base.errors import FieldsNotAllowed, Refused
from webapp.shop.base.finding import find
from webapp.shop.orders import customers
from webapp.shop.orders.forms import Facts, FluteAsked, ForWhom, MoreFlutes
from webapp.shop.people import amounts
from webapp.shop.people.accounts import Who

FARTHEST_DUE = 10  # years from the day an order is taken
BEFORE_THE_SHOP = (OrderStatus.ENQUIRY, OrderStatus.QUOTED)
PROMISED = (OrderStatus.CONFIRMED, OrderStatus.IN_THE_SHOP, OrderStatus.READY)
OPEN = (*BEFORE_THE_SHOP, *PROMISED)


def today(session: Session) -> date:
    """The day it is on the shop's own clock."""
    return day_of(session, now())


def day_of(session: Session, moment: datetime) -> date:
    """The day of a moment on the shop's own clock."""
    return moment.astimezone(ZoneInfo(find(session, Shop, 1, "shop").timezone)).date()


def wrong_facts(asked: Facts, taken_on: date, status: OrderStatus) -> dict[str, str]:
    """What is wrong with an order's own facts, by field."""
    return wrong_due(asked.due_on, taken_on, status)


def wrong_due(due_on: date | None, taken_on: date, status: OrderStatus) -> dict[str, str]:
    """What is wrong with the date, by field."""
    if due_on is None:
        return {"due_on": "A confirmed order needs a date."} if status in PROMISED else {}
    if due_on < taken_on:
        return {"due_on": "Due before the order was taken."}
    if due_on.year > taken_on.year + FARTHEST_DUE:
        return {"due_on": f"That is more than {FARTHEST_DUE} years ahead."}
    return {}


def wrong_flute(session: Session, asked: FluteAsked, status: OrderStatus) -> dict[str, str]:
    """What is wrong with a flute, by field."""
    wrong = {}
    if session.get(Species, asked.species_id) is None:
        wrong["species_id"] = "Choose one of the list."
    if status is not OrderStatus.ENQUIRY and not asked.price:
        wrong["price"] = "Write the price: only an enquiry can go without one."
    return wrong | wrong_extras(asked, status)


def wrong_extras(asked: FluteAsked, status: OrderStatus) -> dict[str, str]:
    """What is wrong with a flute's extras and their price, by field."""
    if asked.extras_price and not asked.extras:
        return {"extras": "Write what this price is for."}
    if asked.extras and asked.extras_price is None and status is not OrderStatus.ENQUIRY:
        return {"extras_price": "Write what the extras cost, or 0 where they are in the price of the flute."}
    return {}


def must_issue(who: Who, field: str = "") -> None:
    """Raise FieldsNotAllowed for someone who gives out no quotes and confirmations: they name the price."""
    if words := amounts.not_theirs(who, "issued_paper.content"):
        raise FieldsNotAllowed({field: words})


def must_price(who: Who, order: Order, name: str) -> None:
    """Raise Refused for someone who adds to a priced order and cannot write the price it needs."""
    if order.status is not OrderStatus.ENQUIRY and (words := amounts.not_theirs(who, name)):
        raise Refused(f"This order is {order.status}: what is added to it needs a price. {words}")


def wrong_customer(session: Session, asked: ForWhom) -> dict[str, str]:
    """What is wrong with the customer, by field."""
    if isinstance(asked.customer_id, int):
        known = session.get(Customer, asked.customer_id)
        return {} if known else {"customer_id": "Choose one of the list."}
    if not asked.customer_name:
        return {"customer_name": "Please fill this in."}
    if asked.customer_id is None and customers.named(session, asked.customer_name):
        return {"customer_id": "Someone of this name is known here: choose them, or say that this is someone new."}
    return {}


def customer_for(session: Session, who: Who, asked: ForWhom) -> int:
    """The number of the customer chosen, or of the one who is new."""
    if isinstance(asked.customer_id, int):
        return asked.customer_id
    new = customers.add(session, who, asked.customer_name, asked.contact)
    assert new.id is not None
    return new.id


def flutes_in_words(asked: MoreFlutes) -> str:
    what = f"{asked.key} {asked.scale}, {asked.holes} holes"
    return f"{asked.count} flutes in {what}" if asked.count > 1 else f"a flute in {what}"


def as_words(status: OrderStatus) -> str:
    return {OrderStatus.ENQUIRY: "an enquiry"}.get(status, str(status))


def said(value: object, most: int = 120) -> str:
    """A value as the diary has it."""
    if value is None or value == "":
        return "nothing"
    text = f"{value.day} {value:%b %Y}" if isinstance(value, date) else str(value)
    return text if len(text) <= most else text[: most - 1] + "\N{HORIZONTAL ELLIPSIS}"


def change(words: str, before: object, after: object) -> str:
    return f"{words}: was {said(before)}, is now {said(after)}"
