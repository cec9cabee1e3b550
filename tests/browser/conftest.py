"""A real server on a free port and a real Chromium in front of it."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Playwright, expect, sync_playwright

from tests.browser.running import ARGUMENTS, PATIENCE, Server
from tests.programs import find_chromium
from webapp import db
from webapp.settings import Settings

expect.set_options(timeout=PATIENCE)
ARTEFACTS = Path(os.environ.get("FLUTEBENCH_ARTEFACTS") or Path(tempfile.gettempdir()) / "flutebench-artefacts")


@pytest.fixture
def empty_server(tmp_path: Path, migrated_sqlite_file: Path) -> Iterator[Server]:
    """A server over a database without a shop, on SQLite as a new shop would have it."""
    shutil.copyfile(migrated_sqlite_file, tmp_path / "shop.sqlite3")
    settings = Settings(data=tmp_path)
    assert db.migrate(settings.database) is False
    server = Server(settings)
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="session")
def driver() -> Iterator[Playwright]:
    """What starts browsers; there can be only one of it in a process."""
    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="session")
def chromium(driver: Playwright) -> Iterator[Browser]:
    browser = driver.chromium.launch(executable_path=find_chromium(), args=ARGUMENTS)
    yield browser
    browser.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """A page on a bench tablet; anything the browser complains of fails the test."""
    # A refused form is a 422, which Chromium reports as a failed resource: that is the design, not a fault.
    with watched_page(chromium, 1024, 768, "422", "409") as page:
        yield page


@contextmanager
def watched_page(chromium: Browser, width: int, height: int, *forgiven: str) -> Iterator[Page]:
    """A page of this size [px]; a complaint of the browser that holds none of the `forgiven` texts fails the test.

    Without the service worker, which answers for a server that is away: tests/browser/test_offline.py has it.
    """
    context = chromium.new_context(service_workers="block", viewport={"width": width, "height": height}, locale="en-US")
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert [text for text in complaints if not any(word in text for word in forgiven)] == []


def keep(page: Page, name: str) -> None:
    """Keep a picture of the whole page with the test's artefacts."""
    ARTEFACTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)
