"""The dimensions of a flute as rows, and as a CSV file for a spreadsheet."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from acoustics.flute.instrument import Hole, Instrument
from webapp.shop.base.spreadsheets import harmless, written
from webapp.shop.units.lengths import show_fraction


@dataclass(frozen=True, slots=True)
class Row:
    """One dimension; `value` in mm, or in degrees where `unit` says so. `place` finds it again in another flute."""

    part: str
    name: str
    value: float
    unit: str = "mm"

    @property
    def place(self) -> tuple[str, str]:
        return self.part, self.name


def rows(flute: Instrument) -> list[Row]:
    """All dimensions, in the order of the air's path. Positions run from the splitting edge."""
    return list(_rows(flute))


def _rows(flute: Instrument) -> Iterator[Row]:
    if flute.chamber:
        yield Row("slow air chamber", "length", flute.chamber.length)
        yield Row("slow air chamber", "diameter", flute.chamber.diameter)
    if flute.block:
        yield Row("block", "height", flute.block.height)
        yield Row("block", "width", flute.block.width)
        yield Row("block", "length", flute.block.length)
        yield Row("block", "setback from the window", flute.block.setback)
    if flute.body.outside == "round" and flute.seat_width:
        yield Row("seat", "width", round(flute.seat_width, 2))
        yield Row("seat", "planing depth", round(flute.body.wall - flute.window_wall, 3))
    if flute.flue:
        yield Row("flue", "length", flute.flue.length)
        yield Row("flue", "width", flute.flue.width)
        yield Row("flue", "depth", flute.flue.depth)
    yield Row("plug", "face at", flute.plug_x)
    yield Row("window", "length (cut-up)", flute.window.length)
    yield Row("window", "width", flute.window.width)
    yield Row("window", "wall", flute.window_wall)
    if flute.window.edge_height:
        yield Row("splitting edge", "height above the bore", flute.window.edge_height)
    yield Row("splitting edge", "angle", flute.window.edge_angle, "degrees")
    if len({diameter for _, diameter in flute.bore}) == 1:
        yield Row("bore", "diameter", flute.bore[0][1])
    else:
        for number, (x, diameter) in enumerate(flute.bore, 1):
            yield Row("bore", f"point {number} at", x)
            yield Row("bore", f"point {number} diameter", diameter)
    yield Row("outside", "wall", flute.body.wall)
    for number, hole in enumerate(flute.holes, 1):
        yield from _hole(f"finger hole {number}", hole)
    for number, hole in enumerate(flute.foot_holes, 1):
        yield from _hole(f"foot hole {number}", hole)
    yield Row("foot", "at", flute.foot_x)
    if flute.finger:
        yield Row("fingers", "pad bulges by", flute.finger.depth)


def _hole(part: str, hole: Hole) -> Iterator[Row]:
    yield Row(part, "at", hole.x)
    yield Row(part, "diameter", hole.diameter)
    if hole.wall is not None:
        yield Row(part, "wall", hole.wall)
    if hole.undercut:
        yield Row(part, "undercut", hole.undercut)
    if hole.rim:
        yield Row(part, "rim rounded to", hole.rim)


def as_csv(flute: Instrument, pattern: str, revision: int, comma: bool = False) -> str:
    """A line for each dimension, with its pattern, in mm and in inches.

    Text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    lines: list[list[Any]] = [["pattern", "revision", "part", "dimension", "mm", "inch", "to 1/64 inch", "degrees"]]
    for row in rows(flute):
        value = Decimal(f"{row.value:.10g}")
        inch = Decimal(f"{row.value / 25.4:.5f}")
        lengths = ["", "", "", value] if row.unit == "degrees" else [value, inch, _fraction(row), ""]
        lines.append([harmless(pattern), revision, row.part, row.name, *lengths])
    return written(lines, comma)


def _fraction(row: Row) -> str:
    return harmless(show_fraction(row.value))
