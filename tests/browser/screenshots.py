"""Makes the pictures in README.md from the demo shop: `python -m tests.browser.screenshots`."""

import secrets
import tempfile
from io import BytesIO
from pathlib import Path

import pypdfium2 as pdfium
from PIL import Image
from playwright.sync_api import Browser, sync_playwright

from seed_demo.make import OWNER, make_demo
from tests.browser.running import ARGUMENTS, Server
from tests.programs import find_chromium
from webapp.settings import Settings

PICTURES = Path(__file__).parents[2] / "seed_demo" / "screenshots"
SERIAL = "TQ-0160"

# file, address, width and height of the window, light or dark
VIEWS = [
    ("rack", "/", (1180, 1000), "light"),
    ("pattern", "/patterns/1/1", (1180, 1000), "light"),
    ("blank", f"/blanks/{SERIAL}", (820, 1000), "light"),
    ("bench", "/bench/TQ-0157", (1180, 820), "dark"),
    ("glue-up", "/glue-up", (390, 844), "light"),
]


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    password = secrets.token_urlsafe(16)
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder), database_url="")
        make_demo(settings.database, password)
        server = Server(settings)
        server.start()
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=find_chromium(), args=ARGUMENTS)
            take(browser, server.address, password)
            browser.close()
        server.stop()


def take(browser: Browser, address: str, password: str) -> None:
    """Every view, and the first page of a traveler."""
    for name, path, (width, height), scheme in VIEWS:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,  # type: ignore[arg-type]
        )
        page = context.new_page()
        page.goto(f"{address}/sign-in")
        page.fill("[name=sign_in_name]", OWNER)
        page.fill("[name=password]", password)
        page.click("main button")
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        save(Image.open(BytesIO(page.screenshot())), name)
        if name == "blank":
            answer = page.request.get(f"{address}/blanks/{SERIAL}/traveler.pdf", timeout=60_000)
            save(pdfium.PdfDocument(answer.body())[0].render(scale=1.4).to_pil(), "traveler")
        context.close()


def save(picture: Image.Image, name: str) -> None:
    """As a palette PNG: a third of the size, and no difference to the eye."""
    picture.convert("RGB").quantize(128, dither=Image.Dither.NONE).save(PICTURES / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
