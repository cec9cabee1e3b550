"""The price page: ticking changes what is shown, what is shown is agreed, a confirmed price changes when seen."""

import re

from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.api.programs import Program, key_of
from tests.pages.orders.reading import flat
from tests.shop.orders.test_orders import asked
from tests.shops import OpenShop
from webapp.models import OrderedFlute, OrderStatus
from webapp.shop.costs import flute_price
from webapp.shop.orders import price_customs, rules as orders
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people.tokens import Scope

HERE = "/orders/1/flutes/1/price"


def priced(shop: OpenShop, status: OrderStatus, price: str | None) -> None:
    """A flute that is built up to 500.00, options at 65.00 (number 1) and 25.00 (number 2)."""
    with shop.database.write() as session:
        rates = {"minutes_tuning": 600, "hourly_tuning": "50", "version": 1}
        price_customs.change(session, shop.office, PricingAsked.model_validate(rates))
        for name, amount in (("Carved block", "65"), ("Lined case", "25")):
            option = OptionAsked.model_validate({"name": name, "price": amount, "offered": True})
            price_customs.save_option(session, shop.office, None, option)
        orders.take_order(session, shop.office, asked(shop, status=status, price=price))
        session.commit()


def form(page: str) -> dict[str, str | list[str]]:
    """What a browser would send from the page as it stands, without what is ticked."""
    inputs = [one for one in re.findall(r"<input[^>]*>", flat(page)) if 'form="price"' in one]
    inputs += re.findall(r"<input[^>]*>", flat(page).split('id="price"')[1].split("</form>")[0])
    fields: dict[str, str | list[str]] = {}
    for one in inputs:
        name, value = (re.search(rf'{what}="([^"]*)"', one) for what in ("name", "value"))
        if name and 'type="checkbox"' not in one:
            fields[name[1]] = value[1] if value else ""
    return fields


def flute(shop: OpenShop) -> tuple[OrderedFlute, list[str]]:
    with shop.database.read() as session:
        (one,) = orders.flutes_of(session, orders.order_of(session, 1))
        return one, [option.name for option in flute_price.chosen(session, [one.id]).get(one.id or 0, [])]


def test_ticking_changes_what_is_shown(client: TestClient, open_shop: OpenShop) -> None:
    priced(open_shop, OrderStatus.ENQUIRY, None)
    page = flat(client.get(HERE).text)
    assert 'hx-get="/orders/1/flutes/1/price?look=1"' in page and "This agrees €500.00" in page
    asked_for = {"look": "1", "options": ["1", "2"], "price": "", "version": "1"}
    part = flat(client.get(HERE, params=asked_for, headers={"hx-request": "true"}).text)
    assert "<html" not in part and 'name="shown" value="590.00"' in part and "This agrees €590.00" in part
    typed = flat(client.get(HERE, params=asked_for | {"price": "570"}, headers={"hx-request": "true"}).text)
    assert "This agrees €570.00" in typed
    # Without scripts a button asks for the same, and nothing that was typed is lost.
    sent = form(page) | {"options": ["1"], "price": "555", "price_why": "a pupil", "look": "1"}
    looked = flat(client.post(HERE, data=sent).text)
    assert "This agrees €555.00" in looked and 'value="555"' in looked and 'value="a pupil"' in looked
    assert re.search(r'name="options" value="1"[^>]* checked', looked)
    assert flute(open_shop)[0].price == 0


def test_what_is_ticked_is_agreed_and_only_at_the_price_that_was_shown(client: TestClient, open_shop: OpenShop) -> None:
    priced(open_shop, OrderStatus.ENQUIRY, None)
    page = client.get(HERE).text
    # Ticked without scripts and agreed at once: the page shows the other price first, with the tick.
    answer = client.post(HERE, data=form(page) | {"options": ["1"]})
    assert answer.status_code == 422 and "With these it comes to €565.00, not €500.00" in answer.text
    assert flute(open_shop) == flute(open_shop) and flute(open_shop)[0].price == 0
    done = client.post(HERE, data=form(answer.text) | {"options": ["1"]})
    assert done.status_code == 200
    one, names = flute(open_shop)
    assert (str(one.price), names) == ("565.00", ["Carved block"])


def test_a_confirmed_price_is_changed_with_both_in_sight(client: TestClient, open_shop: OpenShop) -> None:
    priced(open_shop, OrderStatus.CONFIRMED, "525")
    page = client.get(HERE).text
    # What is confirmed stands in the form, so that saving it again changes nothing.
    assert form(page)["price"] == "525.00" and "This agrees €525.00" in flat(page)
    sent = form(page) | {"price": "", "why": "no case"}
    answer = client.post(HERE, data=sent)
    assert answer.status_code == 422 and flute(open_shop)[0].price == 525
    asks = flat(answer.text)
    assert "€525.00 is confirmed: is it to be €500.00?" in asks and "Yes, change the confirmed price" in asks
    assert "This changes €525.00 to €500.00." in asks
    row = asks.split('<th scope="row">Price</th>')[-1].split("</tr>")[0]
    assert re.findall(r"€[\d.]+", row) == ["€525.00", "€500.00"]
    # What is left is of the price in question: 500.00 of cost and nothing on top.
    assert "€0.00, 0.0 % of the price" in asks
    assert client.post(HERE, data=form(answer.text)).status_code == 200
    assert flute(open_shop)[0].price == 500


def test_a_program_names_the_confirmed_price_it_replaces(app: FastAPI, client: TestClient, open_shop: OpenShop) -> None:
    priced(open_shop, OrderStatus.CONFIRMED, "525")
    office = Program(app, key_of(open_shop, open_shop.office, Scope.READ, Scope.OFFICE))
    body = {"version": 1, "options": [1], "why": "a block after all"}
    asks = office.ask("PUT", HERE, body)
    assert asks.status_code == 422 and [one["field"] for one in asks.json()["errors"]] == ["instead_of"]
    done = office.ask("PUT", HERE, body | {"instead_of": "525.00"})
    assert done.json()["price"] == "565.00"


def test_the_price_of_extras_is_agreed_here_too(client: TestClient, open_shop: OpenShop) -> None:
    priced(open_shop, OrderStatus.ENQUIRY, None)
    assert (
        "f-extras_price-wrong" in client.post(HERE, data=form(client.get(HERE).text) | {"extras_price": "5"}).text
        or flute(open_shop)[0].extras_price is None
    )
    with open_shop.database.write() as session:
        (one,) = orders.flutes_of(session, orders.order_of(session, 1))
        one.extras = "a bag"
        session.add(one)
        session.commit()
    page = client.get(HERE).text
    assert "Price of the extras: a bag" in flat(page)
    client.post(HERE, data=form(page) | {"extras_price": "14"})
    assert str(flute(open_shop)[0].extras_price) == "14.00"
