"""Without a connection: what was open opens again, entries wait in their order and go through once."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from sqlmodel import Session, col, select

from tests import blanks as made
from tests.browser.conftest import keep
from tests.browser.floor import entries, sign_in, two_at_work
from tests.browser.running import PATIENCE, Server
from webapp.db import Database
from webapp.models import Blank, Reading
from webapp.shop.people.accounts import Who

# Whether the worker holds a page: a path and whether what it holds says these words.
HOLDS = """async ([path, words]) => {
  for (const name of await caches.keys()) {
    const found = await (await caches.open(name)).match(path);
    if (found && (await found.text()).includes(words)) return true;
  }
  return false;
}"""


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-US", service_workers="allow")
    context.set_default_timeout(PATIENCE)
    yield context
    context.close()


@pytest.fixture
def at_work(empty_server: Server) -> Iterator[tuple[Session, Who]]:
    """As `two_at_work`, with 0002 ready to be tuned."""
    with two_at_work(empty_server.settings) as (session, who):
        database = Database(empty_server.settings.database)
        with database.write() as writing:
            second = writing.exec(select(Blank).where(Blank.serial == "0002")).one()
            made.bring_to(writing, who, second, "tuned")
        database.close()
        yield session, who


def wait_until_kept(page: Page, path: str, words: str) -> None:
    for _ in range(PATIENCE // 100):
        if page.evaluate(HOLDS, [path, words]):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{path} is not kept")


def read_a_note(page: Page, pitch: str) -> None:
    page.get_by_label("The meter shows").fill(pitch)
    page.get_by_role("button", name="Write it down").click()


def test_the_floor_works_on_without_a_connection_and_nothing_is_lost_or_doubled(
    empty_server: Server, at_work: tuple[Session, Who], context: BrowserContext
) -> None:
    session, who = at_work
    at, page = empty_server.address, context.new_page()
    page.goto(at)
    sign_in(page)
    page.wait_for_url(f"{at}/")
    # From the rack the blanks on it are fetched ahead; the bench is kept once it was open.
    wait_until_kept(page, "/blanks/0001", "Bore gauged")
    wait_until_kept(page, "/blanks/0002", "Tuned")
    wait_until_kept(page, "/glue-up", "Glue-up")
    page.goto(f"{at}/bench/0002")
    wait_until_kept(page, "/bench/0002", "The meter shows")
    steps, known = entries(session), len(session.exec(select(Reading)).all())

    empty_server.stop()
    page.close()
    page = context.new_page()
    page.goto(at)
    expect(page.locator("#as-it-was")).to_contain_text("The shop's computer does not answer: this is how it was on")
    expect(page.get_by_text("outstanding")).to_have_count(0)  # sums are not kept
    keep(page, "rack-without-connection")
    page.goto(f"{at}/blanks/0001")
    page.reload()
    expect(page.locator(".now__name")).to_have_text("Bore gauged")
    page.get_by_role("button", name="Just 3/4").click()
    unsaved = page.locator(".unsaved")
    expect(unsaved).to_contain_text("Not saved yet: 0001, Bore gauged")
    keep(page, "blank-without-connection")
    # Two readings from one and the same page, as it was kept.
    page.goto(f"{at}/bench/0002")
    for count, pitch in enumerate(("438.11", "438.22"), start=1):
        read_a_note(page, pitch)
        expect(unsaved).to_contain_text(f"and {count} more")
        expect(page.get_by_label("The meter shows")).to_have_value("")
    keep(page, "bench-without-connection")
    # What was never open here can't be: what was is offered.
    page.goto(f"{at}/blanks?stage=flue")
    page.goto(f"{at}/bench/0001")
    expect(page.get_by_role("heading", name="No connection to the shop's computer")).to_be_visible()
    keep(page, "never-open-here")
    page.get_by_role("link", name="0002").first.click()
    expect(page.locator("#as-it-was")).to_be_visible()

    # Meanwhile somebody else passes the step at the shop's computer itself.
    database = Database(empty_server.settings.database)
    with database.write() as writing:
        first = writing.exec(select(Blank).where(Blank.serial == "0001")).one()
        made.bring_to(writing, who, first, "halves-meet")
    database.close()
    again = Server(empty_server.settings, empty_server.port)
    again.start()

    page.goto(at)
    expect(page.locator("#as-it-was")).to_have_count(0)
    expect(unsaved).to_contain_text("Not saved yet: 0001, Bore gauged.")
    expect(unsaved).not_to_contain_text("more")
    expect(unsaved.get_by_role("button", name="Look at it")).to_be_visible()
    session.rollback()
    pitches = [one.frequency for one in session.exec(select(Reading).order_by(col(Reading.id))).all()][known:]
    assert pitches == pytest.approx([438.11, 438.22])
    assert entries(session) == steps + 1  # the other's
    # It stays until its own page has come, also where the connection goes at that very tap.
    again.stop()
    unsaved.get_by_role("button", name="Look at it").click()
    expect(unsaved).to_contain_text("Not saved yet: 0001, Bore gauged.")
    assert page.evaluate("Object.keys(localStorage).filter(name => name.startsWith('unsaved:')).length") == 1
    again = Server(empty_server.settings, empty_server.port)
    again.start()
    unsaved.get_by_role("button", name="Look at it").click()
    expect(page.get_by_text("passed already").or_(page.locator(".notice--wrong, [data-summary]")).first).to_be_visible()
    expect(unsaved).to_be_hidden()

    # On a shared tablet the next person finds nothing of this one's.
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.wait_for_function("async () => !(await caches.keys()).some(name => name.startsWith('pages'))")
    page.close()
    again.stop()


def test_the_page_can_be_installed(empty_server: Server, page: Page) -> None:
    """What browsers ask of a page that they offer to install: https://www.w3.org/TR/appmanifest/."""
    page.goto(f"{empty_server.address}/guide")
    manifest = page.evaluate("""async () => {
      const answer = await fetch(document.querySelector('link[rel=manifest]').href);
      return { kind: answer.headers.get("content-type"), at: answer.url, read: await answer.json() };
    }""")
    assert manifest["kind"] == "application/manifest+json"
    read = manifest["read"]
    assert read["display"] == "standalone" and read["start_url"] == read["scope"] == "/" and read["name"]
    for icon in read["icons"]:
        size = page.evaluate(
            """async ([src, base]) => {
              const picture = new Image();
              picture.src = new URL(src, base).href;
              await picture.decode();
              return `${picture.naturalWidth}x${picture.naturalHeight}`;
            }""",
            [icon["src"], manifest["at"]],
        )
        assert icon["sizes"] in ("any", size)
    assert {"192x192", "512x512"} <= {icon["sizes"] for icon in read["icons"]}
