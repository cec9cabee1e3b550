"""What the room and the wood do to a glue-up: its times, what is wrong, how large the joint is, how much glue it takes.

The rule for the times is the shop's own and common practice, no published source: an adhesive has one number for 10
degrees below the temperature its label's times hold at, and one for 2 percent more moisture in the wood; times go with
the power of the difference. Warmth never shortens the clamps and cold never lengthens the open time.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from acoustics.flute.instrument import Instrument
from webapp.models import Adhesive, Degrees, GlueLot, Workshop
from webapp.shop.routings.making import MOUTH_END
from webapp.shop.stock.halves import USUAL, needed
from webapp.shop.units.temperatures import show_temperature

TEN_DEGREES, TWO_PERCENT = 10.0, 2.0
# International avoirdupois ounce and US fluid ounce (NIST Handbook 44, appendix C).
GRAMS_PER_OUNCE, ML_PER_FLUID_OUNCE = 28.349523125, 29.5735295625


@dataclass(frozen=True, slots=True)
class Times:
    """Minutes by the rule, for this room and this wood."""

    open: int
    clamp: int
    cure: int


@dataclass(frozen=True, slots=True)
class Wood:
    """One blank's two halves: their moisture [percent], None where nobody knows it."""

    serial: str
    one: float | None
    other: float | None

    @property
    def known(self) -> list[float]:
        return [value for value in (self.one, self.other) if value is not None]


def times(adhesive: Adhesive, temperature: float, woods: Sequence[Wood] = ()) -> Times:
    """The adhesive's times in this room [degrees C], for the dampest of these woods."""
    cold = adhesive.slower_when_cold ** ((adhesive.at_temperature - temperature) / TEN_DEGREES)
    # Some adhesives need moisture: for those, with a number below one, the driest wood is the slowest.
    damp = max(
        (adhesive.slower_when_damp ** ((m - adhesive.at_moisture) / TWO_PERCENT) for wood in woods for m in wood.known),
        default=1.0,
    )
    slower = max(1.0, cold) * max(1.0, damp)
    return Times(
        open=max(1, math.floor(adhesive.open_minutes * min(1.0, cold) + 1e-9)),
        clamp=math.ceil(adhesive.clamp_minutes * slower - 1e-9),
        cure=math.ceil(max(adhesive.cure_minutes, adhesive.clamp_minutes) * slower - 1e-9),
    )


def wrongs(
    adhesive: Adhesive,
    bottle: GlueLot | None,
    today: date,
    temperature: float,
    humidity: float | None,
    woods: Sequence[Wood],
    degrees: Degrees = Degrees.C,
) -> list[str]:
    """What speaks against gluing now, one sentence each; nothing where all is well."""
    found = []
    if temperature < adhesive.lowest_temperature:
        found.append(
            f"{show_temperature(temperature, degrees)} is colder than {adhesive.name} allows "
            f"({show_temperature(adhesive.lowest_temperature, degrees)}): "
            "warm room, wood and glue."
        )
    if bottle and bottle.best_before and bottle.best_before < today:
        found.append(f"Lot {bottle.lot} was good until {bottle.best_before.isoformat()}: open a new one.")
    if humidity is not None and humidity < adhesive.driest_air:
        found.append(
            f"The air is at {humidity:.3g} %, drier than {adhesive.driest_air:.3g} %: the film skins sooner than the "
            "open time says."
        )
    for wood in woods:
        found += _wrong_wood(adhesive, wood)
    return found


def _wrong_wood(adhesive: Adhesive, wood: Wood) -> list[str]:
    found = []
    if wood.known and min(wood.known) < adhesive.driest_wood:
        found.append(
            f"{wood.serial} is at {min(wood.known):.3g} %, too dry (below {adhesive.driest_wood:.3g} %): it draws the "
            "glue out of the joint and swells later."
        )
    if wood.known and max(wood.known) > adhesive.dampest_wood:
        found.append(
            f"{wood.serial} is at {max(wood.known):.3g} %, too damp (above {adhesive.dampest_wood:.3g} %): let it dry."
        )
    if wood.one is not None and wood.other is not None and abs(wood.one - wood.other) > adhesive.most_apart:
        found.append(
            f"The halves of {wood.serial} are {abs(wood.one - wood.other):.2g} % apart, more than "
            f"{adhesive.most_apart:.3g} %: the joint will be strained as they settle."
        )
    return found


def joint_area(flute: Instrument, allowed: Workshop = USUAL) -> float:
    """How much face two halves of this flute share [mm2]: the outline of a half less its two channels."""
    outline = needed(flute, allowed)
    bore = sum((b[0] - a[0]) * (a[1] + b[1]) / 2 for a, b in zip(flute.bore, flute.bore[1:], strict=False))
    chamber = flute.chamber.length * flute.chamber.diameter if flute.chamber else 0.0
    at_least = 2 * flute.body.wall * (outline.length - MOUTH_END)
    return max(outline.length * outline.width - bore - chamber, at_least)


def grams(adhesive: Adhesive, area: float) -> float:
    """How much glue is spread on a joint of this area [mm2]: on one face, as the rate of the adhesive says."""
    return adhesive.spread_rate * area / 1e6


def in_unit(weight: float, unit: str, density: float) -> float | None:
    """So many grams in a lot's own unit; None for a unit that measures no glue."""
    ml = weight / density
    known = {"g": weight, "ml": ml, "oz": weight / GRAMS_PER_OUNCE, "fl oz": ml / ML_PER_FLUID_OUNCE}
    return round(known[unit], 3) if unit in known else None
