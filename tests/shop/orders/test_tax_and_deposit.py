"""Orders that bear no tax, in sums, papers, lists and by program; deposits of flutes alone; payments as they come."""

import re
from decimal import Decimal
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop, signed_in
from webapp.models import Order, OrderStatus, PaidBy, PaymentKind, TaxStatus
from webapp.shop.billing import unpaid
from webapp.shop.orders import issued, money as order_money, payments, price_customs, prices, rules as orders
from webapp.shop.orders.forms import ChangeOrder
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.orders.price_customs import PricingAsked
from webapp.shop.orders.prices import Tax
from webapp.shop.people import diary
from webapp.shop.people.tokens import Scope
from webapp.shop.production import repairs
from webapp.shop.production.repairs import FurtherRepair, TakeRepair

REPAIR: dict[str, Any] = {"whose": "other", "described": "cedar", "asked": "a crack", "price": "50"}


def customs(session: Session, shop: OpenShop, included: bool) -> None:
    given = {"tax_name": "VAT", "tax_percent": "20", "tax_included": included, "deposit_percent": "30", "version": 1}
    price_customs.change(session, shop.office, PricingAsked.model_validate(given))


@pytest.mark.parametrize(("included", "total"), [(False, "240.00"), (True, "200.00")])
def test_an_export_bears_no_tax(open_shop: OpenShop, included: bool, total: str) -> None:
    """At 20 % a sixth of a price that includes it is tax: the "VAT fraction" of HMRC Notice 700 (from memory)."""
    with open_shop.database.write() as session:
        customs(session, open_shop, included)
        order = orders.take_order(session, open_shop.office, asked(open_shop))
        assert order_money.sums_of(session, order).total == Decimal("240.00" if included else "288.00")
        free = ChangeOrder(version=order.version, tax_status=TaxStatus.EXPORT, tax_reference="EX 9", why="to Norway")
        orders.change_order(session, open_shop.office, 1, free)
        sums = order_money.sums_of(session, order)
        assert (sums.tax, str(sums.total)) == (0, total)
        assert unpaid.unpaid(session) == {order.id: Decimal(total)}
        content = issued.content_of(session, order)
        told = {name: content[name] for name in ("tax", "tax_status", "tax_reference", "total", "tax_relief")}
        relief = "40.00" if included else "0.00"
        assert told == {
            "tax": "0.00", "tax_status": "export", "tax_reference": "EX 9", "total": total, "tax_relief": relief
        }  # fmt: skip
        given = PaymentAsked(amount=Decimal(total), paid_by=PaidBy.CASH, paid_on=orders.today(session))
        payments.record(session, open_shop.office, 1, given)
        assert unpaid.unpaid(session) == {}


def test_an_order_without_a_status_of_its_own_is_taxed_as_ever() -> None:
    taxed = prices.sums([Decimal(240)], Decimal(0), Tax("VAT", Decimal(20)), "EUR")
    assert (taxed.tax, taxed.total, taxed.relief) == (Decimal(48), Decimal(288), 0)


def test_a_repair_asks_no_deposit_of_a_flute(open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        customs(session, open_shop, False)
        taken = REPAIR | {"customer_name": "Emmet", "customer_id": "new", "status": "confirmed", "due_on": "2031-01-02"}
        order = repairs.take(session, open_shop.office, TakeRepair.model_validate(taken))
        assert order.deposit == 0 and issued.of_order(session, order)[0].content["deposit"] == "0.00"
        assert payments.expected(session, order) == (PaymentKind.PAYMENT, Decimal("60.00"))
        both = orders.take_order(
            session, open_shop.office, asked(open_shop, status=OrderStatus.ENQUIRY, customer_name="Wilmot")
        )
        further = FurtherRepair.model_validate(REPAIR | {"version": both.version})
        repairs.add(session, open_shop.office, 2, further)
        orders.quote(session, open_shop.office, 2, both.version)
        # 30 % of the flute's 240 and its tax, to a whole unit; nothing of the repair's 60.
        assert both.deposit == Decimal("86.00")


def test_the_payment_that_comes_next_stands_there_and_is_logged(client: TestClient, open_shop: OpenShop) -> None:
    def order() -> Order:
        return orders.order_of(session, 1)

    with open_shop.database.write() as session:
        customs(session, open_shop, False)
        orders.take_order(session, open_shop.office, asked(open_shop))
        session.commit()
    sums = []
    for kind, amount in (("deposit", "86.00"), ("payment", "202.00")):
        form = flat(client.get("/orders/1").text.split("Record a payment")[1].split("</form>")[0])
        assert re.search(rf'value="{kind}"[^>]* checked', form), kind
        assert re.search(rf'name="amount"[^>]*value="{amount}"', form), amount
        seen = re.search(r'name="last_seen" value="(\d+)"', form)
        assert seen is not None
        day = re.search(r'name="paid_on"[^>]*value="([^"]+)"', form)
        assert day is not None
        sent = {"kind": kind, "amount": amount, "paid_by": "cash", "paid_on": day[1], "last_seen": seen[1]}
        sums.append(client.post("/orders/1/payments", data=sent).status_code)
    assert sums == [200, 200]
    with open_shop.database.write() as session:
        said = [line.what for line in diary.read(session, open_shop.owner, "order", order().id)]
        assert said[0] == "Payment of €202.00, cash; nothing outstanding"
        assert said[1] == "Deposit of €86.00, cash; €202.00 outstanding"
        assert payments.expected(session, order()) == (PaymentKind.PAYMENT, 0)


def test_the_page_and_a_program_set_it_and_a_maker_does_not(
    client: TestClient, app: FastAPI, open_shop: OpenShop
) -> None:
    with open_shop.database.write() as session:
        customs(session, open_shop, True)
        orders.take_order(session, open_shop.office, asked(open_shop))
        session.commit()
    form = {"version": "1", "tax_status": "resale", "tax_reference": "R-77", "why": "a shop"}
    assert client.post("/orders/1/edit", data=form | {"tax_status": "never"}).status_code == 422
    page = flat(client.post("/orders/1/edit", data=form).text)
    assert "VAT not charged: resale" in page and "R-77" in page and "€200.00" in page
    maker = signed_in(client, "tam")
    assert "tax_status" not in maker.get("/orders/1/edit").text
    assert maker.post("/orders/1/edit", data=form | {"version": "2", "tax_status": "taxed"}).status_code == 403
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    changed = office.ask("PATCH", "/orders/1", {"version": 2, "tax_status": "taxed", "why": "no proof"})
    assert (changed.json()["tax_status"], changed.json()["total"]) == ("taxed", "240.00")
