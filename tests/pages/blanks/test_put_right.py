"""What was recorded by mistake is put right by a further entry, from where it was entered."""

import re

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from tests import blanks as made
from tests.shops import OpenShop
from webapp.models import Blank, BlankStatus, Event, Order, OrderStatus, Reservation, Shop, StepRecord
from webapp.shop.base.errors import NotAllowed, Refused
from webapp.shop.orders import rules as orders
from webapp.shop.orders.forms import Withdraw
from webapp.shop.production import opening, undoing
from webapp.shop.production.opening import GiveUp
from webapp.shop.production.undoing import Undo

WHY = Undo(why="another blank was meant")


def said(session: Session, subject: str, subject_id: int | None) -> list[str]:
    asked = select(Event.what).where(Event.subject == subject, Event.subject_id == subject_id)
    return list(session.exec(asked.order_by(col(Event.id))))


def test_firewood_that_was_none_goes_on_where_it_was(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        blank = made.opened(session, maker)[0]
        made.bring_to(session, maker, blank, "bore-gauge")
        assert blank.id is not None
        step, count = blank.next_name, len(session.exec(select(StepRecord)).all())
        opening.give_up(session, maker, blank.id, GiveUp(why="over-cut"))
        again = undoing.back_to_work(session, maker, blank.id, WHY)
        assert (again.status, again.given_up_at, again.next_name) == (BlankStatus.IN_WORK, None, step)
        assert len(session.exec(select(StepRecord)).all()) == count
        assert said(session, "blank", blank.id)[-2:] == [
            "Given up: firewood",
            "No firewood after all: back in work",
        ]
        with pytest.raises(Refused, match="not firewood"):
            undoing.back_to_work(session, maker, blank.id, WHY)
        with pytest.raises(NotAllowed):
            undoing.back_to_work(session, open_shop.viewer, blank.id, WHY)


def test_a_blank_opened_by_mistake_frees_wood_serial_and_order(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        blank = made.opened(session, maker, flute_id=flute_id)[0]
        serial, blank_id = blank.serial, blank.id
        assert blank_id is not None
        undoing.opened_by_mistake(session, maker, blank_id, WHY)
        assert blank.status is BlankStatus.MISTAKE and blank.ordered_flute_id is None
        open_ones = select(Reservation).where(Reservation.blank_id == blank_id, col(Reservation.ended_at).is_(None))
        assert session.exec(open_ones).first() is None
        assert said(session, "blank", blank_id)[-1] == f"Opened by mistake as {serial}"
        shop = session.get(Shop, 1)
        assert shop and serial == f"{shop.serial_prefix}{shop.next_serial:04d}"
        assert made.opened(session, maker, flute_id=flute_id)[0].serial == serial
        with pytest.raises(Refused, match="only a blank in work"):
            undoing.opened_by_mistake(session, maker, blank_id, WHY)


def test_what_was_worked_at_was_not_opened_by_mistake(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        made.bring_to(session, open_shop.maker, blank, "bore-gauge")
        with pytest.raises(Refused, match="was worked at"):
            undoing.opened_by_mistake(session, open_shop.maker, blank.id or 0, WHY)


def test_a_hand_over_that_was_none_is_put_right(open_shop: OpenShop) -> None:
    maker = open_shop.maker
    with open_shop.database.write() as session:
        flute_id = made.order(session)
        blank = made.opened(session, maker, flute_id=flute_id)[0]
        made.bring_to(session, maker, blank, "the end")
        order = session.exec(select(Order)).one()
        assert order.status is OrderStatus.READY
        orders.hand_over(session, maker, order.number, order.version, unpaid=True)
        assert blank.status is BlankStatus.HANDED_OVER
        orders.not_handed_over(session, maker, order.number, Withdraw(version=order.version, why="the wrong order"))
        assert (order.status, order.handed_over_at, blank.status) == (OrderStatus.READY, None, BlankStatus.FINISHED)
        assert said(session, "order", order.id)[-1] == "Not handed over after all: ready again"
        orders.hand_over(session, maker, order.number, order.version, unpaid=True)
        assert blank.status is BlankStatus.HANDED_OVER


def test_pages_offer_the_way_back(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        made.opened(session, open_shop.maker)
    assert "Opened by mistake" in client.get("/blanks/0001").text
    client.post("/blanks/0001/give-up", data={"why": "over-cut"})
    page = client.get("/blanks/0001").text
    assert "No firewood after all" in page
    assert client.post("/blanks/0001/back-to-work", data={}).status_code == 422
    assert "Back in work" in client.post("/blanks/0001/back-to-work", data={"why": "not this one"}).text
    done = client.post("/blanks/0001/opened-by-mistake", data={"why": "in the wrong key"})
    assert done.status_code == 200 and "opened by mistake" in done.text


def test_a_failed_gauge_says_how_to_take_it_back(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        blank = made.opened(session, open_shop.maker)[0]
        made.bring_to(session, open_shop.maker, blank, "bore-gauge")
    form = re.search(r'action="(/blanks/0001/steps/\d+)"', client.get("/blanks/0001").text)
    assert form
    page = client.post(form[1], data={"value": "19.8"}).text
    back = re.search(r'href="(/blanks/0001/entries/\d+)">Typed wrong', page)
    assert back
    page = client.post(back[1], data={"why": "misread"}).text
    assert "Did not pass" not in page
    with open_shop.database.read() as session:
        assert session.exec(select(Blank)).one().status is BlankStatus.IN_WORK
