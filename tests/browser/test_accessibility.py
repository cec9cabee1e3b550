"""axe-core on every page of the demo shop, in light and in dark: no serious or critical finding (WCAG 2.2, A and AA).
And no page is wider than a window of 320 px, or of 640 px, which is 1280 px at 200 % (WCAG 2.2, 1.4.10 and 1.4.4).

The pages are those of the program's own description; each is reached the way a person reaches it, by the links of the
pages before it, so each has a real id in it.
"""

import re
import shutil
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import axe_playwright_python
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page
from sqlmodel import col, select

from tests.browser.running import PATIENCE, Server
from tests.demo import PASSWORD
from webapp import db
from webapp.db import Database
from webapp.models import Bill, BillKind, Blank, BlankStatus, Cut, Order, OrderedFlute, OrderStatus, Photo, Repair
from webapp.settings import Settings
from webapp.shop.flute_pages import address as flute_page

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text()
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
# Not pages for people: papers, pictures, tables, parts of pages that htmx asks for, what is shown once after a form.
NO_PAGES = re.compile(
    r"\.(pdf|csv|zip|json|jpg|svg|dxf|ics|crt|wav)$|/customers-like$|/search/at-hand$|/glue-up/alarms$|/promise/offer$|/backups/{name}$"
    r"|/second-step/spare-codes$|/sign-in/code$|/people/{person_id}/invitation$|^/first-run$|/resets/{reset_id}$"
)
NOWHERE = "/no-such-page"
# The like of them is there a hundred times in a long list, and takes its time each.
FEWER_ROWS = """() => document.querySelectorAll('tbody > tr:nth-child(n+6), .shelf__lie > li:nth-child(n+3)')
    .forEach(row => row.remove())"""
LINKS = "() => [...document.querySelectorAll('a[href^=\"/\"]')].map(a => a.getAttribute('href').split('#')[0])"


class Finding(NamedTuple):
    path: str
    scheme: str
    rule: str
    what: str
    why: str


@pytest.fixture(scope="module")
def demo_server(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("accessible") / "data"
    shutil.copytree(demo_folder, folder)
    settings = Settings(data=folder, database_url="", backup_hours=0)
    db.migrate(settings.database)
    server = Server(settings)
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="module")
def context(chromium: Browser, demo_server: Server) -> Iterator[BrowserContext]:
    """The owner's browser. Our own policy would keep axe out as it keeps out any script that is not ours."""
    context = chromium.new_context(service_workers="block", viewport={"width": 1024, "height": 768}, bypass_csp=True)
    context.set_default_timeout(PATIENCE)
    context.add_init_script(AXE)
    page = context.new_page()
    page.goto(f"{demo_server.address}/sign-in")
    page.get_by_label("Name").fill("orla")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"{demo_server.address}/")
    page.close()
    yield context
    context.close()


def test_no_page_has_a_serious_finding(demo_server: Server, context: BrowserContext, chromium: Browser) -> None:
    routes = Routes(demo_server.app)
    page = context.new_page()
    findings: list[Finding] = []
    kept = from_the_books(demo_server.settings)
    made = some_that_forms_lead_to(page, demo_server.address, order=kept[0])
    todo = deque(["/", "/search?q=F%234", "/me/password-again", NOWHERE, *kept, *made])
    seen: set[str] = set()
    while todo:
        path = todo.popleft()
        name = routes.name(path)
        if name in seen or NO_PAGES.search(name):
            continue
        seen.add(name)
        answer = page.goto(demo_server.address + path)
        assert answer is not None and answer.status == (404 if path == NOWHERE else 200), (path, answer)
        findings += look_at(page, path)
        todo.extend(page.evaluate(LINKS))
    page.close()
    stranger = chromium.new_context(service_workers="block", bypass_csp=True)
    stranger.add_init_script(AXE)
    door = stranger.new_page()
    door.goto(f"{demo_server.address}/sign-in")
    seen.add("/sign-in")
    findings += look_at(door, "/sign-in")
    stranger.close()
    assert findings == [], "\n".join(map(str, findings))
    unseen = {name for name in routes.names if not NO_PAGES.search(name)} - seen
    assert unseen == set()


class Routes:
    """The program's addresses as its description writes them, the plainest first: `/orders/new` is no number."""

    def __init__(self, app: FastAPI) -> None:
        self.names = [name for name, ways in app.openapi()["paths"].items() if "get" in ways]
        ordered = sorted(self.names, key=lambda name: name.count("{"))
        self._patterns = [
            (re.compile(re.sub(r"\\{[^}]+\\}", "[^/]+", re.escape(name)) + "$"), name) for name in ordered
        ]

    def name(self, path: str) -> str:
        bare = path.split("?")[0]
        return next((name for pattern, name in self._patterns if pattern.match(bare)), bare)


def some_that_forms_lead_to(page: Page, address: str, order: str) -> list[str]:
    """Pages that nobody comes to by links alone: a table half imported, travelers being printed, a customer's page,
    an invitation."""
    found = []
    page.goto(f"{address}/import")
    page.locator("input[type=radio][value=customers]").check()
    page.locator("input[type=file]").set_input_files(
        {"name": "customers.csv", "mimeType": "text/csv", "buffer": b"name,contact\nIda Voss,by the mill\n"}
    )
    found.append(after(page, "Look at it first"))
    page.goto(f"{address}/travelers")
    page.locator("[name=serials]").first.check()
    found.append(after(page, "Print them into one file"))
    page.goto(f"{address}{order}/status-page")
    page.locator("form[action$='/status-page'] button").click()
    found.append("/" + page.locator(".secret a").inner_text().split("/", 3)[3])
    page.goto(f"{address}/shop/people/2")
    page.get_by_role("button", name="Make an invitation").click()
    found.append("/" + page.locator(".secret").inner_text().split("/", 3)[3])
    return found


def after(page: Page, button: str) -> str:
    """The path of the page that a form's button leads to."""
    with page.expect_event("load"):
        page.get_by_role("button", name=button).click()
    return "/" + page.url.split("/", 3)[3]


def from_the_books(settings: Settings) -> list[str]:
    """What only some order, blank or pattern leads to, in its own state: by their numbers in the database."""
    database = Database(settings.database)
    with database.read() as session:
        flutes = select(Order.number, OrderedFlute.id).join(OrderedFlute, col(OrderedFlute.order_id) == Order.id)
        built = session.exec(flutes.where(Order.status == OrderStatus.IN_THE_SHOP)).first()
        asked = session.exec(flutes.where(Order.status == OrderStatus.QUOTED)).first()
        repair = session.exec(select(Order.number, Repair.id).join(Repair, col(Repair.order_id) == Order.id)).first()
        tuned = select(Blank.serial, Cut.id).join(Cut, col(Cut.blank_id) == Blank.id)
        cut = session.exec(tuned.where(Blank.status == BlankStatus.IN_WORK, col(Cut.corrects_id).is_(None))).first()
        gone = session.exec(select(Blank).where(Blank.status == BlankStatus.HANDED_OVER)).first()
        own = flute_page.path_of(session, gone) if gone else None
        bills = select(Order.number, Bill.id).join(Bill, col(Bill.order_id) == Order.id)
        bill = session.exec(bills.where(Bill.kind == BillKind.INVOICE)).first()
        photo = session.exec(select(Photo.id, Blank.serial).join(Blank, col(Blank.id) == Photo.blank_id)).first()
    database.close()
    assert built and asked and repair and photo and cut and own and bill
    flute, unbuilt = (f"/orders/{number}/flutes/{id_}" for number, id_ in (built, asked))
    return [
        f"/orders/{built[0]}",
        f"/orders/{built[0]}/costs",
        *(f"{flute}{what}" for what in ("", "/wood", "/price", "/leave-out")),
        f"{unbuilt}/pattern",
        *(f"/orders/{repair[0]}/repairs/{repair[1]}{what}" for what in ("", "/leave-out")),
        f"/orders/{bill[0]}/bills/{bill[1]}/credit",
        own,
        f"/bench/{cut[0]}/cuts/{cut[1]}",
        f"/bench/{cut[0]}/sizes",
        f"/photos/{photo[0]}",
        f"/blanks/{photo[1]}/photos",
        f"/blanks/{photo[1]}",
        f"/together?serial={photo[1]}&serial={cut[0]}",
        "/patterns/1/compare",
    ]


def look_at(page: Page, path: str) -> Iterator[Finding]:
    """All rules in light, and the contrast once more in dark, on the page as it stands once htmx is done with it."""
    page.wait_for_function("!document.querySelector('.htmx-request')")
    for width in (320, 640):
        page.set_viewport_size({"width": width, "height": 900})
        if (wide := page.evaluate("document.documentElement.scrollWidth")) > width:
            yield Finding(path, "light", "reflow", f"{wide} px wide in a window of {width} px", "")
    page.set_viewport_size({"width": 1024, "height": 768})
    page.evaluate(FEWER_ROWS)
    yield from serious(page, path, "light", {"runOnly": RULES})
    page.emulate_media(color_scheme="dark")
    yield from serious(page, path, "dark", {"runOnly": {"type": "rule", "values": ["color-contrast"]}})
    page.emulate_media(color_scheme="light")


def serious(page: Page, path: str, scheme: str, options: dict[str, Any]) -> Iterator[Finding]:
    options = {**options, "resultTypes": ["violations"], "preload": False, "iframes": False}
    # The head is the same on every page: the rack speaks for all. A stranger sees another one, or none.
    where = {"exclude": [["body > header"]]} if path not in ("/", "/sign-in", NOWHERE) else {}
    result = page.evaluate("([where, options]) => axe.run({include: [['html']], ...where}, options)", [where, options])
    for broken in result["violations"]:
        if broken["impact"] in ("serious", "critical"):
            for node in broken["nodes"]:
                yield Finding(path, scheme, broken["id"], node["html"][:160], node["failureSummary"][:240])
