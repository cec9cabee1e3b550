"""A flute of the shelf is sold on the spot: at the counter, at a fair, at an outlet. One entry makes the order, its
payment where money came, and hands the flute over; a wrong one is taken back by a further entry."""

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderedFlute,
    OrderStatus,
    Outlet,
    PaidBy,
    Payment,
    Role,
    ShelfSale,
    now,
)
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.base.finding import find
from webapp.shop.blanks.state import lock
from webapp.shop.orders import customers, money as order_money, payments, prices, rules as orders
from webapp.shop.orders.forms import Amount, Facts, ForWhom, Id
from webapp.shop.orders.payments import PaymentAsked, PutRight
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.shelf.rules import said_of
from webapp.shop.shelf.taking import must_be_free, pattern_of, wanted
from webapp.shop.units.field_types import Day

IN_THE_SHOP = "in the shop"


class SellAsked(BaseModel):
    """What was sold: for the shelf's price where none is given, paid how; at an outlet nothing is paid yet."""

    serial: Annotated[str, StringConstraints(min_length=1, max_length=40)]
    price: Amount | None = None
    paid_by: PaidBy | None = None
    place: Annotated[str, StringConstraints(max_length=80)] = ""
    outlet_id: Id | None = None
    sold_on: Day | None = None


class TakeBackSale(BaseModel):
    """Why a sale is taken back."""

    why: Annotated[str, StringConstraints(min_length=1, max_length=500)] = Field(default=...)


def sell(session: Session, who: Who, asked: SellAsked) -> ShelfSale:
    """Sold: an order of its own stands for it, handed over; at an outlet it owes the price less what the outlet keeps.

    The price is what was paid, tax included. Raises NotAllowed, NotFound, Refused, Invalid.
    """
    who.must(Role.OFFICE)
    amounts.check_asked(who, asked, "shelf_sale")
    outlet = find(session, Outlet, asked.outlet_id, "outlet") if asked.outlet_id else None
    blank = wanted(session, asked.serial)
    must_be_free(session, blank)
    price = asked.price or said_of(session, blank).price
    day = asked.sold_on or orders.today(session)
    if wrong := _wrong(session, asked, blank, price, day):
        raise Invalid(wrong)
    place = outlet.name if outlet else asked.place or IN_THE_SHOP
    order = _order(session, who, outlet.customer_id if outlet else _buyer(session, who, place))
    due = price * (100 - outlet.keeps_percent) / 100 if outlet else price
    flute = _flute(session, order, blank, prices.to_unit(due, order.currency))
    order_money.keep_as_agreed(session, order)
    order.tax_included = True
    session.add(order)
    session.flush()
    if asked.paid_by and outlet is None:
        paid = PaymentAsked(amount=flute.price, paid_by=asked.paid_by, paid_on=day)
        payments.record(session, who, order.number, paid)
    _leave(session, who, order, flute, blank, place)
    sale = ShelfSale(
        order_id=order.id or 0,
        blank_id=blank.id or 0,
        outlet_id=outlet.id if outlet else None,
        place=place,
        price=price,
        sold_on=day,
        by=who.id,
    )
    session.add(sale)
    session.flush()
    return sale


def take_back(session: Session, who: Who, sale_id: int, asked: TakeBackSale) -> ShelfSale:
    """It was not sold after all: its payment is reversed, its order withdrawn, the flute lies on the shelf again.

    Raises NotAllowed, NotFound, Refused.
    """
    who.must(Role.OFFICE)
    sale = find(session, ShelfSale, sale_id, "sale", lock=True)
    if sale.taken_back_at:
        raise Refused("This sale was taken back already.")
    order = find(session, Order, sale.order_id, "order", lock=True)
    blank = lock(session, sale.blank_id)
    if order.status is not OrderStatus.HANDED_OVER or blank.status is not BlankStatus.HANDED_OVER:
        raise Refused(f"{blank.serial} or order {order.number} has changed since: put it right there.")
    for payment in session.exec(select(Payment).where(Payment.order_id == order.id)).all():
        reversed_by = select(Payment.id).where(Payment.corrects_id == payment.id)
        if payment.id and payment.corrects_id is None and session.exec(reversed_by).first() is None:
            payments.put_right(session, who, order.number, payment.id, PutRight(why=asked.why))
    blank.status, blank.ordered_flute_id = BlankStatus.FINISHED, None
    blank.version += 1
    order.status = OrderStatus.WITHDRAWN
    order.handed_over_at = None
    order.version += 1
    sale.taken_back_at = now()
    session.add_all([blank, order, sale])
    diary.write(session, who, "order", order.id, f"Sale of {blank.serial} taken back", asked.why)
    diary.write(session, who, "blank", blank.id, "Sale taken back: on the shelf again", asked.why)
    session.flush()
    return sale


def _wrong(session: Session, asked: SellAsked, blank: Blank, price: Decimal, day: date) -> dict[str, str]:
    wrong = {}
    if blank.status is not BlankStatus.FINISHED:
        wrong["serial"] = f"{blank.serial} is at {blank.stage}: take it for an order instead."
    if not price:
        wrong["price"] = "Write the price: the shelf has none for it."
    if asked.outlet_id is None and asked.paid_by is None:
        wrong["paid_by"] = "Say how it was paid."
    if day > orders.today(session):
        wrong["sold_on"] = "That day is still to come."
    return wrong


def _buyer(session: Session, who: Who, place: str) -> int:
    """The customer that stands for whoever buys at a place without leaving a name."""
    name = f"Sold {place}" if place == IN_THE_SHOP else f"Sold at {place}"
    found: Customer | None = next(iter(customers.named(session, name)), None)
    return (found or customers.add(session, who, name)).id or 0


def _order(session: Session, who: Who, customer_id: int) -> Order:
    for_whom, facts = ForWhom(customer_id=customer_id), Facts(due_on=orders.today(session))
    return orders.new_order(session, who, for_whom, OrderStatus.CONFIRMED, facts)


def _flute(session: Session, order: Order, blank: Blank, price: Decimal) -> OrderedFlute:
    pattern = pattern_of(session, blank)
    flute = OrderedFlute(
        order_id=order.id or 0,
        key=blank.key,
        scale=pattern.scale,
        holes=pattern.holes,
        a4=pattern.a4,
        temperament=pattern.temperament,
        species_id=blank.species_id,
        revision_id=blank.revision_id,
        price=price,
    )
    session.add(flute)
    session.flush()
    return flute


def _leave(session: Session, who: Who, order: Order, flute: OrderedFlute, blank: Blank, place: str) -> None:
    blank.ordered_flute_id, blank.status = flute.id, BlankStatus.HANDED_OVER
    blank.version += 1
    order.status, order.handed_over_at = OrderStatus.HANDED_OVER, now()
    session.add_all([blank, order])
    where = place if place == IN_THE_SHOP else f"at {place}"
    diary.write(session, who, "order", order.id, f"{blank.serial} sold {where}, and handed over")
    diary.write(session, who, "blank", blank.id, f"Sold {where} (order {order.number})")
