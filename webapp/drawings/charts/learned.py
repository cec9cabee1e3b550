"""Predicted against measured, before and after: two squares on one scale; the diagonal is a perfect prediction."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.charts.cents import signed
from webapp.drawings.sheet.canvas import Canvas, Theme, data

SIDE = 70.0  # mm of one square
LEFT, TOP = 13.0, 12.0
NARROW = 5.0  # cents either side of the diagonal that are marked
STEPS = (5, 10, 20, 50)


@dataclass(frozen=True, slots=True)
class Dot:
    """One note in cents from its target; `family` numbers its pattern."""

    predicted: float
    measured: float
    family: int = 0


def learned_plot(before: Sequence[Dot], after: Sequence[Dot], theme: Theme | str = Theme.PAGE) -> tuple[Markup, Markup]:
    """Both squares, on one scale, as SVGs in mm. Raises ValueError where there is nothing to show."""
    if not before or not after:
        raise ValueError("dots: there is nothing to show")
    furthest = max(max(abs(dot.predicted), abs(dot.measured)) for dot in (*before, *after))
    step = next((s for s in STEPS if furthest / s <= 4), STEPS[-1])
    reach = float(step * min(6, max(1, -(-furthest // step))))
    made = []
    for words, dots in (("Before: the model alone", before), ("After: with what was learned", after)):
        canvas = Canvas(Theme(theme))
        _square(canvas, LEFT, words, dots, reach, step)
        said = f"{len(dots)} notes, {_miss(dots):.1f} cents off, root mean square."
        box = (0.0, 0.0, LEFT + SIDE + 7, TOP + SIDE + 14)
        made.append(canvas.svg(box, f"Predicted against measured. {words}", said, "drawing drawing--learnt"))
    return made[0], made[1]


def _miss(dots: Sequence[Dot]) -> float:
    return float((sum((dot.measured - dot.predicted) ** 2 for dot in dots) / len(dots)) ** 0.5)


def _square(canvas: Canvas, left: float, words: str, dots: Sequence[Dot], reach: float, step: int) -> None:
    scale = SIDE / (2 * reach)

    def x_at(cents: float) -> float:
        return left + (max(-reach, min(reach, cents)) + reach) * scale

    def y_at(cents: float) -> float:
        return TOP + SIDE - (max(-reach, min(reach, cents)) + reach) * scale

    canvas.open(words)
    canvas.text(left, TOP - 4.5, words, 4.6, weight=600)
    # The band around the diagonal, cut off at the square's edges.
    n = NARROW
    band = [
        (-reach, -reach),
        (-reach, n - reach),
        (reach - n, reach),
        (reach, reach),
        (reach, reach - n),
        (n - reach, -reach),
    ]
    canvas.path(data("M", *(v for p in band for v in (x_at(p[0]), y_at(p[1]))), "Z"), "band")
    for mark in range(-int(reach), int(reach) + 1, step):
        canvas.line(x_at(mark), TOP, x_at(mark), TOP + SIDE, "rule", 0.2)
        canvas.line(left, y_at(mark), left + SIDE, y_at(mark), "rule", 0.2)
        canvas.text(x_at(mark), TOP + SIDE + 4.6, signed(mark), 3.4, "middle", fill="soft")
        canvas.text(left - 1.6, y_at(mark) + 1.2, signed(mark), 3.4, "end", fill="soft")
    canvas.line(x_at(-reach), y_at(-reach), x_at(reach), y_at(reach), "ink", 0.4)
    canvas.rect(left, TOP, SIDE, SIDE, "none", "ink", 0.3)
    for dot in dots:
        _dot(canvas, x_at(dot.predicted), y_at(dot.measured), dot.family)
    canvas.text(left + SIDE, TOP + SIDE + 10.4, "predicted, cents from target", 3.6, "end", fill="soft")
    canvas.text(left + 1.5, TOP + 4.6, "measured", 3.6, fill="soft")
    canvas.close()


def _dot(canvas: Canvas, x: float, y: float, family: int) -> None:
    """Patterns have shapes of their own, since colours alone do not tell them apart for everyone."""
    r = 1.15
    shape = family % 4
    if shape == 0:
        canvas.circle(x, y, r, "accent", "sheet", 0.2)
    elif shape == 1:
        canvas.rect(x - r, y - r, 2 * r, 2 * r, "sheet", "ink", 0.35)
    elif shape == 2:
        canvas.polygon([(x, y - 1.5), (x + 1.4, y + 1.1), (x - 1.4, y + 1.1)], "wrong", "sheet", 0.2)
    else:
        canvas.polygon([(x - 1.5, y), (x, y - 1.5), (x + 1.5, y), (x, y + 1.5)], "sheet", "ink", 0.35)
