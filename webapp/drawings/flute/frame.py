"""From millimetres of the flute to millimetres of the sheet."""

import itertools
import math
from dataclasses import dataclass

from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.parts import Parts, outside
from webapp.models import Units
from webapp.shop.routings.making import flat_height, seat_place
from webapp.shop.units.lengths import show_length

# Reductions that a rule in the shop can still be laid on: whole and half numbers.
SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)

MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class Frame:
    """One view: the flute's x = 0 lies at `origin`, its axis at `axis` on the sheet; `scale` 2.0 means 1:2."""

    origin: float
    axis: float
    scale: float

    def x(self, x: float) -> float:
        return self.origin + x / self.scale

    def y(self, y: float) -> float:
        """`y` is positive toward the side with the holes, so up on the sheet in a section."""
        return self.axis - y / self.scale

    def at(self, points: list[tuple[float, float]]) -> list[tuple[float, float]]:
        return [(self.x(x), self.y(y)) for x, y in points]


def fitting_scale(length: float, room: float) -> float:
    """The largest scale at which `length` [mm] fits into `room` [mm of the sheet]. Raises ValueError if none does."""
    for scale in SCALES:
        if length / scale <= room + 1e-9:
            return scale
    raise ValueError(f"width: {length:.0f} mm do not fit on a sheet {room:.0f} mm wide at 1:{SCALES[-1]:g}")


def metric(mm: float, places: int = 1) -> str:
    """A length in mm as the drawings write it: '132.0', '−5.5'. Of 2 places the second stands only where needed."""
    text = f"{abs(mm):.{places}f}"
    if places == 2:
        text = text.removesuffix("0")
    return text if mm >= 0 or float(text) == 0 else MINUS + text


def measure(mm: float, units: Units, places: int = 1) -> list[str]:
    """A length as lines of text, the unit left out: millimetres, or inches as they are measured."""
    text = metric(mm, places)
    if float(text.replace(MINUS, "-")) == 0:
        return ["0"]
    if units is Units.MM:
        return [text]
    return [show_length(mm, Units.INCH)]


def measure_inline(mm: float, units: Units) -> str:
    """A length in one line: '15.9' or '5/8"'."""
    return measure(mm, units, 2)[0]


def fine(mm: float, units: Units) -> str:
    """A size as a gauge or a file meets it: '0.88', or '0.035"'."""
    return f'{mm / 25.4:.3f}"' if units is Units.INCH else metric(mm, 2)


def seat(instrument: Instrument, place: Parts) -> tuple[float, float] | None:
    """The flat that the block sits on, where the wall at the window is not that of the body: from, to [mm]."""
    if instrument.window_wall == instrument.body.wall:
        return None
    start, end = seat_place(instrument)
    return max(place.mouth, start), min(place.bore[1], end)


def upper_surface(instrument: Instrument, place: Parts) -> list[tuple[float, float]]:
    """Height of the upper outside over the axis along x [mm], with a step where the wall has a value of its own."""
    flat, level = seat(instrument, place), flat_height(instrument)
    own: list[tuple[float, float, float]] = [] if flat is None else [(*flat, 0.0)]  # from, to, lower than the outside
    for hole in (*instrument.holes, *instrument.foot_holes):
        if hole.wall is not None and hole.wall != instrument.body.wall:
            reach = hole.diameter / 2 + hole.undercut + 3
            less = instrument.body.wall - hole.wall
            own.append((max(place.mouth, hole.x - reach), min(place.bore[1], hole.x + reach), less))
    cuts = {place.mouth, place.plug[1], place.bore[1], *(x for low, high, _ in own for x in (low, high))}
    cuts |= {x for x, _ in instrument.bore}
    stops = sorted(x for x in cuts if place.mouth <= x <= place.bore[1])
    points: list[tuple[float, float]] = []
    for low, high in itertools.pairwise(stops):
        inside = [less for start, end, less in own if start <= low and high <= end]
        less = inside[-1] if inside else 0.0
        # The flat is parallel to the axis, however the outside runs.
        most = level if flat and flat[0] <= low and high <= flat[1] else math.inf
        for x in (low + 1e-9, high - 1e-9):
            points.append((round(x, 6), min(most, outside(instrument, x) / 2 - less)))
    return points


def lower_surface(instrument: Instrument, place: Parts) -> list[tuple[float, float]]:
    """Depth of the lower outside under the axis along x [mm], positive."""
    stops = sorted({place.mouth, place.plug[1], *(x for x, _ in instrument.bore if x > place.mouth)})
    return [
        (round(x, 6), outside(instrument, x) / 2)
        for low, high in itertools.pairwise(stops)
        for x in (low + 1e-9, high - 1e-9)
    ]


def height_at(surface: list[tuple[float, float]], x: float) -> float:
    """Height of such a surface at `x`, by straight lines between its points."""
    for (x1, y1), (x2, y2) in itertools.pairwise(surface):
        if x1 <= x <= x2 and x2 > x1:
            return y1 + (y2 - y1) * (x - x1) / (x2 - x1)
    return surface[0][1] if x < surface[0][0] else surface[-1][1]


def spans_above(surface: list[tuple[float, float]], y: float) -> list[tuple[float, float]]:
    """Where along x the surface is higher than `y`: for lines that must end at the outside."""
    found: list[tuple[float, float]] = []
    for (x1, y1), (x2, y2) in itertools.pairwise(surface):
        if x2 <= x1 or max(y1, y2) <= y:
            continue
        start, end = x1, x2
        if min(y1, y2) < y:
            crossing = x1 + (x2 - x1) * (y - y1) / (y2 - y1)
            start, end = (x1, crossing) if y1 > y else (crossing, x2)
        if found and abs(found[-1][1] - start) < 1e-6:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found
