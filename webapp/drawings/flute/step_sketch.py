"""A small drawing for a step at the bench, from this flute's own numbers."""

from functools import lru_cache
from typing import Final

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.detail import across, detail
from webapp.drawings.flute.frame import Frame, fine, measure
from webapp.drawings.flute.parts import outside, parts
from webapp.drawings.flute.views import HIDDEN, THICK, THIN
from webapp.drawings.sheet.canvas import Canvas, Theme, data, outline
from webapp.drawings.sheet.lettering import spread, text_width
from webapp.models import Units
from webapp.shop.routings.making import BREATH_HOLE, MOUTH_END, block_place, exit_place

WIDTH: Final = 96.0  # mm
TYPE, LINE = 3.2, 4.2

_HALF: Final = ("bore", "bore-sanded", "bore-gauge", "bore-again")
_ABOVE: Final = ("plug-kerfs", "flue-marked", "mouth")
_ACROSS: Final = ("seat", "seat-width", "flue", "flue-depth", "flue-width", "block-made", "turned")
_DETAIL: Final = (
    *("window", "back-wall", "flue-floor", "window-wall", "edge", "edge-height", "window-length", "block"),
    "window-width",
)
_HOLES: Final = ("holes-marked", "last-hole", "foot-start")


@lru_cache(maxsize=256)
def step_sketch(code: str, flute: Instrument, units: Units, theme: Theme = Theme.PAGE) -> Markup | None:
    """The part of the flute that the step of this code is about; None where there is nothing to draw."""
    canvas = Canvas(theme)
    if code in _HALF:
        bottom = _half(canvas, flute, units)
    elif code in _ABOVE:
        bottom = _from_above(canvas, flute, units, code == "mouth")
    elif code in _ACROSS:
        bottom = across(canvas, flute, units, WIDTH / 2, 2.0)
    elif code in _DETAIL:
        bottom = detail(canvas, flute, parts(flute), units, (2.0, WIDTH - 2.0), 2.0)
        if bottom <= 2.0:
            return None
    elif code in _HOLES or code.startswith("hole-"):
        number = code.removeprefix("hole-")
        bottom = _holes(canvas, flute, units, int(number) if number.isdigit() else 0)
    else:
        return None
    said = "A drawing of this step, from the sizes of this flute"
    return canvas.svg((0, 0, WIDTH, bottom + 1), "This step", said, "drawing drawing--step")


def _half(canvas: Canvas, flute: Instrument, units: Units) -> float:
    """One half from its end: the channel that a round-nose cutter mills, and how deep that is at the joint face."""
    bore, wide = flute.bore[-1][1], outside(flute, flute.foot_x)
    scale = max(1.0, wide / 40.0)
    frame = Frame(WIDTH / 2, 6.0, scale)
    r, half = bore / 2 / scale, wide / 2 / scale
    canvas.open("half")
    face = frame.axis
    left, right = WIDTH / 2 - half, WIDTH / 2 + half
    channel = data("M", left, face, "H", WIDTH / 2 - r, "A", r, r, 0, 0, 0, WIDTH / 2 + r, face, "H", right)
    canvas.path(f"{channel} {data('V', face + half, 'H', left, 'Z')}", "wood", "ink", THICK)
    canvas.line(WIDTH / 2, face, WIDTH / 2, face + r, "ink", THIN)
    canvas.line(WIDTH / 2 - r, face - 1.2, WIDTH / 2 + r, face - 1.2, "ink", THIN)
    canvas.text(WIDTH / 2, face - 2.2, f"Ø {fine(bore, units)}", TYPE, "middle", 600)
    canvas.text(right + 3, face + r + 1, f"{fine(bore / 2, units)} deep", TYPE, weight=600)
    canvas.line(WIDTH / 2, face + r, right + 2.5, face + r, "soft", THIN)
    canvas.close()
    return face + half + 1


def _from_above(canvas: Canvas, flute: Instrument, units: Units, mouth: bool) -> float:
    """Mouth end, or plug with its holes, from above, with what is measured from the splitting edge."""
    place = parts(flute)
    way = exit_place(flute)
    if mouth:
        end = place.mouth + MOUTH_END + 40.0
        shown, marks = (place.mouth, end), [(place.mouth, "mouth end"), (place.mouth + MOUTH_END, "chamber")]
    else:
        shown = ((way[0] if way else place.plug[0]) - 8.0, 10.0)
        marks = [(place.plug[1], "plug face"), (place.window[0], "window"), (0.0, "edge")]
        marks += [(way[0], "exit from"), (way[1], "exit to")] if way else [(place.plug[0], "plug")]
    scale = (shown[1] - shown[0]) / (WIDTH - 16.0)
    half = outside(flute, 0.0) / 2
    frame = Frame(8.0 - shown[0] / scale, 3.0 + min(half / scale, 16.0), scale)
    high = min(half, 16.0 * scale)
    canvas.open("from above")
    canvas.polygon(
        frame.at([(shown[0], high), (shown[1], high), (shown[1], -high), (shown[0], -high)]), "wood", "ink", THIN
    )
    if mouth:
        r = BREATH_HOLE / 2
        sides = [(shown[0], r), (shown[0] + MOUTH_END, r), (shown[0] + MOUTH_END, -r), (shown[0], -r)]
        canvas.polygon(frame.at(sides), "hollow", "ink", THICK)
        if flute.chamber:
            wide = min(flute.chamber.diameter / 2, high)
            inside = [(shown[1], wide), (shown[0] + MOUTH_END, wide), (shown[0] + MOUTH_END, -wide), (shown[1], -wide)]
            canvas.path(outline(frame.at(inside)), "none", "soft", THIN, **HIDDEN)
        canvas.text(frame.x(shown[0]) + 1, frame.axis + 1.1, f"Ø {measure(BREATH_HOLE, units, 2)[0]}", TYPE, weight=600)
    else:
        wide = flute.window.width / 2
        canvas.polygon(
            frame.at([(place.window[0], wide), (0, wide), (0, -wide), (place.window[0], -wide)]), "hollow", "ink", THICK
        )
        if flute.flue and way:
            across_flue = flute.flue.width / 2
            for start, end in (way, (way[1], place.window[0])):
                fill = "hollow" if start == way[0] else "none"
                box = [(start, across_flue), (end, across_flue), (end, -across_flue), (start, -across_flue)]
                canvas.polygon(frame.at(box), fill, "ink", THIN)
    bottom = _lengths(canvas, frame, sorted(marks), units, frame.y(-high))
    canvas.close()
    return bottom


def _holes(canvas: Canvas, flute: Instrument, units: Units, number: int) -> float:
    """Splitting edge, finger holes and foot from above; `number` is the hole that is drilled now, 0 for all."""
    shown = (block_place(flute)[1] - 4.0, flute.foot_x)
    scale = (shown[1] - shown[0]) / (WIDTH - 12.0)
    half = outside(flute, flute.foot_x) / 2
    frame = Frame(6.0 - shown[0] / scale, 3.0 + half / scale, scale)
    canvas.open("holes")
    canvas.polygon(
        frame.at([(shown[0], half), (shown[1], half), (shown[1], -half), (shown[0], -half)]), "wood", "ink", THIN
    )
    canvas.line(frame.x(0.0), frame.y(half) - 1.5, frame.x(0.0), frame.y(-half), "accent", 0.4)
    marks = [(0.0, "edge"), (flute.foot_x, "foot, end")]
    for index, hole in enumerate(flute.holes, 1):
        drawn = "accent" if index == number else "ink"
        canvas.circle(
            frame.x(hole.x), frame.axis, hole.diameter / 2 / scale, "hollow", drawn, 0.6 if index == number else THIN
        )
        if not number or index == number:
            marks.append((hole.x, str(index)))
    bottom = _lengths(canvas, frame, sorted(marks), units, frame.y(-half))
    canvas.close()
    return bottom


def _lengths(canvas: Canvas, frame: Frame, marks: list[tuple[float, str]], units: Units, y: float) -> float:
    """Name and distance of each mark below the wood, each led to its place."""
    texts = [(name, measure(x, units)[0]) for x, name in marks]
    widths = [max(text_width(words, TYPE, 600) for words in lines) for lines in texts]
    room = WIDTH - 1.0 - 1.2 * (len(marks) - 1)
    smaller = min(1.0, room / sum(widths))  # many lengths in inches: smaller type rather than off the sheet
    widths = [smaller * width for width in widths]
    centres = spread([frame.x(x) for x, _ in marks], widths, 0.5, WIDTH - 0.5, 1.2)
    for (x, _), lines, centre in zip(marks, texts, centres, strict=True):
        canvas.path(outline([(frame.x(x), y), (frame.x(x), y + 1.0), (centre, y + 3.2)]), "none", "soft", 0.18)
        for index, words in enumerate(lines):
            canvas.text(centre, y + 6.2 + index * LINE, words, smaller * TYPE, "middle", 600 if index else 400)
    return y + 6.2 + LINE + 1
