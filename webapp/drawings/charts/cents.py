"""Measured against target: a bar for each note, a band for the tolerance, and the verdict in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.sheet.canvas import Canvas, Theme, data
from webapp.drawings.sheet.notation import write_note

ROW = 10.5  # mm
NAME = 12.5  # mm for the note's name
DOTS = 3.1  # mm from hole to hole in the small fingering
WORDS = 29.0  # mm for the verdict
REACH = 30.0  # cents either side that the scale shows


@dataclass(frozen=True, slots=True)
class BarNote:
    """One note at the bench. `cents` is against its target, None where it was not read; `old` says that the flute was
    cut since; `believed` where it is thought to stand now and one standard deviation of that; `predicted` what the
    pattern's model expects of the finished flute."""

    fingering: str
    name: str
    cents: float | None = None
    predicted: float | None = None
    old: bool = False
    believed: tuple[float, float] | None = None


def signed(cents: float) -> str:
    """Whole cents with a true minus sign: +3, −12, 0."""
    rounded = round(cents)
    return f"+{rounded}" if rounded > 0 else f"\N{MINUS SIGN}{-rounded}" if rounded < 0 else "0"


def in_words(cents: float | None, tolerance: float) -> str:
    """The verdict: 'not read', 'in tune, +3', '12 flat', '7 sharp'."""
    if cents is None:
        return "not read"
    if abs(cents) <= tolerance:
        return f"in tune, {signed(cents)}"
    # A note just beyond the tolerance must not be rounded back into it.
    amount = round(abs(cents)) if round(abs(cents)) > tolerance else round(abs(cents), 1)
    return f"{amount:g} {'sharp' if cents > 0 else 'flat'}"


def told(note: BarNote, tolerance: float) -> str:
    """The verdict beside the bar; for a reading before the last cut, where the note is believed to be."""
    if note.old and note.believed is not None:
        return f"about {signed(note.believed[0])}"
    return "old" if note.old else in_words(note.cents, tolerance)


def _described(note: BarNote, tolerance: float) -> str:
    words = f"read {signed(note.cents or 0.0)} before the last cut" if note.old else in_words(note.cents, tolerance)
    if note.believed is None:
        return words
    return f"{words}, believed to stand at {signed(note.believed[0])}, give or take {2 * note.believed[1]:.0f}"


def cents_bars(
    notes: Sequence[BarNote], theme: Theme | str = Theme.PAGE, tolerance: float = 5.0, width: float = 120.0
) -> Markup:
    """One row per note as an SVG `width` mm wide. Raises ValueError where there is no note or no room for a scale."""
    if not notes:
        raise ValueError("notes: there is nothing to show")
    dots = max(len(note.fingering) for note in notes) * DOTS + 4
    left, right = NAME + dots, width - WORDS
    if right - left < 30:
        raise ValueError(f"width: {width} mm leaves no room for the scale")
    middle, scale = (left + right) / 2, (right - left) / 2 / REACH
    top = 11.5
    bottom = top + ROW * len(notes)
    canvas = Canvas(Theme(theme))
    band = min(tolerance, REACH) * scale
    canvas.rect(middle - band, top, 2 * band, bottom - top, "band")
    for cents in (-20, -10, 0, 10, 20):
        canvas.line(middle + cents * scale, top, middle + cents * scale, bottom, "rule", 0.2)
        canvas.text(middle + cents * scale, top - 1.8, signed(cents), 3.3, "middle", fill="soft")
    canvas.text(middle, top - 6.2, "target", 3.3, "middle", fill="soft")
    canvas.text(left, top - 6.2, "flat", 3.3, "start", fill="soft")
    canvas.text(right, top - 6.2, "sharp", 3.3, "end", fill="soft")
    for index, note in enumerate(notes):
        y = top + (index + 0.5) * ROW
        canvas.open(f"note {note.name} {note.fingering}")
        canvas.line(0, top + (index + 1) * ROW, width, top + (index + 1) * ROW, "rule", 0.2)
        write_note(canvas, 1, y + 1.7, note.name, 5.0, weight=600)
        for hole, mark in enumerate(note.fingering):
            canvas.circle(NAME + hole * DOTS + 1.4, y, 1.15, "ink" if mark == "x" else "sheet", "ink", 0.3)
        _bar(canvas, note, middle, y, scale, tolerance)
        outside = note.cents is not None and abs(note.cents) > tolerance and not note.old
        colour = "soft" if note.cents is None or note.old else "wrong" if outside else "ink"
        canvas.text(right + 3, y + 1.5, told(note, tolerance), 4.6, weight=700 if outside else 400, fill=colour)
        canvas.close()
    canvas.line(middle, top - 1, middle, bottom, "ink", 0.4)
    described = "; ".join(f"{note.name}: {_described(note, tolerance)}" for note in notes)
    return canvas.svg(
        (0, 0, width, bottom + 1),
        "Notes against their targets, in cents",
        f"In tune means within {tolerance:g} cents. {described}.",
        "drawing drawing--cents",
    )


def _bar(canvas: Canvas, note: BarNote, middle: float, y: float, scale: float, tolerance: float) -> None:
    def at(cents: float) -> float:
        return middle + max(-REACH, min(REACH, cents)) * scale

    if note.predicted is not None:
        # What the model expects: an open lozenge, so that it is not taken for a reading.
        x = at(note.predicted)
        canvas.path(data("M", x - 1.8, y, "l", 1.8, -2.4, "l", 1.8, 2.4, "l", -1.8, 2.4, "Z"), "sheet", "ink", 0.35)
    if note.cents is None:
        return
    _reading(canvas, note, middle, at(note.cents), y, tolerance)
    if note.believed is not None:
        mean, spread = note.believed
        low, high, x = at(mean - 2 * spread), at(mean + 2 * spread), at(mean)
        canvas.line(low, y + 3.8, high, y + 3.8, "ink", 0.35)
        for end in (low, high):
            canvas.line(end, y + 3.0, end, y + 4.6, "ink", 0.35)
        canvas.circle(x, y + 3.8, 0.9, "ink")


def _reading(canvas: Canvas, note: BarNote, middle: float, end: float, y: float, tolerance: float) -> None:
    """The last reading as a bar; an old one is only outlined, since the flute was cut after it."""
    assert note.cents is not None
    if note.old:
        canvas.rect(min(middle, end), y - 1.6, abs(end - middle), 3.2, "none", "soft", 0.35, stroke_dasharray="1.2 1")
        return
    outside = abs(note.cents) > tolerance
    colour = "wrong" if outside else "accent"
    if outside:
        # Flat and sharp have a shape of their own: the bar's head points where the pitch went.
        head = 2.6 if note.cents > 0 else -2.6
        canvas.rect(min(middle, end - head), y - 1.6, abs(end - head - middle), 3.2, colour)
        canvas.path(data("M", end - head, y - 2.8, "L", end, y, "L", end - head, y + 2.8, "Z"), colour)
    else:
        canvas.rect(min(middle, end), y - 1.6, abs(end - middle), 3.2, colour)
        canvas.circle(end, y, 2.1, colour)
