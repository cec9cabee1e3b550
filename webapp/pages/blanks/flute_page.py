"""A flute's own page, read by whoever has its address, without an account; and the small label with its code."""

from contextlib import suppress

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.drawings.charts.cents import BarNote, cents_bars
from webapp.drawings.charts.fingering import ChartNote
from webapp.drawings.charts.hole_chart import hole_chart
from webapp.drawings.sheet.canvas import Theme
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import PublicView, View
from webapp.pages.frame.papers import pdf, press
from webapp.pages.frame.patience import waits
from webapp.paper.office.flute_label import flute_label, label_job
from webapp.shop.base.errors import NotFound
from webapp.shop.blanks.state import by_serial
from webapp.shop.flute_pages.address import blank_at
from webapp.shop.flute_pages.content import page_of

router = APIRouter()
CHART = (170.0, 90.0)  # mm

# Besides what every answer carries: nothing of the address goes anywhere, and no search engine keeps it.
QUIET = {"referrer-policy": "no-referrer", "x-robots-tag": "noindex, nofollow, noarchive", "cache-control": "no-store"}


@router.get("/flute/{secret}")
def look(desk: PublicView, secret: str) -> Response:
    page, chart, bars, status = None, None, None, 404
    with suppress(NotFound):
        page, status = page_of(desk.session, blank_at(desk.session, secret)), 200
    if page and page.notes and page.instrument.holes:
        fingered = [ChartNote(note.fingering, note.name) for note in page.notes]
        chart, _ = hole_chart(page.instrument, fingered, *CHART, Theme.PAGE)
    if page and any(note.cents is not None for note in page.notes):
        heard = [BarNote(note.fingering, note.name, note.cents) for note in page.notes]
        bars = cents_bars(heard, Theme.PAGE, page.tolerance)
    answer = desk.render("flute_pages/page.html", status=status, page=page, chart=chart, bars=bars)
    answer.headers.update(QUIET)
    return answer


@router.get("/blanks/{serial}/label.pdf")
@waits
def label(desk: View, serial: str) -> Response:
    found = flute_label(desk.session, by_serial(desk.session, serial), public_address(desk))
    return pdf(press(desk).print(label_job(found)), f"label-{serial}")
