"""What changes after a confirmation is kept and told; the customer's page shows where it stands and nothing else."""

from dataclasses import fields
from datetime import date, timedelta
from decimal import Decimal

import pytest

from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import IssuedKind, OrderStatus, Pricing, at, now
from webapp.shop.base.errors import NotAllowed, NotFound, Refused, Stale
from webapp.shop.orders import changes as order_changes, issued, rules as orders, status_page
from webapp.shop.orders.forms import ChangeOrder, Withdraw
from webapp.shop.orders.status_page import Seen
from webapp.shop.people.accounts import digest


def test_a_change_is_kept_with_its_reason_until_a_new_confirmation_tells_it(open_shop: OpenShop) -> None:
    who = open_shop.office
    with open_shop.database.write() as session:
        order = orders.take_order(session, who, asked(open_shop))
        due = order.due_on
        assert due is not None
        session.commit()
        with pytest.raises(Refused, match="Nothing has changed"):
            orders.confirm_again(session, who, 1, order.version)
        session.rollback()
        later = ChangeOrder(version=order.version, due_on=due + timedelta(days=9), note="mine", why="glue is late")
        with at(now() + timedelta(minutes=1)):
            orders.change_order(session, who, 1, later)
            (change,) = order_changes.read(session, who, order)
            assert (change.what, change.why, change.by, change.told) == ("Due", "glue is late", "Bo", False)
        with at(now() + timedelta(minutes=2)):
            orders.confirm_again(session, who, 1, order.version)
        second = issued.latest(session, order, IssuedKind.CONFIRMATION)
        assert second is not None and second.number == 2
        assert [(c["what"], c["why"]) for c in second.content["changes"]] == [("Due", "glue is late")]
        assert order_changes.read(session, who, order)[0].told
        # The first one still says what it said.
        first = issued.paper_of(session, order, IssuedKind.CONFIRMATION, 1)
        assert (first.content["due_on"], second.content["due_on"]) == (due.isoformat(), str(due + timedelta(days=9)))
        assert "mine" not in str(second.content), "the shop's own note stands on no paper"
        with at(now() + timedelta(minutes=3)):
            posted = ChangeOrder(
                version=order.version, due_on=order.due_on, note="mine", postage=Decimal("12.5"), why="to be sent"
            )
            orders.change_order(session, who, 1, posted)
        assert [c.what for c in order_changes.untold(session, order)] == ["Packing and postage"]
        with pytest.raises(NotFound):
            issued.paper_of(session, order, IssuedKind.CONFIRMATION, 3)


def test_the_customers_page_is_off_secret_renewable_and_says_nothing_else(open_shop: OpenShop) -> None:
    who = open_shop.office
    with open_shop.database.write() as session:
        order = orders.take_order(session, who, asked(open_shop, count=2, due_on=date.today() + timedelta(days=60)))
        assert order.status_digest is None
        with pytest.raises(NotAllowed):
            status_page.open_page(session, open_shop.viewer, 1, order.version)
        secret = status_page.open_page(session, who, 1, order.version)
        assert len(secret) >= 43, "256 bits in base64"
        assert (order.status_digest, secret in str(order.model_dump())) == (digest(secret), False)
        seen = status_page.look(session, secret)
        told = {"shop", "contact", "number", "status", "promised", "pieces", "before"}
        assert {field.name for field in fields(Seen)} == told
        assert seen.before is None, "the shop has not chosen to say it"
        assert (seen.status, seen.promised) == (OrderStatus.CONFIRMED, order.due_on)
        assert [(piece.words, piece.behind) for piece in seen.pieces] == [("not begun", 0)] * 2
        assert (seen.shop, seen.contact, seen.number) == ("Alder Lane Flutes", (), 1)
        session.add(Pricing(letterhead="14 Millrace Yard \r\n\r\n0555 0100\n"))
        session.flush()
        assert status_page.look(session, secret).contact == ("14 Millrace Yard", "0555 0100"), "no line left empty"
        session.commit()
        with pytest.raises(Stale):
            status_page.open_page(session, who, 1, order.version - 1)
        session.rollback()
        another = status_page.open_page(session, who, 1, order.version)
        for dead in (secret, "", "x" * 500, "\u0000é", order.status_digest or ""):
            with pytest.raises(NotFound, match="does not work"):
                status_page.look(session, dead)
        assert status_page.look(session, another)
        status_page.close_page(session, who, 1, order.version)
        with pytest.raises(NotFound):
            status_page.look(session, another)
        orders.withdraw(session, who, 1, Withdraw(version=order.version, why="moved"))
        with pytest.raises(Refused, match="withdrawn"):
            status_page.open_page(session, who, 1, order.version)


def test_the_page_says_how_many_orders_are_before_it_where_the_shop_wants_that(open_shop: OpenShop) -> None:
    who, today = open_shop.office, date.today()
    due = {1: None, 2: today + timedelta(days=60), 3: today + timedelta(days=30), 4: None, 5: None}
    with open_shop.database.write() as session:
        session.add(Pricing(public_line=True))
        for number, day in due.items():
            order = orders.take_order(session, who, asked(open_shop, due_on=day or today))
            assert order.number == number
            order.taken_on, order.due_on = today - timedelta(days=10 - number), day
        session.flush()
        orders.withdraw(session, who, 5, Withdraw(version=orders.order_of(session, 5).version, why="moved"))
        before = {n: status_page.seen(session, orders.order_of(session, n)).before for n in due}
    # The first due is first; those without a date keep the order in which they were taken; a withdrawn one is in none.
    assert before == {3: 0, 2: 1, 1: 2, 4: 3, 5: None}
