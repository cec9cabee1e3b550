"""The fingering chart: one column per note, holes as discs, and how far the note stands from its target."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.charts.cents import in_words, signed
from webapp.drawings.sheet.canvas import Canvas, Theme, data
from webapp.drawings.sheet.notation import write_note

COLUMN = 14.0  # mm from note to note
MARGIN = 17.0  # mm at the left for the words
HOLE = 2.5  # mm, radius of a disc
PITCH = 6.6  # mm from hole to hole
HANDS = 2.6  # mm more between the hands
REACH = 20.0  # cents at which a bar ends with an arrow head
BAR = 9.0  # mm for that many cents


@dataclass(frozen=True, slots=True)
class ChartNote:
    """A fingering (`x` closed, `o` open, hole 1 first), the note it gives, and its predicted or measured cents."""

    fingering: str
    name: str
    cents: float | None = None


def fingering_chart(
    notes: Sequence[ChartNote],
    theme: Theme | str = Theme.PAGE,
    tolerance: float = 5.0,
    columns: int | None = None,
    upper_hand: int | None = None,
    show_cents: bool = True,
) -> Markup:
    """The chart as an SVG in mm. `columns` breaks it into rows of so many notes; `upper_hand` is how many holes the
    upper hand covers (default: three of six, two of five). Raises ValueError for an empty or uneven chart.
    """
    if not notes:
        raise ValueError("notes: a fingering chart needs at least one note")
    holes = len(notes[0].fingering)
    for note in notes:
        if len(note.fingering) != holes or set(note.fingering) - set("xo"):
            raise ValueError(f"fingering: {note.fingering!r} is not {holes} letters x or o")
    per_row = max(1, min(columns or len(notes), len(notes)))
    upper = holes // 2 if upper_hand is None else upper_hand
    shown = show_cents and any(note.cents is not None for note in notes)
    holes_high = (holes - 1) * PITCH + 2 * HOLE + (HANDS if 0 < upper < holes else 0)
    row_high = 8.5 + holes_high + (2 * BAR + 9.5 if shown else 3.0)
    width = MARGIN + per_row * COLUMN + 1
    canvas = Canvas(Theme(theme))
    rows = [notes[start : start + per_row] for start in range(0, len(notes), per_row)]
    for index, row in enumerate(rows):
        _row(canvas, row, index * row_high, holes_high, upper, shown, tolerance)
    described = "; ".join(
        f"{note.name} {note.fingering}" + (f" {in_words(note.cents, tolerance)}" if note.cents is not None else "")
        for note in notes
    )
    return canvas.svg(
        (0, 0, width, len(rows) * row_high),
        "Fingering chart",
        f"Hole 1 is nearest the mouth; x is closed, o is open. {described}.",
        "drawing drawing--chart",
    )


def _row(
    canvas: Canvas, notes: Sequence[ChartNote], top: float, holes_high: float, upper: int, shown: bool, tolerance: float
) -> None:
    holes = len(notes[0].fingering)
    first = top + 8.5 + HOLE
    ys = [first + hole * PITCH + (HANDS if hole >= upper > 0 else 0) for hole in range(holes)]
    for hole, y in enumerate(ys):
        canvas.text(MARGIN - 3.5, y + 1.15, str(hole + 1), 3.4, "end", fill="soft")
    canvas.text(1, ys[0] + 1.15, "mouth", 3.2, fill="soft")
    canvas.text(1, ys[-1] + 1.15, "foot", 3.2, fill="soft")
    middle = top + 8.5 + holes_high + BAR + 3.0
    if shown:
        _scale(canvas, middle, len(notes), tolerance)
    for index, note in enumerate(notes):
        x = MARGIN + (index + 0.5) * COLUMN
        canvas.open(f"note {note.name} {note.fingering}")
        write_note(canvas, x, top + 5.2, note.name, 4.6, "middle", 600)
        canvas.line(x, ys[0], x, ys[-1], "rule", 0.3)
        for mark, y in zip(note.fingering, ys, strict=True):
            canvas.circle(x, y, HOLE, "ink" if mark == "x" else "sheet", "ink", 0.45)
        if shown and note.cents is not None:
            _bar(canvas, x, middle, note.cents, tolerance)
        canvas.close()


def _scale(canvas: Canvas, middle: float, count: int, tolerance: float) -> None:
    left, right = MARGIN, MARGIN + count * COLUMN
    band = BAR * min(tolerance, REACH) / REACH
    canvas.rect(left, middle - band, right - left, 2 * band, "band")
    canvas.line(left, middle, right, middle, "ink", 0.35)
    canvas.text(MARGIN - 2, middle - BAR + 1.6, "sharp", 3.2, "end", fill="soft")
    canvas.text(MARGIN - 2, middle + 1.1, "target", 3.2, "end", fill="soft")
    canvas.text(MARGIN - 2, middle + BAR + 0.4, "flat", 3.2, "end", fill="soft")


def _bar(canvas: Canvas, x: float, middle: float, cents: float, tolerance: float) -> None:
    length = BAR * max(-REACH, min(REACH, cents)) / REACH
    outside = abs(cents) > tolerance
    colour = "wrong" if outside else "accent"
    y = middle - length
    if abs(cents) > REACH:
        # The bar runs off the scale: an arrow head says so.
        tip = 1.8 if cents > 0 else -1.8
        canvas.rect(x - 1.3, min(middle, y + tip), 2.6, abs(length) - 1.8, colour)
        canvas.path(data("M", x - 2.4, y + tip, "H", x + 2.4, "L", x, y, "Z"), colour)
    elif abs(length) < 0.3:
        canvas.rect(x - 2.2, middle - 0.5, 4.4, 1.0, colour)
    else:
        canvas.rect(x - 1.3, min(middle, y), 2.6, abs(length), colour)
    canvas.text(
        x, middle + BAR + 5.2, signed(cents), 3.6, "middle", 700 if outside else 400, colour if outside else "ink"
    )
