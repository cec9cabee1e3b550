"""Below the views: the sizes that are not positions, the scale, and a bar to check it with a rule."""

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import fine, measure, measure_inline
from webapp.drawings.flute.parts import Parts, outside
from webapp.drawings.sheet.canvas import Canvas
from webapp.drawings.sheet.lettering import text_width
from webapp.models import Units
from webapp.shop.routings.making import BREATH_HOLE, EXIT, edge_height, planing_depth, seat_place, seat_width

TYPE = 3.0  # mm
LINE = 3.8  # mm


def sizes(flute: Instrument, place: Parts, units: Units) -> list[tuple[str, str]]:
    """Name and figure of each size, in the order of the air's path through the flute."""

    def say(mm: float) -> str:
        return measure(mm, units, 2)[0]

    mouth = (place.chamber[0] if place.chamber else place.plug[0]) - place.mouth
    found = [("Overall length", say(place.length))]
    if mouth > 0.0:
        breath = f", breath hole Ø {say(BREATH_HOLE)}" if flute.chamber else ""
        found.append(("Mouth end", f"{say(mouth)} solid{breath}"))
    if flute.chamber:
        found.append(("Air chamber", f"{say(flute.chamber.length)} long, Ø {say(flute.chamber.diameter)}"))
        plug = f"{say(place.plug[1] - place.plug[0])} long"
        if flute.flue:
            plug += f"; exit hole {say(EXIT)} × {say(flute.flue.width)}"
        found.append(("Plug", plug))
    if flute.flue:
        flue = flute.flue
        depth = f"{fine(flue.depth, units)} deep as left"
        found.append(("Flue", f"{say(flue.length)} long, {say(flue.width)} wide, {depth}"))
    window = flute.window
    wall = fine(flute.window_wall, units)
    found.append(("Window", f"cut-up {say(window.length)}, {say(window.width)} wide, wall {wall}"))
    edge = "square" if window.edge_angle >= 90 else f"{window.edge_angle:g}°"
    if height := edge_height(flute):
        edge += f", {fine(height, units)} above the bore"
        edge += "" if window.edge_height else ", level with the flue"
    found.append(("Splitting edge", edge))
    if width := seat_width(flute):
        start, end_of_seat = seat_place(flute)
        planed = planing_depth(flute)
        how = f", planed {fine(planed, units)} deep" if planed else ""
        found.append(("Seat", f"{say(end_of_seat - start)} × {say(width)}{how}"))
    if block := flute.block:
        back = f"{fine(block.setback, units)} back" if block.setback else "flush"
        found.append(("Block", f"{say(block.length)} × {say(block.width)} × {say(block.height)} high, {back}"))
    found.append(("Bore", _bore(flute, units)))
    shape = "round, Ø" if flute.body.outside == "round" else "square,"
    found.append(("Outside", f"{shape} {say(outside(flute, flute.foot_x))} at the foot, wall {say(flute.body.wall)}"))
    return found


def _bore(flute: Instrument, units: Units) -> str:
    first, last = flute.bore[0], flute.bore[-1]
    length = f"{measure(last[0] - first[0], units, 2)[0]} long"
    if len({diameter for _, diameter in flute.bore}) == 1:
        return f"Ø {measure(first[1], units, 2)[0]}, {length}"
    at = ", ".join(
        f"Ø {measure_inline(diameter, units)} at {measure_inline(x, units)}" for x, diameter in flute.bore[:4]
    )
    more = f", … Ø {measure_inline(last[1], units)} at {measure_inline(last[0], units)}" if len(flute.bore) > 4 else ""
    return f"{at}{more}{'' if units is Units.INCH else ' mm'}"


def figures(
    canvas: Canvas,
    flute: Instrument,
    place: Parts,
    units: Units,
    top: float,
) -> tuple[float, float]:
    """Draw the list from `top` down. Return its lower and right edges."""
    rows = sizes(flute, place, units)
    canvas.open("sizes")
    column = max(text_width(name, TYPE, 600) for name, _ in rows) + 4
    y = top + TYPE
    for name, figure in rows:
        canvas.text(0.5, y, name, TYPE, weight=600)
        canvas.text(column, y, figure, TYPE)
        y += LINE
    canvas.close()
    right = column + max(text_width(figure, TYPE) for _, figure in rows)
    return y, right


def scale_bar(canvas: Canvas, units: Units, y: float, scale: float) -> float:
    """The scale in words, and a measure in the flute's own lengths: a copy that was not printed true shows itself.

    Gives its lower end.
    """
    unit, words = (25.4, "in") if units is Units.INCH else (10.0, "cm")
    steps = max(2, int(60 * scale / unit))
    step = unit / scale
    while steps > 8:
        steps, step, unit = steps // 2, step * 2, unit * 2
    each = unit / (25.4 if units is Units.INCH else 10.0)
    canvas.open("scale")
    for index in range(steps):
        canvas.rect(0.5 + index * step, y, step, 1.3, "ink" if index % 2 == 0 else "sheet", "ink", 0.2)
    end = 0.5 + steps * step
    canvas.text(0.5, y + 4.6, "0", 2.8)
    canvas.text(end, y + 4.6, f"{steps * each:g} {words}", 2.8, "middle")
    first = "inches" if units is Units.INCH else "mm"
    words = f"Scale 1:{scale:g}. Lengths from the splitting edge, in {first}."
    canvas.text(end + text_width("88 cm", 2.8) + 4, y + 1.6, words, TYPE)
    canvas.close()
    return y + 6.5
