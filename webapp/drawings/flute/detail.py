"""Window and edge enlarged, and a cut across the flue: the places where a tenth of a millimetre is heard."""

from dataclasses import dataclass

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import Frame, fine, height_at, upper_surface
from webapp.drawings.flute.parts import Parts, outside
from webapp.drawings.flute.views import BESIDE, HIDDEN, THICK, THIN
from webapp.drawings.sheet.canvas import Canvas, data, outline
from webapp.drawings.sheet.lettering import spread, text_width
from webapp.models import Units
from webapp.shop.routings.making import block_place, edge_height, edge_ramp, flat_height, planing_depth, seat_width

BEFORE, BEHIND = 4.0, 4.0  # mm of the flute shown before the plug's face or the window, and behind the ramp
UNDER, OVER = 2.5, 5.0  # mm shown of the bore, and of the block
LARGER = (4.0, 3.0, 2.5, 2.0, 1.5, 1.0)  # how many times life size
HIGHEST = 40.0  # mm of the sheet
TYPE = 2.8
LINE = 3.6
ACROSS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.0)  # 2.0 is 1:2
WIDEST = 24.0  # mm of the sheet for the cut across


@dataclass(frozen=True, slots=True)
class Measured:
    """A height to be dimensioned: its words, and from where to where over the axis [mm]."""

    words: str
    low: float
    high: float


def detail(
    canvas: Canvas, flute: Instrument, place: Parts, units: Units, room: tuple[float, float], top: float
) -> float:
    """The section from the end of the flue to behind the edge, as large as `room` (left, right on the sheet) allows.

    Gives the lower end on the sheet; draws nothing where there is no room.
    """
    roof, level = flute.bore_diameter(0.0) / 2, flat_height(flute)
    start, ramp = min(place.window[0], place.plug[1]) - BEFORE, edge_ramp(flute)
    end = ramp + BEHIND
    tip = roof + edge_height(flute)
    floor = level - flute.flue.depth if flute.flue else level
    before = [Measured(f"flue {fine(level - floor, units)}", floor, level)] if flute.flue else []
    after = [Measured(f"wall {fine(level - roof, units)}", roof, level)]
    if tip > roof:
        after.append(Measured(f"edge {fine(tip - roof, units)}", roof, tip))
    wide = [
        max((text_width(m.words, TYPE) for m in side), default=0.0) + 5.0 + 2.0 * len(side) for side in (before, after)
    ]
    free = room[1] - room[0] - sum(wide)
    high = level + OVER - roof + UNDER
    times = next((t for t in LARGER if (end - start) * t <= free and high * t <= HIGHEST), 0.0)
    if not times or end >= place.bore[1]:
        return top
    left = room[0] + wide[0] + (free - (end - start) * times) / 2
    frame = Frame(left - start * times, top + (level + OVER) * times, 1 / times)
    canvas.open("detail")
    _cut(canvas, flute, place, frame, (start, end), floor, tip)
    x1, x2 = frame.x(start), frame.x(end)
    _heights(canvas, before, frame, x1, frame.x(place.window[0]), -1.0)
    _heights(canvas, after, frame, x2, frame.x(0.0), 1.0)
    bottom = frame.y(roof - UNDER)
    _lengths(canvas, flute, place, units, frame, bottom)
    size = "life size" if times == 1 else f"{times:g} times life size"
    canvas.text((x1 + x2) / 2, bottom + 2 * LINE + 1.5, f"window and edge, {size}", TYPE, "middle", fill="soft")
    canvas.close()
    return bottom + 2 * LINE + 3


def _cut(
    canvas: Canvas,
    flute: Instrument,
    place: Parts,
    frame: Frame,
    shown: tuple[float, float],
    floor: float,
    tip: float,
) -> None:
    """Wood on both sides of the window from just under the bore's roof up, broken off at the ends, and the block."""
    start, end = shown
    roof, level, low = flute.bore_diameter(0.0) / 2, flat_height(flute), flute.bore_diameter(0.0) / 2 - UNDER
    back, plug, ramp = place.window[0], min(place.plug[1], place.window[0]), edge_ramp(flute)
    behind = height_at(upper_surface(flute, place), end)
    step = min(end, ramp + 3.0)
    canvas.open("plug end")
    plug_side = [(start, floor), (back, floor), (back, roof), (plug, roof), (plug, low)]
    canvas.polygon(frame.at([*plug_side, (start, low)]), "wood")
    canvas.path(outline(frame.at(plug_side)), "none", "ink", THICK)
    canvas.close()
    canvas.open("edge")
    edge_side = [(end, roof), (0.0, roof), (0.0, tip), (ramp, level), (step, level), (step, behind), (end, behind)]
    canvas.polygon(frame.at(edge_side), "wood")
    canvas.path(outline(frame.at(edge_side)), "none", "ink", THICK)
    canvas.close()
    stands = block_place(flute)[1]
    canvas.path(
        outline(frame.at([(start, level), (stands, level), (stands, level + OVER - 0.5)])),
        "none",
        "ink",
        THIN,
        **BESIDE,
    )
    room = (stands - start) / frame.scale
    if room > text_width("block", TYPE) + 2:
        canvas.text((frame.x(start) + frame.x(stands)) / 2, frame.y(level) - 1.6, "block", TYPE, "middle", fill="soft")
    _broken(canvas, frame.x(start), frame.y(level + OVER - 1.5), frame.y(low))
    _broken(canvas, frame.x(end), frame.y(behind) - 1.5, frame.y(roof) + 1.5)


def _heights(canvas: Canvas, found: list[Measured], frame: Frame, x: float, reach: float, sign: float) -> None:
    """Dimension lines beside the cut, each led from what it measures (`reach`), the words outermost."""
    middles = [(frame.y(m.low) + frame.y(m.high)) / 2 for m in found]
    order = sorted(range(len(found)), key=lambda i: middles[i])
    rows = spread([middles[i] for i in order], [LINE] * len(found), -1e9, 1e9, 0.0)
    at = dict(zip(order, rows, strict=True))
    outer = x + sign * (2.5 + 2.0 * len(found))
    for index, m in enumerate(found):
        line = x + sign * (2.5 + 2.0 * index)
        for height in (m.low, m.high):
            canvas.line(reach, frame.y(height), line + sign * 0.8, frame.y(height), "soft", 0.12)
        canvas.line(line, frame.y(m.low), line, frame.y(m.high), "ink", 0.2)
        for height in (m.low, m.high):
            canvas.line(line - 0.6, frame.y(height) + 0.6, line + 0.6, frame.y(height) - 0.6, "ink", 0.25)
        canvas.line(line, middles[index], outer - sign * 0.5, at[index], "soft", 0.12)
        canvas.text(outer, at[index] + TYPE * 0.33, m.words, TYPE, "start" if sign > 0 else "end")


def _lengths(canvas: Canvas, flute: Instrument, place: Parts, units: Units, frame: Frame, y: float) -> None:
    """Below the cut: the room before the window, the cut-up, and the block's setback where it has one."""
    spans = [(f"cut-up {fine(flute.window.length, units)}", place.window[0], 0.0)]
    stub = place.window[0] - place.plug[1]
    if stub > 0.05:
        spans.append((f"stub {fine(stub, units)}", place.plug[1], place.window[0]))
    setback = place.window[0] - block_place(flute)[1]
    if flute.block and setback > 0.0:
        spans.append((f"setback {fine(setback, units)}", place.window[0] - setback, place.window[0]))
    spans.sort(key=lambda span: span[1] + span[2])
    words = [span[0] for span in spans]
    middles = [(frame.x(a) + frame.x(b)) / 2 for _, a, b in spans]
    at = spread(middles, [text_width(w, TYPE) for w in words], -1e9, 1e9, 2.0)
    for (said, a, b), middle, centre in zip(spans, middles, at, strict=True):
        canvas.line(frame.x(a), y + 1.2, frame.x(b), y + 1.2, "ink", 0.2)
        for x in (a, b):
            canvas.line(frame.x(x), y - 1.5, frame.x(x), y + 2.0, "soft", 0.12)
        canvas.line(middle, y + 1.2, centre, y + 2.4, "soft", 0.12)
        canvas.text(centre, y + 1.4 + LINE, said, TYPE, "middle")


def _broken(canvas: Canvas, x: float, top: float, bottom: float) -> None:
    """The free-hand break line: the part continues beyond it."""
    middle = (top + bottom) / 2
    points = [(x, top), (x, middle - 2), (x - 1.1, middle - 0.7), (x + 1.1, middle + 0.7), (x, middle + 2), (x, bottom)]
    canvas.path(outline(points), "none", "sheet", 1.5)
    canvas.path(outline(points), "none", "ink", 0.2)


def across(canvas: Canvas, flute: Instrument, units: Units, centre: float, top: float) -> float:
    """The flute cut across just before the window: how wide the seat, the flue and the block are, the bore behind.

    Gives the lower end on the sheet.
    """
    r, seat, level = outside(flute, 0.0) / 2, seat_width(flute), flat_height(flute)
    scale = next(s for s in ACROSS if 2 * r / s <= WIDEST)
    high = min(flute.block.height if flute.block else 0.8 * r, 0.8 * r)
    frame = Frame(centre, top + (max(level + high, r)) / scale, scale)
    canvas.open("across")
    if flute.body.outside == "flat":
        canvas.polygon(frame.at([(-r, level), (r, level), (r, -r), (-r, -r)]), "wood", "ink", THICK)
    elif seat is None:
        canvas.circle(centre, frame.axis, r / scale, "wood", "ink", THICK)
    else:
        (x1, y), (x2, _) = frame.at([(seat / 2, level), (-seat / 2, level)])
        canvas.path(data("M", x1, y, "A", r / scale, r / scale, 0, 1, 1, x2, y, "Z"), "wood", "ink", THICK)
    canvas.circle(centre, frame.axis, flute.bore_diameter(0.0) / 2 / scale, "none", "soft", THIN, **HIDDEN)
    rows = [f"seat {fine(seat, units)} wide"] if seat else []
    if depth := planing_depth(flute):
        rows.append(f"planed {fine(depth, units)} deep")
    if flue := flute.flue:
        w, floor = flue.width / 2, level - flue.depth
        canvas.polygon(frame.at([(-w, level + 0.4), (w, level + 0.4), (w, floor), (-w, floor)]), "hollow")
        canvas.path(outline(frame.at([(-w, level), (-w, floor), (w, floor), (w, level)])), "none", "ink", THICK)
        rows.append(f"flue {fine(flue.width, units)} wide")
        wide = (flute.block.width if flute.block else flue.width + 6.0) / 2
        stands = [(-wide, level), (-wide, level + high), (wide, level + high), (wide, level), (-wide, level)]
        canvas.path(outline(frame.at(stands)), "none", "ink", THIN, **BESIDE)
    y = frame.y(-r) + LINE + 0.6
    for words in rows:
        canvas.text(centre, y, words, TYPE, "middle")
        y += LINE
    canvas.text(centre, y, "across the flue", TYPE, "middle", fill="soft")
    canvas.close()
    return y + 1.0
