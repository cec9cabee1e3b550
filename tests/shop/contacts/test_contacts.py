"""Enquiries without a flute, customers who turn out to be one, and those who want to be taken out."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import Customer, Order, OrderStatus, PaidBy, Payment
from webapp.shop.base.errors import Invalid, NotAllowed, NotFound, Refused, Stale
from webapp.shop.contacts import enquiries, erasing, merging
from webapp.shop.contacts.enquiries import NoteEnquiry
from webapp.shop.contacts.erasing import Erase
from webapp.shop.contacts.merging import Merge
from webapp.shop.orders import customers, lists as order_list, payments, rules as orders
from webapp.shop.orders.customers import CustomerAsked
from webapp.shop.orders.forms import FurtherFlutes, Withdraw
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.parcels import rules as parcels
from webapp.shop.parcels.rules import ParcelAsked
from webapp.shop.people import diary


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    with open_shop.database.write() as session:
        yield session


def test_an_enquiry_is_noted_without_key_or_wood_and_confirmed_once_complete(
    session: Session, open_shop: OpenShop
) -> None:
    noted = NoteEnquiry(customer_name="Ada Thorne", key="A4", extras="an owl", count=2, note="rings back in May")
    order = enquiries.note(session, open_shop.maker, noted)
    assert (order.status, order.note) == (
        OrderStatus.ENQUIRY,
        "Asked for so far: 2 flutes, in A4, an owl\nrings back in May",
    )
    step = order_list.next_step(order, [])
    assert step and step.words == "Add the flute once its key and wood are known."
    for move in (orders.quote, orders.confirm):
        with pytest.raises(Refused, match="Nothing is asked for yet"):
            move(session, open_shop.office, order.number, order.version)
    flute = FurtherFlutes(key="A4", species_id=open_shop.species(), price=Decimal("300"))
    orders.add_flutes(session, open_shop.office, order.number, flute, order.version)
    order.due_on = date(2036, 5, 2)
    assert orders.confirm(session, open_shop.office, order.number, order.version).status is OrderStatus.CONFIRMED
    bare = enquiries.note(session, open_shop.maker, NoteEnquiry(customer_name="Bo Marsh"))
    assert bare.note == ""
    with pytest.raises(Invalid) as caught:
        enquiries.note(session, open_shop.maker, NoteEnquiry(customer_name="", species_id=9999))
    assert set(caught.value.errors) == {"customer_name", "species_id"}
    with pytest.raises(NotAllowed):
        enquiries.note(session, open_shop.viewer, NoteEnquiry(customer_name="Bo Marsh"))


def test_two_entries_of_one_customer_become_one_and_nothing_known_is_lost(
    session: Session, open_shop: OpenShop
) -> None:
    who = open_shop.office
    first = orders.take_order(session, who, asked(open_shop, customer_name="Ada Thorne"))
    second = orders.take_order(session, who, asked(open_shop, customer_name="A. Thorne", contact="ada@mail.invalid"))
    kept, other = (session.get_one(Customer, order.customer_id) for order in (first, second))
    other.note, other.address = "small hands", "2 Mill Lane"
    kept.address = "1 Mill Lane"
    session.flush()
    assert kept.id and other.id
    now_is = {"version": kept.version, "other_version": other.version}
    with pytest.raises(Invalid, match="the same entry"):
        merging.merge(session, who, kept.id, Merge(other_id=kept.id, **now_is))
    with pytest.raises(Stale):
        merging.merge(session, who, kept.id, Merge(other_id=other.id, version=99, other_version=1))
    with pytest.raises(NotAllowed):
        merging.merge(session, open_shop.maker, kept.id, Merge(other_id=other.id, **now_is))
    gone = other.id
    merging.merge(session, who, kept.id, Merge(other_id=gone, **now_is))
    assert session.get(Customer, gone) is None
    assert second.customer_id == kept.id
    assert (kept.name, kept.contact, kept.address) == ("Ada Thorne", "ada@mail.invalid", "1 Mill Lane")
    assert kept.note == "small hands\n2 Mill Lane"
    told = [line.what for line in diary.read(session, who, "customer", kept.id)]
    assert "A. Thorne is now a customer" in told and "merged" in told[0]


def test_who_is_erased_is_found_nowhere_and_the_money_stays(session: Session, open_shop: OpenShop) -> None:
    who = open_shop.office
    order = orders.take_order(
        session, who, asked(open_shop, customer_name="Ada Thorne", contact="ada@mail.invalid", note="for Ada's niece")
    )
    known = session.get_one(Customer, order.customer_id)
    assert known.id
    card = CustomerAsked(name="Ada Thorne", contact="ada@mail.invalid", address="2 Mill Lane\nSallow", version=1)
    customers.change(session, who, known.id, card)
    paid = PaymentAsked(amount=Decimal("80"), paid_by=PaidBy.TRANSFER, paid_on=date.today(), reference="A. Thorne 1")
    payments.record(session, who, order.number, paid)
    gift = ParcelAsked(name="Lio Thorne", address="2 Mill Lane", is_gift=True, version=0)
    parcels.change(session, who, order.number, gift)
    with pytest.raises(Refused, match="Order 1 is still open"):
        erasing.erase(session, who, known.id, Erase(version=known.version))
    orders.withdraw(session, who, 1, Withdraw(version=order.version, why="Ada changed her mind"))
    with pytest.raises(Stale):
        erasing.erase(session, who, known.id, Erase(version=0))
    with pytest.raises(NotAllowed):
        erasing.erase(session, open_shop.maker, known.id, Erase(version=known.version))
    assert erasing.erase(session, who, known.id, Erase(version=known.version)) is False
    session.commit()
    assert found_anywhere(session, "Thorne", "ada@mail", "Mill Lane", "Sallow", "niece") == []
    assert known.name == f"Erased customer {known.id}"
    [payment] = session.exec(select(Payment))
    assert (payment.amount, payment.order_id) == (Decimal("80.00"), order.id)


def test_a_customer_without_an_order_is_gone(session: Session, open_shop: OpenShop) -> None:
    new = customers.add(session, open_shop.office, "Bo Marsh", "bo@mail.invalid")
    assert new.id
    gone = new.id
    assert erasing.erase(session, open_shop.office, gone, Erase(version=1)) is True
    session.commit()
    with pytest.raises(NotFound):
        customers.customer(session, gone)
    assert found_anywhere(session, "Marsh", "bo@mail") == []
    assert session.exec(select(Order).where(col(Order.customer_id) == gone)).all() == []


def found_anywhere(session: Session, *words: str) -> list[str]:
    """The columns of the whole database in which one of these words stands, however it is written."""
    found = []
    for table in SQLModel.metadata.sorted_tables:
        for row in session.connection().execute(sa.select(table)).mappings():
            for name, value in row.items():
                if any(word.lower() in str(value).lower() for word in words):
                    found.append(f"{table.name}.{name}: {value}")
    return found
