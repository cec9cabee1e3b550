"""A flute from above."""

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import Frame, lower_surface
from webapp.drawings.flute.parts import Parts
from webapp.drawings.sheet.canvas import Canvas, outline
from webapp.shop.routings.making import BREATH_HOLE, block_place, edge_ramp, exit_place, seat_place, seat_width

THICK, THIN = 0.32, 0.18
HIDDEN = {"stroke_dasharray": "1.8 0.9"}
AXIS = {"stroke_dasharray": "6 1.2 1.2 1.2"}
BESIDE = {"stroke_dasharray": "4 0.9 0.7 0.9 0.7 0.9"}  # not part of the body: the block


def plan(canvas: Canvas, flute: Instrument, place: Parts, frame: Frame, mark: int | None = None) -> None:
    """From above, the side with the holes. `mark` is the number of the finger hole to point out."""
    surface = lower_surface(flute, place)
    canvas.open("plan")
    upper = frame.at(surface)
    lower = frame.at([(x, -y) for x, y in reversed(surface)])
    canvas.polygon(upper + lower, "wood", "ink", THICK)
    if place.chamber and flute.chamber:
        r = flute.chamber.diameter / 2
        x1, x2 = place.chamber
        canvas.rect(
            frame.x(x1), frame.y(r), (x2 - x1) / frame.scale, 2 * r / frame.scale, "none", "soft", THIN, **HIDDEN
        )
    upper = frame.at([(x, d / 2) for x, d in flute.bore])
    lower = frame.at([(x, -d / 2) for x, d in reversed(flute.bore)])
    canvas.path(outline([*upper, *lower, upper[0]]), "none", "soft", THIN, **HIDDEN)
    canvas.line(frame.x(place.mouth) - 3, frame.axis, frame.x(place.bore[1]) + 3, frame.axis, "soft", THIN, **AXIS)
    if place.chamber:
        _box(canvas, frame, (place.mouth, place.chamber[0]), BREATH_HOLE, "none", "soft", THIN, **HIDDEN)
    canvas.open("seat")
    if width := seat_width(flute):
        start, end = seat_place(flute)
        _box(canvas, frame, (max(place.mouth, start), min(end, place.bore[1])), width, "none", "ink", THIN)
    canvas.close()
    canvas.open("flue and window")
    if place.flue and flute.flue:
        _box(canvas, frame, place.flue, flute.flue.width, "sheet", "ink", THIN)
        if exit_hole := exit_place(flute):
            _box(canvas, frame, exit_hole, flute.flue.width, "hollow", "ink", THIN)
    _box(canvas, frame, place.window, flute.window.width, "hollow", "ink", THICK)
    if ramp := edge_ramp(flute):
        _box(canvas, frame, (0.0, ramp), flute.window.width, "none", "ink", THIN)
    canvas.close()
    block = block_place(flute)
    width = flute.block.width if flute.block else (flute.flue or flute.window).width + 6.0
    _box(canvas, frame, (max(block[0], place.mouth), block[1]), width, "none", "ink", THIN, **BESIDE)
    canvas.open("holes")
    for index, hole in enumerate((*flute.holes, *flute.foot_holes)):
        x, r = frame.x(hole.x), hole.diameter / 2 / frame.scale
        canvas.circle(x, frame.axis, r, "hollow", "ink", THICK)
        canvas.line(x - r - 0.8, frame.axis, x + r + 0.8, frame.axis, "ink", THIN)
        canvas.line(x, frame.axis - r - 0.8, x, frame.axis + r + 0.8, "ink", THIN)
        if mark == index + 1:
            canvas.circle(x, frame.axis, r + 1.6, "none", "accent", 0.7)
    canvas.close()
    canvas.close()


def _box(
    canvas: Canvas,
    frame: Frame,
    along: tuple[float, float],
    wide: float,
    fill: str,
    stroke: str,
    width: float,
    **more: str,
) -> None:
    x1, x2 = along
    canvas.rect(
        frame.x(x1), frame.y(wide / 2), (x2 - x1) / frame.scale, wide / frame.scale, fill, stroke, width, **more
    )
