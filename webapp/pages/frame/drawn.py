"""Blanks as small drawings: how far each is, and the same drawing kept as long as nothing about it changed."""

from collections.abc import Sequence
from functools import lru_cache
from urllib.parse import quote

from markupsafe import Markup
from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.drawings.blank.miniature import drawn_length, miniature, rack_class
from webapp.drawings.blank.progress import Progress
from webapp.models import Blank, BlankStatus
from webapp.shop.blanks.lists import Seen, instruments
from webapp.shop.production import opening as blanks
from webapp.shop.units.keys import show_note

_kept = lru_cache(maxsize=4096)(miniature)


def address(blank: Blank) -> str:
    """The page of a blank."""
    return f"/blanks/{quote(blank.serial, safe='')}"


def progress(blank: Blank, done: set[str]) -> Progress:
    """How far a blank is, for its drawing, from the codes of what is passed."""
    finished = blank.status in (BlankStatus.FINISHED, BlankStatus.HANDED_OVER)
    return Progress(
        bored="bore" in done,
        glued="glue-up" in done,
        in_clamps=blank.waits_for in ("glue", "clamps"),
        flue_cut="flue" in done,
        window_open="window" in done,
        block_on="block" in done,
        turned="turned" in done,
        holes_drilled="holes" in done,
        finished=finished,
    )


def small(blank: Blank, instrument: Instrument, colour: str, done: set[str]) -> Markup:
    """The miniature of one blank, its key on the tape."""
    how_far = progress(blank, done)
    return _kept(instrument, colour, how_far, seed=blank.id or 0, label=show_note(blank.key), name=blank.serial)


def all_small(session: Session, shown: Sequence[Seen]) -> tuple[dict[int, Markup], str]:
    """The miniatures of these blanks by id, and the class that sets one scale for them all: two queries."""
    flutes = instruments(session, shown)
    done = blanks.progress(session, [one.blank.id or 0 for one in shown])
    drawings = {
        one.blank.id or 0: small(one.blank, flutes[one.blank.revision_id], one.colour, done[one.blank.id or 0])
        for one in shown
    }
    return drawings, rack_class(drawn_length(flute) for flute in flutes.values())
