"""The layout of a flute seen from above, in its own millimetres: shapes on layers named with the trade's words.

What the saw, the scribe or a cutting program needs: x runs along the centre line from 0 at the splitting edge, positive
toward the foot; y runs across. The files for drawing programs are all made from these shapes.
"""

from dataclasses import dataclass
from enum import StrEnum

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.frame import lower_surface
from webapp.drawings.flute.parts import parts
from webapp.shop.routings.making import exit_place, seat_place, seat_width


class Layer(StrEnum):
    """What a shape is part of."""

    OUTLINE = "outline"
    CENTRE_LINE = "centre line"
    CHAMBER = "slow air chamber"
    PLUG = "plug"
    SEAT = "seat"
    EXIT_HOLE = "exit hole"
    FLUE = "flue"
    WINDOW = "window"
    BORE = "bore"
    FINGER_HOLES = "finger holes"
    FOOT_HOLES = "foot holes"
    FOOT = "foot"


HIDDEN = (Layer.CHAMBER, Layer.PLUG, Layer.BORE)
"""Inside the wood: drawn with dashes."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Run:
    """Straight lines from point to point [mm]; `closed` joins the last to the first."""

    layer: Layer
    points: tuple[Point, ...]
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Disc:
    """A hole seen from above [mm]."""

    layer: Layer
    centre: Point
    diameter: float


Shape = Run | Disc

BEYOND = 5.0  # mm that the centre line runs out past the wood


def layout(flute: Instrument) -> list[Shape]:
    """Every shape of the layout, from the mouth end to the foot."""
    place = parts(flute)
    half = [(x, abs(y)) for x, y in lower_surface(flute, place)]
    shapes: list[Shape] = [
        Run(Layer.OUTLINE, (*half, *((x, -y) for x, y in reversed(half)))),
        Run(Layer.CENTRE_LINE, ((place.mouth - BEYOND, 0.0), (flute.foot_x + BEYOND, 0.0)), closed=False),
    ]
    if place.chamber and flute.chamber:
        shapes.append(_box(Layer.CHAMBER, place.chamber, flute.chamber.diameter))
    shapes.append(_box(Layer.PLUG, place.plug, flute.bore[0][1]))
    if width := seat_width(flute):
        start, end = seat_place(flute)
        shapes.append(_box(Layer.SEAT, (max(start, place.mouth), min(end, flute.foot_x)), width))
    if place.flue and flute.flue:
        if way := exit_place(flute):
            shapes.append(_box(Layer.EXIT_HOLE, way, flute.flue.width))
        shapes.append(_box(Layer.FLUE, place.flue, flute.flue.width))
    shapes.append(_box(Layer.WINDOW, place.window, flute.window.width))
    bore = [(x, d / 2) for x, d in flute.bore]
    shapes.append(Run(Layer.BORE, (*bore, *((x, -y) for x, y in reversed(bore)))))
    shapes += [Disc(Layer.FINGER_HOLES, (hole.x, 0.0), hole.diameter) for hole in flute.holes]
    shapes += [Disc(Layer.FOOT_HOLES, (hole.x, 0.0), hole.diameter) for hole in flute.foot_holes]
    across = half[-1][1]
    shapes.append(Run(Layer.FOOT, ((flute.foot_x, across), (flute.foot_x, -across)), closed=False))
    return shapes


def _box(layer: Layer, along: Point, wide: float) -> Run:
    (start, end), y = along, wide / 2
    return Run(layer, ((start, y), (end, y), (end, -y), (start, -y)))
