"""An order's parcel: its address, whether it is a gift, who carries it under which number, when it left."""

from datetime import date
from typing import Annotated, Any

from babel import Locale
from pydantic import BaseModel, StringConstraints, field_validator
from sqlmodel import Session

from webapp.models import Customer, Order, OrderStatus, Parcel, Units
from webapp.shop.base.errors import Invalid, Refused, Stale
from webapp.shop.base.finding import find
from webapp.shop.orders import rules as orders
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.field_types import Day
from webapp.shop.units.weights import Weight, show_weight

_ENGLISH = Locale("en", "US")
COUNTRIES = sorted(
    ((code, name) for code, name in _ENGLISH.territories.items() if len(code) == 2 and code not in ("EU", "UN", "ZZ")),
    key=lambda one: one[1],
)
_CODES: dict[str, str] = dict(COUNTRIES)
_WORDS = {
    "name": "Name",
    "address": "Address",
    "country": "Country",
    "is_gift": "A gift",
    "gift_words": "Words to go with it",
    "carrier": "Carrier",
    "tracking": "Tracking number",
    "weight": "Weight",
    "sent_on": "Sent",
}


class ParcelAsked(BaseModel):
    """A parcel as typed; `version` is the one that was on the screen, 0 before anything was said."""

    name: Annotated[str, StringConstraints(max_length=120)] = ""
    address: Annotated[str, StringConstraints(max_length=400)] = ""
    country: str = ""
    is_gift: bool = False
    gift_words: Annotated[str, StringConstraints(max_length=500)] = ""
    carrier: Annotated[str, StringConstraints(max_length=60)] = ""
    tracking: Annotated[str, StringConstraints(max_length=80)] = ""
    weight: Weight | None = None
    sent_on: Day | None = None
    version: int

    @field_validator("country")
    @classmethod
    def _of_the_list(cls, value: str) -> str:
        if value and value not in _CODES:
            raise ValueError("Choose one of the list.")
        return value


def of_order(session: Session, order: Order) -> Parcel:
    """The order's parcel; before anything is said, an empty one of version 0 that is not stored."""
    return session.get(Parcel, order.id) or Parcel(order_id=order.id or 0, version=0)


def to_whom(session: Session, order: Order) -> tuple[str, str]:
    """Name and address on the parcel: its own where they are said, else the customer's."""
    parcel, customer = of_order(session, order), find(session, Customer, order.customer_id, "customer")
    return parcel.name or customer.name, parcel.address or customer.address


def as_typed(parcel: Parcel, units: Units) -> dict[str, str]:
    """The parcel as its form's fields."""
    values: dict[str, Any] = parcel.model_dump(exclude={"order_id"})
    values["is_gift"] = "on" if parcel.is_gift else ""
    values["weight"] = show_weight(parcel.weight, units) if parcel.weight else ""
    return {name: "" if value is None else str(value) for name, value in values.items()}


def change(session: Session, who: Who, number: int, asked: ParcelAsked) -> Parcel:
    """Say how an order leaves; also once it has left. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    who.must_work()
    order = find(session, Order, orders.order_of(session, number).id or 0, "order", lock=True)
    if order.status is OrderStatus.WITHDRAWN:
        raise Refused("This order is withdrawn: nothing of it is sent.")
    parcel = of_order(session, order)
    if asked.version != parcel.version:
        raise Stale(as_typed(parcel, who.units))
    if wrong := _wrong(asked, order, orders.today(session)):
        raise Invalid(wrong)
    for name, words in _WORDS.items():
        if (value := getattr(asked, name)) != (before := getattr(parcel, name)):
            was, is_now = (_said(name, one, who.units) for one in (before, value))
            diary.write(session, who, "order", order.id, f"Parcel, {words.lower()}: was {was}, is now {is_now}")
            setattr(parcel, name, value)
    parcel.version += 1
    session.add(parcel)
    session.flush()
    return parcel


def _wrong(asked: ParcelAsked, order: Order, today: date) -> dict[str, str]:
    """What is wrong, by field."""
    wrong = {}
    if asked.is_gift and not asked.name:
        wrong["name"] = "A gift goes to someone else: write whose hands it goes to."
    if asked.is_gift and not asked.address:
        wrong["address"] = "A gift needs its own address: the customer’s would bring it to whoever gives it."
    if asked.name and not asked.is_gift and not asked.address:
        wrong["address"] = "Write the address that goes with this name."
    if asked.gift_words and not asked.is_gift:
        wrong["is_gift"] = "Tick this where the words are to go with it, or take them out."
    if asked.tracking and not asked.carrier:
        wrong["carrier"] = "Say who carries it: a number alone finds no parcel."
    if asked.sent_on and asked.sent_on > today:
        wrong["sent_on"] = "That day is still to come."
    elif asked.sent_on and asked.sent_on < order.taken_on:
        wrong["sent_on"] = "That is before the order was taken."
    elif asked.sent_on and order.status not in (OrderStatus.READY, OrderStatus.HANDED_OVER):
        wrong["sent_on"] = f"The order is {order.status}: nothing of it can have been sent."
    return wrong


def _said(name: str, value: Any, units: Units) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name == "country":
        return country_name(str(value))
    if name == "weight":
        return show_weight(int(value), units)
    return str(value).replace("\n", ", ")


def country_name(code: str) -> str:
    """A country in English; empty for none."""
    return _CODES.get(code, code)
