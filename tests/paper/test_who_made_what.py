"""Papers say who made what, what is paid and outstanding, and name the weekday of a date."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from tests.paper.reading import text, words
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import IssuedKind, Order, PaidBy, Paper
from webapp.paper.office.letters import letter_job, packing_slip, slip_job
from webapp.paper.press.workers import Press
from webapp.shop.orders import customers, issued, payments, repair_state, rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.production import repairs
from webapp.shop.production.repairs import Found, FurtherRepair, TakeRepair

REPAIR: dict[str, Any] = {"whose": "other", "described": "cedar, five holes", "asked": "a crack", "price": "40"}


def confirmation(session: Session, press: Press, order: Order) -> str:
    paper = issued.latest(session, order, IssuedKind.CONFIRMATION)
    assert paper is not None
    return " ".join(text(press.print(letter_job(paper, Paper.A4))).split())


def test_a_repair_of_a_flute_made_elsewhere_is_not_made_by_this_shop(open_shop: OpenShop, warm_press: Press) -> None:
    with open_shop.database.write() as session:
        taken = REPAIR | {"customer_name": "Emmet", "customer_id": "new", "status": "confirmed", "due_on": "2031-01-02"}
        order = repairs.take(session, open_shop.office, TakeRepair.model_validate(taken))
        said = confirmation(session, warm_press, order)
        assert "Made by Alder Lane Flutes" not in said
        assert "Made elsewhere" in said and "the work of another maker: Alder Lane Flutes claims nothing" in said
        repair = repair_state.of_order(session, order)[0]
        repairs.begin(session, open_shop.maker, 1, repair.id or 0, order.version)
        repairs.write_found(session, open_shop.maker, 1, repair.id or 0, Found(version=order.version, found="glued"))
        slip = " ".join(text(warm_press.print(slip_job(packing_slip(session, order)))).split())
        assert "Made by Alder Lane Flutes" not in slip and "the work of another maker" in slip
        assert "Care sheet" not in slip, "no flute made here lies in this parcel"


def test_beside_a_flute_made_here_both_are_said(open_shop: OpenShop, warm_press: Press) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, due_on=date(2031, 5, 14)))
        assert "the work of another maker" not in confirmation(session, warm_press, order)
        further = FurtherRepair.model_validate(REPAIR | {"version": 1, "why": "brought along"})
        repairs.add(session, open_shop.office, 1, further)
        orders.confirm_again(session, open_shop.office, 1, order.version)
        said = confirmation(session, warm_press, order)
        assert "Made by Alder Lane Flutes" in said and "the work of another maker" in said


def test_what_is_paid_and_outstanding_and_which_weekday(open_shop: OpenShop, warm_press: Press) -> None:
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop, due_on=date(2031, 5, 14)))
        said = confirmation(session, warm_press, order)
        assert "Wed 14 May 2031" in said and "Outstanding" not in said
        given = PaymentAsked(amount=Decimal(90), paid_by=PaidBy.CASH, paid_on=orders.today(session))
        payments.record(session, open_shop.office, 1, given)
        posted = ChangeOrder(version=order.version, postage=Decimal(10), why="to be sent")
        orders.change_order(session, open_shop.office, 1, posted)
        orders.confirm_again(session, open_shop.office, 1, order.version)
        said = confirmation(session, warm_press, order)
        assert "Paid so far €90.00" in said and "Outstanding €160.00" in said


@pytest.mark.parametrize("size", list(Paper))
def test_the_address_stands_in_the_window_of_an_envelope(open_shop: OpenShop, warm_press: Press, size: Paper) -> None:
    """DIN 5008 form B: an address zone 62.7 to 90 mm from the top, 20 to 105 mm from the left; a no. 10 envelope with a
    letter sheet folded in three, wherever it slides: 63.5 to 80.4 mm from the top. Both from memory."""
    height = {Paper.A4: 297.0, Paper.LETTER: 279.4}[size]
    with open_shop.database.write() as session:
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        known = customers.customer(session, order.customer_id)
        known.address = "3 Orchard Steps\nLittle Quay\nUpper Sallow"
        known.contact = "ada@post.invalid"
        session.add(known)
        paper = issued.give_out(session, open_shop.office, order, IssuedKind.CONFIRMATION)
        lines = words(warm_press.print(letter_job(paper, size)), 0)
        for wanted in ("Ada Thorne", "3 Orchard Steps", "Little Quay", "Upper Sallow"):
            [line] = [one for one in lines if one.text.strip() == wanted]
            assert height - line.top >= 62.7 and height - line.bottom <= 82.0, (wanted, height - line.top)
            assert line.left >= 20.0 and line.right <= 105.0
        [contact] = [one for one in lines if "ada@post.invalid" in one.text]
        assert contact.left > 105.0
