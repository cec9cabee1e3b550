"""Orders that are agreed or handed over and not paid in full are found: in the list, on the home screen, by program."""

from decimal import Decimal

from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.api.programs import Program, key_of
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop, signed_in
from webapp.models import OrderStatus, PaidBy
from webapp.shop.billing import unpaid
from webapp.shop.orders import payments, price_customs, rules as orders
from webapp.shop.orders.forms import Withdraw
from webapp.shop.orders.payments import PaymentAsked
from webapp.shop.orders.price_customs import PricingAsked
from webapp.shop.people.tokens import Scope


def pay(shop: OpenShop, number: int, amount: str) -> None:
    with shop.database.write() as session:
        given = PaymentAsked(amount=Decimal(amount), paid_by=PaidBy.CASH, paid_on=orders.today(session))
        payments.record(session, shop.office, number, given)
        session.commit()


def test_what_is_owed_is_listed_to_the_cent(client: TestClient, app: FastAPI, open_shop: OpenShop) -> None:
    with open_shop.database.write() as session:
        tax = PricingAsked(tax_name="VAT", tax_percent=Decimal("8.875"), version=1)
        price_customs.change(session, open_shop.owner, tax)
        for status in (OrderStatus.CONFIRMED, OrderStatus.CONFIRMED, OrderStatus.QUOTED, OrderStatus.CONFIRMED):
            order = orders.take_order(session, open_shop.office, asked(open_shop, customer_id="new", status=status))
        orders.withdraw(session, open_shop.office, 4, Withdraw(version=order.version, why="moved away"))
        session.commit()
    # 240 and 8.875 % of it, 21.30: 261.30 for each.
    pay(open_shop, 1, "261.30")
    pay(open_shop, 2, "261.29")
    with open_shop.database.read() as session:
        assert unpaid.unpaid(session) == {2: Decimal("0.01")}
        assert unpaid.in_all(session) == (1, {"EUR": Decimal("0.01")})
    listed = client.get("/orders?show=unpaid").text
    assert "/orders/2" in listed and "€0.01" in listed and "/orders/1" not in listed and "/orders/3" not in listed
    home = client.get("/").text
    assert "1 order is not paid in full" in " ".join(home.split()) and "€0.01" in home
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ))
    [item] = office.ask("GET", "/orders?show=unpaid").json()["items"]
    assert (item["number"], item["outstanding"]) == (2, "0.01")
    # Who sees no money sees neither the list nor the figure.
    maker = Program(app, key_of(open_shop, open_shop.maker, Scope.READ))
    assert maker.ask("GET", "/orders?show=unpaid").status_code == 403
    for name in ("tam", "kit"):
        page = signed_in(client, name).get("/orders?show=unpaid").text
        assert "Not paid in full" not in page and "€" not in page.split("<main")[1]
        assert "not paid in full" not in client.get("/").text
    signed_in(client, "bo")
    pay(open_shop, 2, "0.01")
    assert "Whatever was agreed or handed over is paid." in client.get("/orders?show=unpaid").text
    assert "not paid in full" not in client.get("/").text
