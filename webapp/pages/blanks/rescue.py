"""What a flute that misses its key can still become, among all that is open, and the tap that moves it there."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.drawn import address
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid
from webapp.shop.blanks import state as blank_state
from webapp.shop.production import rescue
from webapp.shop.production.rescue import Move
from webapp.shop.units.keys import show_note

router = APIRouter()
MOVED = f"?said={quote('Moved. Print its traveler again: sizes, order and date on the old one no longer hold.')}"


@router.get("/blanks/{serial}/rescue")
def show(desk: View, serial: str) -> Response:
    return _page(desk, blank_state.by_serial(desk.session, serial), Form())


@router.post("/blanks/{serial}/rescue")
def move(desk: Act, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return desk.submit(
        lambda form: rescue.move(desk.session, desk.who, blank.id or 0, form.read(Move)),
        again=lambda form, status: _page(desk, blank, form, status),
        to=f"{address(blank)}{MOVED}#now",
    )


def _page(desk: Desk, blank: Blank, form: Form, status: int = 200) -> Response:
    found = []
    try:
        found = rescue.chances(desk.session, desk.shop, blank)
    except Invalid as error:
        form, status = form.failed(error), 422
    return desk.render("blanks/rescue.html", status=status, blank=blank, found=found, form=form, as_note=show_note)
