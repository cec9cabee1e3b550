"""The layout strip of a pattern's revision as a job for the press: landscape, at exactly 1:1."""

from dataclasses import dataclass

from markupsafe import Markup
from sqlmodel import Session, select

from acoustics.designing.starting import StartSizes
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
from webapp.shop.learning.start_sizes import start_of
from webapp.shop.patterns.revisions import instrument_of
from webapp.shop.routings.steps_of_the_body import ALLOWANCE

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
    start: StartSizes | None = None


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
    start = start_of(session, pattern, revision, ALLOWANCE / 2)
    begun = start.sizes if start else None
    found = tuple(pieces(flute, SHEETS[shop.paper][1] - 2 * SIDE, begun))
    return Strip(shop.name, pattern.name, pattern.key, number, shop.paper, units, flute, found, begun)


def strip_job(strip: Strip) -> Job:
    """The pieces one below the other, on as many sheets as they need, each sheet with a bar to check it by."""
    context: dict[str, object] = {
        "s": strip,
        "drawn": [(piece, strip_svg(strip.instrument, piece, strip.units, strip.start)) for piece in strip.pieces],
        "bar": check_bar(),
    }
    return job("strip.html", "strip.css", [context])


def check_bar() -> Markup:
    """One bar to lay a steel rule on, exactly 6 in long: what it measures is asked where the holes are laid out."""
    canvas = Canvas(Theme.PAPER)
    canvas.open("6 in")
    for index in range(6):
        canvas.rect(1 + index * INCH, 1.0, INCH, 2.6, "ink" if index % 2 else "sheet", "ink", 0.15)
    canvas.text(1 + 6 * INCH + 2, 3.3, "exactly 6 in = 152.4 mm", 3.2)
    canvas.close()
    return canvas.svg((0, 0, 200, 5), "Check bar", "Exactly 6 inches, which is 152.4 mm.", "check")
