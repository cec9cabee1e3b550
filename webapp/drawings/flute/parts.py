"""Where the parts of a flute begin and end along its axis, as a maker sees them."""

from dataclasses import dataclass

from acoustics.flute.instrument import Instrument
from webapp.shop.routings.making import MOUTH_END


@dataclass(frozen=True, slots=True)
class Parts:
    """Positions along x [mm], 0 at the splitting edge. What the flute does not have is None."""

    mouth: float
    chamber: tuple[float, float] | None
    plug: tuple[float, float]
    flue: tuple[float, float] | None
    window: tuple[float, float]
    bore: tuple[float, float]

    @property
    def length(self) -> float:
        return self.bore[1] - self.mouth


def parts(instrument: Instrument, mouth_end: float = MOUTH_END) -> Parts:
    """The parts of this flute; `mouth_end` is the solid wood before the chamber [mm].

    The flue runs over the plug, from where the air comes up out of the slow air chamber to the window: the plug's
    chamber side is where the flue begins. Without a chamber the body ends `mouth_end` behind the plug or the flue.
    """
    plug_face, foot = instrument.plug_x, instrument.foot_x
    window = (-instrument.window.length, 0.0)
    flue = (window[0] - instrument.flue.length, window[0]) if instrument.flue else None
    plug_back = min(flue[0] if flue else plug_face, plug_face) if flue else plug_face - mouth_end
    if plug_back >= plug_face:
        plug_back = plug_face - 1.0
    chamber = None
    mouth = plug_back - mouth_end if flue else plug_back
    if instrument.chamber:
        chamber = (plug_back - instrument.chamber.length, plug_back)
        mouth = chamber[0] - mouth_end
    return Parts(mouth, chamber, (plug_back, plug_face), flue, window, (plug_face, foot))


def outside(instrument: Instrument, x: float) -> float:
    """Width of the body at `x` [mm]: over the chamber it is that of the wider of chamber and bore."""
    bore = instrument.bore_diameter(x)
    if instrument.chamber and x < instrument.plug_x:
        bore = max(bore, instrument.chamber.diameter)
    if instrument.body.outside == "flat":
        bore = max([bore, *(diameter for _, diameter in instrument.bore)])
    return bore + 2 * instrument.body.wall
