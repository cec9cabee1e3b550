"""A flute of the shelf is taken by an order and given back; none is sold twice; an order is ready once it has one."""

from collections.abc import Iterator
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Order, OrderedFlute, OrderStatus, Species, now
from webapp.shop.base.errors import FieldsNotAllowed, Invalid, NotAllowed, Refused, Stale
from webapp.shop.orders import changes as order_changes, lists as order_list, rules as orders
from webapp.shop.orders.forms import Withdraw
from webapp.shop.people import diary
from webapp.shop.shelf import lists as shelf_list, rules as shelf, taking
from webapp.shop.shelf.lists import Which
from webapp.shop.shelf.rules import ShelfAsked
from webapp.shop.shelf.taking import GiveBack, Take


@pytest.fixture
def session(open_shop: OpenShop) -> Iterator[Session]:
    with open_shop.database.write() as session:
        yield session


def finished(session: Session, shop: OpenShop, wood: str = "black walnut", key: str = "A4") -> Blank:
    """A flute built for the shop, finished."""
    [blank] = made.opened(session, shop.maker, key=key)
    blank.species_id = session.exec(select(Species.id).where(Species.name == wood)).one() or 0
    blank.status, blank.finished_at = BlankStatus.FINISHED, now()
    session.add(blank)
    session.flush()
    return blank


def order_of(session: Session, flute_id: int) -> Order:
    return session.get_one(Order, session.get_one(OrderedFlute, flute_id).order_id)


def take(session: Session, shop: OpenShop, flute_id: int, serial: str) -> Blank:
    order = order_of(session, flute_id)
    return taking.take(session, shop.maker, order.number, flute_id, Take(serial=serial, version=order.version))


def give_back(session: Session, shop: OpenShop, flute_id: int, serial: str) -> Blank:
    order = order_of(session, flute_id)
    asked = GiveBack(serial=serial, version=order.version, why="the walnut is liked better")
    return taking.give_back(session, shop.maker, order.number, flute_id, asked)


def test_a_finished_flute_of_the_shop_makes_an_order_ready_and_goes_back_again(
    session: Session, open_shop: OpenShop
) -> None:
    flute_id = made.order(session)
    order = order_of(session, flute_id)
    [building] = made.opened(session, open_shop.maker, flute_id=flute_id)
    cherry = finished(session, open_shop, "black cherry")
    take(session, open_shop, flute_id, cherry.serial.lower())
    flute = session.get_one(OrderedFlute, flute_id)
    assert (cherry.ordered_flute_id, order.status) == (flute_id, OrderStatus.READY)
    assert (flute.species_id, flute.revision_id) == (cherry.species_id, cherry.revision_id)
    # What was being built instead lies on the shelf, and no customer waits for it.
    assert (building.ordered_flute_id, building.due_on) == (None, None)
    [change] = order_changes.read(session, open_shop.owner, order)
    assert (change.what, change.before, change.after) == ("Flute 1, wood", "black walnut", "black cherry")
    assert cherry.serial in change.why
    with pytest.raises(Refused, match="finished already"):
        take(session, open_shop, flute_id, building.serial)
    give_back(session, open_shop, flute_id, cherry.serial)
    assert (cherry.ordered_flute_id, order.status) == (None, OrderStatus.IN_THE_SHOP)
    assert "Back in the shop" in diary.read(session, open_shop.owner, "order", order.id)[0].what
    take(session, open_shop, flute_id, building.serial)
    assert (building.due_on, order.status) == (order.due_on, OrderStatus.IN_THE_SHOP)
    told = [line.what for line in diary.read(session, open_shop.owner, "blank", building.id)]
    assert f"Taken from the shelf for order {order.number}" in told


def test_a_flute_is_sold_once_and_the_field_says_whose_it_is(session: Session, open_shop: OpenShop) -> None:
    first, second = made.order(session), made.order(session)
    cherry = finished(session, open_shop, "black cherry")
    take(session, open_shop, first, cherry.serial)
    with pytest.raises(Invalid) as caught:
        take(session, open_shop, second, cherry.serial)
    assert caught.value.errors == {
        "serial": f"{cherry.serial} is order 1's: a flute is sold once. Give it back there first."
    }
    order = order_of(session, first)
    orders.hand_over(session, open_shop.office, order.number, order.version, unpaid=True)
    with pytest.raises(Invalid, match="has left the shop"):
        take(session, open_shop, second, cherry.serial)
    with pytest.raises(Invalid, match="There is no blank nothing"):
        take(session, open_shop, second, "nothing")
    with pytest.raises(Invalid, match="is not built for flute 1"):
        give_back(session, open_shop, second, cherry.serial)


def test_only_what_fits_is_offered_and_taken(session: Session, open_shop: OpenShop) -> None:
    flute_id = made.order(session)
    order = order_of(session, flute_id)
    low = finished(session, open_shop, key="G4")
    cherry = finished(session, open_shop, "black cherry")
    grave = finished(session, open_shop)
    grave.grave_defect = True
    [in_work] = made.opened(session, open_shop.maker)
    session.flush()
    offered = shelf_list.fitting(session, order_list.flute_rows(session, order))[flute_id]
    assert [one.seen.blank.serial for one in offered] == [cherry.serial, in_work.serial]
    assert [one.flute.id for one in shelf_list.waiting_for(session, cherry)] == [flute_id]
    assert shelf_list.waiting_for(session, low) == []
    with pytest.raises(Invalid, match="is in G4, and the order asks for A4"):
        take(session, open_shop, flute_id, low.serial)
    with pytest.raises(Invalid, match="grave defect"):
        take(session, open_shop, flute_id, grave.serial)
    session.get_one(OrderedFlute, flute_id).a4 = 432.0
    with pytest.raises(Invalid, match="another flute than was asked for"):
        take(session, open_shop, flute_id, cherry.serial)


def test_an_enquiry_takes_the_shelfs_price_and_is_ready_once_it_is_confirmed(
    session: Session, open_shop: OpenShop
) -> None:
    flute_id = made.order(session, OrderStatus.ENQUIRY)
    flute = session.get_one(OrderedFlute, flute_id)
    flute.price = Decimal(0)
    cherry = finished(session, open_shop)
    shelf.change(session, open_shop.office, cherry.serial, ShelfAsked(price=Decimal("310"), place="window", version=0))
    take(session, open_shop, flute_id, cherry.serial)
    order = order_of(session, flute_id)
    assert (flute.price, order.status) == (Decimal("310.00"), OrderStatus.ENQUIRY)
    orders.confirm(session, open_shop.office, order.number, order.version)
    assert order.status is OrderStatus.READY
    with pytest.raises(Stale):
        taking.give_back(session, open_shop.maker, 1, flute_id, GiveBack(serial=cherry.serial, version=1))
    orders.withdraw(session, open_shop.office, 1, Withdraw(version=order.version, why="changed their mind"))
    found, more = shelf_list.listed(session, Which.FINISHED)
    assert [(one.seen.blank.serial, one.said.place) for one in found] == [(cherry.serial, "window")]
    assert not more


def test_price_and_place_are_said_by_those_whose_they_are(session: Session, open_shop: OpenShop) -> None:
    cherry = finished(session, open_shop)
    shelf.change(session, open_shop.office, cherry.serial, ShelfAsked(price=Decimal("310"), version=0))
    with pytest.raises(FieldsNotAllowed) as caught:
        shelf.change(session, open_shop.maker, cherry.serial, ShelfAsked(price=Decimal("1"), version=1))
    assert "price" in caught.value.errors
    said = shelf.change(session, open_shop.maker, cherry.serial, ShelfAsked(place="bench 2", version=1))
    assert (said.price, said.place, said.version) == (Decimal("310.00"), "bench 2", 2)
    with pytest.raises(Stale):
        shelf.change(session, open_shop.office, cherry.serial, ShelfAsked(place="bench 3", version=1))
    with pytest.raises(NotAllowed):
        shelf.change(session, open_shop.viewer, cherry.serial, ShelfAsked(place="bench 3", version=2))
    seen = [line.what for line in diary.read(session, open_shop.maker, "blank", cherry.id)]
    assert "On the shelf, place: was nowhere in particular, is now bench 2" in seen
    assert not any("310" in line for line in seen)
    take(session, open_shop, made.order(session), cherry.serial)
    with pytest.raises(Refused, match="not on the shelf"):
        shelf.change(session, open_shop.office, cherry.serial, ShelfAsked(place="bench 3", version=2))
