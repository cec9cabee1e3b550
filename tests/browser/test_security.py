"""The door as one uses it: passwords pasted and looked at, the meter, the password again, and what one is told."""

from datetime import timedelta

from playwright.sync_api import Browser, Page, expect
from sqlmodel import update

from tests.browser.conftest import keep, watched_page
from tests.browser.running import Server
from webapp.db import Database
from webapp.models import SignIn, now
from webapp.pages.frame import desk

PASSWORD = "four short ash sticks"


def enter(page: Page, server: Server) -> None:
    page.goto(f"{server.address}/sign-in")
    page.get_by_label("Name").fill("ines")
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{server.address}/")


def test_passwords_can_be_pasted_and_looked_at(empty_server: Server, page: Page, chromium: Browser) -> None:
    page.goto(empty_server.address)
    for label, text in (("The shop's name", "Alder Lane"), ("Your name", "Ines"), ("Name to sign in with", "ines")):
        page.get_by_label(label).fill(text)
    field = page.get_by_label("Password", exact=True)
    field.click()
    field.press_sequentially("password1234")
    expect(page.get_by_text("Too easy to guess.")).to_be_visible()
    # Pasted, as a keeper of passwords does it, and shown, then hidden again.
    field.fill("")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.evaluate("text => navigator.clipboard.writeText(text)", PASSWORD)
    field.press("Control+V")
    expect(page.get_by_text("Very hard to guess.")).to_be_visible()
    page.get_by_role("button", name="Show what was typed").click()
    assert (field.get_attribute("type"), field.input_value()) == ("text", PASSWORD)
    keep(page, "password-shown")
    page.get_by_role("button", name="Hide what was typed").click()
    assert field.get_attribute("type") == "password"
    assert field.get_attribute("autocomplete") == "new-password" and not field.get_attribute("onpaste")
    page.get_by_role("button", name="Open the shop").click()
    expect(page.get_by_role("link", name="Orders", exact=True)).to_be_visible()

    with watched_page(chromium, 390, 844, "422", "clipboard") as phone:
        enter(phone, empty_server)
        expect(phone.get_by_text("Your account")).to_have_count(0)
    page.reload()
    expect(page.get_by_text("Signed in with a browser not seen before")).to_be_visible()
    keep(page, "account-news")
    page.get_by_role("button", name="I know").click()
    expect(page.get_by_text("Your account")).to_have_count(0)

    # The screen stood open for a while: what concerns people asks for the password, and then goes on to where one was.
    database = Database(empty_server.settings.database)
    with database.write() as session:
        session.exec(update(SignIn).values(confirmed_at=now() - desk.CHANGING - timedelta(minutes=5)))
        session.commit()
    database.close()
    page.goto(f"{empty_server.address}/shop/people/new")
    expect(page.get_by_role("heading", name="Your password again")).to_be_visible()
    keep(page, "password-again")
    page.get_by_label("Password of Ines").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("heading", name="Add someone")).to_be_visible()
