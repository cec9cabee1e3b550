"""The shop floor in a real browser: a dropped connection neither loses nor doubles an entry; a code is scanned."""

from collections.abc import Iterator
from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, Route, expect
from sqlmodel import Session, select

from tests.browser.conftest import keep, watched_page
from tests.browser.floor import entries, sign_in, two_at_work
from tests.browser.running import Server
from webapp.models import Photo

STEPS = "**/steps/*"


@pytest.fixture
def at_work(empty_server: Server) -> Iterator[Session]:
    with two_at_work(empty_server.settings) as (session, _):
        yield session


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Page]:
    """A page on a phone, whose browser may complain of the connection that the test takes away, and of nothing else."""
    with watched_page(chromium, 390, 844, "net::ERR_") as page:
        yield page


def test_a_dropped_connection_neither_loses_nor_doubles_an_entry(
    empty_server: Server, at_work: Session, phone: Page
) -> None:
    page = phone
    unsaved, record = page.locator(".unsaved"), page.locator(".now__form .button--large")
    # Scanned by a phone where nobody is signed in: the sign-in leads back to the blank.
    page.goto(f"{empty_server.address}/blanks/0001")
    sign_in(page)
    expect(page.locator(".now__name")).to_have_text("Bore gauged")
    page.wait_for_load_state()
    before = entries(at_work)

    # One tap: the size as drawn. The connection is gone.
    page.route(STEPS, lambda route: route.abort("internetdisconnected"))
    page.get_by_role("button", name="Just 3/4").click()
    expect(unsaved).to_contain_text("Not saved yet: 0001, Bore gauged")
    keep(page, "entry-not-saved-yet")
    assert entries(at_work) == before
    # Another page, a reload: it is still there, and sent once the connection is back.
    page.goto(f"{empty_server.address}/orders")
    page.reload()
    expect(unsaved).to_contain_text("Not saved yet: 0001, Bore gauged")
    page.unroute(STEPS)
    expect(unsaved).to_contain_text("Saved now: 0001, Bore gauged")
    unsaved.get_by_role("link", name="Look at it").click()
    expect(page.locator(".now__name")).to_have_text("Halves planed until they meet")
    page.wait_for_load_state()
    assert entries(at_work) == before + 1

    # The entry arrives, its answer is lost: it is sent again and counts once.
    lost: list[int] = []

    def lose_the_answer(route: Route) -> None:
        if lost:
            route.continue_()
        else:
            lost.append(route.fetch(max_redirects=0).status)
            route.abort("connectionreset")

    page.route(STEPS, lose_the_answer)
    record.click()
    expect(page.locator(".now__name")).to_have_text("Bore gauged again")
    page.wait_for_load_state()
    page.unroute(STEPS)
    assert lost == [200] and entries(at_work) == before + 2

    # Signing out asks once, then nothing is left in this browser.
    page.route(STEPS, lambda route: route.abort("internetdisconnected"))
    page.get_by_role("button", name="Just 3/8").click()
    expect(unsaved).to_contain_text("Not saved yet")
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Sign out").click()
    expect(unsaved).to_contain_text("Sign out once more")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert page.evaluate("localStorage.length") == 0 and entries(at_work) == before + 2


def test_a_large_picture_is_made_smaller_and_sent_until_it_is_kept_once(
    empty_server: Server, at_work: Session, phone: Page
) -> None:
    page = phone
    page.goto(f"{empty_server.address}/blanks/0001")
    sign_in(page)
    grain = Image.effect_noise((3200, 2400), 60)
    taken = BytesIO()
    grain.save(taken, "JPEG", quality=90)
    sent: list[int] = []

    def drop_the_first(route: Route) -> None:
        sent.append(len(route.request.post_data_buffer or b""))
        if len(sent) == 1:
            route.abort("internetdisconnected")
        elif len(sent) == 2:  # it is carried out, and its answer is lost
            route.fetch(max_redirects=0)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/photos", drop_the_first)
    page.locator("input[type=file][capture]").set_input_files(
        {"name": "bore.jpg", "mimeType": "image/jpeg", "buffer": taken.getvalue()}
    )
    expect(page.locator(".photo-add__said")).to_contain_text("No answer yet")
    expect(page.locator(".photos img")).to_have_count(1)
    page.wait_for_load_state()
    at_work.rollback()
    [kept] = at_work.exec(select(Photo)).all()
    assert (kept.width, kept.height) == (2400, 1800) and len(sent) == 3
    assert max(sent) < len(taken.getvalue())


# A camera and a detector that Chromium on a desktop has not: what the page does with them is what is tested.
DETECTOR = """
window.BarcodeDetector = class {
  static getSupportedFormats() { return Promise.resolve(["qr_code"]); }
  detect() { return Promise.resolve(window.seen ? [{ rawValue: window.seen }] : []); }
};
navigator.mediaDevices.getUserMedia = () => {
  const canvas = Object.assign(document.createElement("canvas"), { width: 320, height: 240 });
  const pen = canvas.getContext("2d");
  setInterval(() => pen.fillRect(0, 0, Math.random() * 320, 240), 50);
  return Promise.resolve(canvas.captureStream());
};
"""


def test_a_code_before_the_camera_opens_the_blank_and_the_rack_keeps_its_place(
    empty_server: Server, at_work: Session, page: Page
) -> None:
    page.add_init_script(DETECTOR)
    page.goto(f"{empty_server.address}/scan")
    sign_in(page)
    page.get_by_role("button", name="Start the camera").click()
    page.evaluate("window.seen = 'https://elsewhere.example/blanks'")
    expect(page.locator("[data-words]")).to_have_text("That code is not one of this shop's.")
    keep(page, "scanning")
    # The shop may be reached by another name than the one that was printed: the path alone counts.
    page.evaluate("window.seen = 'https://flutes.example/blanks/0002'")
    page.wait_for_url(f"{empty_server.address}/blanks/0002#now")
    expect(page.locator(".now__name")).to_have_text("Halves chosen and cut")

    # Someone else records a step: the rack shows it by itself, what is being chosen and the place stay.
    page.goto(empty_server.address)
    page.get_by_text("Show only some of them").click()
    page.get_by_label("Wood").select_option(label="black cherry")
    chosen = page.get_by_label("Wood").input_value()
    page.locator("#lies-0002").focus()
    place = page.locator("#lies-0002").bounding_box()
    other = page.context.new_page()
    other.goto(f"{empty_server.address}/blanks/0001")
    other.wait_for_load_state()
    other.get_by_role("button", name="Just 3/4").click()
    expect(other.locator(".now__name")).to_have_text("Halves planed until they meet")
    expect(page.get_by_text("0001: Halves planed until they meet")).to_be_visible()
    assert page.get_by_label("Wood").input_value() == chosen != ""
    assert page.evaluate("document.activeElement.id") == "lies-0002"
    assert page.locator("#lies-0002").bounding_box() == place
    other.close()
