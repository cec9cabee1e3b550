"""A small typeface of our own for the signs of music that the others lack: sharp, flat and natural.

Without it the system's fonts would supply them, another on each machine.
"""

from functools import cache
from io import BytesIO

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib.tables._g_l_y_f import Glyph

FAMILY = "Flutebench Signs"
UNITS_PER_EM = 1000
Point = tuple[int, int]


def _shape(*outlines: list[Point]) -> Glyph:
    pen = TTGlyphPen(None)
    for first, *others in outlines:
        pen.moveTo(first)
        for point in others:
            pen.lineTo(point)
        pen.closePath()
    return pen.glyph()


def _upright(left: int, bottom: int, right: int, top: int) -> list[Point]:
    return [(left, bottom), (left, top), (right, top), (right, bottom)]


def _bar(left: int, right: int, low: int, rise: int, thick: int) -> list[Point]:
    return [(left, low), (left, low + thick), (right, low + thick + rise), (right, low + rise)]


def _flat() -> Glyph:
    """A stem, and a bowl between two curves."""
    pen = TTGlyphPen(None)
    pen.moveTo((60, 0))
    pen.lineTo((60, 760))
    pen.lineTo((115, 760))
    pen.lineTo((115, 405))
    pen.qCurveTo((190, 470), (260, 470))
    pen.qCurveTo((345, 470), (345, 370))
    pen.qCurveTo((345, 220), (60, 0))
    pen.closePath()
    pen.moveTo((115, 110))  # the other way round: a hole
    pen.qCurveTo((270, 250), (270, 345))
    pen.qCurveTo((270, 410), (225, 410))
    pen.qCurveTo((170, 410), (115, 345))
    pen.closePath()
    return pen.glyph()


@cache
def font_bytes() -> bytes:
    """The typeface, as TrueType."""
    glyphs = {
        ".notdef": _shape(_upright(50, 0, 350, 700)),
        "sharp": _shape(
            _upright(120, -90, 170, 700),
            _upright(270, -40, 320, 750),
            _bar(45, 395, 140, 90, 95),
            _bar(45, 395, 380, 90, 95),
        ),
        "flat": _flat(),
        "natural": _shape(
            _upright(70, 110, 120, 760),
            _upright(270, -100, 320, 550),
            _bar(70, 320, 110, 70, 90),
            _bar(70, 320, 400, 70, 90),
        ),
    }
    widths = {".notdef": 400, "sharp": 440, "flat": 390, "natural": 390}
    font = FontBuilder(UNITS_PER_EM, isTTF=True)
    font.setupGlyphOrder(list(glyphs))
    font.setupCharacterMap({0x266D: "flat", 0x266E: "natural", 0x266F: "sharp"})
    font.setupGlyf(glyphs)
    font.setupHorizontalMetrics({name: (width, glyphs[name].xMin) for name, width in widths.items()})
    # As the typefaces beside it, so that a line with a sign in it is no taller.
    font.setupHorizontalHeader(ascent=750, descent=-250)
    font.setupNameTable({"familyName": FAMILY, "styleName": "Regular"})
    font.setupOS2(sTypoAscender=750, sTypoDescender=-250, usWinAscent=760, usWinDescent=250)
    font.setupPost()
    out = BytesIO()
    font.save(out)
    return out.getvalue()
