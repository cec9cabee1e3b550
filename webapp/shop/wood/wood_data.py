"""What the Wood Handbook says of the woods flutes are made of, and the moisture wood takes from the air.

Source: Forest Products Laboratory, Wood Handbook: Wood as an Engineering Material, FPL-GTR-190 (2010).

- Shrinkage from green to ovendry [percent of the green size]: table 4-3.
- Dimensional change coefficients for 6 to 14 percent moisture [per percent]: table 13-5. They follow from the
  shrinkage S and the fibre saturation point F, (S/F) / (1 - S (F - 10) / F), with F of 30 percent, and 22 percent for
  redwood and western redcedar; a test holds every row to that.
- Specific gravity, ovendry mass over green volume and over volume at 12 percent: tables 5-3.
- Equilibrium moisture content: equation 4-5 (Hailwood and Horrobin's two-hydrate form with Simpson's constants).

A value marked 'from memory' was not seen in a copy of the handbook when this table was made.
"""

import math
from dataclasses import dataclass
from typing import Final

HANDBOOK: Final = "Wood Handbook, FPL-GTR-190 (2010)"
LEAST_HUMIDITY: Final = 0.05
MOST_HUMIDITY: Final = 0.95
ALONG: Final = 0.15 / 30
"""Percent along the grain for each percent of moisture: 0.1 to 0.2 percent from green to ovendry (section 4)."""


@dataclass(frozen=True, slots=True)
class Wood:
    """One wood of the handbook. Shrinkage in percent, coefficients per percent of moisture."""

    name: str
    radial: float
    tangential: float
    volumetric: float
    cr: float
    ct: float
    gravity_green: float
    gravity_dry: float
    also: tuple[str, ...] = ()
    shrinkage_from_memory: bool = False
    change_from_memory: bool = False


# Name as in the handbook; radial, tangential, volumetric; CR, CT; specific gravity green, at 12 percent.
# Every specific gravity is from memory.
WOODS: Final[tuple[Wood, ...]] = (
    Wood("Ash, white", 4.9, 7.8, 13.3, 0.00169, 0.00274, 0.55, 0.60, ("white ash", "ash")),
    Wood("Aspen, quaking", 3.5, 6.7, 11.5, 0.00119, 0.00234, 0.35, 0.38, ("quaking aspen", "aspen")),
    Wood("Basswood, American", 6.6, 9.3, 15.8, 0.00230, 0.00330, 0.32, 0.37, ("american basswood", "basswood")),
    Wood("Butternut", 3.4, 6.4, 10.6, 0.00116, 0.00223, 0.36, 0.38, ("butternut",)),
    Wood("Cherry, black", 3.7, 7.1, 11.5, 0.00126, 0.00248, 0.47, 0.50, ("black cherry", "cherry")),
    Wood("Walnut, black", 5.5, 7.8, 12.8, 0.00190, 0.00274, 0.51, 0.55, ("black walnut", "walnut")),
    Wood(
        "Maple, sugar",
        4.8,
        9.9,
        14.7,
        0.00165,
        0.00353,
        0.56,
        0.63,
        ("sugar maple", "hard maple", "maple"),
        shrinkage_from_memory=True,
    ),
    Wood("Persimmon, common", 7.9, 11.2, 19.1, 0.00278, 0.00403, 0.64, 0.74, ("common persimmon", "persimmon")),
    Wood("Sassafras", 4.0, 6.2, 10.3, 0.00137, 0.00216, 0.42, 0.46, ("sassafras",)),
    Wood("Sycamore, American", 5.0, 8.4, 14.1, 0.00172, 0.00296, 0.46, 0.49, ("american sycamore", "sycamore")),
    Wood(
        "Cedar, yellow",
        2.8,
        6.0,
        9.2,
        0.00095,
        0.00208,
        0.42,
        0.44,
        ("yellow cedar", "alaska yellow cedar", "alaska cedar"),
        change_from_memory=True,
    ),
    Wood(
        "Cedar, eastern redcedar",
        3.1,
        4.7,
        7.8,
        0.00106,
        0.00162,
        0.44,
        0.47,
        ("eastern redcedar", "eastern red cedar", "aromatic cedar"),
        change_from_memory=True,
    ),
    Wood(
        "Cedar, incense",
        3.3,
        5.2,
        7.7,
        0.00112,
        0.00180,
        0.35,
        0.37,
        ("incense cedar",),
        change_from_memory=True,
    ),
    Wood(
        "Cedar, Port-Orford",
        4.6,
        6.9,
        10.1,
        0.00158,
        0.00241,
        0.39,
        0.43,
        ("port-orford cedar", "port orford cedar"),
        change_from_memory=True,
    ),
    Wood(
        "Cedar, western redcedar",
        2.4,
        5.0,
        6.8,
        0.00111,
        0.00234,
        0.31,
        0.32,
        ("western redcedar", "western red cedar"),
        change_from_memory=True,
    ),
    Wood(
        "Redwood, old growth",
        2.6,
        4.4,
        6.8,
        0.00120,
        0.00205,
        0.38,
        0.40,
        ("redwood", "redwood, old growth"),
        shrinkage_from_memory=True,
        change_from_memory=True,
    ),
    Wood(
        "Spruce, Sitka",
        4.3,
        7.5,
        11.5,
        0.00148,
        0.00263,
        0.37,
        0.40,
        ("sitka spruce", "spruce"),
        shrinkage_from_memory=True,
        change_from_memory=True,
    ),
)

BY_NAME: Final = {wood.name: wood for wood in WOODS}
_ALSO: Final = {name: wood for wood in WOODS for name in (wood.name.lower(), *wood.also)}


def figures_for(name: str, reckoned_as: str | None = None) -> Wood | None:
    """The handbook's figures for a wood by the shop's name for it, or for the one chosen in its place."""
    if reckoned_as:
        return BY_NAME.get(reckoned_as)
    return _ALSO.get(name.strip().lower())


def equilibrium_moisture(temperature: float, humidity: float) -> float:
    """Moisture content [percent] that wood comes to in air of `temperature` [degrees C] and relative `humidity` [0..1].

    Equation 4-5; the handbook's table 4-2 spans -1.1 to 132 degrees C and 5 to 95 percent. Raises ValueError outside.
    """
    t, h = temperature, humidity
    if not (math.isfinite(t) and -1.2 <= t <= 132.3):
        raise ValueError(f"temperature: {t!r} is not between -1.1 and 132 degrees C")
    if not (math.isfinite(h) and LEAST_HUMIDITY <= h <= MOST_HUMIDITY):
        raise ValueError(f"humidity: {h!r} is not between {LEAST_HUMIDITY} and {MOST_HUMIDITY}")
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    hydrates = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return 1800 / w * (kh / (1 - kh) + hydrates)


def changed_by(size: float, coefficient: float, before: float, after: float) -> float:
    """By how much a size [mm] across the grain grows when its moisture goes from `before` to `after` [percent].

    Chapter 13: the change is the size times the coefficient times the change of moisture; meant for 6 to 14 percent.
    """
    return size * coefficient * (after - before)
