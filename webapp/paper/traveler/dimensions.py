"""The holes of a pattern as a table; the other sizes stand on the drawing itself."""

from dataclasses import dataclass

from acoustics.flute.instrument import Hole, Instrument
from webapp.models import Units
from webapp.paper.press.measures import millimetres
from webapp.shop.units.lengths import show_cut, show_fraction, show_gauge


@dataclass(frozen=True, slots=True)
class HoleTable:
    """Heads and rows, ready to print; the first cell of a row names the hole."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def hole_table(flute: Instrument, units: Units) -> HoleTable:
    """Finger holes, then foot holes, from the mouth end down: centre from the splitting edge, and diameter.

    In inches a centre is given to the nearest 1/64 in, as it is laid out, and a diameter as calipers show it.
    """
    undercut = any(hole.undercut for hole in (*flute.holes, *flute.foot_holes))
    last = ("undercut",) if undercut else ()
    heads: tuple[str, ...] = ("hole", "from edge", "from last", "diameter")
    rows = []
    before: Hole | None = None
    for name, hole in _named(flute):
        cells: tuple[str, ...]
        if units is Units.INCH:
            gap = "" if before is None else show_fraction(hole.x - before.x)
            cells = (show_fraction(hole.x), gap, show_cut(hole.diameter, units))
        else:
            gap = "" if before is None else millimetres(hole.x - before.x)
            cells = (millimetres(hole.x), gap, millimetres(hole.diameter))
        rows.append((name, *cells, *((_undercut(hole.undercut, units),) if undercut else ())))
        before = hole
    return HoleTable((*heads, *last), tuple(rows))


def _undercut(mm: float, units: Units) -> str:
    if not mm:
        return ""
    return show_gauge(mm, units) if units is Units.INCH else millimetres(mm)


def _named(flute: Instrument) -> list[tuple[str, Hole]]:
    several = len(flute.foot_holes) > 1
    fingers = [(str(number), hole) for number, hole in enumerate(flute.holes, 1)]
    return fingers + [(f"foot {n}" if several else "foot", hole) for n, hole in enumerate(flute.foot_holes, 1)]
