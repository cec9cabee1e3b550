"""Designing in the browser: the live form, its mistakes and changes, and flutes calculated while one watches."""

from playwright.sync_api import Page, expect

from tests.browser.running import Server
from tests.browser.test_the_whole_way import field, open_the_shop


def test_the_live_form_and_ten_thousand_flutes(empty_server: Server, page: Page) -> None:
    page.goto(empty_server.address)
    open_the_shop(page)
    page.goto(f"{empty_server.address}/patterns/design?key=A4")
    expect(page.locator("#result .drawing--working")).to_be_visible()

    # A mistake is pointed out at its field while the next field is being typed in, and that one is left alone.
    page.locator("#f-bore").fill("thick")
    page.locator("#f-bore").press("Tab")
    page.keyboard.type("5 m")
    # A slow typist: half a size is sent, and the answer says that it is none.
    page.evaluate("document.querySelector('#f-wall').untouched = true")
    page.locator("#f-wall").dispatch_event("change")
    expect(page.locator("#at-bore .field__wrong")).to_contain_text("Write a length")
    expect(page.locator("#f-wall")).to_be_focused()
    assert page.evaluate("document.querySelector('#f-wall').untouched")
    page.keyboard.type("m")
    expect(page.locator("#f-wall")).to_have_value("5 mm")
    page.locator("#f-bore").fill("19 mm")
    page.locator("#f-bore").press("Tab")
    expect(page.locator("#at-bore .field__wrong")).to_have_count(0)
    expect(page.locator("#result .drawing--working")).to_be_visible()
    field(page, "Name").fill("tried in the browser")
    page.locator("#result").get_by_role("button", name="Save").click()
    page.wait_for_url("**/patterns/1/1")

    # What a new revision would change is seen before it is saved.
    page.get_by_role("link", name="Design a new revision").click()
    expect(page.locator("#changes")).to_contain_text("No of")
    page.locator("#f-wall").fill("6 mm")
    page.locator("#f-wall").press("Tab")
    expect(page.locator("#changes")).to_contain_text("Outside, wall")

    page.goto(f"{empty_server.address}/patterns/1/1/tolerance")
    page.get_by_role("button", name="Calculate 10,000 flutes").click()
    expect(page.locator("#flutes progress, #flutes .drawing--spread").first).to_be_visible()
    # It appears without reloading the page.
    expect(page.locator("#flutes .drawing--spread")).to_be_visible(timeout=900_000)
    expect(page.locator("#flutes")).to_contain_text("in 100 would have every note in tune")
