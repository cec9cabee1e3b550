"""The fingering chart of one flute, with its own holes at their true positions and widths, to one scale."""

from collections.abc import Sequence

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.charts.fingering import ChartNote
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.notation import write_note

MARGIN = 13.0  # mm at the left for the numbers of the holes
ABOVE = 9.0  # mm for the names of the notes
BEYOND = 16.0  # mm of the flute shown beyond its first and last hole, at its own scale
GAP = 2.4  # mm between two flutes, at least
WIDEST = 19.0  # mm from note to note


def hole_chart(
    flute: Instrument, notes: Sequence[ChartNote], width: float, height: float, theme: Theme = Theme.PAPER
) -> tuple[Markup, float]:
    """The chart within `width` and `height` [mm], and its scale (1 to what): a stretch of the flute for each note.

    Raises ValueError without holes or notes, or where a fingering does not fit the holes.
    """
    if not notes or not flute.holes:
        raise ValueError("a chart of holes needs holes and notes")
    if any(len(note.fingering) != len(flute.holes) or set(note.fingering) - set("xo") for note in notes):
        raise ValueError("every fingering needs a letter x or o for each hole")
    body = max(diameter for _, diameter in flute.bore) + 2 * flute.body.wall
    start, end = flute.holes[0].x - BEYOND, flute.holes[-1].x + BEYOND
    column = min(WIDEST, (width - MARGIN) / len(notes))
    scale = min((height - ABOVE) / (end - start), (column - GAP) / body)
    canvas = Canvas(theme)
    for number, hole in enumerate(flute.holes, 1):
        canvas.text(MARGIN - 4.0, ABOVE + (hole.x - start) * scale + 1.2, str(number), 3.6, "end", fill="soft")
    canvas.text(0.5, ABOVE + 2.6, "mouth", 3.0, fill="soft")
    canvas.text(0.5, ABOVE + (end - start) * scale - 0.6, "foot", 3.0, fill="soft")
    for index, note in enumerate(notes):
        middle = MARGIN + (index + 0.5) * column
        canvas.open(f"note {note.name} {note.fingering}")
        write_note(canvas, middle, 5.4, note.name, 4.8, "middle", 600)
        left, right = middle - body * scale / 2, middle + body * scale / 2
        canvas.rect(left, ABOVE, body * scale, (end - start) * scale, "wood")
        for x in (left, right):
            canvas.line(x, ABOVE, x, ABOVE + (end - start) * scale, "ink", 0.25)
        for mark, hole in zip(note.fingering, flute.holes, strict=True):
            y = ABOVE + (hole.x - start) * scale
            canvas.circle(middle, y, hole.diameter / 2 * scale, "ink" if mark == "x" else "sheet", "ink", 0.35)
        canvas.close()
    whole = ABOVE + (end - start) * scale + 0.5
    said = "; ".join(f"{note.name} {note.fingering}" for note in notes)
    words = f"Hole 1 is nearest the mouth; x is closed, o is open. {said}."
    box = (0.0, 0.0, MARGIN + len(notes) * column + 0.5, whole)
    return canvas.svg(box, "Fingering chart", words, "drawing drawing--holes"), 1 / scale
