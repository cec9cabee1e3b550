"""Handing over what is not paid asks once, with the amount: by the rules, on the page, by program, for repairs too."""

import re
from decimal import Decimal

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat, version
from tests.shop.conftest import pattern
from tests.shop.orders.test_orders import asked, blank, finish
from tests.shops import OpenShop, signed_in
from webapp.models import Order, OrderStatus, PaidBy, PatternRevision
from webapp.shop.base.errors import Invalid
from webapp.shop.orders import payments, rules as orders
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.people import diary
from webapp.shop.people.tokens import Scope
from webapp.shop.production import repairs
from webapp.shop.production.repairs import Found, TakeRepair


def ready(session: Session, shop: OpenShop, paid: str = "83") -> Order:
    """An order of 240.00, finished, with so much paid."""
    order = orders.take_order(session, shop.office, asked(shop))
    (flute,) = orders.flutes_of(session, order)
    known = session.exec(select(PatternRevision)).first() or pattern(session, shop)
    finish(session, blank(session, shop, flute, f"T-{order.number}", known.id or 0), order)
    if Decimal(paid):
        given = PaymentAsked(amount=Decimal(paid), paid_by=PaidBy.CASH, paid_on=orders.today(session))
        payments.record(session, shop.office, order.number, given)
    session.commit()
    return order


def test_what_is_outstanding_is_asked_about_once(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        order = ready(session, open_shop)
        with pytest.raises(Invalid) as asks:
            orders.hand_over(session, open_shop.office, 1, order.version)
        assert asks.value.errors == {
            "unpaid": "€157.00 is still outstanding for this order: hand it over all the same?"
        }
        with pytest.raises(Invalid, match="Something is still outstanding"):
            orders.hand_over(session, open_shop.maker, 1, order.version)
        session.rollback()
        orders.hand_over(session, open_shop.maker, 1, order.version, unpaid=True)
        assert order.status is OrderStatus.HANDED_OVER
        said, seen = (
            [line.what for line in diary.read(session, who, "order", order.id)]
            for who in (open_shop.owner, open_shop.maker)
        )
        assert "Handed over unpaid: €157.00 outstanding" in said
        assert "Handed over" in seen and not any("unpaid" in line for line in seen)
        paid = ready(session, open_shop, "240")
        orders.hand_over(session, open_shop.office, 2, paid.version)
        assert paid.status is OrderStatus.HANDED_OVER


def test_a_repair_asks_too(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        given = {"whose": "other", "described": "cedar", "asked": "a crack", "price": "40", "customer_id": "new"}
        taken = given | {"customer_name": "Emmet", "status": "confirmed", "due_on": "2031-01-02"}
        order = repairs.take(session, open_shop.office, TakeRepair.model_validate(taken))
        repair = orders.repair_state.of_order(session, order)[0]
        repairs.begin(session, open_shop.maker, 1, repair.id or 0, order.version)
        repairs.write_found(session, open_shop.maker, 1, repair.id or 0, Found(version=order.version, found="glued"))
        with pytest.raises(Invalid, match=r"€40\.00"):
            orders.hand_over(session, open_shop.owner, 1, order.version)
        orders.hand_over(session, open_shop.owner, 1, order.version, unpaid=True)
        assert order.status is OrderStatus.HANDED_OVER


def test_the_page_asks_and_one_tap_says_yes(client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        ready(session, open_shop)
    maker = signed_in(client, "tam")
    page = maker.get("/orders/1").text
    asks = maker.post("/orders/1/hand-over", data={"version": version(page)})
    assert asks.status_code == 422 and "Something is still outstanding" in asks.text
    assert "€" not in asks.text.split("<main")[1] and "Record a payment first" not in asks.text
    office = signed_in(client, "bo")
    asks = office.post("/orders/1/hand-over", data={"version": version(page)})
    assert asks.status_code == 422
    told = flat(asks.text.split("Not paid in full.")[1].split("</form>")[0])
    assert "€157.00 is still outstanding" in told and "Yes, hand it over unpaid" in told
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', told))
    done = office.post("/orders/1/hand-over", data=fields)
    assert done.status_code == 200 and "€157.00 outstanding" in flat(done.text)


def test_a_program_has_to_say_so(app: FastAPI, client: TestClient, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        ready(session, open_shop)
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    seen = office.ask("GET", "/orders/1")
    assert (seen.json()["paid"], seen.json()["outstanding"]) == ("83.00", "157.00")
    asks = office.ask("POST", "/orders/1/hand-over", {}, if_match=seen.headers["etag"])
    assert asks.status_code == 422
    assert [one["field"] for one in asks.json()["errors"]] == ["unpaid"]
    done = office.ask("POST", "/orders/1/hand-over", {"unpaid": True}, if_match=seen.headers["etag"])
    assert done.json()["status"] == "handed over"
    maker = Program(app, key_of(open_shop, open_shop.maker, Scope.READ))
    assert "outstanding" not in maker.ask("GET", "/orders/1").json()
