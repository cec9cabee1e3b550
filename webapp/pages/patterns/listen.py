"""A revision heard before it is cut."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame import played
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.played import Played
from webapp.shop.bench.readings import goals_of
from webapp.shop.patterns import rules as patterns

router = APIRouter()


@router.get("/patterns/{pattern_id}/{number}/listen")
def show(desk: View, pattern_id: int, number: int) -> Response:
    return _page(desk, pattern_id, number, _flute(desk, pattern_id, number))


@router.get("/patterns/{pattern_id}/{number}/listen.wav")
def sound_file(desk: View, pattern_id: int, number: int) -> Response:
    """For those whose browser plays nothing."""
    flute = _flute(desk, pattern_id, number)
    found = played.sound_file(desk, flute, f"pattern-{pattern_id}-r{number}")
    return found or _page(desk, pattern_id, number, flute)


def _flute(desk: Desk, pattern_id: int, number: int) -> Played:
    pattern = patterns.pattern_of(desk.session, pattern_id)
    revision = patterns.revision_of(desk.session, pattern_id, number)
    return played.played(patterns.instrument_of(revision), goals_of(revision, pattern), desk.shop)


def _page(desk: Desk, pattern_id: int, number: int, flute: Played) -> Response:
    return played.page(
        desk,
        "patterns/listen.html",
        flute,
        pattern=patterns.pattern_of(desk.session, pattern_id),
        revision=patterns.revision_of(desk.session, pattern_id, number),
    )
