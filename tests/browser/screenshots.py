"""Makes the pictures in README.md and in the guide from the demo shop: `python -m tests.browser.screenshots`.

With the data folder of a demo made before (`python -m tests.browser.screenshots data/demo`), a copy of that is used.
"""

import secrets
import shutil
import sys
import tempfile
from io import BytesIO
from pathlib import Path
from typing import Final, NamedTuple

import pypdfium2 as pdfium
from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright
from sqlmodel import select

from seed_demo.make import OWNER, make_demo
from tests.browser.running import ARGUMENTS, Server
from tests.programs import find_chromium
from webapp.db import Database
from webapp.models import Blank, BlankStatus, Reading, Stage, StepKind
from webapp.pages.frame.rendering import STATIC
from webapp.settings import Settings
from webapp.shop.blanks import state as blank_state
from webapp.shop.people import accounts

PICTURES: Final = Path(__file__).parents[2] / "seed_demo" / "screenshots"
GUIDE: Final = STATIC / "guide"
TABLET: Final = (820, 1000)
SETTLED: Final = 400  # ms, for what htmx brings in


class View(NamedTuple):
    """A picture: its file, the page, the window, and where on the page its top is. In the address, `gauged` stands for
    a blank whose next step is a gauge, `tuned` for one at the tuning bench."""

    name: str
    path: str
    size: tuple[int, int]
    scheme: str = "light"
    top: str = ""


README = [
    View("rack", "/", (1180, 1000)),
    View("pattern", "/patterns/1/1", (1180, 1000)),
    View("blank", "/blanks/{gauged}", TABLET),
    View("bench", "/bench/{tuned}", (1180, 820), "dark"),
    View("glue-up", "/glue-up", (390, 844)),
]
CHAPTERS = [
    View("shop", "/shop", TABLET),
    View("rack", "/", TABLET),
    View("promise", "/promise", TABLET),
    View("pattern", "/patterns/1/1", (1000, 1000), top=".picture"),
    View("stock", "/stock", TABLET),
    View("plan", "/stock/plans/1", (1000, 900), top=".plan-wood"),
    View("blank", "/blanks/{gauged}", TABLET),
    View("glue-up", "/glue-up", TABLET),
    View("bench", "/bench/{tuned}", (1180, 900)),
    View("learning", "/shop/learning", TABLET),
]


def main(made_before: Path | None = None) -> None:
    password = secrets.token_urlsafe(16)
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder), database_url="")
        if made_before:
            shutil.copytree(made_before, folder, dirs_exist_ok=True)
            database = Database(settings.database)
            with database.write() as session:
                accounts.set_password(session, OWNER, password)
            database.close()
        else:
            make_demo(settings.database, password)
        shown = blanks_to_show(settings)
        server = Server(settings)
        server.start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=find_chromium(), args=ARGUMENTS)
            for folder_, views in ((PICTURES, README), (GUIDE, CHAPTERS)):
                folder_.mkdir(exist_ok=True)
                for scheme in ("light", "dark"):
                    these = [v._replace(path=v.path.format_map(shown)) for v in views if v.scheme == scheme]
                    take(browser, server.address, password, folder_, these)
            browser.close()
        server.stop()


def blanks_to_show(settings: Settings) -> dict[str, str]:
    """The serials of a blank for an order that awaits a gauge, and of the one at tuning that was read the most."""
    database = Database(settings.database)
    with database.read() as session:
        found = [
            (
                blank.serial,
                blank.stage,
                upcoming.kind,
                len(session.exec(read.where(Reading.blank_id == blank.id)).all()),
            )
            for blank in session.exec(select(Blank).where(Blank.status == BlankStatus.IN_WORK)).all()
            if blank.id and blank.ordered_flute_id and not blank.waits_for
            for upcoming in [step for step in blank_state.steps_of(session, blank.id) if step.state != "passed"][:1]
            for read in [select(Reading.id)]
        ]
    database.close()
    gauged = next(serial for serial, stage, kind, _ in found if (stage, kind) == (Stage.BORING, StepKind.GAUGE))
    _, tuned = max((reads, serial) for serial, stage, _, reads in found if stage is Stage.TUNING)
    return {"gauged": gauged, "tuned": tuned}


def take(browser: Browser, address: str, password: str, folder: Path, views: list[View]) -> None:
    """Every view of one scheme, signed in once; beside a blank, the first page of its traveler."""
    if not views:
        return
    context = browser.new_context(service_workers="block", color_scheme=views[0].scheme)  # type: ignore[arg-type]
    context.set_default_timeout(60_000)
    page = context.new_page()
    page.goto(f"{address}/sign-in")
    page.fill("[name=sign_in_name]", OWNER)
    page.fill("[name=password]", password)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page).to_have_url(f"{address}/")
    known = page.get_by_role("button", name="I know", exact=True)
    if known.count():  # the notice of another browser stands on every page until then
        known.click()
        expect(known).to_have_count(0)
    for view in views:
        save(picture(page, address, view), folder / f"{view.name}.png")
        if view.name == "blank":
            answer = page.request.get(f"{address}{view.path}/traveler.pdf", timeout=120_000)
            assert answer.ok, answer.text()
            save(pdfium.PdfDocument(answer.body())[0].render(scale=1.4).to_pil(), folder / "traveler.png")
    context.close()


def picture(page: Page, address: str, view: View) -> Image.Image:
    """What the window shows of a page; from `top` down where that is named."""
    width, height = view.size
    page.set_viewport_size({"width": width, "height": height})
    answer = page.goto(address + view.path)
    assert answer is not None and answer.ok, (view.path, answer)
    page.wait_for_load_state("load")
    # What is calculated behind the page, such as dates, should stand in the picture and not its progress.
    expect(page.locator("progress[id$=so-far]")).to_have_count(0, timeout=240_000)
    page.wait_for_timeout(SETTLED)
    if view.top:
        page.locator(view.top).first.evaluate("part => window.scrollTo(0, part.getBoundingClientRect().top - 12)")
    return Image.open(BytesIO(page.screenshot()))


def save(shown: Image.Image, path: Path) -> None:
    """As a palette PNG: a third of the size, and no difference to the eye."""
    shown.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(path, optimize=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
