"""A pattern played in Chromium before it is cut: by touch, by keys, soft to overblown; and a file without scripts."""

import re

import numpy as np
from playwright.sync_api import Browser, Page, expect

from acoustics.listening.notes import Listener
from tests.browser.benches import open_bench, sign_in
from tests.browser.conftest import keep
from tests.browser.running import Server

LISTEN = "/patterns/1/1/listen"

# What the page's own worklet makes of one note, without loudspeakers: samples at 48 kHz.
RENDERED = """async ([finger, pressure, seconds]) => {
  const play = document.getElementById("play");
  const context = new OfflineAudioContext(1, Math.round(48000 * seconds), 48000);
  await context.audioWorklet.addModule(play.dataset.worklet);
  const options = { notes: JSON.parse(play.dataset.notes), finger, pressure };
  const node = new AudioWorkletNode(context, "flute", {
    numberOfInputs: 0, outputChannelCount: [1], processorOptions: options });
  node.connect(context.destination);
  const sound = (await context.startRendering()).getChannelData(0);
  return Array.from(sound, (one) => Math.round(one * 32767));
}"""


def rendered(page: Page, finger: int, pressure: float) -> list[float]:
    """The frequencies that are heard in it [Hz]."""
    samples = np.array(page.evaluate(RENDERED, [finger, pressure, 1.2]), np.float32) / 32768
    listener = Listener(48000)
    listener.feed(samples)
    return [note.frequency for note in listener.finish()]


def said(page: Page) -> list[float]:
    """What the table says that each note sounds at the breath that was asked for [Hz]."""
    cells = page.get_by_role("cell").filter(has_text=re.compile(r"^\s*[\d.]+ Hz\s*$")).all_inner_texts()
    return [float(text.split()[0]) for text in cells]


def test_it_plays_what_the_engine_says(empty_server: Server, page: Page) -> None:
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    open_bench(empty_server.settings)
    sign_in(page, empty_server)
    page.goto(f"{empty_server.address}{LISTEN}?pressure=600")
    play = page.locator("#play")
    expect(play).to_be_visible()
    keep(page, "pattern-listen")
    notes = play.locator("[data-finger]")
    expected = said(page)
    assert len(expected) == notes.count()
    for finger in (0, 2, 5):
        (heard,) = rendered(page, finger, 600.0)
        assert abs(1200 * np.log2(heard / expected[finger])) < 1.0
    assert rendered(page, 0, 60.0) == []

    # By touch: it starts, says what sounds, and stops.
    words = play.locator("[data-play=words]")
    notes.nth(0).hover()
    page.mouse.down()
    expect(words).to_contain_text(f"{expected[0]:.1f} Hz, first register")
    expect(notes.nth(0)).to_have_attribute("aria-pressed", "true")
    page.mouse.up()
    expect(words).to_be_empty()
    # By its number, and then harder until it jumps.
    page.keyboard.down("2")
    expect(words).to_contain_text("first register")
    slider = play.get_by_label("Breath, soft to overblown")
    slider.evaluate("one => { one.value = one.max; one.dispatchEvent(new Event('input')); }")
    expect(words).to_contain_text("second register")
    expect(play.locator("[data-play=pressure]")).to_contain_text("mm of water")
    page.keyboard.up("2")
    expect(words).to_be_empty()
    # By keyboard alone.
    notes.nth(1).focus()
    page.keyboard.down("Enter")
    expect(words).to_contain_text("second register")
    page.keyboard.up("Enter")
    expect(words).to_be_empty()
    assert complaints == []


def test_without_scripts_the_file_is_there(empty_server: Server, chromium: Browser) -> None:
    open_bench(empty_server.settings)
    page = chromium.new_context(service_workers="block", java_script_enabled=False, accept_downloads=True).new_page()
    sign_in(page, empty_server)
    page.goto(f"{empty_server.address}/patterns/1/1")
    page.get_by_role("link", name="Listen", exact=True).click()
    expect(page.locator("#play")).to_be_hidden()
    page.locator("#f-pressure").fill("450")
    page.get_by_role("button", name="Show at this breath").click()
    expect(page.get_by_text("At 450 Pa")).to_be_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download as WAV").click()
    assert download.value.path().read_bytes()[:4] == b"RIFF"
    assert "450-Pa" in download.value.suggested_filename
    page.context.close()
