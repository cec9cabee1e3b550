"""Which halves a pattern can be built from: long, wide and thick enough, with an allowance for machining.

Allowances are common practice, no published source.
"""

import math
from dataclasses import dataclass

from sqlmodel import Session

from acoustics.flute.instrument import Instrument
from webapp.models import StockItem, StockKind, Units, Workshop
from webapp.shop.base.errors import Invalid
from webapp.shop.routings.making import overall_length
from webapp.shop.settings.workshop import workshop
from webapp.shop.stock.lists import Lot, shelf
from webapp.shop.units.lengths import show_length

USUAL = Workshop()
ENDS, SIDES, FACES = USUAL.ends, USUAL.sides, USUAL.faces  # mm; what a shop that has set nothing allows
PER_BLANK = 2


@dataclass(frozen=True, slots=True)
class Needed:
    """What one half must measure at least [mm], allowances included."""

    length: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A lot of halves and how it fits. `wrong` rules it out; `remarks` are to be checked at the bench."""

    lot: Lot
    wrong: tuple[str, ...]
    remarks: tuple[str, ...]


def needed(instrument: Instrument, allowed: Workshop = USUAL) -> Needed:
    """The least size of a half for this flute, with the shop's own allowances."""
    widest = max(diameter for _, diameter in instrument.bore)
    if instrument.chamber:
        widest = max(widest, instrument.chamber.diameter)
    outside = widest + 2 * instrument.body.wall
    return Needed(overall_length(instrument) + allowed.ends, outside + allowed.sides, outside / 2 + allowed.faces)


def candidates(session: Session, instrument: Instrument, species_id: int, units: Units) -> list[Candidate]:
    """The lots of halves of this wood, those that fit first."""
    least = needed(instrument, workshop(session))
    found = [_judge(lot, least, units) for lot in shelf(session, StockKind.HALVES, species_id=species_id)]
    return sorted(found, key=lambda one: (bool(one.wrong), len(one.remarks), one.lot.item.name))


def rounded_up(size: float, units: Units) -> str:
    """A least size, rounded up to the next sixteenth of an inch, or millimetre."""
    step = 25.4 / 16 if units is Units.INCH else 1.0
    return show_length(math.ceil(size / step - 1e-9) * step, units)


def must_suit(instrument: Instrument, item: StockItem, units: Units, allowed: Workshop = USUAL) -> None:
    """Raise Invalid at `item_id` where the halves of a lot are too short for the flute."""
    least = needed(instrument, allowed)
    if item.length is not None and item.length < least.length:
        raise Invalid({"item_id": _too(item.length, "short", "long", least.length, units)})


def _judge(lot: Lot, least: Needed, units: Units) -> Candidate:
    wrong, remarks = [], []
    if lot.free < PER_BLANK:
        wrong.append("fewer than two halves are free")
    if lot.item.length is None:
        remarks.append(f"no length on its label: needs {show_length(least.length, units)}")
    elif lot.item.length < least.length:
        wrong.append(_too(lot.item.length, "short", "long", least.length, units))
    for size, need, short, long in (
        (lot.item.width, least.width, "narrow", "wide"),
        (lot.item.thickness, least.thickness, "thin", "thick"),
    ):
        if size is not None and size < need:
            remarks.append(_too(size, short, long, need, units))
    return Candidate(lot, tuple(wrong), tuple(remarks))


def _too(size: float, short: str, long: str, need: float, units: Units) -> str:
    return f"too {short}: {show_length(size, units)} {long}, needs {show_length(need, units)}"
