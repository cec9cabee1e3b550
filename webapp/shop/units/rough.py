"""Lengths as one measures rough wood: to 1/32 of an inch, or half a millimetre. Nothing is stored this way."""

from webapp.models import Units
from webapp.shop.units.lengths import MM_PER_INCH, show_length

STEP = {Units.INCH: float(MM_PER_INCH) / 32, Units.MM: 0.5}


def rough_length(mm: float, units: Units) -> str:
    """The nearest mark of a rule."""
    step = STEP[units]
    return show_length(round(mm / step) * step, units)


def rough_size(sizes: tuple[float | None, ...], units: Units) -> str:
    """Length by width by thickness, as far as they are known."""
    return " × ".join(rough_length(size, units) for size in sizes if size)
