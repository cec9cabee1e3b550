"""How far the first readings of each flute stood from what was expected of it, over the time the shop has learned."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from webapp.drawings.sheet.canvas import Canvas, Theme, data

WIDE, HIGH = 150.0, 62.0  # mm of the picture inside its axes
LEFT, TOP = 12.0, 6.0
STEPS = (2, 5, 10, 20, 50)


@dataclass(frozen=True, slots=True)
class Flute:
    """One finished flute: when it was finished, and how far its first readings stood off [cents]."""

    serial: str
    on: date
    off: float


def course_plot(flutes: Sequence[Flute], line: Sequence[tuple[date, float]], theme: Theme | str = Theme.PAGE) -> Markup:
    """Flutes as dots from left to right as they were finished, and the line of what is usual; SVG in mm.

    Raises ValueError where there is nothing to show.
    """
    if not flutes:
        raise ValueError("flutes: there is nothing to show")
    canvas = Canvas(Theme(theme))
    first, last = min(f.on for f in flutes), max(f.on for f in flutes)
    days = max((last - first).days, 1)
    most = max(f.off for f in flutes)
    step = next((s for s in STEPS if most / s <= 5), STEPS[-1])
    top = float(step * min(6, max(1, -(-most // step))))

    def x_at(on: date) -> float:
        return LEFT + WIDE * (on - first).days / days

    def y_at(cents: float) -> float:
        return TOP + HIGH * (1.0 - min(cents, top) / top)

    canvas.open("First readings, cents from what was expected")
    for mark in range(0, int(top) + 1, step):
        canvas.line(LEFT, y_at(mark), LEFT + WIDE, y_at(mark), "rule", 0.2)
        canvas.text(LEFT - 1.6, y_at(mark) + 1.2, str(mark), 3.6, "end", fill="soft")
    for flute in flutes:
        canvas.circle(x_at(flute.on), y_at(flute.off), 0.9, "soft", "sheet", 0.2)
    if len(line) > 1:
        canvas.path(data("M", *(v for on, off in line for v in (x_at(on), y_at(off)))), "none", "accent", 0.9)
    canvas.text(LEFT, TOP + HIGH + 5.0, first.isoformat(), 3.6, fill="soft")
    canvas.text(LEFT + WIDE, TOP + HIGH + 5.0, last.isoformat(), 3.6, "end", fill="soft")
    canvas.close()
    said = f"{len(flutes)} flutes; " + (
        f"usual at first {line[0][1]:.0f} cents, at last {line[-1][1]:.0f}." if line else ""
    )
    box = (0.0, 0.0, LEFT + WIDE + 4, TOP + HIGH + 8)
    return canvas.svg(box, "First readings against what was expected", said, "drawing drawing--learnt")
