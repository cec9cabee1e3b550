"""A flute cut along its axis: wood with its grain, what is hollow left clear."""

import itertools

from acoustics.flute.instrument import Hole, Instrument
from webapp.drawings.flute.frame import Frame, height_at, lower_surface, spans_above, upper_surface
from webapp.drawings.flute.parts import Parts, outside
from webapp.drawings.flute.views import BESIDE, THICK, THIN
from webapp.drawings.sheet.canvas import Canvas, outline
from webapp.drawings.sheet.lettering import text_width
from webapp.shop.routings.making import (
    BREATH_HOLE,
    block_place,
    edge_height,
    edge_ramp,
    exit_place,
)

Points = list[tuple[float, float]]


def section(canvas: Canvas, flute: Instrument, place: Parts, frame: Frame) -> None:
    """The flute cut along its axis, as it is to be made: the breath hole and the exit hole too."""
    top, low = upper_surface(flute, place), lower_surface(flute, place)
    canvas.open("section")
    canvas.path(outline(frame.at(top) + frame.at([(x, -y) for x, y in reversed(low)])) + "Z", "wood")
    _grain(canvas, frame, top, low)
    cuts: Points = []  # where the upper surface is open
    if place.chamber and flute.chamber:
        r = flute.chamber.diameter / 2
        _cavity(canvas, frame, [(x, y) for x in place.chamber for y in (r, -r)], "chamber")
        _breath_hole(canvas, frame, (place.mouth, place.chamber[0]), min(BREATH_HOLE, 2 * r) / 2)
    bore = [(x, d / 2) for x, d in flute.bore]
    _hollow(canvas, frame, bore + [(x, -r) for x, r in reversed(bore)], "bore")
    canvas.path(
        outline(frame.at([(x, r) for x, r in reversed(bore)] + [(x, -r) for x, r in bore])), "none", "ink", THICK
    )
    back, ramp = place.window[0], edge_ramp(flute)
    window_back = height_at(top, back - 1e-6)
    if place.flue and flute.flue:
        window_back = _flue(canvas, flute, place.flue, flute.flue.depth, frame, top)
        cuts.append(((exit_place(flute) or place.flue)[0], place.flue[1]))
    roof = flute.bore_diameter(0.0) / 2
    left = [(back, window_back), (back, flute.bore_diameter(back) / 2)]
    right = [(ramp, height_at(top, ramp)), (0.0, roof + edge_height(flute)), (0.0, roof)]
    _opening(canvas, frame, left, right, "window")
    cuts.append((back, ramp))
    for hole in (*flute.holes, *flute.foot_holes):
        cuts.append(_hole(canvas, flute, hole, frame, top))
    breath = min(BREATH_HOLE, flute.chamber.diameter) / 2 if flute.chamber else 0.0
    _outside(canvas, frame, top, low, cuts, (-breath, breath) if breath else None)
    _words_inside(canvas, flute, place, frame)
    start, end = block_place(flute)
    high = flute.block.height if flute.block else outside(flute, end) * 0.4
    _phantom_block(canvas, frame, (max(start, place.mouth), end), height_at(top, end - 0.5), high)
    canvas.close()


def _grain(canvas: Canvas, frame: Frame, top: Points, low: Points) -> None:
    """Cut wood is shown by lines along its grain, about a millimetre apart on the sheet."""
    highest = max(y for _, y in top + low)
    step = 1.1 * frame.scale
    d = []
    for index in range(int(highest / step) + 1):
        y = (index + 0.5) * step
        for surface, sign in ((top, 1), (low, -1)):
            d += [outline(frame.at([(x1, sign * y), (x2, sign * y)])) for x1, x2 in spans_above(surface, y)]
    canvas.path(" ".join(d), "none", "rule", 0.13)


def _hollow(canvas: Canvas, frame: Frame, points: Points, name: str) -> None:
    canvas.open(name)
    canvas.polygon(frame.at(points), "hollow")
    canvas.close()


def _breath_hole(canvas: Canvas, frame: Frame, along: tuple[float, float], r: float) -> None:
    """Open from the mouth end into the chamber: cleared past both ends, so that no line closes it."""
    x1, x2 = frame.x(along[0]) - 0.3, frame.x(along[1]) + 0.3
    canvas.open("breath hole")
    canvas.rect(x1, frame.y(r), x2 - x1, 2 * r / frame.scale, "hollow")
    for y in (r, -r):
        canvas.line(frame.x(along[0]), frame.y(y), frame.x(along[1]), frame.y(y), "ink", THICK)
    canvas.close()


def _cavity(canvas: Canvas, frame: Frame, corners: Points, name: str) -> None:
    """A closed rectangle from its four corners."""
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    canvas.open(name)
    wide, high = (max(xs) - min(xs)) / frame.scale, (max(ys) - min(ys)) / frame.scale
    canvas.rect(frame.x(min(xs)), frame.y(max(ys)), wide, high, "hollow", "ink", THICK)
    canvas.close()


def _opening(canvas: Canvas, frame: Frame, left: Points, right: Points, name: str) -> None:
    """A way through the wood between two sides, each from the outside in."""
    canvas.open(name)
    # Slightly further in than the edge, so that the line of the bore does not cross the opening.
    # Above, it is cleared to the higher of its two sides.
    deeper = [[*side[:-1], (side[-1][0], side[-1][1] - 0.3 * frame.scale)] for side in (left, right)]
    high = max(left[0][1], right[0][1])
    clear = [(left[0][0], high), (right[0][0], high)]
    canvas.polygon(frame.at([*clear, *deeper[1], *deeper[0][::-1]]), "hollow")
    for side in (left, right):
        canvas.path(outline(frame.at(side)), "none", "ink", THICK)
    canvas.close()


def _flue(
    canvas: Canvas, flute: Instrument, along: tuple[float, float], depth: float, frame: Frame, top: Points
) -> float:
    """The flue, and the hole that lets the air up into it. Gives the height of the flue's floor."""
    start, end = along
    floor = height_at(top, (start + end) / 2) - depth
    canvas.open("flue")
    high = max(height_at(top, start), height_at(top, end)) + 0.5 * frame.scale
    canvas.polygon(frame.at([(start, high), (end, high), (end, floor), (start, floor)]), "hollow")
    canvas.line(frame.x(start), frame.y(floor), frame.x(end), frame.y(floor), "ink", THICK)
    canvas.close()
    way = exit_place(flute)
    if way is None or flute.chamber is None:
        canvas.line(frame.x(start), frame.y(height_at(top, start)), frame.x(start), frame.y(floor), "ink", THICK)
        return floor
    back, roof = way[0], flute.chamber.diameter / 2
    _opening(canvas, frame, [(back, height_at(top, back)), (back, roof)], [(start, floor), (start, roof)], "exit hole")
    return floor


def _hole(canvas: Canvas, flute: Instrument, hole: Hole, frame: Frame, top: Points) -> tuple[float, float]:
    r, roof, high = hole.diameter / 2, flute.bore_diameter(hole.x) / 2, height_at(top, hole.x)
    left = [(hole.x - r, high), (hole.x - r - hole.undercut, roof)]
    right = [(hole.x + r, high), (hole.x + r + hole.undercut, roof)]
    _opening(canvas, frame, left, right, "hole")
    return hole.x - r, hole.x + r


def _outside(
    canvas: Canvas,
    frame: Frame,
    top: Points,
    low: Points,
    cuts: Points,
    mouth: tuple[float, float] | None,
) -> None:
    """The outline, without the stretches where the upper surface is open, and without `mouth`, the breath hole."""
    canvas.open("outline")
    run = [(x, -y) for x, y in low]
    canvas.path(outline(frame.at([*run, (top[-1][0], -low[-1][1])])), "none", "ink", THICK)
    for under, over in _left_over(run[0][1], top[0][1], [mouth] if mouth else []):
        canvas.line(frame.x(top[0][0]), frame.y(under), frame.x(top[0][0]), frame.y(over), "ink", THICK)
    foot, bore_end = top[-1], low[-1]
    canvas.line(frame.x(foot[0]), frame.y(foot[1]), frame.x(bore_end[0]), frame.y(-bore_end[1]), "ink", THICK)
    cut_now = sorted(cuts)
    pieces: list[Points] = []
    for a, b in itertools.pairwise(top):
        for x1, x2 in _left_over(a[0], b[0], cut_now):
            pieces.append([(x1, _between(a, b, x1)), (x2, _between(a, b, x2))])
        if a[0] == b[0] and a[1] != b[1]:
            pieces.append([a, b])
    canvas.path(" ".join(outline(frame.at(piece)) for piece in pieces), "none", "ink", THICK, stroke_linecap="round")
    canvas.close()


def _left_over(low: float, high: float, cuts: Points) -> Points:
    parts, start = [], low
    for x1, x2 in cuts:
        if x1 > start:
            parts.append((start, min(x1, high)))
        start = max(start, x2)
        if start >= high:
            break
    if start < high:
        parts.append((start, high))
    return [(a, b) for a, b in parts if b > a]


def _between(a: tuple[float, float], b: tuple[float, float], x: float) -> float:
    return a[1] if b[0] == a[0] else a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])


def _words_inside(canvas: Canvas, flute: Instrument, place: Parts, frame: Frame) -> None:
    """Names of the two chambers, where they fit."""
    rooms = [
        ("bore", 2.0, flute.holes[0].x - flute.holes[0].diameter if flute.holes else place.bore[1], flute.bore[0][1])
    ]
    if place.chamber and flute.chamber:
        rooms.append(("slow air chamber", *place.chamber, flute.chamber.diameter))
    for words, low, high, diameter in rooms:
        room = (high - low) / frame.scale - 2
        if diameter / frame.scale >= 3.6 and text_width(words, 2.8) <= room:
            canvas.text((frame.x(low) + frame.x(high)) / 2, frame.axis + 0.9, words, 2.8, "middle", fill="soft")


def _phantom_block(canvas: Canvas, frame: Frame, along: tuple[float, float], base: float, high: float) -> None:
    (start, end), top = along, base + high
    canvas.path(
        outline(frame.at([(start, base), (start, top), (end, top), (end, base)])), "none", "ink", THIN, **BESIDE
    )
    canvas.text((frame.x(start) + frame.x(end)) / 2, frame.y(top) - 0.9, "block", 2.8, "middle", fill="soft")
