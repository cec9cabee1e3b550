"""The main job with the keyboard alone: from an order to a reading (WCAG 2.2: 2.1.1, 2.1.2, 2.4.1, 2.4.3, 2.4.7)."""

from playwright.sync_api import Page, expect

from tests import blanks as made
from tests.browser.keys import MOST_STOPS, Keys
from tests.browser.running import Server
from tests.browser.test_the_whole_way import DUE, field, tile
from tests.shops import FIRST_RUN, PASSWORD, who
from webapp.db import Database
from webapp.models import StockKind
from webapp.settings import Settings
from webapp.shop.settings.setting_up import set_up
from webapp.shop.stock import rules as stock
from webapp.shop.stock.forms import NewLot


def a_shop(settings: Settings) -> tuple[str, str]:
    """Walnut on the shelf, a blank that awaits its glue-up and one that awaits tuning: the serials of these."""
    database = Database(settings.database)
    with database.write() as session:
        owner = who(set_up(session, FIRST_RUN))
        to_glue, to_tune = made.opened(session, owner, 2)
        made.bring_to(session, owner, to_glue, "glue-up")
        made.bring_to(session, owner, to_tune, "tuned")
        wood = NewLot(
            kind=StockKind.HALVES,
            name="walnut of March",
            species_id=to_glue.species_id,
            unit="piece",
            quantity=8,
            length=640.0,
            width=40.0,
            thickness=20.0,
            moisture=8.0,
        )
        stock.add_lot(session, owner, wood)
        serials = to_glue.serial, to_tune.serial
    database.close()
    return serials


def test_the_main_job_by_keyboard(empty_server: Server, page: Page) -> None:
    to_glue, to_tune = a_shop(empty_server.settings)
    keys = Keys(page)
    page.goto(f"{empty_server.address}/sign-in")
    skip_what_stands_above(keys)
    keys.write(field(page, "Name"), "ines")
    keys.write(field(page, "Password"), PASSWORD)
    keys.press(page.get_by_role("button", name="Sign in", exact=True))
    take_an_order(keys)
    give_it_a_pattern(keys)
    serial = reserve_and_open(keys)
    record_a_step(keys, serial)
    glue_up(keys, to_glue)
    read_a_note(keys, to_tune)
    assert keys.stops > 100
    all_the_way_round(keys)


def skip_what_stands_above(keys: Keys) -> None:
    """The first stop leads past the head of the page to the work."""
    keys.tab()
    skip = keys.page.get_by_role("link", name="Skip to the work")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    keys.page.keyboard.press("Enter")
    expect(keys.page.locator("#main")).to_be_focused()
    keys.tab()
    assert keys.page.evaluate("document.querySelector('main').contains(document.activeElement)")


def take_an_order(keys: Keys) -> None:
    page = keys.page
    keys.press(page.get_by_role("link", name="Orders", exact=True))
    keys.press(page.get_by_role("link", name="Take an order").first)
    keys.write(field(page, "Name"), "Maren Holt")
    # Those who are known come up while one types; the focus stays in the field meanwhile.
    expect(field(page, "Name")).to_be_focused()
    keys.write(field(page, "Key"), "H4")
    keys.write(field(page, "Price of one flute"), "295")
    keys.press(field(page, "Price of one flute"))
    # What is wrong is said at once, with the way to the field.
    expect(page.locator("[data-summary]")).to_be_focused()
    keys.to(page.locator("[data-summary] a[href='#f-key']"))
    page.keyboard.press("Enter")
    expect(field(page, "Key")).to_be_focused()
    keys.write(field(page, "Key"), "Bb4")
    keys.choose(tile(page, "Someone new"))
    keys.choose(tile(page, "black walnut"))
    keys.choose(tile(page, "Confirmed"))
    keys.to(field(page, "Due"))
    year, month, day = DUE.split("-")
    page.keyboard.type(month + day + year)
    keys.press(page.get_by_role("button", name="Take the order"))
    expect(page.get_by_role("heading", name="Order 1")).to_be_visible()


def give_it_a_pattern(keys: Keys) -> None:
    keys.press(keys.page.get_by_role("link", name="Choose a pattern"))
    keys.press(keys.page.get_by_role("button", name="Save the pattern and build from it"))
    expect(keys.page.get_by_role("heading", name="Order 1")).to_be_visible()


def reserve_and_open(keys: Keys) -> str:
    page = keys.page
    keys.press(page.get_by_role("link", name="Choose wood and open a blank"))
    keys.choose(tile(page, "walnut of March"))
    keys.press(page.get_by_role("button", name="Reserve and open"))
    link = page.locator("section.flute a[href^='/blanks/']").first
    serial = link.inner_text()
    keys.press(link)
    return serial


def record_a_step(keys: Keys, serial: str) -> None:
    page = keys.page
    expect(page.get_by_role("heading", level=1, name=serial)).to_be_visible()
    before = page.locator(".now__name").inner_text()
    keys.press(page.locator(".now__form .button--large"))
    expect(page.locator(".now__name")).not_to_have_text(before)


def glue_up(keys: Keys, serial: str) -> None:
    page = keys.page
    keys.press(page.get_by_role("link", name="Glue-up", exact=True))
    keys.tick(page.locator(f".choose__one:has-text('{serial}') input"))
    keys.choose(tile(page, "white wood glue"))
    keys.write(field(page, "Temperature at the bench"), "20")
    keys.press(page.get_by_role("button", name="Glue is spread"))
    keys.press(page.get_by_role("button", name="Clamps are on"))
    expect(page.get_by_text("In clamps until").first).to_be_visible()


def read_a_note(keys: Keys, serial: str) -> None:
    page = keys.page
    keys.press(page.get_by_role("link", name="Bench", exact=True))
    keys.press(page.locator(f"#lies-{serial}"))
    keys.write(field(page, "The meter shows"), "440.6")
    keys.choose(page.locator("input[name=fingering]").first)
    keys.press(page.get_by_role("button", name="Write it down", exact=True))
    expect(page.locator("#last")).to_contain_text("440.6 Hz")


def all_the_way_round(keys: Keys) -> None:
    """No stop keeps the focus: Tab leaves the last one of the page, and back again the first."""
    page = keys.page
    for back in (False, True):
        page.reload()
        for stop in range(MOST_STOPS):
            keys.tab(back)
            if stop > 10 and page.evaluate("document.activeElement === document.body"):
                break
        else:
            raise AssertionError("the focus never came to the end of the page")


def test_a_part_that_is_put_in_again_keeps_ones_place(empty_server: Server, page: Page) -> None:
    """With its id, without one, and where what had the focus is gone; the watch for complaints of the browser includes
    those of the policy against inline styles."""
    serial, _ = a_shop(empty_server.settings)
    page.goto(f"{empty_server.address}/sign-in")
    field(page, "Name").fill("ines")
    field(page, "Password").fill(PASSWORD)
    with page.expect_event("load"):
        page.get_by_role("button", name="Sign in", exact=True).click()

    def renew(at: str, focus: str) -> None:
        """Replace the rack as its own clock would, from this address, with the focus at this place."""
        page.evaluate(
            """async ([at, focus]) => {
                document.querySelector('#live').style.minHeight = '10px';
                document.querySelector(focus).focus();
                await htmx.ajax('GET', at, {target: '#live', swap: 'outerHTML'});
            }""",
            [at, focus],
        )

    link = f"a[href='/blanks/{serial}']"
    renew("/", link)
    expect(page.locator(link).first).to_be_focused()
    page.evaluate("link => document.querySelectorAll(link).forEach(one => one.removeAttribute('id'))", link)
    renew("/", link)
    expect(page.locator(f"#lies-{serial}")).to_be_focused()
    renew("/?waiting=late", f"#lies-{serial}")  # no blank is late: its place is gone
    expect(page.locator("#live")).to_be_focused()

    page.goto(f"{empty_server.address}/search")
    words = page.locator("main input[type=search]")
    words.fill("00002")
    words.evaluate("field => field.setSelectionRange(2, 3)")
    with page.expect_response("**/search?*"):
        page.keyboard.press("Delete")
    expect(page.locator("body > [role=status]")).to_have_text("1 found")
    expect(words).to_be_focused()
    assert words.evaluate("field => [field.value, field.selectionStart]") == ["0002", 2]
