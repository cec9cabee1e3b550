"""The voicing chart: for each note the blowing pressures between which it speaks, and where it jumps up."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import Markup

from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.notation import write_note

ROW = 9.5  # mm
WIDTH = 170.0  # mm
NAME = 16.0  # mm
WORDS = 33.0  # mm
TYPE = 3.4
STEPS = (50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000)


@dataclass(frozen=True, slots=True)
class VoicedNote:
    """One note: it speaks from `starts`, is pulled neither way at `settles`, and overblows within `overblows` [Pa,
    rising], None where it does not."""

    name: str
    starts: float
    settles: float
    overblows: tuple[float, float] | None


def voicing_chart(
    notes: Sequence[VoicedNote],
    common: tuple[float, float] | None,
    curve: Sequence[tuple[float, float]],
    theme: Theme | str = Theme.PAGE,
) -> Markup:
    """One row for each note as an SVG in mm. `common` are the pressures at which all speak, `curve` pairs of pressure
    [Pa] and jet speed [m/s] for the lower axis. Raises ValueError where there is no note.
    """
    if not notes:
        raise ValueError("notes: there is nothing to show")
    canvas = Canvas(Theme(theme))
    most = 1.04 * max(note.overblows[1] if note.overblows else 1.3 * note.settles for note in notes)
    left, right, top = NAME, WIDTH - WORDS, 12.0
    bottom = top + ROW * len(notes)

    def at(pressure: float) -> float:
        return left + min(pressure, most) / most * (right - left)

    if common:
        canvas.open("common")
        canvas.rect(at(common[0]), top, at(common[1]) - at(common[0]), bottom - top, "band")
        canvas.close()
    step = next((s for s in STEPS if most / s <= 7), STEPS[-1])
    for mark in range(0, int(most) + 1, step):
        canvas.line(at(mark), top, at(mark), bottom, "rule", 0.2)
        canvas.text(at(mark), top - 1.6, str(mark), TYPE, "middle", fill="soft")
    canvas.text(left, top - 7.0, "pressure in the slow air chamber, Pa", TYPE, fill="soft")
    canvas.text(right + 3, top - 7.0, "speaks, overblows", TYPE, fill="soft")
    for index, note in enumerate(notes):
        y = top + (index + 0.5) * ROW
        canvas.open(f"note {note.name}")
        canvas.line(0, y + ROW / 2, WIDTH, y + ROW / 2, "rule", 0.2)
        write_note(canvas, 1, y + 1.6, note.name, 4.6, weight=600)
        start = at(note.starts)
        back, over = (at(p) for p in note.overblows or (most, most))
        canvas.rect(start, y - 1.9, back - start, 3.8, "sheet", "ink", 0.35)
        canvas.rect(at(note.settles) - 0.6, y - 1.9, 1.2, 3.8, "accent", "ink", 0.35)
        if note.overblows:
            # Between falling back and jumping up, either register may sound: dashed.
            canvas.line(back, y, over, y, "ink", 0.5, stroke_dasharray="1.4 0.9")
            canvas.path(
                f"M {over - 1.6:.3f} {y - 1.7:.3f} L {over:.3f} {y:.3f} L {over - 1.6:.3f} {y + 1.7:.3f}",
                "none",
                "ink",
                0.5,
            )
        jumps = f", {note.overblows[1]:.0f}" if note.overblows else ""
        canvas.text(right + 3, y + 1.4, f"{note.starts:.0f}{jumps} Pa", 4.0)
        canvas.close()
    _speeds(canvas, curve, at, bottom, most)
    said = "; ".join(
        f"{n.name}: speaks from {n.starts:.0f} Pa, "
        + (f"overblows at {n.overblows[1]:.0f} Pa" if n.overblows else "does not overblow")
        for n in notes
    )
    box = (0.0, 0.0, WIDTH, bottom + 13)
    return canvas.svg(box, "Voicing chart", f"A guide only. {said}.", "drawing drawing--voicing")


def _speeds(
    canvas: Canvas, curve: Sequence[tuple[float, float]], at: Callable[[float], float], bottom: float, most: float
) -> None:
    """Whole jet speeds along the lower edge, where the curve crosses them."""
    if len(curve) < 2:
        return
    fastest = max(speed for pressure, speed in curve if pressure <= most)
    step = next(s for s in (2, 5, 10, 20, 50, 100, 200) if fastest / s <= 8)
    canvas.line(at(0), bottom, at(most), bottom, "ink", 0.35)
    last = -100.0
    for speed in range(0, int(fastest) + 1, step):
        x = at(_pressure_at(curve, speed))
        if x - last < 7.0:
            continue
        last = x
        canvas.line(x, bottom, x, bottom + 1.6, "ink", 0.35)
        canvas.text(x, bottom + 5.2, str(speed), TYPE, "middle", fill="soft")
    canvas.text(at(0), bottom + 10.0, "speed of the jet, m/s", TYPE, fill="soft")


def _pressure_at(curve: Sequence[tuple[float, float]], speed: float) -> float:
    """By straight lines between the points of the curve; speeds rise along it."""
    for (p1, u1), (p2, u2) in pairwise(curve):
        if u1 <= speed <= u2 and u2 > u1:
            return p1 + (p2 - p1) * (speed - u1) / (u2 - u1)
    return curve[-1][0]
