"""What the seasons do to a flute: moisture, bore, wall and pitch in the shop's driest and dampest months.

The halves are assumed to meet in the middle of the bore. Flat-sawn halves have their rings along the joint face, so
that the flute moves tangentially along the joint and radially across it; quarter-sawn ones the other way round.
Along the grain wood hardly moves (0.1 to 0.2 percent from green to ovendry, Wood Handbook, chapter 4); 0.15 percent is
used here. Restraint by the joint and by the finish is left out: the result is the most that the seasons can do, and
wood follows them slowly.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from acoustics.flute.geometry import Geometry
from acoustics.flute.instrument import Hole, Instrument
from acoustics.model.air import Air
from acoustics.model.resonance import resonances
from webapp.models import Shop, Workshop
from webapp.shop.wood.wood_data import ALONG, LEAST_HUMIDITY, MOST_HUMIDITY, Wood, changed_by, equilibrium_moisture

LOW, HIGH = 6.0, 14.0
"""The moisture contents [percent] that the handbook's coefficients are meant for (table 13-5)."""


class Sawn(StrEnum):
    FLAT = "flat-sawn"
    QUARTER = "quarter-sawn"


@dataclass(frozen=True, slots=True)
class Season:
    """A flute in one air. Changes are from how it was made: of the bore along and across the joint, of the wall [mm].

    `cents` is (lowest, highest) of all notes; none where nothing can be calculated. `beyond`: the moisture is
    outside the range that the coefficients are meant for.
    """

    name: str
    humidity: float
    moisture: float
    bore_along: float
    bore_across: float
    wall: float
    cents: tuple[float, float] | None
    beyond: bool


@dataclass(frozen=True, slots=True)
class Through:
    """A flute through the year: the moisture it was made at, its bore and wall [mm], the seasons."""

    wood: Wood
    sawn: Sawn
    made_at: float
    bore: float
    wall: float
    seasons: tuple[Season, ...]


def made_moisture(shop: Shop, workshop: Workshop) -> float:
    """The moisture content [percent] of wood that has settled in the air of the bench."""
    return equilibrium_moisture(workshop.indoor_temperature, _within(shop.bench_humidity))


def through_the_year(
    instrument: Instrument,
    wood: Wood,
    workshop: Workshop,
    made_at: float,
    air: Air,
    fingerings: list[str],
    sawn: Sawn = Sawn.FLAT,
) -> Through:
    """The flute in the shop's driest and dampest months, made at a moisture content of `made_at` percent."""
    airs = [("driest months", workshop.dry_humidity), ("dampest months", workshop.damp_humidity)]
    levels = [equilibrium_moisture(workshop.indoor_temperature, _within(humidity)) for _, humidity in airs]
    moved = [moved_to(instrument, wood, sawn, made_at, level) for level in levels]
    cents = _cents(instrument, moved, air, fingerings)
    bore = max(diameter for _, diameter in instrument.bore)
    along, across = _coefficients(wood, sawn)
    seasons = tuple(
        Season(
            name,
            humidity,
            level,
            changed_by(bore, along, made_at, level),
            changed_by(bore, across, made_at, level),
            changed_by(instrument.body.wall, (along + across) / 2, made_at, level),
            heard,
            not (LOW <= level <= HIGH and LOW <= made_at <= HIGH),
        )
        for (name, humidity), level, heard in zip(airs, levels, cents, strict=True)
    )
    return Through(wood, sawn, made_at, bore, instrument.body.wall, seasons)


def moved_to(instrument: Instrument, wood: Wood, sawn: Sawn, before: float, after: float) -> Instrument:
    """The same flute at another moisture content: an oval opening counts as the circle of the same area."""
    along_joint, across_joint = _coefficients(wood, sawn)
    wide = 1 + changed_by(1.0, along_joint, before, after)
    high = 1 + changed_by(1.0, across_joint, before, after)
    long = 1 + changed_by(1.0, ALONG / 100, before, after)
    bore, wall, hole = (wide * high) ** 0.5, (wide + high) / 2, (wide * long) ** 0.5

    def moved(one: Hole) -> Hole:
        own = None if one.wall is None else one.wall * wall
        return replace(one, x=one.x * long, diameter=one.diameter * hole, wall=own)

    flute = replace(
        instrument,
        bore=tuple((x * long, diameter * bore) for x, diameter in instrument.bore),
        body=replace(instrument.body, wall=instrument.body.wall * wall),
        window=replace(
            instrument.window,
            length=instrument.window.length * long,
            width=instrument.window.width * wide,
            wall=None if instrument.window.wall is None else instrument.window.wall * wall,
        ),
        holes=tuple(moved(one) for one in instrument.holes),
        foot_holes=tuple(moved(one) for one in instrument.foot_holes),
    )
    if flute.flue:
        flue = replace(flute.flue, width=flute.flue.width * wide, depth=flute.flue.depth * high)
        flute = replace(flute, flue=flue)
    return flute


def _coefficients(wood: Wood, sawn: Sawn) -> tuple[float, float]:
    """The coefficients along and across the joint."""
    return (wood.ct, wood.cr) if sawn is Sawn.FLAT else (wood.cr, wood.ct)


def _cents(
    made: Instrument, moved: list[Instrument], air: Air, fingerings: list[str]
) -> list[tuple[float, float] | None]:
    if not fingerings:
        return [None] * len(moved)
    found = resonances(Geometry.of([made, *moved]), air, fingerings, modes=1).frequency[:, :, 0]
    away = 1200 * np.log2(found[1:] / found[0])
    return [(float(np.nanmin(row)), float(np.nanmax(row))) if np.isfinite(row).any() else None for row in away]


def _within(humidity: float) -> float:
    return min(MOST_HUMIDITY, max(LEAST_HUMIDITY, humidity))
