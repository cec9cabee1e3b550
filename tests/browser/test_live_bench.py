"""The live bench in Chromium: a microphone that hears a file, a page without one, and a page without scripts."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Playwright, expect

from tests.acoustics.listening import recordings, sounds
from tests.browser.benches import chromium_hearing, open_bench, sign_in
from tests.browser.conftest import keep
from tests.browser.running import PATIENCE, Server

SHARP = 523.2511 * 2 ** (8 / 1200)  # C5 of equal temperament (A4 = 440 Hz, ISO 16), eight cents sharp

# Both ends of a press within one turn of the page: on a busy machine a driver's two messages may lie seconds apart.
TAPPED = """button => {
  button.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter" }));
  button.dispatchEvent(new KeyboardEvent("keyup", { key: "Enter" }));
}"""
# 450 ms are more than a tap. The page is kept busy meanwhile, so that no sound goes out and no note can be taken.
LET_GO_EARLY = """button => {
  button.dispatchEvent(new PointerEvent("pointerdown"));
  const end = performance.now() + 450;
  while (performance.now() < end);
  button.dispatchEvent(new PointerEvent("pointerup"));
}"""


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A minute of it: the file begins again when it is over, and that must not happen meanwhile."""
    long = sounds.tone(SHARP, 60.0)
    return recordings.write(tmp_path / "tone.wav", sounds.mixed(0.3 * long, 0.3 * sounds.white(60.0), 25.0))


@pytest.fixture
def complaints() -> list[str]:
    return []


@pytest.fixture
def make_page(complaints: list[str]) -> Iterator[object]:
    """Pages whose complaints are gathered."""

    def make(browser: Browser, **more: object) -> Page:
        context = browser.new_context(
            service_workers="block", viewport={"width": 1024, "height": 768}, locale="en-US", **more
        )  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE)
        page = context.new_page()
        page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield make
    assert [text for text in complaints if "422" not in text] == []


def test_a_note_is_heard_and_held(empty_server: Server, sound: Path, make_page, driver: Playwright) -> None:  # type: ignore[no-untyped-def]
    bench = open_bench(empty_server.settings)
    with chromium_hearing(driver, sound) as browser:
        page: Page = make_page(browser)
        sign_in(page, empty_server)
        page.goto(empty_server.address + bench)
        page.get_by_role("button", name="Start the microphone").click()
        live = page.locator("#live")
        expect(live.locator("[data-live=note]")).to_have_text("C5")
        expect(live.locator("[data-live=cents]")).to_have_text(re.compile(r"\+[789]"))
        expect(live.locator("[data-live=word]")).to_have_text("sharp, steady")
        turned = page.locator("#needle").get_attribute("transform") or ""
        assert 8.0 < float(turned.removeprefix("rotate(").split()[0]) < 10.6  # 58 degrees for 50 cents
        keep(page, "bench-live")
        # Another fingering, chosen by hand.
        live.get_by_label("Note").select_option("xxxxxx")
        expect(live.locator("[data-live=cents]")).to_have_text(re.compile(r"\+30[789]"))
        live.get_by_label("Note").select_option("")
        # The air of the form below counts: a cold flute reads lower than it will play.
        page.locator("#f-warmed_up").uncheck()
        expect(live.locator("[data-live=cents]")).to_have_text(re.compile(r"\+2[012]"))
        page.locator("#f-warmed_up").check()
        expect(live.locator("[data-live=cents]")).to_have_text(re.compile(r"\+[789]"))
        # Held until it is written down, and then by one tap.
        button = live.get_by_role("button", name="Hold to write it down")
        button.hover()
        page.mouse.down()
        expect(live.locator("[data-live=words]")).to_contain_text("Written down: C5")
        page.mouse.up()
        expect(page.locator(".verdict__note")).to_have_text("C5")
        rows = page.get_by_role("row").filter(has_text=re.compile(r"C5.*\(tuning\)", re.S))
        expect(rows).to_have_count(1)
        button.evaluate(TAPPED)
        expect(rows).to_have_count(2)
        # Let go too early, nothing is written.
        button.evaluate(LET_GO_EARLY)
        expect(button).to_have_attribute("aria-pressed", "false")
        page.get_by_role("button", name="Stop the microphone").click()
        expect(page.get_by_role("button", name="Start the microphone")).to_be_visible()
        expect(rows).to_have_count(2)


def test_without_a_microphone_a_recording_is_offered(
    empty_server: Server, sound: Path, make_page, driver: Playwright
) -> None:  # type: ignore[no-untyped-def]
    bench = open_bench(empty_server.settings)
    with chromium_hearing(driver, None) as browser:
        page: Page = make_page(browser)
        sign_in(page, empty_server)
        page.goto(empty_server.address + bench)
        page.get_by_role("button", name="Start the microphone").click()
        expect(page.locator("#live")).to_contain_text("Send a recording instead")
        expect(page.get_by_label("Recording", exact=True)).to_be_visible()
        # The same where browsers give no microphone at all, over plain http in the shop's network.
        page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false})")
        page.goto(empty_server.address + bench)
        expect(page.locator("#live")).to_contain_text("over https")
        expect(page.get_by_role("button", name="Start the microphone")).to_be_hidden()
        keep(page, "bench-no-microphone")
        page.get_by_label("Recording", exact=True).set_input_files(sound)
        page.get_by_role("button", name="Listen to it").click()
        expect(page.get_by_role("heading", name="Heard in the recording")).to_be_visible(timeout=30_000)
        keep(page, "bench-recording")
        page.get_by_role("button", name=re.compile("Write it down.*C5")).first.click()
        expect(page.locator(".verdict__note")).to_have_text("C5")


def test_without_scripts_a_recording_is_sent(
    empty_server: Server, tmp_path: Path, make_page, driver: Playwright
) -> None:  # type: ignore[no-untyped-def]
    bench = open_bench(empty_server.settings)
    short = recordings.write(tmp_path / "short.ogg", 0.3 * sounds.tone(SHARP, 1.5))
    letter = tmp_path / "letter.ogg"
    letter.write_bytes(b"no sound at all" * 20)
    with chromium_hearing(driver, None) as browser:
        page: Page = make_page(browser, java_script_enabled=False)
        sign_in(page, empty_server)
        page.goto(empty_server.address + bench)
        expect(page.locator("#live")).to_be_hidden()
        page.get_by_text("Listen to a recording").click()
        page.get_by_label("Recording", exact=True).set_input_files(letter)
        page.get_by_role("button", name="Listen to it").click()
        expect(page.locator("#recording-f-recording-wrong")).to_contain_text("It must be a recording")
        page.get_by_label("Recording", exact=True).set_input_files(short)
        page.get_by_role("button", name="Listen to it").click()
        page.get_by_role("button", name=re.compile("Write it down.*C5")).click()
        expect(page.locator(".verdict__note")).to_have_text("C5")
        expect(page.get_by_role("heading", name="Heard in the recording")).to_have_count(0)
