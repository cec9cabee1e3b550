"""How many flutes would be in tune: for each note the range of nine in ten, against the tolerance."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.charts.cents import signed
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.notation import write_note

ROW = 9.5  # mm
WIDTH = 150.0  # mm
NAME = 16.0  # mm
WORDS = 31.0  # mm
STEP = 10.0  # cents from mark to mark


@dataclass(frozen=True, slots=True)
class NoteRange:
    """One note over many flutes, in cents against its target.

    `low` and `high` bound nine flutes in ten, `inner` two in three (one standard deviation), `share` (0 to 1) lies
    within the tolerance. `single` are flutes one by one.
    """

    name: str
    mean: float
    low: float
    high: float
    inner: tuple[float, float]
    share: float | None = None
    single: tuple[float, ...] = ()
    predicted: float | None = None


def spread_chart(
    notes: Sequence[NoteRange],
    tolerance: float,
    title: str = "The spread of each note",
    theme: Theme | str = Theme.PAGE,
) -> Markup:
    """One row for each note as an SVG in mm. Raises ValueError where there is no note."""
    if not notes:
        raise ValueError("notes: there is nothing to show")
    canvas = Canvas(Theme(theme))
    far = [abs(c) for n in notes for c in (n.low, n.high, *n.inner, *n.single, n.predicted or 0.0)]
    reach = min(100.0, STEP * (-(-max(*far, tolerance) // STEP)))
    left, right, top = NAME, WIDTH - WORDS, 11.0
    bottom = top + ROW * len(notes)
    middle, scale = (left + right) / 2, (right - left) / 2 / reach

    def at(cents: float) -> float:
        return middle + max(-reach, min(reach, cents)) * scale

    canvas.rect(at(-tolerance), top, at(tolerance) - at(-tolerance), bottom - top, "band")
    step = STEP if reach <= 40 else 2 * STEP
    for n in range(-int(reach / step), int(reach / step) + 1):
        x = at(n * step)
        canvas.line(x, top, x, bottom, "rule", 0.2)
        canvas.text(x, top - 1.6, signed(n * step), 3.3, "middle", fill="soft")
    for x, words, anchor in ((left, "flat", "start"), (middle, "target", "middle"), (right, "sharp", "end")):
        canvas.text(x, top - 6.2, words, 3.3, anchor, fill="soft")
    for index, note in enumerate(notes):
        y = top + (index + 0.5) * ROW
        canvas.open(f"note {note.name}")
        canvas.line(0, top + (index + 1) * ROW, WIDTH, top + (index + 1) * ROW, "rule", 0.2)
        write_note(canvas, 1, y + 1.6, note.name, 4.6, weight=600)
        _range(canvas, note, y, at)
        words = f"mean {signed(note.mean)}" if note.share is None else f"{round(100 * note.share)} % in tune"
        canvas.text(right + 3, y + 1.5, words, 4.2)
        canvas.close()
    canvas.line(middle, top - 1, middle, bottom, "ink", 0.4)
    said = "; ".join(f"{n.name}: {signed(n.low)} to {signed(n.high)}, mean {signed(n.mean)}" for n in notes)
    return canvas.svg((0, 0, WIDTH, bottom + 1), title, f"Cents against the target. {said}.", "drawing drawing--spread")


def _range(canvas: Canvas, note: NoteRange, y: float, at: Callable[[float], float]) -> None:
    canvas.line(at(note.low), y, at(note.high), y, "ink", 0.4)
    for x in (at(note.low), at(note.high)):
        canvas.line(x, y - 1.4, x, y + 1.4, "ink", 0.4)
    low, high = note.inner
    if high > low:
        canvas.rect(at(low), y - 1.6, at(high) - at(low), 3.2, "accent")
    for cents in note.single:
        canvas.circle(at(cents), y, 1.1, "sheet", "ink", 0.35)
    if note.predicted is not None:
        x = at(note.predicted)
        canvas.polygon([(x - 1.8, y), (x, y - 2.6), (x + 1.8, y), (x, y + 2.6)], "sheet", "ink", 0.4)
    canvas.line(at(note.mean), y - 2.6, at(note.mean), y + 2.6, "ink", 0.6)
