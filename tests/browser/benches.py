"""A shop with a blank at the tuning bench, served, and a Chromium whose microphone hears a file."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, Playwright

from tests import blanks as made
from tests.browser.running import ARGUMENTS, Server
from tests.programs import find_chromium
from tests.shops import FIRST_RUN, PASSWORD, who
from webapp.db import Database
from webapp.settings import Settings
from webapp.shop.settings.setting_up import set_up


def open_bench(settings: Settings) -> str:
    """Set a shop up with one blank awaiting tuning; the address of its bench."""
    database = Database(settings.database)
    with database.write() as session:
        owner = who(set_up(session, FIRST_RUN))
        [blank] = made.opened(session, owner)
        made.bring_to(session, owner, blank, "tuned")
        serial = blank.serial
    database.close()
    return f"/bench/{serial}"


@contextmanager
def chromium_hearing(playwright: Playwright, sound: Path | None) -> Iterator[Browser]:
    """A Chromium that takes this file for its microphone; without one it has no microphone to offer."""
    heard = [f"--use-file-for-fake-audio-capture={sound}", "--use-fake-device-for-media-stream"] if sound else []
    arguments = [*ARGUMENTS, "--use-fake-ui-for-media-stream", *heard]
    browser = playwright.chromium.launch(executable_path=find_chromium(), args=arguments)
    try:
        yield browser
    finally:
        browser.close()


def sign_in(page: Page, server: Server) -> None:
    page.goto(f"{server.address}/sign-in")
    page.get_by_label("Name").fill("ines")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"{server.address}/")
