"""Flutes sold on the spot and at outlets: the books agree to the cent, nothing is sold twice, a sale is taken back."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, select

from tests import blanks as made
from tests.shop.shelf.test_taking import finished
from tests.shops import OpenShop
from webapp.models import BlankStatus, Order, OrderStatus, PaidBy, Payment, ShelfSale
from webapp.shop.base.errors import Invalid, NotAllowed, Refused, Stale
from webapp.shop.billing import unpaid
from webapp.shop.contacts import erasing
from webapp.shop.contacts.erasing import Erase
from webapp.shop.orders import customers, payments, price_customs, rules as orders
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.orders.price_customs import PricingAsked
from webapp.shop.shelf import lists as shelf_list, outlets, rules as shelf, sales
from webapp.shop.shelf.lists import Which
from webapp.shop.shelf.outlets import Bring, OutletAsked
from webapp.shop.shelf.rules import ShelfAsked
from webapp.shop.shelf.sales import SellAsked, TakeBackSale


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    """A shop that adds 6.25 % of tax to its prices."""
    with open_shop.database.write() as session:
        asked = PricingAsked(tax_name="Sales tax", tax_percent=Decimal("6.25"), deposit_percent=Decimal("30"))
        price_customs.change(session, open_shop.office, asked)
        yield session


def sell(session: Session, shop: OpenShop, serial: str, **more: Any) -> ShelfSale:
    return sales.sell(session, shop.office, SellAsked(serial=serial, paid_by=PaidBy.CASH, **more))


def test_one_entry_sells_a_flute_and_the_books_have_what_was_paid(session: Session, open_shop: OpenShop) -> None:
    one, two = finished(session, open_shop), finished(session, open_shop)
    shelf.change(session, open_shop.office, one.serial, ShelfAsked(price=Decimal("345"), version=0))
    first = sell(session, open_shop, one.serial, place="the harbour fair")
    second = sell(session, open_shop, two.serial, price=Decimal("290.50"), place="the harbour fair")
    assert (first.price, second.price) == (Decimal("345.00"), Decimal("290.50"))
    found = list(session.exec(select(Order).order_by(Order.number)))  # type: ignore[arg-type]
    assert {order.status for order in found} == {OrderStatus.HANDED_OVER}
    assert len({order.customer_id for order in found}) == 1
    assert customers.customer(session, found[0].customer_id).name == "Sold at the harbour fair"
    # By hand: 345.00 and 290.50 came in, tax is in them, nothing is owed.
    assert [payments.account(session, order).total for order in found] == [Decimal("345.00"), Decimal("290.50")]
    assert sum(payment.amount for payment in session.exec(select(Payment))) == Decimal("635.50")
    assert unpaid.unpaid(session) == {}
    assert [(one.order, one.owed) for one in outlets.sales(session)] == [(2, Decimal("0.00")), (1, Decimal("0.00"))]
    with pytest.raises(Invalid, match="has left the shop"):
        sell(session, open_shop, one.serial, price=Decimal("1"))


def test_what_is_missing_or_impossible_stands_at_its_field(session: Session, open_shop: OpenShop) -> None:
    [in_work] = made.opened(session, open_shop.maker)
    done = finished(session, open_shop)
    tomorrow = orders.today(session) + timedelta(days=1)
    with pytest.raises(Invalid) as caught:
        sales.sell(session, open_shop.office, SellAsked(serial=in_work.serial, sold_on=tomorrow))
    assert set(caught.value.errors) == {"serial", "price", "paid_by", "sold_on"}
    with pytest.raises(Invalid, match="There is no blank 999"):
        sell(session, open_shop, "999")
    with pytest.raises(NotAllowed):
        sales.sell(session, open_shop.maker, SellAsked(serial=done.serial, price=Decimal("9"), paid_by=PaidBy.CASH))


def test_a_sale_is_taken_back_and_the_flute_sold_again(session: Session, open_shop: OpenShop) -> None:
    one = finished(session, open_shop)
    wrong = sell(session, open_shop, one.serial, price=Decimal("34.50"))
    assert wrong.id
    sales.take_back(session, open_shop.office, wrong.id, TakeBackSale(why="a nought was missing"))
    assert (one.status, one.ordered_flute_id) == (BlankStatus.FINISHED, None)
    assert sum(payment.amount for payment in session.exec(select(Payment))) == Decimal("0.00")
    assert session.get_one(Order, wrong.order_id).status is OrderStatus.WITHDRAWN
    with pytest.raises(Refused, match="taken back already"):
        sales.take_back(session, open_shop.office, wrong.id, TakeBackSale(why="again"))
    sell(session, open_shop, one.serial, price=Decimal("345"))
    assert [sold.sale.price for sold in outlets.sales(session)] == [Decimal("345.00")]
    assert sum(payment.amount for payment in session.exec(select(Payment))) == Decimal("345.00")


def test_an_outlet_owes_what_it_sold_less_what_it_keeps(session: Session, open_shop: OpenShop) -> None:
    who = open_shop.office
    where = outlets.save(session, who, None, OutletAsked(name="Pier Gallery", keeps_percent=Decimal("33.33")))
    assert where.id
    with pytest.raises(Invalid, match="of this name"):
        outlets.save(session, who, None, OutletAsked(name="Pier Gallery"))
    with pytest.raises(Stale):
        outlets.save(session, who, where.id, OutletAsked(name="Pier", version=9))
    one, two = finished(session, open_shop), finished(session, open_shop)
    for flute in (one, two):
        shelf.change(session, who, flute.serial, ShelfAsked(price=Decimal("345"), version=0))
        outlets.bring(session, who, where.id, Bring(serial=flute.serial))
    with pytest.raises(Invalid, match="lies there already"):
        outlets.bring(session, who, where.id, Bring(serial=one.serial))
    outlets.fetch(session, who, where.id, Bring(serial=two.serial))
    with pytest.raises(Refused, match="does not lie there"):
        outlets.fetch(session, who, where.id, Bring(serial=two.serial))
    [stands] = outlets.stands(session)
    assert [flute.seen.blank.serial for flute in stands.lying] == [one.serial]
    sales.sell(session, who, SellAsked(serial=one.serial, outlet_id=where.id))
    [stands] = outlets.stands(session)
    # By hand: 345.00 less 33.33 % (114.99) is 230.01.
    assert (stands.lying, stands.owed) == ([], Decimal("230.01"))
    with pytest.raises(Refused, match="stands for the outlet Pier Gallery"):
        erasing.erase(session, who, where.customer_id, Erase(version=1))
    paid = PaymentAsked(amount=Decimal("230.01"), paid_by=PaidBy.TRANSFER, paid_on=orders.today(session))
    payments.record(session, who, stands.sold[0].order, paid)
    assert outlets.stands(session)[0].owed == Decimal("0")
    rest, _ = shelf_list.listed(session, Which.FINISHED)
    assert [(row.seen.blank.serial, row.said.place) for row in rest] == [(two.serial, "")]
