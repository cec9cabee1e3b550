"""The counter by hand: options are ticked, a price agreed, a quote touched, an order invoiced; also without scripts."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import keep
from tests.browser.running import PATIENCE, Server
from tests.browser.test_the_whole_way import PASSWORD, field, open_the_shop, send
from webapp.db import Database
from webapp.models import Person, Units
from webapp.shop.orders import price_customs, rules as orders
from webapp.shop.orders.forms import TakeOrder
from webapp.shop.orders.price_customs import OptionAsked, PricingAsked
from webapp.shop.people.accounts import Who


@pytest.fixture
def counter(empty_server: Server, page: Page) -> Iterator[Server]:
    """A shop with rates that come to 500.00, two options, and an enquiry."""
    page.goto(empty_server.address)
    open_the_shop(page)
    database = Database(empty_server.settings.database)
    with database.write() as session:
        person = session.get_one(Person, 1)
        owner = Who(person.id or 0, person.name, person.role, Units.MM)
        rates = {"minutes_tuning": 600, "hourly_tuning": "50", "deposit_percent": "30", "version": 1}
        price_customs.change(session, owner, PricingAsked.model_validate(rates))
        for name, amount in (("Carved block, heron", "65"), ("Lined case", "25")):
            option = OptionAsked.model_validate({"name": name, "price": amount, "offered": True})
            price_customs.save_option(session, owner, None, option)
        taken = {"customer_name": "Maren Holt", "customer_id": "new", "key": "A4", "species_id": 1}
        asked = taken | {"extras": "A name burned in at the foot", "due_on": "2031-05-14"}
        orders.take_order(session, owner, TakeOrder.model_validate(asked))
    database.close()
    yield empty_server


def option(page: Page, words: str) -> None:
    page.get_by_role("checkbox", name=re.compile(words)).check()


def test_from_a_price_to_an_invoice(counter: Server, page: Page) -> None:
    page.goto(f"{counter.address}/orders/1/flutes/1/price")
    shown = page.locator("#figures").get_by_text(re.compile("^This (agrees|changes)"))
    expect(shown).to_contain_text("500.00")
    option(page, "Carved block")
    expect(shown).to_contain_text("565.00")
    option(page, "Lined case")
    expect(shown).to_contain_text("590.00")
    field(page, "Price of the extras").fill("18")
    keep(page, "price-ticked")
    send(page.get_by_role("button", name="Agree this price"))
    expect(page.locator("#money")).to_contain_text("608.00")
    send(page.get_by_role("button", name="Issue a quote"))
    page.goto(f"{counter.address}/orders/1/flutes/1")
    field(page, "Key").fill("G4")
    send(page.get_by_role("button", name="Save"))
    expect(page.get_by_text("No longer as quote 1 says.")).to_be_visible()
    expect(page.get_by_role("button", name="Confirm", exact=True)).to_have_count(0)
    keep(page, "quote-touched")
    send(page.get_by_role("button", name="Issue a new quote"))
    send(page.get_by_role("button", name="Confirm", exact=True))
    page.locator("#money summary").click()
    expect(field(page, "Amount")).to_have_value("182.00")
    page.locator("#money").get_by_label("How").select_option(label="Cash")
    send(page.get_by_role("button", name="Record it"))
    send(page.get_by_role("button", name="Issue an invoice"))
    expect(page.get_by_role("link", name=re.compile("^Invoice I-"))).to_be_visible()
    send(page.get_by_role("button", name="Receipt"))
    expect(page.get_by_role("link", name=re.compile("^Receipt R-"))).to_be_visible()
    keep(page, "order-invoiced")
    page.goto(f"{counter.address}/books")
    expect(page.get_by_text("Owed by customers")).to_be_visible()
    keep(page, "books")
    # A confirmed price changes with both in sight, and one tap more.
    page.goto(f"{counter.address}/orders/1/flutes/1/price")
    page.get_by_role("checkbox", name=re.compile("Lined case")).uncheck()
    expect(shown).to_contain_text("to $565.00")
    # What is typed last does not take the button away from under the finger.
    field(page, "Why the order changes").fill("No case after all")
    send(page.get_by_role("button", name="Agree this price"))
    expect(page.get_by_role("button", name=re.compile("^Yes, change"))).to_be_visible()
    keep(page, "confirmed-price-asks")
    send(page.get_by_role("button", name=re.compile("^Yes, change")))
    expect(page.locator("#money")).to_contain_text("583.00")


def test_without_scripts_nothing_ticked_is_dropped(counter: Server, chromium: Browser) -> None:
    context = chromium.new_context(
        service_workers="block", java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    page.goto(counter.address)
    field(page, "Name").fill("ines")
    field(page, "Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{counter.address}/orders/1/flutes/1/price")
    option(page, "Carved block")
    page.get_by_role("button", name="Agree this price").click()
    expect(page.locator(".summary")).to_contain_text("With these it comes to")
    page.get_by_role("button", name="Agree this price").click()
    expect(page.get_by_role("heading", name="Order 1")).to_be_visible()
    expect(page.locator("#money")).to_contain_text("565.00")
    context.close()
