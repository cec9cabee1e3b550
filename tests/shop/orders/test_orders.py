"""The rules of orders that do not show in a form: readiness, handing over, blanks let go, numbers."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, select

from tests.shop.conftest import pattern
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Customer, Order, OrderedFlute, OrderStatus, Reservation, StockKind
from webapp.shop.base.errors import Invalid, NotAllowed, Refused, Stale
from webapp.shop.orders import customers, flutes as ordered_flutes, lists as order_list, rules as orders
from webapp.shop.orders.forms import ChangeFlute, ChangeOrder, FurtherFlutes, TakeOrder, Withdraw
from webapp.shop.people import diary
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot


def asked(shop: OpenShop, **more: Any) -> TakeOrder:
    given: dict[str, Any] = {
        "customer_name": "Ada Thorne",
        "customer_id": "new",
        "key": "A4",
        "species_id": shop.species(),
        "price": Decimal("240"),
        "status": OrderStatus.CONFIRMED,
        "due_on": date.today() + timedelta(days=60),
    }
    return TakeOrder(**given | more)


def blank(session: Session, shop: OpenShop, flute: OrderedFlute | None, serial: str, revision_id: int) -> Blank:
    made = Blank(
        serial=serial,
        revision_id=revision_id,
        species_id=shop.species(),
        key="A4",
        ordered_flute_id=flute.id if flute else None,
        opened_by=shop.maker.id,
        due_on=date.today(),
    )
    session.add(made)
    session.flush()
    return made


def finish(session: Session, made: Blank, order: Order) -> None:
    made.status = BlankStatus.FINISHED
    session.add(made)
    assert order.id is not None
    orders.mark_ready_if_done(session, order.id)
    session.commit()


def test_orders_are_numbered_without_gaps_and_keep_the_shops_currency(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        first = orders.take_order(session, open_shop.office, asked(open_shop))
        session.commit()
        with pytest.raises(Invalid):
            orders.take_order(session, open_shop.office, asked(open_shop, species_id=999))
        session.rollback()
        second = orders.take_order(session, open_shop.office, asked(open_shop))
        assert (first.number, second.number) == (1, 2)
        assert second.currency == "EUR"


def test_an_order_is_ready_when_every_flute_is_finished_and_not_before(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, count=2))
        one, two = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert revision.id is not None
        spare = blank(session, open_shop, one, "T-1", revision.id)
        finish(session, blank(session, open_shop, one, "T-2", revision.id), order)
        assert order.status is OrderStatus.CONFIRMED
        finish(session, spare, order)
        assert order.status is OrderStatus.CONFIRMED, "two blanks of one flute do not make two flutes"
        finish(session, blank(session, open_shop, two, "T-3", revision.id), order)
        assert order.status is OrderStatus.READY


def test_handing_over_takes_one_blank_for_each_flute_and_leaves_the_spare_to_the_shop(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert revision.id is not None
        first, spare = (blank(session, open_shop, flute, f"T-{n}", revision.id) for n in (1, 2))
        finish(session, first, order)
        finish(session, spare, order)
        with pytest.raises(NotAllowed):
            orders.hand_over(session, open_shop.viewer, order.number, order.version)
        orders.hand_over(session, open_shop.office, order.number, order.version, unpaid=True)
        assert (order.status, first.status, spare.status) == (
            OrderStatus.HANDED_OVER,
            BlankStatus.HANDED_OVER,
            BlankStatus.FINISHED,
        )
        assert order.handed_over_at is not None
        assert (first.ordered_flute_id, spare.ordered_flute_id) == (flute.id, None)
        with pytest.raises(Refused, match="can no longer be changed"):
            orders.change_order(session, open_shop.office, order.number, ChangeOrder(version=order.version))


def test_withdrawing_leaves_the_blanks_to_the_shop_and_says_so(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert revision.id is not None
        made = blank(session, open_shop, flute, "T-1", revision.id)
        orders.withdraw(session, open_shop.office, order.number, Withdraw(version=order.version, why="moved away"))
        assert (made.ordered_flute_id, made.due_on, made.status) == (None, None, BlankStatus.IN_WORK)
        said = [entry.what for entry in diary.read(session, open_shop.owner, "order", order.id)]
        assert said[:2] == ["Withdrawn", "Blank T-1 belongs to the shop now"]


def test_a_new_date_reaches_the_blanks_at_the_bench(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert revision.id is not None
        made = blank(session, open_shop, flute, "T-1", revision.id)
        later = date.today() + timedelta(days=90)
        orders.change_order(
            session,
            open_shop.office,
            order.number,
            ChangeOrder(version=order.version, due_on=later, why="glue is late"),
        )
        assert made.due_on == later
        with pytest.raises(Invalid, match="needs a date"):
            orders.change_order(
                session, open_shop.office, order.number, ChangeOrder(version=order.version, due_on=None)
            )


def test_what_a_flute_sounds_stays_once_a_blank_is_open_for_it(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        assert flute.id is not None
        revision = pattern(session, open_shop)
        assert revision.id is not None
        ordered_flutes.choose_pattern(
            session, open_shop.office, order.number, flute.id, revision.id, version=order.version
        )
        blank(session, open_shop, flute, "T-1", revision.id)
        change: dict[str, Any] = {"key": "G4", "species_id": flute.species_id, "price": Decimal(240)}
        with pytest.raises(Invalid) as caught:
            wanted = ChangeFlute(version=order.version, **change)
            ordered_flutes.change_flute(session, open_shop.office, order.number, flute.id, wanted)
        assert "T-1" in caught.value.errors["key"]
        with pytest.raises(Refused, match="cannot be left out"):
            orders.add_flutes(
                session,
                open_shop.office,
                order.number,
                FurtherFlutes(key="C5", species_id=flute.species_id, price=Decimal(200), why="a second one"),
                order.version,
            )
            ordered_flutes.leave_out(session, open_shop.office, order.number, flute.id, order.version)


def test_a_pattern_that_no_longer_fits_is_put_aside(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert flute.id is not None
        assert revision.id is not None
        ordered_flutes.choose_pattern(session, open_shop.office, order.number, flute.id, revision.id, order.version)
        wanted = ChangeFlute(
            key="B4", species_id=flute.species_id, price=Decimal(240), version=order.version, why="a higher one"
        )
        ordered_flutes.change_flute(session, open_shop.office, order.number, flute.id, wanted)
        assert flute.revision_id is None
        with pytest.raises(Refused, match="not what this flute asks for"):
            ordered_flutes.choose_pattern(session, open_shop.office, order.number, flute.id, revision.id, order.version)


def test_leaving_out_the_only_unfinished_flute_makes_the_order_ready(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, count=2))
        one, two = orders.flutes_of(session, order)
        assert two.id is not None
        revision = pattern(session, open_shop)
        assert revision.id is not None
        finish(session, blank(session, open_shop, one, "T-1", revision.id), order)
        ordered_flutes.leave_out(session, open_shop.office, order.number, two.id, order.version, "one is enough")
        assert order.status is OrderStatus.READY


def test_a_change_on_an_old_version_is_refused_and_tells_what_it_says_now(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, note="first"))
        due = order.due_on
        orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, due_on=due, note="second"))
        with pytest.raises(Stale) as caught:
            orders.change_order(session, open_shop.office, 1, ChangeOrder(version=1, due_on=due, note="third"))
        assert caught.value.theirs["note"] == "second"


def test_the_list_sorts_by_date_and_filters(open_shop: OpenShop) -> None:
    today = date.today()
    with open_shop.database.write() as session:
        for days in (60, 5, 30):
            orders.take_order(session, open_shop.office, asked(open_shop, due_on=today + timedelta(days=days)))
        orders.take_order(session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY, due_on=None))

        def numbers(show: str, **more: Any) -> list[int]:
            return [row.order.number for row in order_list.listed(session, show, today, **more)[0]]

        assert numbers("open") == [2, 3, 1, 4]
        assert numbers("due") == [2]
        assert numbers("enquiry") == [4]
        assert numbers("all") == [4, 3, 2, 1]
        assert numbers("all", customer_id=1) == [1]
        assert not numbers("ready")


def test_names_are_found_without_case_and_accents_and_wildcards_mean_themselves(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        for name in ("Željko Ørn", "Anna-Lena Groß", "100% Ash", "Under_score"):
            customers.add(session, open_shop.office, name)
        session.commit()

        def found(typed: str) -> list[str]:
            return [one.customer.name for one in customers.like(session, typed)]

        assert found("zeljko") == ["Željko Ørn"]
        assert found("GROSS anna") == ["Anna-Lena Groß"]
        assert found("%") == ["100% Ash"]
        assert found("_") == ["Under_score"]
        assert len(found("")) == 4
        renamed = session.exec(select(Customer).where(Customer.name == "Under_score")).one()
        renamed.name = "Über Score"
        session.add(renamed)
        session.commit()
        assert found("uber") == ["Über Score"]


def test_a_blank_let_go_keeps_its_wood(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        (flute,) = orders.flutes_of(session, order)
        revision = pattern(session, open_shop)
        assert revision.id is not None
        made = blank(session, open_shop, flute, "T-1", revision.id)
        lot = NewLot(kind=StockKind.HALVES, name="walnut", species_id=open_shop.species(), quantity=4)
        item = stock.add_lot(session, open_shop.office, lot)
        assert item.id is not None
        assert made.id is not None
        stock.reserve(session, open_shop.office, item.id, made.id, 2)
        orders.withdraw(session, open_shop.office, 1, Withdraw(version=order.version, why="x"))
        assert session.exec(select(Reservation)).one().ended_at is None
