"""From sound to screen at the live bench: the time until the dial shows a new note, in Chromium on this computer.

OMP_NUM_THREADS=1 python -m tests.load.bench_latency

The page's microphone is replaced by an oscillator in the page itself, whose pitch is changed at known moments; from
each change to the paint that shows the other note's name is what is printed. The sound card's own delay, some 10 to
30 ms, is not in it.
"""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

from playwright.sync_api import Page, expect, sync_playwright

from tests.browser.benches import chromium_hearing, open_bench, sign_in
from tests.browser.running import Server
from webapp import db
from webapp.settings import Settings

CHANGES = 40

MICROPHONE = """
navigator.mediaDevices.getUserMedia = async () => {
  const context = new AudioContext();
  await context.resume();
  const tone = new OscillatorNode(context, {frequency: 440});
  const loud = new GainNode(context, {gain: 0.3});
  const out = new MediaStreamAudioDestinationNode(context);
  tone.connect(loud).connect(out);
  tone.start();
  Object.assign(window, {tone, loud, toneContext: context});
  return out.stream;
};
"""

# `change` does something to the sound; the answer is the time in ms to the frame that shows `note`.
MEASURE = """
([change, value, note]) => new Promise((done) => {
  const shown = document.querySelector("[data-live=note]");
  const now = toneContext.currentTime;
  const began = performance.now();
  (change === "pitch" ? tone.frequency : loud.gain).setValueAtTime(value, now);
  const look = () => {
    if (shown.textContent !== note) return;
    watch.disconnect();
    requestAnimationFrame(() => done(performance.now() - began));
  };
  const watch = new MutationObserver(look);
  watch.observe(shown, {childList: true, characterData: true, subtree: true});
  look();
})
"""


def measured(page: Page) -> dict[str, list[float]]:
    """Times in ms of each kind of change."""
    found: dict[str, list[float]] = {"another note": [], "out of silence": []}
    for turn in range(CHANGES):
        frequency, note = ((523.25, "C5"), (440.0, "A4"))[turn % 2]
        found["another note"].append(page.evaluate(MEASURE, ["pitch", frequency, note]))
        page.wait_for_timeout(400 + 13 * (turn % 7))
    for turn in range(CHANGES):
        page.evaluate(MEASURE, ["gain", 0.0, "\N{EN DASH}"])
        page.wait_for_timeout(300 + 13 * (turn % 7))
        found["out of silence"].append(page.evaluate(MEASURE, ["gain", 0.3, "A4"]))
        page.wait_for_timeout(300)
    return found


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data=Path(folder), database_url="")
        db.migrate(settings.database)
        bench = open_bench(settings)
        server = Server(settings)
        server.start()
        with sync_playwright() as playwright, chromium_hearing(playwright, None) as browser:
            page = browser.new_page()
            page.add_init_script(MICROPHONE)
            sign_in(page, server)
            page.goto(server.address + bench)
            page.get_by_role("button", name="Start the microphone").click()
            expect(page.locator("[data-live=note]")).to_have_text("A4")
            found = measured(page)
        server.stop()
    print(f"{'from sound to screen':22}{'median, ms':>12}{'95 of 100, ms':>16}{'longest, ms':>14}")
    for kind, times in found.items():
        times = sorted(times)
        print(f"{kind:22}{statistics.median(times):12.0f}{times[int(0.95 * len(times))]:16.0f}{times[-1]:14.0f}")


if __name__ == "__main__":
    main()
