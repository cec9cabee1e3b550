"""The layout strip of a pattern's revision as a job for the press: landscape, at exactly 1:1."""

from dataclasses import dataclass

from markupsafe import Markup
from sqlmodel import Session, select

from acoustics.flute.instrument import Instrument
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.models import Paper, Pattern, PatternRevision, Shop, Units
from webapp.paper.press.jobs import Job
from webapp.paper.press.measures import INCH
from webapp.paper.press.sheets import SHEETS, job
from webapp.paper.strip.drawing import strip_svg
from webapp.paper.strip.pieces import Piece, pieces
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.patterns.revisions import instrument_of

SIDE = 8.0  # mm of margin: what common printers can reach


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip to print: whose pattern it is, the flute, and its pieces."""

    shop: str
    pattern: str
    key: str
    revision: int
    paper: Paper
    units: Units
    instrument: Instrument
    pieces: tuple[Piece, ...]


def strip_of(session: Session, pattern_id: int, number: int, units: Units) -> Strip:
    """The strip of one revision on the shop's paper. Raises NotFound."""
    shop = find(session, Shop, 1, "shop")
    pattern = find(session, Pattern, pattern_id, "pattern")
    revision = None
    if 0 < number <= LARGEST_ID:
        revision = session.exec(
            select(PatternRevision).where(PatternRevision.pattern_id == pattern_id, PatternRevision.number == number)
        ).first()
    if revision is None:
        raise NotFound(f"{pattern.name} has no revision {number}.")
    flute = instrument_of(revision)
    found = tuple(pieces(flute, SHEETS[shop.paper][1] - 2 * SIDE))
    return Strip(shop.name, pattern.name, pattern.key, number, shop.paper, units, flute, found)


def strip_job(strip: Strip) -> Job:
    """The pieces one below the other, on as many sheets as they need, each sheet with a bar to check it by."""
    context: dict[str, object] = {
        "s": strip,
        "drawn": [(piece, strip_svg(strip.instrument, piece, strip.units)) for piece in strip.pieces],
        "bar": check_bar(),
    }
    return job("strip.html", "strip.css", [context])


def check_bar() -> Markup:
    """Two bars to lay a steel rule on: exactly 150 mm, and exactly 6 in."""
    canvas = Canvas(Theme.PAPER)
    for y, whole, unit, words in ((1.0, 15, 10.0, "150 mm"), (8.0, 6, INCH, "6 in")):
        canvas.open(words)
        for index in range(whole):
            canvas.rect(1 + index * unit, y, unit, 2.2, "ink" if index % 2 else "sheet", "ink", 0.15)
        canvas.text(1 + whole * unit + 2, y + 2.1, f"exactly {words}", 3.2)
        canvas.close()
    return canvas.svg((0, 0, 182, 11), "Check bar", "Exactly 150 mm, and exactly 6 inches.", "check")
