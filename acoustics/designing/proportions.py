"""Bore, wall, window and flue to start from for a key, each with its reason.

No published source gives proportions for two-chamber flutes. The figures below are common practice where
marked so; what physics says about them is named beside each.
"""

import math
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from acoustics.blowing.jet import blowing_pressure, settled_speed
from acoustics.flute.instrument import Block
from acoustics.model.air import PLAYED_FLUTE
from acoustics.notes.music import check_a4, frequency, parse_key
from acoustics.saying import Saying

COMMON_PRACTICE: Final = "common practice, no published source"

ROUND_NOSE_CUTTERS: Final = (9.525, 12.7, 15.875, 19.05, 22.225, 25.4, 28.575, 31.75)
"""Diameters in mm (3/8 to 1 1/4 inch by eighths) of the round-nose cutters that mill half bores."""

_BORE_AT_A4: Final = 19.05
_BORE_EXPONENTS: Final = (0.55, 0.7)
"""How the bore follows the wavelength below and above A4: fingers, which do not grow, keep low flutes narrow."""
_WINDOW_BORE: Final = 15.9

USUAL_BORES: Final = (15.0, 28.0)
"""Half a wavelength of the key over the bore: the range that defaults keep to and beyond which a design warns (common
practice, no published source)."""
LAND: Final = 3.0
"""Wood on either side of the flue that the block seals upon, mm (common practice, no published source)."""
FINGER_DEPTH: Final = 1.0
FINGER_SPREAD: Final = 0.5
"""mm by which pads of fingers bulge into closed holes, and its standard deviation from hand to hand: estimates. Dickens
2007 (thesis, University of New South Wales, eq. 4.13) has some 0.55 hole radii, 2 mm here, from series terms: an upper
bound. A shop learns its own."""
_THINNEST: Final = 0.5
"""Share of the wall that planing leaves at the window at least."""
_NARROWEST: Final = 0.7
"""Share of the window's width that the flue has at least, where the seat is too narrow for more."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A size in mm (or degrees for the edge), with its reason and source."""

    name: str
    value: float
    reason: str | Saying
    source: str = COMMON_PRACTICE

    def to_json(self) -> dict[str, Any]:
        """As JSON."""
        return {"name": self.name, "value": self.value, "reason": str(self.reason), "source": self.source}


@dataclass(frozen=True, slots=True)
class Head:
    """The sizes of a head that must be chosen together, in mm; `land` is the wood of the seat beside the flue.

    `seat` is the width of the flat (of the body where it is square), 0 where nothing is planed.
    """

    window_width: float
    window_wall: float
    flue_depth: float
    flue_width: float
    edge_height: float
    seat: float
    block: Block

    @property
    def land(self) -> float:
        """Wood beside the flue, on either side; below 0 where the flue is wider than the seat."""
        return 0.5 * (self.seat - self.flue_width)


@dataclass(frozen=True, slots=True)
class Proportions:
    """Suggested sizes of a flute in mm; `reasons` has one entry for each."""

    bore: float
    wall: float
    window_length: float
    window_width: float
    window_wall: float
    edge_angle: float
    edge_height: float
    stub: float
    flue_depth: float
    flue_width: float
    flue_length: float
    chamber_length: float
    block: Block
    finger_depth: float
    land: float
    reasons: tuple[Suggestion, ...]


def suggest(
    key: str,
    a4: float = 440.0,
    bore: float | None = None,
    wall: float | None = None,
    outside: Literal["round", "flat"] = "round",
) -> Proportions:
    """Proportions for a key; a bore or wall that is already chosen is kept and the rest follows it.

    Lengths in mm. Raises InvalidInput for a key or pitch standard that is refused.
    """
    root = frequency(parse_key(key), check_a4(a4))
    return proportions(root, bore, wall, outside)


def usual_bore(root: float) -> float:
    """The round-nose cutter for a fundamental in Hz: the nearest to the wished bore within `USUAL_BORES`."""
    wished = _BORE_AT_A4 * (440.0 / root) ** _BORE_EXPONENTS[root > 440.0]
    fitting = [d for d in ROUND_NOSE_CUTTERS if USUAL_BORES[0] <= half_wave(root) / d <= USUAL_BORES[1]]
    return min(fitting or ROUND_NOSE_CUTTERS, key=lambda d: abs(d / wished - wished / d))


def half_wave(root: float) -> float:
    """Half a wavelength in mm of a fundamental in Hz, at the usual speed of sound in a played flute."""
    return 1000.0 * 345.0 / (2.0 * root)


def head(
    bore: float,
    wall: float,
    outside: Literal["round", "flat"],
    window_length: float,
    flue_length: float,
    window_width: float | None = None,
    window_wall: float | None = None,
) -> Head:
    """Window, flat, flue, edge and block together: the flat is planed so deep that the block can seal beside the flue.

    A flat `depth` deep on a body of radius R is 2 sqrt(R^2 - (R - depth)^2) wide. A width or wall that is chosen is
    kept; where the flat is too narrow then, the flue is made narrower, and where that is not enough the land is short.
    """
    flue_depth = round(window_length / 6.9, 2)
    width = round(0.55 * bore, 1) if window_width is None else window_width
    flue = round(0.87 * width, 1)
    inside, body = 0.5 * bore, 0.5 * bore + wall
    if outside == "flat":
        thickness = wall if window_wall is None else window_wall
        seat = 2.0 * body
    else:
        wished = math.sqrt(max(body**2 - (0.5 * flue + LAND) ** 2, inside**2)) - inside
        least = max(flue_depth + 1.0, _THINNEST * wall)
        usual = min(max(math.floor(10.0 * wished) / 10.0, round(least, 1)), wall)
        thickness = usual if window_wall is None else window_wall
        seat = 2.0 * math.sqrt(max(body**2 - (inside + thickness) ** 2, 0.0))
    narrowest = min(flue, _NARROWEST * width)
    flue = max(min(flue, math.floor(10.0 * (seat - 2.0 * LAND)) / 10.0), round(narrowest, 1))
    across = (
        min(math.floor(2.0 * seat) / 2.0, round(flue + 4.0 * LAND, 1))
        if seat > 2.0 * window_length
        else round(width, 1)
    )
    block = Block(float(round(0.75 * bore)), min(across, round(1.6 * bore, 1), 2.0 * body), 2.0 * flue_length)
    edge = max(0.0, round(thickness - flue_depth, 1))
    return Head(width, thickness, flue_depth, min(flue, width), edge, seat, block)


def proportions(
    root: float,
    bore: float | None = None,
    wall: float | None = None,
    outside: Literal["round", "flat"] = "round",
    window_length: float | None = None,
    window_width: float | None = None,
    window_wall: float | None = None,
) -> Proportions:
    """As `suggest`, from the fundamental `root` in Hz; sizes of the window that are chosen are kept as well."""
    if bore is None:
        bore = usual_bore(root)
    if wall is None:
        wall = round(min(6.4, max(4.0, 0.28 * bore), 0.5 * bore), 1)
    size = bore / _WINDOW_BORE
    cut_up = round(5.5 * size**0.6, 1) if window_length is None else window_length
    flue_length = round(22.0 * size**0.5, 0)
    made = head(bore, wall, outside, cut_up, flue_length, window_width, window_wall)
    found = Proportions(
        bore=bore,
        wall=wall,
        window_length=cut_up,
        window_width=made.window_width,
        window_wall=made.window_wall,
        edge_angle=30.0,
        edge_height=made.edge_height,
        stub=3.0,
        flue_depth=made.flue_depth,
        flue_width=made.flue_width,
        flue_length=flue_length,
        chamber_length=round(150.0 * size**0.5, 0),
        block=made.block,
        finger_depth=round(min(FINGER_DEPTH, 0.5 * wall), 2),
        land=made.land,
        reasons=(),
    )
    return replace(found, reasons=(*_bore_reasons(root, found), *_head_reasons(outside, found, made)))


def _bore_reasons(root: float, p: Proportions) -> tuple[Suggestion, ...]:
    low, high = USUAL_BORES
    pressure = blowing_pressure(settled_speed(root, p.window_length), PLAYED_FLUTE, p.flue_depth, p.flue_length)
    return (
        Suggestion(
            "bore",
            p.bore,
            Saying(
                f"half a wavelength is {{0}}, {half_wave(root) / p.bore:.0f} bores: {low:.0f} to {high:.0f} is usual. "
                "A longer, narrower bore jumps to the octave sooner, a shorter, wider one takes more breath and its "
                "octaves come out wider. A size of common round-nose cutters.",
                (round(half_wave(root)),),
            ),
        ),
        Suggestion(
            "wall",
            p.wall,
            "somewhat over a quarter of the bore: thick enough that a flat can be planed that the block seals on, thin "
            "enough that open holes vent well",
        ),
        Suggestion(
            "window length",
            p.window_length,
            "the cut-up grows more slowly than the bore, so that small flutes have a relatively long one and are blown "
            f"harder: the key sounds at its resonance when blown at about {pressure:.0f} Pa, "
            "give or take a factor of two.",
            "de la Cuadra 2005 for the speed of the jet's wave, from memory, which takes a quarter of a period to the "
            "edge there; the size is " + COMMON_PRACTICE,
        ),
        Suggestion("stub", p.stub, "a little room between plug and window keeps chips and moisture out of the flue"),
        Suggestion("flue length", p.flue_length, "long enough to make the jet even, short enough not to clog"),
        Suggestion(
            "slow air chamber length", p.chamber_length, "room for the upper hand and to let breath moisture settle"
        ),
        Suggestion(
            "finger depth",
            p.finger_depth,
            Saying(
                "how far the pads of the fingers bulge into the holes that they close, give or take {0}: it makes the "
                "low notes a few cents sharper, and a shop learns its own",
                (FINGER_SPREAD,),
            ),
            "an estimate; Dickens 2007, thesis, eq. 4.13, gives twice as much as an upper bound",
        ),
    )


def _head_reasons(outside: str, p: Proportions, made: Head) -> tuple[Suggestion, ...]:
    depth = round(p.wall - p.window_wall, 2)
    flat = "the body's own flat face" if outside == "flat" else "the flat that this depth of planing leaves"
    return (
        Suggestion(
            "window width", p.window_width, "somewhat over half the bore: what a flue with land beside it allows"
        ),
        Suggestion(
            "planing depth",
            depth,
            "nothing is planed: the body is flat already"
            if outside == "flat"
            else Saying("so deep that the flat is as wide as the flue and {0} of land on either side", (LAND,)),
        ),
        Suggestion("window wall", p.window_wall, "what planing leaves of the wall; never less than half of it"),
        Suggestion(
            "seat width",
            round(made.seat, 1),
            Saying(
                f"{flat}; beside the flue {{0}} are left on either side for the block to seal on", (round(p.land, 1),)
            ),
        ),
        Suggestion(
            "flue depth",
            p.flue_depth,
            f"the cut-up is {p.window_length / p.flue_depth:.1f} flue depths: recorders stand near 4, organ pipes "
            "at 8 to 15",
            "Fletcher and Rossing, The Physics of Musical Instruments (1998), for the range, from memory",
        ),
        Suggestion("flue width", p.flue_width, "narrower than the window, so that all of the jet meets the edge"),
        Suggestion("edge angle", p.edge_angle, "a sharp edge that still stands up to cleaning"),
        Suggestion(
            "edge height",
            p.edge_height,
            "the tip of the edge about level with the floor of the flue: wall at the window less flue depth",
        ),
        Suggestion("block height", p.block.height, "heavy enough to tie down; a higher one hardly changes the pitch"),
        Suggestion(
            "block width",
            p.block.width,
            "as wide as its seat, at most twice the land beside the flue, so that it seals all along",
        ),
        Suggestion("block length", p.block.length, "twice the flue: it covers the flue and its entrance"),
        Suggestion(
            "block setback",
            p.block.setback,
            Saying(
                "its end flush with the window's flue edge; {0} back is worth 3 cents: measure it at the bench", (0.5,)
            ),
            "own finite elements for the 3 cents; the place is " + COMMON_PRACTICE,
        ),
    )
