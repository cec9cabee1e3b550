"""From an order to the hand-over, in the browser, as one person at one bench would do it."""

import re

from playwright.sync_api import Locator, Page, expect

from tests.browser.conftest import keep
from tests.browser.keys import answered
from tests.browser.running import Server
from tests.paper import reading

PASSWORD = "four short ash sticks"
DUE = "2031-05-14"


def test_from_order_to_hand_over(empty_server: Server, page: Page) -> None:
    page.goto(empty_server.address)
    open_the_shop(page)
    fill_the_shelf(page)
    take_an_order(page)
    get_a_pattern(page)
    serials = reserve_wood_and_open_blanks(page)
    print_the_traveler(page, empty_server, serials[0])
    for serial in serials:
        work_until_glue_up(page, empty_server, serial)
    glue_up(page, empty_server, serials)
    work_until_finished(page, empty_server, serials[0])
    hand_over(page, empty_server)
    find_it_all_again(page, serials[0])


def open_the_shop(page: Page) -> None:
    field(page, "The shop's name").fill("Alder Lane Flutes")
    field(page, "Your name").fill("Ines Varga")
    field(page, "Name to sign in with").fill("ines")
    field(page, "Password").fill(PASSWORD)
    tile(page, "Millimetres").check()
    page.get_by_role("button", name="Open the shop").click()
    expect(page.get_by_role("link", name="The rack")).to_be_visible()


def send(button: Locator) -> None:
    """Press a form's button and wait for the page that answers."""
    with answered(button.page):
        button.click()


def tile(page: Page, words: str) -> Locator:
    """One of several big tiles to choose from."""
    return page.get_by_role("radio", name=re.compile(f"^{words}", re.I))


def field(page: Page, words: str) -> Locator:
    """The field whose label begins so."""
    return page.get_by_label(re.compile(f"^{words}"))


def fill_the_shelf(page: Page) -> None:
    page.get_by_role("link", name="Stock").click()
    page.get_by_role("link", name=re.compile("lot", re.I)).first.click()
    tile(page, "halves").check()
    field(page, "Name").fill("walnut of March")
    field(page, "Wood").select_option(label="black walnut")
    field(page, "How much").fill("8")
    field(page, "Length").fill('25"')
    page.get_by_role("button", name="Add it to stock").click()
    expect(page.get_by_text("walnut of March").first).to_be_visible()


def take_an_order(page: Page) -> None:
    page.get_by_role("link", name="Orders").click()
    page.get_by_role("link", name="Take an order").first.click()
    field(page, "Key").fill("H4")
    send(page.get_by_role("button", name="Take the order"))
    expect(page.locator("#f-key-wrong")).to_be_visible()
    keep(page, "order-refused")
    field(page, "Name").fill("Maren Holt")
    field(page, "Key").fill("Bb4")
    tile(page, "black walnut").check()
    field(page, "Finger reach").fill('6 7/8"')
    field(page, "Price of one flute").fill("295")
    field(page, "Extras").fill("Leather tie")
    field(page, "Price of the extras").fill("12")
    tile(page, "Confirmed").check()
    field(page, "Due").fill(DUE)
    send(page.get_by_role("button", name="Take the order"))
    if tile(page, "Someone new").is_visible():
        tile(page, "Someone new").check()
        send(page.get_by_role("button", name="Take the order"))
    expect(page.get_by_role("heading", name="Order 1")).to_be_visible()
    keep(page, "order")


def get_a_pattern(page: Page) -> None:
    page.get_by_role("link", name="Choose a pattern").click()
    expect(page.locator("svg").filter(has_text="splitting").first).to_be_visible()
    for note in ("B♭4", "F5", "B♭5"):
        expect(page.locator("td, th").filter(has_text=note).first).to_be_visible()
    keep(page, "pattern-designed")
    send(page.get_by_role("button", name="Save the pattern and build from it"))
    expect(page.get_by_role("heading", name="Order 1")).to_be_visible()


def reserve_wood_and_open_blanks(page: Page) -> list[str]:
    page.get_by_role("link", name="Choose wood and open a blank").click()
    tile(page, "walnut of March").check()
    field(page, "How many blanks").fill("2")
    keep(page, "wood")
    send(page.get_by_role("button", name="Reserve and open"))
    links = page.get_by_role("link", name=re.compile(r"^\d{4}$"))
    expect(links).to_have_count(2)
    return [text.strip() for text in links.all_inner_texts()]


def print_the_traveler(page: Page, server: Server, serial: str) -> None:
    answer = page.request.get(f"{server.address}/blanks/{serial}/traveler.pdf", timeout=60_000)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    text = " ".join(reading.text(answer.body()).split())
    for word in (serial, "Maren Holt", "black walnut", "Bore gauged", "Glue-up", "Final check"):
        assert word in text
    assert f"{server.address}/blanks/{serial}" in reading.codes(reading.picture(answer.body(), 0))


def next_step(page: Page, server: Server, serial: str) -> str:
    """Open the blank's page; gives the name of its next step, or "" once there is none."""
    page.goto(f"{server.address}/blanks/{serial}")
    name = page.locator(".now__name")
    return name.inner_text() if name.count() else ""


def do(page: Page) -> None:
    """The large button of the next step; a gauge is given what it should show, a wait its reason."""
    form = page.locator(".now__form")
    if form.get_by_label("Measured").count():
        form.get_by_label("Measured").fill(page.locator(".now__gauge strong").inner_text())
    why = form.get_by_label(re.compile("^Why"))
    if why.count() and why.first.is_visible():
        why.first.fill("Only a trial piece")
    with answered(page):
        form.locator(".button--large").click()


def work_until_glue_up(page: Page, server: Server, serial: str) -> None:
    for _ in range(20):
        step = next_step(page, server, serial)
        if step == "Glue-up":
            return
        if step == "Bore gauged" and "Did not pass" not in page.content():
            page.locator(".now__form").get_by_label("Measured").fill("25 mm")
            send(page.locator(".now__form .button--large"))
            expect(page.locator(".now").get_by_text("Did not pass", exact=True)).to_be_visible()
            expect(page.locator(".now__name")).to_have_text("Bore gauged")
            keep(page, "gauge-failed")
        do(page)
    raise AssertionError("the glue-up never came")


def glue_up(page: Page, server: Server, serials: list[str]) -> None:
    page.goto(f"{server.address}/glue-up")
    for serial in serials:
        page.get_by_role("checkbox", name=re.compile(serial)).check()
    tile(page, "white wood glue").check()
    field(page, "Temperature at the bench").fill("20")
    send(page.get_by_role("button", name=re.compile("Glue is spread")))
    keep(page, "open-time")
    send(page.get_by_role("button", name="Clamps are on"))
    expect(page.get_by_text("In clamps until").first).to_be_visible()

    send(page.get_by_role("button", name="Take all out"))
    expect(page.get_by_text("The clamp time is not over: say why they come out now.").first).to_be_visible()
    keep(page, "clamps-refused")
    page.goto(server.address)
    expect(page.get_by_text("out of clamps").first).to_be_visible()
    keep(page, "rack-with-clamps")
    page.goto(f"{server.address}/blanks/{serials[0]}")
    send(page.locator(".meanwhile .button--large"))
    page.goto(f"{server.address}/glue-up")
    field(page, "Why before its time").fill("Only a trial piece")
    send(page.get_by_role("button", name="Take all out"))
    expect(page.get_by_text("In clamps until")).to_have_count(0)


def work_until_finished(page: Page, server: Server, serial: str) -> None:
    for _ in range(60):
        step = next_step(page, server, serial)
        if not step:
            break
        if step == "Fundamental checked":
            read(page, server, serial, fundamental=True)
        elif step in ("Tuned", "Last tuning"):
            read(page, server, serial)
        if next_step(page, server, serial) == step:
            do(page)
    expect(page.get_by_text("finished").first).to_be_visible()
    keep(page, "blank-finished")


def read(page: Page, server: Server, serial: str, fundamental: bool = False) -> None:
    """Read the notes at the bench: the first one flat, then each where it should stand."""
    page.goto(f"{server.address}/bench/{serial}")
    notes = page.get_by_role("radio").evaluate_all("tiles => tiles.map(tile => tile.value)")
    for number, fingering in enumerate(notes[:1] if fundamental else notes):
        tile = page.locator(f"input[value='{fingering}']")
        label = tile.evaluate("tile => tile.labels[0].textContent")
        target = float(re.search(r"([\d.]+) Hz", label)[1])
        aims = ([-8.0] if fundamental else [-30.0, 0.0]) if number == 0 else [0.0]
        for cents in aims:
            tile.check()
            field(page, "The meter shows").fill(f"{target * 2 ** (cents / 1200):.2f}")
            send(page.get_by_role("button", name="Write it down"))
            if cents == -30.0:
                expect(page.locator(".verdict__word").first).to_contain_text("flat")
    keep(page, "fundamental" if fundamental else "readings")


def hand_over(page: Page, server: Server) -> None:
    page.goto(f"{server.address}/orders/1")
    keep(page, "order-ready")
    send(page.get_by_role("button", name="Hand over"))
    expect(page.get_by_text("is still outstanding for this order")).to_be_visible()
    keep(page, "hand-over-unpaid")
    page.get_by_role("link", name="Record a payment first").click()
    page.locator("#money summary").click()
    expect(field(page, "Amount")).to_have_value("307.00")
    page.locator("#money").get_by_label("How").select_option(label="Cash")
    send(page.get_by_role("button", name="Record it"))
    send(page.get_by_role("button", name="Hand over"))
    expect(page.get_by_text("handed over", exact=False).first).to_be_visible()


def find_it_all_again(page: Page, serial: str) -> None:
    field = page.get_by_role("combobox", name="Order, customer, serial or key")
    for words, found in [
        ("Maren", "Maren Holt"),
        ("Bb4", serial),
        ("bb4", "Order 1"),
        (serial, serial),
        ("1", "Order 1"),
    ]:
        field.fill(words)
        with page.expect_event("load"):
            field.press("Enter")
        expect(page.get_by_role("main").get_by_text(found).first).to_be_visible()
    keep(page, "found")
    # As one types: what is found is named, arrows choose, Escape closes the list, Enter opens what is chosen.
    at_hand = page.locator("#at-hand")
    field.press_sequentially("maren")
    expect(at_hand.get_by_role("option").first).to_be_visible()
    expect(page.get_by_role("banner").get_by_role("status")).to_contain_text("found")
    field.press("ArrowDown")
    expect(at_hand.get_by_role("option", selected=True)).to_have_count(1)
    field.press("Escape")
    expect(at_hand.get_by_role("option")).to_have_count(0)
    expect(field).to_have_value("maren")
    field.press("ArrowUp")
    chosen = at_hand.get_by_role("option", selected=True)
    expect(chosen).to_have_text("All that goes by “maren”")
    with page.expect_event("load"):
        field.press("Enter")
    assert page.url.endswith("/search?q=maren")
