"""Lengths as one measures rough wood: to 1/32 of an inch, or half a millimetre. Nothing is stored this way."""

from webapp.models import Units
from webapp.shop.units.lengths import MM_PER_INCH, show_length

BOARD_FOOT = float((12 * MM_PER_INCH) ** 2 * MM_PER_INCH)  # mm³: a foot square and an inch thick
LITRE = 1e6  # mm³
STEP = {Units.INCH: float(MM_PER_INCH) / 32, Units.MM: 0.5}


def rough_length(mm: float, units: Units) -> str:
    """The nearest mark of a rule."""
    step = STEP[units]
    return show_length(round(mm / step) * step, units)


def rough_size(sizes: tuple[float | None, ...], units: Units) -> str:
    """Length by width by thickness, as far as they are known."""
    return " × ".join(rough_length(size, units) for size in sizes if size)


def rough_volume(cubic_mm: float, units: Units) -> str:
    """As timber is sold: board feet, or cubic decimetres."""
    if units is Units.INCH:
        return f"{cubic_mm / BOARD_FOOT:.1f} board feet"
    return f"{cubic_mm / LITRE:.1f} dm³"
