"""The small to-scale drawing of a blank on the rack, as far along as it really is, in the colour of its wood."""

from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.blank.halves import Halves
from webapp.drawings.blank.progress import Progress
from webapp.drawings.blank.stick import Stick
from webapp.drawings.flute.parts import parts
from webapp.drawings.sheet.canvas import Canvas, Theme, number
from webapp.shop.routings.making import MOUTH_END

MARGIN = 1.5  # mm around the drawing


def drawn_length(instrument: Instrument, mouth_end: float = MOUTH_END) -> float:
    """The length of the miniature [mm]: the rack chooses its scale by the longest."""
    return parts(instrument, mouth_end).length + 2 * MARGIN


# The same flutes are drawn again and again, whenever the rack refreshes or a page is reloaded.
@lru_cache(maxsize=2048)
def miniature(
    instrument: Instrument,
    wood_colour: str,
    progress: Progress,
    seed: int = 0,
    label: str = "",
    name: str = "",
    mouth_end: float = MOUTH_END,
) -> Markup:
    """The blank lying with its mouth end to the left, seen from above; a square one shows some of its side.

    All miniatures share one scale: 1 em is 10 mm, so the font size of the class `miniature` sets the scale of the whole
    rack. `seed` is the blank's own number and grows its grain; `label` is written on a strip of masking tape
    (its key, say); `name` opens the title that a screen reader says. Raises ValueError for a colour not '#rrggbb'.
    """
    place = parts(instrument, mouth_end)
    canvas = Canvas(Theme.PAGE)
    kind = Stick if progress.closed else Halves
    top, bottom = kind(canvas, instrument, place, wood_colour, progress, seed).draw(label)
    left, top = place.mouth - MARGIN, top - MARGIN
    width, height = place.length + 2 * MARGIN, bottom + MARGIN - top
    title = f"{name}: {progress.in_words()}" if name else progress.in_words().capitalize()
    return canvas.svg(
        (left, top, width, height),
        title,
        f"{len(instrument.holes)} finger holes.",
        "miniature",
        (f"{number(width / 10)}em", f"{number(height / 10)}em"),
    )


def rack_class(lengths: Iterable[float]) -> str:
    """The class for the element of class `rack` that holds drawings of these lengths [mm]: it sets their scale."""
    longest = max(lengths, default=0.0)
    return f"rack--{next((step for step in range(400, 1000, 100) if longest <= step), 1000)}"
