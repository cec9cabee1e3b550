"""A new shop's very first minute, in the browser."""

from playwright.sync_api import Page, expect

from tests.browser.conftest import keep
from tests.browser.running import Server


def test_opening_a_shop(empty_server: Server, page: Page) -> None:
    page.goto(empty_server.address)
    expect(page.get_by_role("heading", name="Open the shop")).to_be_visible()
    keep(page, "first-run")
    page.get_by_label("The shop's name").fill("Alder Lane Flutes")
    page.get_by_label("Your name").fill("Ines Varga")
    page.get_by_label("Name to sign in with").fill("ines")
    page.get_by_label("Password").fill("short")
    page.get_by_role("button", name="Open the shop").click()
    expect(page.get_by_text("Use at least 12 characters").first).to_be_visible()
    expect(page.get_by_label("The shop's name")).to_have_value("Alder Lane Flutes")
    keep(page, "first-run-refused")
    page.get_by_label("Password").fill("four short ash sticks")
    page.get_by_role("button", name="Open the shop").click()
    expect(page.get_by_role("link", name="Orders", exact=True)).to_be_visible()
    keep(page, "empty-rack")
