"""One piece of the layout strip, drawn at exactly 1:1 between two rulers that start at the splitting edge."""

from math import ceil, floor

from markupsafe import Markup

from acoustics.designing.starting import StartSizes
from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.parts import parts
from webapp.drawings.sheet.canvas import Canvas, Theme
from webapp.drawings.sheet.lettering import spread, text_width
from webapp.models import Units
from webapp.paper.press.measures import INCH, MINUS, millimetres
from webapp.paper.strip.pieces import Mark, Piece, marks
from webapp.shop.routings.making import edge_ramp, exit_place, seat_place, seat_width
from webapp.shop.units.lengths import show_cut, show_fraction

# Heights on the piece, from its upper edge [mm].
UPPER, AXIS, LOWER, BOTTOM = 14.5, 27.5, 40.5, 52.5
TYPE = 2.9
SMALL = 2.3


def strip_svg(flute: Instrument, piece: Piece, units: Units, start: StartSizes | None = None) -> Markup:
    """The piece as an SVG whose every millimetre is a millimetre of the flute; `start` is what it is begun with."""
    low, high = piece.paper
    canvas = Canvas(Theme.PAPER)
    canvas.open("rulers")
    canvas.line(low, UPPER, high, UPPER, "ink", 0.2)
    canvas.line(low, LOWER, high, LOWER, "ink", 0.2)
    _inch_ruler(canvas, low, high)
    _mm_ruler(canvas, low, high)
    canvas.close()
    _parts(canvas, flute, low, high)
    here = [mark for mark in marks(flute, start) if low <= mark.x <= high]
    for mark in here:
        _mark(canvas, mark)
    named = [mark for mark in here if piece.start <= mark.x <= piece.end]
    room = (piece.start + 4.5 if piece.left else low + 0.5, piece.end - 1 if piece.right else high - 0.5)
    _labels(canvas, [mark for mark in named if mark.diameter is not None], units, room, above=True)
    _labels(canvas, [mark for mark in named if mark.diameter is None], units, room, above=False)
    for register in (piece.left, piece.right):
        if register:
            _register(canvas, *register)
    return canvas.svg(
        (low, 0, high - low, BOTTOM),
        f"Layout strip from {low:.0f} to {high:.0f} mm",
        "At exactly 1:1. Inches along the upper edge, millimetres along the lower, zero at the splitting edge.",
        "strip",
    )


def _mm_ruler(canvas: Canvas, low: float, high: float) -> None:
    for mm in range(ceil(low), floor(high) + 1):
        long = 4.0 if mm % 10 == 0 else 3.0 if mm % 5 == 0 else 1.8
        canvas.line(mm, LOWER, mm, LOWER - long, "ink", 0.18 if mm % 10 else 0.25)
        if mm % 10 == 0 and low + 2 < mm < high - 2:
            canvas.text(mm, LOWER - 4.6, _whole(mm), SMALL, "middle")


def _inch_ruler(canvas: Canvas, low: float, high: float) -> None:
    for part in range(ceil(low / INCH * 16), floor(high / INCH * 16) + 1):
        x = part * INCH / 16
        long = 4.0 if part % 16 == 0 else 3.2 if part % 8 == 0 else 2.5 if part % 4 == 0 else 1.6
        canvas.line(x, UPPER, x, UPPER + long, "ink", 0.18 if part % 16 else 0.25)
        if part % 16 == 0 and low + 2 < x < high - 2:
            canvas.text(x, UPPER + 6.0, _whole(part // 16), SMALL, "middle", 600)


def _parts(canvas: Canvas, flute: Instrument, low: float, high: float) -> None:
    """Seat, exit hole, flue, window and ramp in their true size, what is not cut through dashed; the centre line."""
    place = parts(flute)
    canvas.open("parts")
    boxes: list[tuple[tuple[float, float], float, float, bool]] = [(place.window, flute.window.width, 0.35, False)]
    boxes.append(((0.0, edge_ramp(flute)), flute.window.width, 0.15, True))
    if place.flue and flute.flue:
        boxes.append((place.flue, flute.flue.width, 0.2, False))
        if way := exit_place(flute):
            boxes.append((way, flute.flue.width, 0.2, False))
    if across := seat_width(flute):
        boxes.append((seat_place(flute), min(across, LOWER - UPPER), 0.15, True))
    for (start, end), width, line, dashed in boxes:
        how = {"stroke_dasharray": "1.8 0.9"} if dashed else {}
        # Line by line, so that a box that goes on to the next piece ends open at the paper's edge.
        inside = max(start, low), min(end, high)
        if inside[1] <= inside[0]:
            continue
        for y in (AXIS - width / 2, AXIS + width / 2):
            canvas.line(inside[0], y, inside[1], y, "ink", line, **how)
        for x in (start, end):
            if low <= x <= high:
                canvas.line(x, AXIS - width / 2, x, AXIS + width / 2, "ink", line, **how)
    canvas.line(low, AXIS, high, AXIS, "ink", 0.18, stroke_dasharray="8 1.2 1.2 1.2")
    canvas.close()


def _mark(canvas: Canvas, mark: Mark) -> None:
    canvas.open(mark.name)
    if mark.diameter is None:
        heavy = 0.4 if mark.x == 0 else 0.25
        canvas.line(mark.x, UPPER, mark.x, LOWER, "ink", heavy)
    else:
        r = mark.diameter / 2
        if mark.first is None:
            canvas.circle(mark.x, AXIS, r, "none", "ink", 0.25)
        else:
            canvas.circle(mark.x, AXIS, mark.first / 2, "none", "ink", 0.35)
            canvas.circle(mark.x, AXIS, r, "none", "soft", 0.15, stroke_dasharray="1 0.8")
        canvas.line(mark.x, AXIS - r - 1.5, mark.x, AXIS + r + 1.5, "ink", 0.18)
    canvas.close()


def _labels(canvas: Canvas, found: list[Mark], units: Units, room: tuple[float, float], above: bool) -> None:
    """Name and distance of each mark, beside one another, each led to its place."""
    texts = [_words(mark, units) for mark in found]
    widths = [max(text_width(words, TYPE, 600) for words in lines) for lines in texts]
    centres = spread([mark.x for mark in found], widths, *room, 1.5)
    for mark, lines, centre in zip(found, texts, centres, strict=True):
        if above:
            canvas.path(f"M{mark.x:.3f} {UPPER}L{centre:.3f} {UPPER - 3.2}", "none", "soft", 0.15)
        else:
            canvas.path(f"M{mark.x:.3f} {LOWER}L{centre:.3f} {LOWER + 3.2}", "none", "soft", 0.15)
        first = UPPER - 3.8 - 3.3 * (len(lines) - 1) if above else LOWER + 5.8
        for index, words in enumerate(lines):
            canvas.text(centre, first + 3.3 * index, words, TYPE, "middle", 600 if index == 0 else 400)


def _words(mark: Mark, units: Units) -> tuple[str, ...]:
    """Short lines: what it is, where, and how wide it is drilled now and finished."""
    where = show_fraction(mark.x) if units is Units.INCH and mark.x else millimetres(mark.x) if mark.x else "0"
    if mark.diameter is None:
        return mark.name, where

    def across(mm: float) -> str:
        return show_cut(mm, units) if units is Units.INCH else millimetres(mm)

    name = str(mark.number) if mark.number else "foot hole"
    if mark.first is None:
        return f"{name}  end Ø {across(mark.diameter)}", where
    return f"{name}  drill Ø {across(mark.first)}", f"end Ø {across(mark.diameter)}", where


def _register(canvas: Canvas, name: str, x: float) -> None:
    """A line to lay one piece over the other, with a target at both edges of the band."""
    canvas.open(f"register {name}")
    canvas.line(x, 0.5, x, BOTTOM - 0.5, "ink", 0.15)
    for y in (UPPER, LOWER):
        canvas.circle(x, y, 2.2, "none", "ink", 0.15)
        canvas.line(x - 3.6, y, x + 3.6, y, "ink", 0.15)
    canvas.text(x + 0.9, 4.2, name, 3.6, weight=700)
    canvas.text(x + 0.9, BOTTOM - 1.4, name, 3.6, weight=700)
    canvas.close()


def _whole(number: int) -> str:
    return f"{MINUS}{-number}" if number < 0 else str(number)
