"""The layout as a DXF file, 1:1 in millimetres, for saws, engravers and drawing programs that cut from one."""

from io import StringIO

from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.layout import HIDDEN, Disc, Layer, layout

_WORDS = "words"
# By the colour index of the DXF reference: 1 red, 5 blue, 7 black or white, 8 grey.
_COLOURS = {Layer.CENTRE_LINE: 1, Layer.WINDOW: 5, Layer.FLUE: 5}


def layout_dxf(flute: Instrument, title: str) -> str:
    """The text of a DXF file (release R2010): one layer for each kind of part, x = 0 at the splitting edge.

    `title` is set below the flute, on a layer of its own that can be switched off.
    """
    drawing = new("R2010", setup=["linetypes"])
    drawing.units = units.MM
    drawing.header["$MEASUREMENT"] = 1
    for layer in Layer:
        line = "CENTER" if layer is Layer.CENTRE_LINE else "DASHED" if layer in HIDDEN else "CONTINUOUS"
        drawing.layers.add(layer.value, color=8 if layer in HIDDEN else _COLOURS.get(layer, 7), linetype=line)
    drawing.layers.add(_WORDS, color=8)
    space = drawing.modelspace()
    lowest = 0.0
    for shape in layout(flute):
        on = {"layer": shape.layer.value}
        if isinstance(shape, Disc):
            space.add_circle(shape.centre, shape.diameter / 2, dxfattribs=on)
        else:
            space.add_lwpolyline(shape.points, close=shape.closed, dxfattribs=on)
            lowest = min(lowest, *(y for _, y in shape.points))
    words = "".join(c if c.isprintable() else " " for c in title)
    said = f"{words}. 1:1, mm, x = 0 at the splitting edge."
    text = space.add_text(said, height=3.5, dxfattribs={"layer": _WORDS})
    text.set_placement((0.0, lowest - 8.0), align=TextEntityAlignment.LEFT)
    written = StringIO()
    drawing.write(written)
    return written.getvalue()
