"""Sizes that no pattern says and every maker needs, from the pattern's own: at the mouth end, under the block, in the
halves. Common practice, no published source, where nothing else is said. All in mm.
"""

from dataclasses import dataclass
from math import ceil, floor, radians, sqrt, tan

from acoustics.flute.instrument import Instrument

MOUTH_END = 12.0
"""Solid wood before the slow air chamber, with the breath hole through it."""
BREATH_HOLE = 8.0
"""Across: five or more times the area of the flue, so that the flue alone holds the breath back."""
EXIT = 8.0
"""Along the axis: the hole that lets the air up out of the chamber into the flue."""
SEAT_BEHIND = 4.0
"""How far the flat runs back past the block."""
SEAT_PAST = 3.0
"""How far the flat runs on past the ramp of the splitting edge; how far hardly matters to the pitch (own elements)."""


@dataclass(frozen=True, slots=True)
class Halves:
    """How the two halves are milled: how deep each channel, by which round-nose cutter."""

    bore_depth: float
    chamber_depth: float | None
    cutters: tuple[float, ...]


def edge_height(flute: Instrument) -> float:
    """How far the tip of the splitting edge lies above the bore: as the pattern says, and where it does not say, level
    with the floor of the flue, which is where a jet finds it."""
    said = flute.window.edge_height
    if said > 0.0 or flute.flue is None:
        return said
    return max(0.0, flute.window_wall - flute.flue.depth)


def edge_ramp(flute: Instrument) -> float:
    """How far the ramp of the splitting edge runs toward the foot; 0 for an edge without a ramp."""
    angle = flute.window.edge_angle
    return 0.0 if angle >= 90 else (flute.window_wall - edge_height(flute)) / tan(radians(angle))


def flat_height(flute: Instrument) -> float:
    """Height over the axis of the flat that carries the block and holds the window."""
    return flute.bore_diameter(0.0) / 2 + flute.window_wall


def planing_depth(flute: Instrument) -> float:
    """How deep the flat is planed below the outside; 0 where nothing is."""
    return max(0.0, flute.body.wall - flute.window_wall)


def seat_width(flute: Instrument) -> float | None:
    """Width of the flat under the block; None on a round body that nothing is planed off."""
    radius, flat = flute.bore_diameter(0.0) / 2 + flute.body.wall, flat_height(flute)
    if flute.body.outside == "flat":
        return 2 * radius
    return 2 * sqrt(radius**2 - flat**2) if flat < radius else None


def block_place(flute: Instrument) -> tuple[float, float]:
    """Where the block stands along the axis: over flue and exit hole, its end at the window less its setback."""
    window = -flute.window.length
    if flute.block is not None:
        end = window - flute.block.setback
        return end - flute.block.length, end
    return window - (flute.flue.length if flute.flue else 18.0) - EXIT - 4.0, window


def seat_place(flute: Instrument) -> tuple[float, float]:
    """Where the flat begins and ends along the axis, on whole millimetres."""
    start = block_place(flute)[0]
    if flute.flue is not None:
        start = min(start, -flute.window.length - flute.flue.length - EXIT)
    return float(floor(start - SEAT_BEHIND)), float(ceil(edge_ramp(flute) + SEAT_PAST))


def exit_place(flute: Instrument) -> tuple[float, float] | None:
    """Where the exit hole begins and ends along the axis: up to where the flue begins."""
    if flute.flue is None or flute.chamber is None:
        return None
    start = -flute.window.length - flute.flue.length
    return start - EXIT, start


def overall_length(flute: Instrument) -> float:
    """From the mouth end to the foot."""
    above = flute.window.length + flute.flue.length if flute.flue else -flute.plug_x
    return flute.foot_x + above + (flute.chamber.length if flute.chamber else 0.0) + MOUTH_END


def halves(flute: Instrument) -> Halves:
    """Each half takes half of every channel; a cutter as wide as the channel mills it round."""
    chamber = flute.chamber.diameter if flute.chamber else None
    widths = {diameter for _, diameter in flute.bore} | ({chamber} if chamber else set())
    depth = max(diameter for _, diameter in flute.bore) / 2
    return Halves(depth, chamber / 2 if chamber else None, tuple(sorted(widths)))
