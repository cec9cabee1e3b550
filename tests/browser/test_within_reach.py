"""On a phone, a tablet lying down and a desk: what is needed next stands on the first screen. How many taps and page
loads the daily jobs take, which is printed."""

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from sqlmodel import Session, col, func, select

from tests import blanks as made
from tests.browser.benches import sign_in
from tests.browser.conftest import keep, watched_page
from tests.browser.running import Server
from tests.shops import FIRST_RUN, who
from webapp.db import Database
from webapp.models import Blank, BlankStep, StepRecord, StepState
from webapp.shop.settings.setting_up import set_up

SIZES = [(390, 844), (1180, 820), (1440, 900)]  # a phone, a 10-inch tablet lying down, a desk


class Made(NamedTuple):
    """A shop with three blanks at their first step, three that await glue-up, one before a gauge and one at tuning."""

    server: Server
    session: Session
    first: list[str]
    to_glue: list[str]
    gauged: str
    tuned: str


@pytest.fixture
def shop(empty_server: Server) -> Iterator[Made]:
    database = Database(empty_server.settings.database)
    with database.write() as session:
        owner = who(set_up(session, FIRST_RUN))
        flute = made.order(session)
        [tuned] = made.opened(session, owner, 1, flute)
        made.bring_to(session, owner, tuned, "tuned")
        [gauged] = made.opened(session, owner)
        made.bring_to(session, owner, gauged, "bore-gauge")
        to_glue = made.opened(session, owner, 3)
        for blank in to_glue:
            made.bring_to(session, owner, blank, "glue-up")
        first = made.opened(session, owner, 3)
        serials = [one.serial for one in first], [one.serial for one in to_glue], gauged.serial, tuned.serial
    with database.read() as session:
        yield Made(empty_server, session, *serials)
    database.close()


class Hand:
    """Taps, and counts them with the pages that were loaded meanwhile."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps, self.loads = page, 0, 0
        page.on("load", lambda _: self._loaded())

    def _loaded(self) -> None:
        self.loads += 1

    def tap(self, place: Locator) -> None:
        self.taps += 1
        place.click()

    def count(self, job: str, taps: int, loads: int) -> None:
        """Print what it took; more than this is a fault."""
        print(f"{job}: {self.taps} taps, {self.loads} page loads")
        assert (self.taps, self.loads) <= (taps, loads) and self.loads <= loads
        self.taps = self.loads = 0


def on_screen(page: Page, place: Locator, what: str) -> None:
    """All of it lies within the window, at the place where the page opens."""
    box, size = place.bounding_box(), page.viewport_size
    assert box is not None and size is not None, what
    width, height = size["width"], size["height"]
    assert box["y"] >= 0 and box["y"] + box["height"] <= height, f"{what} at {width} px: {box} of {height}"
    assert box["x"] >= 0 and box["x"] + box["width"] <= width + 0.5, f"{what} at {width} px: {box}"


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_is_needed_next_lies_above_the_fold(shop: Made, chromium: Browser, width: int, height: int) -> None:
    at = shop.server.address
    with watched_page(chromium, width, height) as page:
        sign_in(page, shop.server)
        # The head is one line on a phone and a tablet.
        head = page.locator("header.head").bounding_box()
        assert head is not None and head["height"] <= (62 if width < 1400 else 135)
        on_screen(page, page.locator(".lying").first, "the first blank of the rack")
        on_screen(page, page.locator(".shelf__next").first, "the next hand movement")

        page.goto(f"{at}/bench/{shop.tuned}")
        for place, what in (
            (page.locator(".next__do"), "what to do next"),
            (page.locator("[name=pitch]"), "the field of a reading"),
            (page.get_by_role("button", name="Write it down", exact=True), "its button"),
            (page.get_by_role("button", name="Start the microphone"), "the microphone"),
            (page.locator("#last"), "the last reading"),
        ):
            on_screen(page, place, what)
        if width > 1000:
            on_screen(page, page.locator(".drawing--cents"), "the chart")
            on_screen(page, page.locator(".drawing--at-hand"), "the drawing")
        else:
            drawing = page.locator(".drawing--at-hand").bounding_box()
            assert drawing is not None and drawing["x"] >= 0 and drawing["x"] + drawing["width"] <= width
        keep(page, f"bench-{width}")

        page.goto(f"{at}/blanks/{shop.gauged}")
        on_screen(page, page.locator(".now__name"), "the step")
        on_screen(page, page.locator("[name=value]"), "the size")
        on_screen(page, page.get_by_role("button", name="Measured", exact=True), "its button")
        keep(page, f"step-{width}")

        # The running clock and the button that ends it, also far down the page.
        page.goto(f"{at}/glue-up?blank={blank_id(shop, shop.to_glue[0])}")
        page.get_by_role("button", name="Glue is spread").click()
        clock, clamped = page.locator(".clamp-set__time").first, page.get_by_role("button", name="Clamps are on")
        expect(clamped).to_be_visible()
        for _ in range(2):
            on_screen(page, clock, "the open time")
            on_screen(page, clamped, "Clamps are on")
            page.evaluate("scrollTo(0, document.body.scrollHeight)")
        keep(page, f"glue-spread-{width}")


def blank_id(shop: Made, serial: str) -> int:
    found = shop.session.exec(select(Blank.id).where(Blank.serial == serial)).one()
    assert found is not None
    return found


def entries(shop: Made) -> int:
    shop.session.rollback()
    return shop.session.exec(select(func.count(col(StepRecord.id)))).one()


@pytest.mark.parametrize(("width", "height"), SIZES[:2])
def test_how_many_taps_the_days_work_takes(shop: Made, chromium: Browser, width: int, height: int) -> None:
    at = shop.server.address
    with watched_page(chromium, width, height) as page:
        sign_in(page, shop.server)
        hand = Hand(page)
        before = entries(shop)
        hand.tap(page.locator(f"#lies-{shop.gauged}"))
        expect(page.locator(".now__name")).to_have_text("Bore gauged")
        hand.tap(page.get_by_role("button", name=re.compile("^Just ")))
        expect(page.locator(".now__name")).not_to_have_text("Bore gauged")
        hand.count(f"a passed gauge from the rack, {width} px", 2, 1)
        assert entries(shop) == before + 1

        page.goto(at)
        page.wait_for_load_state()
        hand = Hand(page)
        hand.tap(page.get_by_role("link", name="Glue-up", exact=True))
        hand.tap(page.get_by_role("button", name="Tick all 3"))
        hand.tap(page.get_by_role("button", name="Glue is spread"))
        hand.tap(page.get_by_role("button", name="Clamps are on"))
        expect(page.get_by_text("In clamps until").first).to_be_visible()
        hand.count(f"a glue-up of three, {width} px", 5, 1)

        page.goto(at)
        page.wait_for_load_state()
        hand = Hand(page)
        before = entries(shop)
        for serial in shop.first:
            hand.tap(page.get_by_label(f"Choose {serial}"))
        hand.tap(page.get_by_role("button", name="Their next step"))
        steps = 0
        while steps < 9:
            name = page.locator(".now__name").inner_text()
            gauged = page.get_by_role("button", name="All just")
            hand.tap(gauged if gauged.count() else page.get_by_role("button", name="Done, all 3"))
            expect(page.locator(".now__name")).not_to_have_text(name)
            steps += 1
        hand.count(f"nine steps on three blanks with choosing them, {width} px", 13, 9)
        assert entries(shop) == before + 27
        passed = select(func.count(col(BlankStep.id))).where(BlankStep.state == StepState.PASSED)
        for serial in shop.first:
            assert shop.session.exec(passed.where(BlankStep.blank_id == blank_id(shop, serial))).one() == 9
