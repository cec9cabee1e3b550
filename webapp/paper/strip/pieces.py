"""The layout strip: which stretch of the flute goes on which piece of paper, and what is marked on it."""

from dataclasses import dataclass

from acoustics.designing.starting import StartSizes
from acoustics.flute.instrument import Instrument
from webapp.drawings.flute.parts import parts
from webapp.shop.routings.making import edge_ramp, exit_place, seat_place, seat_width

OVERLAP = 6.0  # mm of paper beyond a register mark, on either side
CLEAR = 9.0  # mm that a register mark keeps from a hole's rim or the window, where there is room for it
END = 4.0  # mm of paper beyond the first and the last mark


@dataclass(frozen=True, slots=True)
class Mark:
    """Something to be found on the wood at `x` [mm from the splitting edge].

    Of a hole `diameter` is its finished size, and `first` what is drilled now, where that is known.
    """

    x: float
    name: str
    diameter: float | None = None
    number: int | None = None
    first: float | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """One stretch of the strip, from `start` to `end` [mm]; register marks `left` and `right` where it goes on."""

    start: float
    end: float
    left: tuple[str, float] | None
    right: tuple[str, float] | None

    @property
    def paper(self) -> tuple[float, float]:
        """Where the paper itself begins and ends [mm]."""
        return self.start - (OVERLAP if self.left else END), self.end + (OVERLAP if self.right else END)


def marks(flute: Instrument, start: StartSizes | None = None) -> list[Mark]:
    """All that is marked, from the mouth end to the foot, with what it is begun with (`start`)."""
    place = parts(flute)
    found = [Mark(place.plug[1], "plug face"), Mark(place.window[0], "window from")]
    found.append(Mark(0.0, "edge: window to"))
    found.append(Mark(flute.foot_x, "foot, finished"))
    if start and start.foot_first > flute.foot_x:
        found.append(Mark(start.foot_first, "saw foot here now"))
    if ramp := edge_ramp(flute):
        found.append(Mark(ramp, "ramp to"))
    if seat_width(flute) is not None:
        before, behind = seat_place(flute)
        found += [Mark(max(before, place.mouth), "seat from"), Mark(min(behind, flute.foot_x), "seat to")]
    if way := exit_place(flute):
        found.append(Mark(way[0], "exit hole from"))
    if place.chamber:
        found += [Mark(place.chamber[0], "chamber from"), Mark(place.chamber[1], "chamber to")]
    if place.flue:
        found.append(Mark(place.flue[0], "flue from"))
    first = [hole.first for hole in start.holes] if start else [None for _ in flute.holes]
    found += [
        Mark(hole.x, f"hole {n}", hole.diameter, n, now)
        for n, (hole, now) in enumerate(zip(flute.holes, first, strict=True), 1)
    ]
    found += [Mark(hole.x, "foot hole", hole.diameter) for hole in flute.foot_holes]
    return sorted(found, key=lambda mark: mark.x)


def pieces(flute: Instrument, room: float, start_sizes: StartSizes | None = None) -> list[Piece]:
    """The strip in as few pieces as fit a sheet with `room` mm between its margins. Raises ValueError below 60 mm.

    Where a piece goes on to the next one, the register mark keeps clear of holes and window if it can.
    """
    if room < 60:
        raise ValueError(f"room: {room:g} mm are too few for a strip")
    found = marks(flute, start_sizes)
    start, end = found[0].x, found[-1].x
    result: list[Piece] = []
    left: tuple[str, float] | None = None
    while True:
        whole = room - (OVERLAP if left else END) - END
        if end - start <= whole:
            return [*result, Piece(start, end, left, None)]
        longest = start + whole + END - OVERLAP
        at = _joint(flute, longest, longest - room / 4)
        right = (chr(ord("A") + len(result)), at)
        result.append(Piece(start, at, left, right))
        start, left = at, right


def _joint(flute: Instrument, longest: float, shortest: float) -> float:
    """The place nearest to `longest`, on a whole millimetre, where a register mark stands clear."""
    taken = [(hole.x - hole.diameter / 2, hole.x + hole.diameter / 2) for hole in (*flute.holes, *flute.foot_holes)]
    taken.append((flute.plug_x, 2.0 * flute.window_wall))
    at = float(longest // 1)
    for clear in (CLEAR, CLEAR / 2, 1.0):
        x = at
        while x >= shortest:
            if all(x < low - clear or x > high + clear for low, high in taken):
                return x
            x -= 1.0
    return at
