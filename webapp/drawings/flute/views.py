"""The three views of a flute: from above, cut along the axis, and from the foot."""

import itertools

from acoustics.flute.instrument import Chamber, Hole, Instrument
from webapp.drawings.flute.frame import Frame, height_at, lower_surface, spans_above, upper_surface
from webapp.drawings.flute.parts import AIR_HOLE, Parts, edge_ramp, outside
from webapp.drawings.sheet.canvas import Canvas, outline
from webapp.drawings.sheet.lettering import text_width

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
    canvas.open("flue and window")
    if place.flue and flute.flue:
        _box(canvas, frame, place.flue, flute.flue.width, "sheet", "ink", THIN)
        if place.chamber:
            _box(canvas, frame, (place.flue[0] - AIR_HOLE, place.flue[0]), flute.flue.width, "hollow", "ink", THIN)
    _box(canvas, frame, place.window, flute.window.width, "hollow", "ink", THICK)
    if ramp := edge_ramp(flute):
        _box(canvas, frame, (0.0, ramp), flute.window.width, "none", "ink", THIN)
    canvas.close()
    block_from, block_to = block(place)
    width = min(outside(flute, block_to) * 0.72, (flute.flue or flute.window).width * 2.2)
    _box(canvas, frame, (block_from, block_to), width, "none", "ink", THIN, **BESIDE)
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


def block(place: Parts) -> tuple[float, float]:
    """Where the block sits [mm]: over the flue and the hole that feeds it, its foot-side face at the window."""
    back = (place.flue[0] if place.flue else place.window[0] - 18) - AIR_HOLE - 4
    return max(back, place.mouth), place.window[0]


def section(canvas: Canvas, flute: Instrument, place: Parts, frame: Frame, words: bool = True) -> None:
    """Cut through the axis: wood with its grain, what is hollow left clear; `words` names the parts."""
    top, low = upper_surface(flute, place), lower_surface(flute, place)
    canvas.open("section")
    canvas.path(outline(frame.at(top) + frame.at([(x, -y) for x, y in reversed(low)])) + "Z", "wood")
    _grain(canvas, frame, top, low)
    cuts: list[tuple[float, float]] = []  # where the upper surface is open
    if place.chamber and flute.chamber:
        r = flute.chamber.diameter / 2
        _cavity(canvas, frame, [(x, y) for x in place.chamber for y in (r, -r)], "chamber")
    bore = [(x, d / 2) for x, d in flute.bore]
    _hollow(canvas, frame, bore + [(x, -r) for x, r in reversed(bore)], "bore")
    canvas.path(
        outline(frame.at([(x, r) for x, r in reversed(bore)] + [(x, -r) for x, r in bore])), "none", "ink", THICK
    )
    back, ramp = place.window[0], edge_ramp(flute)
    window_back = height_at(top, back)
    if place.flue and flute.flue:
        window_back = _flue(canvas, place.flue, flute.flue.depth, flute.chamber, frame, top)
        cuts.append((place.flue[0] - (AIR_HOLE if flute.chamber else 0.0), place.flue[1]))
    left = [(back, window_back), (back, flute.bore_diameter(back) / 2)]
    right = [(ramp, height_at(top, ramp)), (0.0, flute.bore_diameter(0.0) / 2)]
    _opening(canvas, frame, left, right, "window")
    cuts.append((back, ramp))
    for hole in (*flute.holes, *flute.foot_holes):
        cuts.append(_hole(canvas, flute, hole, frame, top))
    _outside(canvas, frame, top, low, cuts)
    if words:
        _words_inside(canvas, flute, place, frame)
    block_from, block_to = block(place)
    base = height_at(top, block_to - 0.5)
    _phantom_block(canvas, frame, block_from, block_to, base, outside(flute, block_to) * 0.4, words)
    canvas.close()


def foot_view(canvas: Canvas, flute: Instrument, x: float, y: float, scale: float) -> None:
    """The flute from its foot, centred at `x`, `y` on the sheet."""
    wide = outside(flute, flute.foot_x) / scale
    canvas.open("foot view")
    if flute.body.outside == "flat":
        canvas.rect(x - wide / 2, y - wide / 2, wide, wide, "wood", "ink", THICK)
    else:
        canvas.circle(x, y, wide / 2, "wood", "ink", THICK)
    canvas.circle(x, y, flute.bore[-1][1] / 2 / scale, "hollow", "ink", THICK)
    reach = wide / 2 + 1.8
    canvas.line(x - reach, y, x + reach, y, "soft", THIN, **AXIS)
    canvas.line(x, y - reach, x, y + reach, "soft", THIN, **AXIS)
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


def _grain(canvas: Canvas, frame: Frame, top: list[tuple[float, float]], low: list[tuple[float, float]]) -> None:
    """Cut wood is shown by lines along its grain, about a millimetre apart on the sheet."""
    highest = max(y for _, y in top + low)
    step = 1.1 * frame.scale
    d = []
    for index in range(int(highest / step) + 1):
        y = (index + 0.5) * step
        for surface, sign in ((top, 1), (low, -1)):
            d += [outline(frame.at([(x1, sign * y), (x2, sign * y)])) for x1, x2 in spans_above(surface, y)]
    canvas.path(" ".join(d), "none", "rule", 0.13)


def _hollow(canvas: Canvas, frame: Frame, points: list[tuple[float, float]], name: str) -> None:
    canvas.open(name)
    canvas.polygon(frame.at(points), "hollow")
    canvas.close()


def _cavity(canvas: Canvas, frame: Frame, corners: list[tuple[float, float]], name: str) -> None:
    """A closed rectangle from its four corners."""
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    canvas.open(name)
    wide, high = (max(xs) - min(xs)) / frame.scale, (max(ys) - min(ys)) / frame.scale
    canvas.rect(frame.x(min(xs)), frame.y(max(ys)), wide, high, "hollow", "ink", THICK)
    canvas.close()


def _opening(
    canvas: Canvas, frame: Frame, left: list[tuple[float, float]], right: list[tuple[float, float]], name: str
) -> None:
    """A way through the wood between two sides, each from the outside in."""
    canvas.open(name)
    # Slightly further in than the edge, so that the line of the bore does not cross the opening.
    # Above, it is cleared to the higher of its two sides.
    deeper = [[(x, y), (x2, y2 - 0.3 * frame.scale)] for (x, y), (x2, y2) in (left, right)]
    high = max(left[0][1], right[0][1])
    clear = [(left[0][0], high), (right[0][0], high)]
    canvas.polygon(frame.at([*clear, *deeper[1], *deeper[0][::-1]]), "hollow")
    for side in (left, right):
        canvas.path(outline(frame.at(side)), "none", "ink", THICK)
    canvas.close()


def _flue(
    canvas: Canvas,
    along: tuple[float, float],
    depth: float,
    chamber: Chamber | None,
    frame: Frame,
    top: list[tuple[float, float]],
) -> float:
    """The flue, and the hole that lets the air up into it. Gives the height of the flue's floor."""
    start, end = along
    floor = height_at(top, (start + end) / 2) - depth
    canvas.open("flue")
    high = max(height_at(top, start), height_at(top, end)) + 0.5 * frame.scale
    canvas.polygon(frame.at([(start, high), (end, high), (end, floor), (start, floor)]), "hollow")
    canvas.line(frame.x(start), frame.y(floor), frame.x(end), frame.y(floor), "ink", THICK)
    canvas.close()
    if chamber is None:
        canvas.line(frame.x(start), frame.y(height_at(top, start)), frame.x(start), frame.y(floor), "ink", THICK)
        return floor
    back, roof = start - AIR_HOLE, chamber.diameter / 2
    _opening(canvas, frame, [(back, height_at(top, back)), (back, roof)], [(start, floor), (start, roof)], "air hole")
    return floor


def _hole(
    canvas: Canvas, flute: Instrument, hole: Hole, frame: Frame, top: list[tuple[float, float]]
) -> tuple[float, float]:
    r, roof, high = hole.diameter / 2, flute.bore_diameter(hole.x) / 2, height_at(top, hole.x)
    left = [(hole.x - r, high), (hole.x - r - hole.undercut, roof)]
    right = [(hole.x + r, high), (hole.x + r + hole.undercut, roof)]
    _opening(canvas, frame, left, right, "hole")
    return hole.x - r, hole.x + r


def _outside(
    canvas: Canvas,
    frame: Frame,
    top: list[tuple[float, float]],
    low: list[tuple[float, float]],
    cuts: list[tuple[float, float]],
) -> None:
    """The outline, without the stretches where the upper surface is open."""
    canvas.open("outline")
    run = [(x, -y) for x, y in low]
    run = [(top[0][0], top[0][1]), *run, (top[-1][0], -low[-1][1])]
    canvas.path(outline(frame.at(run)), "none", "ink", THICK)
    foot, bore_end = top[-1], low[-1]
    canvas.line(frame.x(foot[0]), frame.y(foot[1]), frame.x(bore_end[0]), frame.y(-bore_end[1]), "ink", THICK)
    cut_now = sorted(cuts)
    pieces: list[list[tuple[float, float]]] = []
    for a, b in itertools.pairwise(top):
        for x1, x2 in _left_over(a[0], b[0], cut_now):
            pieces.append([(x1, _between(a, b, x1)), (x2, _between(a, b, x2))])
        if a[0] == b[0] and a[1] != b[1]:
            pieces.append([a, b])
    canvas.path(" ".join(outline(frame.at(piece)) for piece in pieces), "none", "ink", THICK, stroke_linecap="round")
    canvas.close()


def _left_over(low: float, high: float, cuts: list[tuple[float, float]]) -> list[tuple[float, float]]:
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


def _phantom_block(
    canvas: Canvas, frame: Frame, start: float, end: float, base: float, high: float, words: bool
) -> None:
    points = [(start, base), (start + 3, base + high), (end - 2, base + high), (end, base)]
    canvas.path(outline(frame.at(points)), "none", "ink", THIN, **BESIDE)
    if words:
        x = (frame.x(start) + frame.x(end)) / 2
        canvas.text(x, frame.y(base + high) - 0.9, "block", 2.8, "middle", fill="soft")
