"""Flue and window enlarged: the place where a tenth of a millimetre is heard."""

from dataclasses import replace

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import Frame
from webapp.drawings.flute.parts import AIR_HOLE, Parts, edge_ramp, outside, parts
from webapp.drawings.flute.views import section
from webapp.drawings.sheet.canvas import Canvas, outline

BESIDE = 7.0  # mm of the flute shown on either side
LARGER = (2.0, 1.5, 1.0, 0.75)  # how many times life size
HIGHEST = 46.0  # mm of the sheet


def detail(canvas: Canvas, flute: Instrument, place: Parts, room: tuple[float, float], top: float) -> float:
    """The section from the end of the slow air chamber to behind the edge, as large as `room` (left, right on the
    sheet) allows. Gives the lower end on the sheet; draws nothing where there is no room.
    """
    behind = edge_ramp(flute) + BESIDE
    if behind >= place.bore[1]:
        return top
    chamber = flute.chamber and replace(flute.chamber, length=min(flute.chamber.length, AIR_HOLE + BESIDE))
    shown = replace(
        flute,
        bore=(*(point for point in flute.bore if point[0] < behind), (behind, flute.bore_diameter(behind))),
        holes=(),
        foot_holes=(),
        chamber=chamber,
    )
    short = parts(shown, 0.0 if chamber else BESIDE)
    high = outside(flute, 0.0)
    wide = room[1] - room[0]
    times = next((t for t in LARGER if short.length * t <= wide and high * t * 1.4 <= HIGHEST), 0.0)
    if not times:
        return top
    half = high / 2 * times
    axis = top + high * times * 0.9
    frame = Frame((room[0] + room[1] - short.length * times) / 2 - short.mouth * times, axis, 1 / times)
    canvas.open("detail")
    section(canvas, shown, short, frame, words=False)
    for x in (frame.x(short.mouth), frame.x(behind)):
        _broken(canvas, x, axis - half - 1, axis + half + 1)
    size = "life size" if times == 1 else f"{times:g} times life size"
    bottom = axis + half + 5.4
    canvas.text((room[0] + room[1]) / 2, bottom, f"flue and window, {size}", 2.8, "middle", fill="soft")
    canvas.close()
    return bottom + 2


def _broken(canvas: Canvas, x: float, top: float, bottom: float) -> None:
    """The free-hand break line: the part continues beyond it."""
    middle = (top + bottom) / 2
    points = [(x, top), (x, middle - 2), (x - 1.1, middle - 0.7), (x + 1.1, middle + 0.7), (x, middle + 2), (x, bottom)]
    canvas.path(outline(points), "none", "sheet", 1.5)
    canvas.path(outline(points), "none", "ink", 0.2)
