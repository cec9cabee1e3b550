"""The flute from above as it lies at the bench: small, whole, its holes numbered, the place of the next cut marked."""

from functools import lru_cache

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import Frame
from webapp.drawings.flute.parts import outside, parts
from webapp.drawings.flute.views import plan
from webapp.drawings.sheet.canvas import Canvas, Theme

WIDTH = 180.0  # mm on the sheet
MARGIN = 6.0  # mm at either end: the mark of the foot stands beyond it
NUMBERS = 5.2  # mm, size of the holes' numbers
ARROW = 9.0  # mm from its tail to its point


@lru_cache(maxsize=128)
def at_hand(instrument: Instrument, cut: int | None = None, theme: Theme | str = Theme.PAGE) -> Markup:
    """As long as the sheet is wide. `cut`: a finger hole's number, 0 for the foot, None where nothing is to be cut."""
    place = parts(instrument)
    scale = place.length / (WIDTH - 2 * MARGIN)
    half = max(outside(instrument, x) for x in (place.mouth, *(x for x, _ in instrument.bore))) / 2 / scale
    axis = ARROW + 2.0 + half
    frame = Frame(MARGIN - place.mouth / scale, axis, scale)
    canvas = Canvas(Theme(theme))
    plan(canvas, instrument, place, frame, cut or None)
    for number, hole in enumerate(instrument.holes, 1):
        here = number == cut
        canvas.text(
            frame.x(hole.x),
            axis + half + NUMBERS + 0.6,
            str(number),
            NUMBERS,
            "middle",
            weight=700 if here else 400,
            fill="accent" if here else "ink",
        )
    if cut is not None:
        x = frame.x(instrument.holes[cut - 1].x if cut else place.bore[1])
        canvas.open("cut here")
        if not cut:
            canvas.line(x, axis - half - 1.5, x, axis + half + 1.5, "accent", 0.9)
        tip = axis - half - 0.8
        left = [(-2.6, -4.5), (-0.8, -4.5), (-0.8, -ARROW)]
        shape = [(0.0, 0.0), *left, *((-dx, dy) for dx, dy in reversed(left))]
        canvas.polygon([(x + dx, tip + dy) for dx, dy in shape], "accent")
        canvas.close()
    where = "" if cut is None else f"; hole {cut} marked" if cut else "; the foot marked"
    said = f"From above, {len(instrument.holes)} finger holes{where}."
    box = (0.0, 0.0, WIDTH, axis + half + NUMBERS + 2.5)
    return canvas.svg(box, "The flute at the bench", said, "drawing drawing--at-hand")
