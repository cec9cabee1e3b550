"""What each dimension does to the notes: a row for each, a dot for each note, on one scale of cents."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from webapp.drawings.charts.cents import signed
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.lettering import text_width
from webapp.drawings.sheet.notation import note_width, write_note

ROW = 6.4  # mm
WIDTH = 170.0  # mm
LEFT = 42.0  # mm for the dimension's name
RIGHT = 34.0  # mm for the largest effect in words
TYPE = 3.6
STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


@dataclass(frozen=True, slots=True)
class Effect:
    """One dimension: its name, and the cents it does to each note for one step of its `per`."""

    name: str
    per: str
    cents: tuple[float, ...]

    @property
    def largest(self) -> float:
        return max(self.cents, key=abs, default=0.0)


def effects_chart(effects: Sequence[Effect], notes: Sequence[str], theme: Theme | str = Theme.PAGE) -> Markup:
    """The chart as an SVG in mm, rows in the order given; `notes` names what the cents of each effect stand for.

    Raises ValueError where there is nothing to show.
    """
    if not effects or not notes:
        raise ValueError("effects: there is nothing to show")
    canvas = Canvas(Theme(theme))
    most = max(abs(effect.largest) for effect in effects)
    step = next((s for s in STEPS if most / s <= 4.0), STEPS[-1])
    reach = step * max(1, -(-most // step))
    middle, scale = (LEFT + WIDTH - RIGHT) / 2, (WIDTH - RIGHT - LEFT) / 2 / (reach * 1.04)
    top = 10.0
    bottom = top + ROW * len(effects)
    marks = [step * n for n in range(-int(reach / step), int(reach / step) + 1)]
    for mark in marks:
        x = middle + mark * scale
        canvas.line(x, top, x, bottom, "ink" if mark == 0 else "rule", 0.35 if mark == 0 else 0.2)
        canvas.text(x, top - 1.6, signed(mark), 3.3, "middle", fill="soft")
    canvas.text(LEFT, top - 6.0, "flatter", 3.3, fill="soft")
    canvas.text(middle, top - 6.0, "cents for one step more", 3.3, "middle", fill="soft")
    canvas.text(WIDTH - RIGHT, top - 6.0, "sharper", 3.3, "end", fill="soft")
    for index, effect in enumerate(effects):
        y = top + (index + 0.5) * ROW
        canvas.open(f"effect {effect.name}")
        canvas.text(1, y + 1.25, effect.name, TYPE, weight=600)
        canvas.line(0, y + ROW / 2, WIDTH, y + ROW / 2, "rule", 0.15)
        low, high = min(*effect.cents, 0.0), max(*effect.cents, 0.0)
        canvas.rect(middle + low * scale, y - 0.7, (high - low) * scale, 1.4, "accent")
        for cents in effect.cents:
            canvas.circle(middle + cents * scale, y, 1.0, "sheet", "ink", 0.3)
        _largest(canvas, effect, notes, y)
        canvas.close()
    said = "; ".join(f"{e.name}: up to {e.largest:+.1f} cents for {e.per}" for e in effects)
    box = (0.0, 0.0, WIDTH, bottom + 1)
    return canvas.svg(box, "What each dimension does to the notes", said + ".", "drawing drawing--effects")


def _largest(canvas: Canvas, effect: Effect, notes: Sequence[str], y: float) -> None:
    """The largest effect in figures, and the note that it affects."""
    at = effect.cents.index(effect.largest)
    figure = (
        f"{effect.largest:+.1f}".replace("-", "\N{MINUS SIGN}")
        .replace("+0.0", "0.0")
        .replace("\N{MINUS SIGN}0.0", "0.0")
    )
    left = WIDTH - RIGHT + 3
    canvas.text(left + 9, y + 1.25, figure, TYPE, "end", 600)
    if figure == "0.0":
        return
    if len({round(c, 2) for c in effect.cents}) == 1:
        canvas.text(left + 10.5, y + 1.25, "every note", 3.3, fill="soft")
        return
    canvas.text(left + 10.5, y + 1.25, "on", 3.3, fill="soft")
    x = left + 10.5 + text_width("on ", 3.3)
    write_note(canvas, x, y + 1.25, notes[at], 3.3, fill="soft")
    assert x + note_width(notes[at], 3.3) <= WIDTH
