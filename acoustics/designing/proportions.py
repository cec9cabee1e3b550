"""Bore, wall, window and flue to start from for a key, each with its reason.

No published source gives proportions for two-chamber flutes. The figures below are common practice where
marked so; what physics says about them is named beside each.
"""

from dataclasses import dataclass
from typing import Any, Final

from acoustics.blowing.jet import blowing_pressure, settled_speed
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
class Proportions:
    """Suggested sizes of a flute in mm; `reasons` has one entry for each."""

    bore: float
    wall: float
    window_length: float
    window_width: float
    window_wall: float
    edge_angle: float
    stub: float
    flue_depth: float
    flue_width: float
    flue_length: float
    chamber_length: float
    reasons: tuple[Suggestion, ...]


def suggest(key: str, a4: float = 440.0, bore: float | None = None, wall: float | None = None) -> Proportions:
    """Proportions for a key; a bore or wall that is already chosen is kept and the rest follows it.

    Lengths in mm. Raises InvalidInput for a key or pitch standard that is refused.
    """
    root = frequency(parse_key(key), check_a4(a4))
    return proportions(root, bore, wall)


def proportions(root: float, bore: float | None = None, wall: float | None = None) -> Proportions:
    """As `suggest`, from the fundamental `root` in Hz."""
    wished = _BORE_AT_A4 * (440.0 / root) ** _BORE_EXPONENTS[root > 440.0]
    if bore is None:
        bore = min(ROUND_NOSE_CUTTERS, key=lambda d: abs(d / wished - wished / d))
    if wall is None:
        wall = round(min(5.6, max(3.2, 0.25 * bore)), 1)
    size = bore / _WINDOW_BORE
    window_length = round(5.5 * size**0.6, 1)
    window_width = round(0.6 * bore, 1)
    window_wall = round(0.75 * wall, 1)
    flue_depth = round(window_length / 6.9, 2)
    flue_width = round(0.9 * window_width, 1)
    flue_length = round(22.0 * size**0.5, 0)
    chamber_length = round(150.0 * size**0.5, 0)
    half_wave = 1000.0 * 345.0 / (2.0 * root)
    edge_angle, stub = 30.0, 3.0
    pressure = blowing_pressure(settled_speed(root, window_length), PLAYED_FLUTE, flue_depth, flue_length)
    reasons = (
        Suggestion(
            "bore",
            bore,
            Saying(
                f"half a wavelength is {{0}}, {half_wave / bore:.0f} bores: 17 to 24 speaks freely in the low notes "
                "and still overblows; a longer, narrower bore jumps to the octave too soon, a wider one is breathy "
                "and its second register flat. A size of common round-nose cutters.",
                (round(half_wave),),
            ),
        ),
        Suggestion(
            "wall",
            wall,
            "a quarter of the bore: thick enough for chimneys that a finger seals, thin enough that open "
            "holes vent well",
        ),
        Suggestion(
            "window length",
            window_length,
            "the cut-up grows more slowly than the bore, so that small flutes have a relatively long one and are blown "
            f"harder: the key sounds at its resonance when blown at about {pressure:.0f} Pa, "
            "give or take a factor of two.",
            "de la Cuadra 2005 for the speed of the jet's wave, from memory, which takes a quarter of a period to the "
            "edge there; the size is " + COMMON_PRACTICE,
        ),
        Suggestion("window width", window_width, "six tenths of the bore: as wide as the flat on top allows"),
        Suggestion("window wall", window_wall, "the flat for the block takes about a quarter of the wall away"),
        Suggestion("edge angle", edge_angle, "a sharp edge that still stands up to cleaning"),
        Suggestion(
            "stub",
            stub,
            "a little room between plug and window keeps chips and moisture out of the flue's mouth",
        ),
        Suggestion(
            "flue depth",
            flue_depth,
            f"the cut-up is {window_length / flue_depth:.1f} flue depths: recorders stand near 4, organ pipes "
            "at 8 to 15",
            "Fletcher and Rossing, The Physics of Musical Instruments (1998), for the range, from memory",
        ),
        Suggestion(
            "flue width",
            flue_width,
            "a little narrower than the window, so that all of the jet meets the edge",
        ),
        Suggestion("flue length", flue_length, "long enough to make the jet even, short enough not to clog"),
        Suggestion(
            "slow air chamber length",
            chamber_length,
            "room for the upper hand and to let breath moisture settle",
        ),
    )
    return Proportions(
        bore, wall, window_length, window_width, window_wall, edge_angle, stub, flue_depth, flue_width,
        flue_length, chamber_length, reasons,
    )  # fmt: skip
