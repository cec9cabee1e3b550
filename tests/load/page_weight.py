"""How many bytes the main screens take over the wire, on a first visit and on the next. Prints a table.

    python -m tests.load.page_weight [--demo FOLDER]

Chromium counts them as they come, heads and all. `--demo` names the data folder of a demo shop, which is copied.
"""

import argparse
import secrets
import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from seed_demo.make import make_demo
from seed_demo.scenario import OWNER
from tests.browser.running import ARGUMENTS, Server
from tests.programs import find_chromium
from webapp import db
from webapp.settings import Settings
from webapp.shop.people import accounts

SCREENS = ("/", "/orders", "/orders/new", "/blanks", "/patterns", "/glue-up", "/bench", "/stock")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--demo", type=Path, help="the data folder of a demo shop")
    given = parser.parse_args()
    password = secrets.token_hex(8)
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder) / "data")
        if given.demo:
            shutil.copytree(given.demo, settings.data)
        else:
            settings.data.mkdir()
            make_demo(settings.database, password)
        database = db.Database(settings.database)
        with database.write() as session:
            accounts.set_password(session, OWNER, password)
        database.close()
        server = Server(settings)
        server.start()
        print("screen, kB over the wire      first visit   again     requests")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=find_chromium(), args=ARGUMENTS)
            state = browser.new_context()
            page = state.new_page()
            page.goto(server.address + "/sign-in")
            page.fill("[name=sign_in_name]", OWNER)
            page.fill("[name=password]", password)
            page.press("[name=password]", "Enter")
            page.wait_for_url(server.address + "/")
            kept = state.storage_state()
            for screen in SCREENS:
                context = browser.new_context(storage_state=kept)  # nothing in its cache
                page = context.new_page()
                first, asked = weigh(page, server.address + screen)
                again, _ = weigh(page, server.address + screen)
                print(f"{screen:30}{first / 1000:11.1f}{again / 1000:8.1f}{asked:12}")
                context.close()
            browser.close()
        server.stop()


def weigh(page: Page, address: str) -> tuple[float, int]:
    """Bytes that came for one visit, and requests."""
    came: list[float] = []
    watch = page.context.new_cdp_session(page)
    watch.send("Network.enable")
    watch.on("Network.loadingFinished", lambda event: came.append(event["encodedDataLength"]))
    page.goto(address)
    page.wait_for_load_state("networkidle")
    watch.detach()
    return sum(came), len(came)


if __name__ == "__main__":
    main()
