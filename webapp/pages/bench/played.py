"""A blank heard as it is now, from its gauges and the cuts written down."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank
from webapp.pages.frame import played
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.played import Played
from webapp.shop.base.errors import Invalid
from webapp.shop.bench import as_built, cuts, readings
from webapp.shop.blanks import state as blank_state

router = APIRouter()


@router.get("/bench/{serial}/played")
def show(desk: View, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    return played.page(desk, "bench/played.html", _flute(desk, blank), blank=blank)


@router.get("/bench/{serial}/played/listen.wav")
def sound_file(desk: View, serial: str) -> Response:
    blank = blank_state.by_serial(desk.session, serial)
    flute = _flute(desk, blank)
    name = "".join(c if c.isascii() and c.isalnum() else "-" for c in blank.serial)[:40]
    return played.sound_file(desk, flute, name) or played.page(desk, "bench/played.html", flute, blank=blank)


def _flute(desk: Desk, blank: Blank) -> Played:
    """Before its holes are drilled it has none that can be named: what is missing is said."""
    session = desk.session
    goals = readings.goals_for(session, blank)
    try:
        made = cuts.of_blank(session, blank.id or 0)
        flute = cuts.as_cut(as_built.of(session, blank).now, cuts.after(cuts.at_first(session, blank), made))
    except Invalid as unknown:
        return Played(goals, (), str(unknown).rstrip("."))
    return played.played(flute, goals, desk.shop)
