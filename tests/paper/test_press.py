"""The press: what it refuses, what it survives, what it leaves behind."""

import multiprocessing
import subprocess
import sys
import threading
import time
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.paper.reading import fonts, sizes, text
from webapp.paper.press import typeset
from webapp.paper.press.jobs import Job
from webapp.paper.press.workers import NotPrinted, Press


def page(body: str, title: str = "A sheet", size: str = "letter") -> str:
    """A document of which nothing but the body is printed: no line at the foot."""
    margins = " ".join(f"@bottom-{side} {{ content: none }}" for side in ("left", "center", "right"))
    style = f"@page {{ size: {size}; {margins} }}"
    return f'<html lang="en"><title>{title}</title><style>{style}</style><body>{body}</body></html>'


def sheet(body: str) -> Job:
    return Job("traveler.css", (page(body),))


@pytest.mark.parametrize(("name", "size"), [("letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_a_sheet_has_its_size(press: Press, name: str, size: tuple[float, float]) -> None:
    assert sizes(press.print(Job("traveler.css", (page("hello", size=name),)))) == [pytest.approx(size, abs=0.01)]


def test_fonts_are_ours_and_embedded(press: Press) -> None:
    found = fonts(press.print(sheet("plain <b>bold</b> <i>slanted</i> <h1>serif</h1>")))
    assert {name.split("+")[1] for name in found} == {
        "Source-Sans-Pro",
        "Source-Sans-Pro-Bold",
        "Source-Sans-Pro-Italic",
        "Source-Serif-Pro-Bold",
    }
    assert all(found.values())


def test_viewers_are_told_title_language_and_not_to_scale(press: Press) -> None:
    reader = PdfReader(BytesIO(press.print(sheet("hello"))))
    root = reader.trailer["/Root"].get_object()
    assert root["/ViewerPreferences"] == {"/PrintScaling": "/None", "/DisplayDocTitle": True}
    assert root["/Lang"] == "en"
    assert reader.metadata is not None and reader.metadata.title == "A sheet"


@pytest.mark.parametrize(
    "asks",
    [
        '<img src="http://127.0.0.1:9/x.png">',
        '<img src="https://flutes.example/x.png">',
        '<img src="file:///etc/hostname">',
        '<link rel="stylesheet" href="file:///etc/hostname">',
        '<p style="background: url(http://127.0.0.1:9/x.png)">',
        '<style>@font-face { font-family: X; src: url("typeface:SourceSansPro-Bold.ttf") }</style>',
        '<svg width="9mm" height="9mm"><image href="file:///etc/hostname" width="9" height="9"/></svg>',
        '<object data="ftp://127.0.0.1/x"></object>',
    ],
)
def test_nothing_from_outside_is_fetched(press: Press, asks: str) -> None:
    with pytest.raises(NotPrinted):
        press.print(sheet(asks))


def test_a_picture_in_the_document_itself_is_printed(press: Press) -> None:
    square = (
        "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' width='9' height='9'%3E%3Crect width='9' "
        "height='9'/%3E%3C/svg%3E"
    )
    assert text(press.print(sheet(f'<p>here</p><img src="{square}">'))) == "here"


def test_the_same_document_gives_the_same_bytes_in_any_process(press: Press) -> None:
    job = sheet("the <b>same</b> <h1>again</h1>")
    here = press.print(job)
    assert press.print(job) == here
    other = Press(workers=1)
    try:
        assert other.print(job) == here
    finally:
        other.close()


def test_the_roomiest_version_that_fits_is_used(press: Press) -> None:
    breaks = '<div style="break-after: page">{}</div>'
    long, short = page(breaks.format("long") * 3 + "end"), page(breaks.format("short") + "end")
    assert text(press.print(Job("traveler.css", (long, short), at_most=2))) == "short end"
    assert text(press.print(Job("traveler.css", (long, short), at_most=4))) == "long long long end"
    assert len(sizes(press.print(Job("traveler.css", (long, long), at_most=2)))) == 4


def test_many_are_bound_in_their_order_with_their_fonts_once(press: Press) -> None:
    jobs = [sheet(f"sheet {number} <b>of</b> many") for number in range(12)]
    heard: list[tuple[int, int]] = []
    pdf = press.print_all(jobs, lambda done, all_: heard.append((done, all_)))
    assert heard == [(5, 12), (10, 12), (12, 12)]
    assert [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages] == [
        f"sheet {number} of many" for number in range(12)
    ]
    root = PdfReader(BytesIO(pdf)).trailer["/Root"].get_object()
    assert root["/ViewerPreferences"]["/PrintScaling"] == "/None"
    assert len(pdf) < 0.5 * len(jobs) * len(press.print(jobs[0]))


def test_nothing_to_print_is_said(press: Press) -> None:
    with pytest.raises(NotPrinted):
        press.print_all([])
    with pytest.raises(NotPrinted):
        press.print(Job("traveler.css", ()))
    with pytest.raises(typeset.UnprintableError):
        typeset.typeset([])


def test_a_missing_style_sheet_is_a_failure_and_not_the_end(press: Press) -> None:
    with pytest.raises(NotPrinted):
        press.print(Job("none.css", (page("x"),)))
    assert text(press.print(sheet("still here"))) == "still here"


def test_what_takes_too_long_is_given_up_and_the_next_is_printed() -> None:
    press = Press(workers=1, seconds=3.0)
    try:
        assert text(press.print(sheet("first"))) == "first"
        with pytest.raises(NotPrinted, match="too long"):
            press.print(sheet("<p>word</p>" * 60_000))
        assert text(press.print(sheet("next"))) == "next"
    finally:
        press.close()


def test_a_worker_that_dies_is_replaced() -> None:
    before = multiprocessing.active_children()
    press = Press(workers=1)
    try:
        press.print(sheet("first"))
        threading.Timer(0.3, only_new(before).kill).start()
        with pytest.raises(NotPrinted):
            press.print(sheet("<p>word</p>" * 30_000))
        assert text(press.print(sheet("next"))) == "next"
    finally:
        press.close()


def test_a_full_press_says_so_instead_of_queueing_without_end() -> None:
    press = Press(workers=1, waiting=0)
    try:
        press.print(sheet("warm"))
        outcome: list[object] = []
        slow = threading.Thread(target=lambda: outcome.append(press.print(sheet("<p>word</p>" * 4_000))))
        slow.start()
        time.sleep(0.2)
        with pytest.raises(NotPrinted, match="right now"):
            press.print(sheet("another"))
        slow.join()
        assert isinstance(outcome[0], bytes)
        assert text(press.print(sheet("again"))) == "again"
    finally:
        press.close()


def test_a_closed_press_prints_nothing_and_leaves_nobody_behind() -> None:
    before = multiprocessing.active_children()
    press = Press(workers=1)
    press.print(sheet("last"))
    mine = only_new(before)
    press.close()
    press.close()
    assert not mine.is_alive()
    with pytest.raises(NotPrinted, match="closing down"):
        press.print(sheet("too late"))


def test_numbers_that_make_no_press_are_refused() -> None:
    for wrong in ({"workers": 0}, {"waiting": -1}, {"seconds": 0.0}, {"papers_each": 0}):
        with pytest.raises(ValueError, match="must be positive"):
            Press(**wrong)  # type: ignore[arg-type]


def only_new(before: list[multiprocessing.process.BaseProcess]) -> multiprocessing.process.BaseProcess:
    """The one child process that was not there before (their numbers may wrap, so they tell nothing)."""
    [worker] = [child for child in multiprocessing.active_children() if child not in before]
    return worker


def test_the_servers_own_process_never_loads_the_pdf_library() -> None:
    asked = (
        "import sys; import webapp.app; print([m for m in sys.modules if m.split('.')[0] in ('weasyprint', 'pydyf')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    )
    assert done.stdout.strip() == "[]"


def test_workers_that_are_idle_end_and_come_again() -> None:
    press = Press(workers=1, idle=0.5)
    before = set(multiprocessing.active_children())
    try:
        assert sizes(press.print(sheet("one")))
        until = time.monotonic() + 60
        while set(multiprocessing.active_children()) - before:
            assert time.monotonic() < until, "the worker is still there"
            time.sleep(0.1)
        assert sizes(press.print(sheet("and another"))), "the next paper starts a worker again"
    finally:
        press.close()
