"""The layout as an SVG file at 1:1 in millimetres: black lines, one group for each kind of part."""

from itertools import groupby

from markupsafe import Markup

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.layout import HIDDEN, Disc, Layer, Shape, layout
from webapp.drawings.sheet.canvas import Canvas, Theme, outline

MARGIN = 10.0  # mm around the flute
LINE = 0.2  # mm


def layout_svg(flute: Instrument, title: str) -> Markup:
    """The flute from above; one user unit is one millimetre of the flute, x = 0 at the splitting edge."""
    shapes = layout(flute)
    canvas = Canvas(Theme.PAPER)
    for layer, members in groupby(shapes, key=lambda shape: shape.layer):
        canvas.open(layer.value)
        for shape in members:
            _draw(canvas, shape)
        canvas.close()
    points = [point for shape in shapes if not isinstance(shape, Disc) for point in shape.points]
    left, right = min(x for x, _ in points) - MARGIN, max(x for x, _ in points) + MARGIN
    high = max(y for _, y in points) + MARGIN
    said = "1:1 in millimetres. x = 0 at the splitting edge, positive toward the foot."
    return canvas.svg((left, -high, right - left, 2 * high), title, said, "layout")


def _draw(canvas: Canvas, shape: Shape) -> None:
    if isinstance(shape, Disc):
        canvas.circle(*shape.centre, shape.diameter / 2, "none", "ink", LINE)
        return
    dashes = "6 1.2 1.2 1.2" if shape.layer is Layer.CENTRE_LINE else "1.8 0.9" if shape.layer in HIDDEN else ""
    # On the sheet y runs down: the flute is the same either way up.
    how: dict[str, float | str] = {"stroke_dasharray": dashes} if dashes else {}
    canvas.path(outline(shape.points) + ("Z" if shape.closed else ""), "none", "ink", LINE, **how)
