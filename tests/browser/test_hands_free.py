"""The bench with both hands on the flute: it speaks, listens on by itself, and a pedal's key writes a cut down."""

import re
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Page, Playwright, expect

from tests.acoustics.listening import recordings, sounds
from tests.browser.benches import chromium_hearing, open_bench, sign_in
from tests.browser.conftest import keep
from tests.browser.running import PATIENCE, Server

SHARP = 523.2511 * 2 ** (8 / 1200)  # C5 of equal temperament (A4 = 440 Hz, ISO 16), eight cents sharp
# What is spoken is gathered; a device without voices never says that it has ended either.
MUTE = """
window.spoken = [];
Object.defineProperty(window, "speechSynthesis", { value: {
  cancel() {},
  speak(said) { window.spoken.push(said.text); setTimeout(() => said.dispatchEvent(new Event("end")), 50); },
} });
"""


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """The same note again and again, with silence between."""
    note, rest = 0.3 * sounds.tone(SHARP, 4.0), np.zeros(2 * 48000)
    return recordings.write(tmp_path / "notes.wav", np.concatenate([note, rest] * 8))


def test_it_listens_on_and_says_what_it_heard(empty_server: Server, sound: Path, driver: Playwright) -> None:
    bench = open_bench(empty_server.settings)
    with chromium_hearing(driver, sound) as browser:
        context = browser.new_context(service_workers="block", viewport={"width": 1180, "height": 820}, locale="en-US")
        context.set_default_timeout(PATIENCE)
        page: Page = context.new_page()
        page.add_init_script(MUTE)
        sign_in(page, empty_server)
        page.goto(empty_server.address + bench)
        page.get_by_label("Big type").check()
        expect(page.locator("body.big-type")).to_be_visible()
        page.get_by_role("button", name="Start the microphone").click()
        page.get_by_label(re.compile("Hands-free")).check()
        # No tap from here on: two notes are written down, each said with what comes next.
        rows = page.get_by_role("row").filter(has_text=re.compile(r"C5.*\(tuning\)", re.S))
        expect(rows).to_have_count(2, timeout=PATIENCE)
        assert page.evaluate("spoken.length") >= 2
        said = page.evaluate("spoken.join(' | ')")
        assert re.search(r"C5 \d+ cents sharp\.", said), said
        keep(page, "bench-hands-free")
        context.close()


def test_a_key_of_a_pedal_writes_the_advised_cut_down(empty_server: Server, sound: Path, driver: Playwright) -> None:
    bench = open_bench(empty_server.settings)
    with chromium_hearing(driver, sound) as browser:
        context = browser.new_context(service_workers="block", viewport={"width": 1180, "height": 820}, locale="en-US")
        context.set_default_timeout(PATIENCE)
        page: Page = context.new_page()
        page.add_init_script(MUTE)
        sign_in(page, empty_server)
        page.goto(empty_server.address + bench)
        # What is advised needs many readings: the form of another cut is filled in and taken for the advised one.
        page.get_by_text("Write down a cut that was made").click()
        page.get_by_label("What was cut").select_option("6")
        page.get_by_label("Its size now").fill("7.2 mm")
        page.locator(".cut .read__line button").evaluate("button => button.classList.add('button--primary')")
        page.get_by_role("button", name="Start the microphone").click()
        page.get_by_label(re.compile("Hands-free")).check()
        page.keyboard.press("PageDown")
        expect(page.get_by_text("1 cut so far")).to_be_visible()
        # The drawing that was put in meanwhile is whole.
        expect(page.locator(".drawing--at-hand [data-part=holes] circle").first).to_be_visible()
        page.wait_for_function("() => spoken.some(said => said.includes('The cut is written down'))")
        context.close()
