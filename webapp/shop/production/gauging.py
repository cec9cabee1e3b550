"""What a measured size says: within its limits, or by how much it is off, in words for the bench."""

from webapp.models import BlankStep, Measure, Units
from webapp.shop.units.lengths import show_length

# The first word of the pair is for more than the limit, the second for less.
WORDS = {
    Measure.SIZE: ("too large", "too small"),
    Measure.WIDTH: ("too wide", "too narrow"),
    Measure.LENGTH: ("too long", "too short"),
    Measure.DEPTH: ("too deep", "too shallow"),
    Measure.THICKNESS: ("too thick", "too thin"),
}
# Calipers read to 0.01 mm: less than half of that beyond a limit is no difference.
_READS_TO = 0.005  # mm


def show(mm: float, units: Units) -> str:
    """A size as calipers show it: hundredths of a millimetre, or thousandths of an inch."""
    return show_length(mm, units) if units is Units.MM else f'{mm / 25.4:.3f}"'


def fault(step: BlankStep, value: float, units: Units) -> str:
    """Why this size does not pass, such as '0.2 mm too wide: 16.2 mm, at most 16 mm'; empty where it does."""
    more, less = WORDS[step.measures]
    shown = show(value, units)
    if step.high is not None and value > step.high + _READS_TO:
        return f"{show(value - step.high, units)} {more}: {shown}, at most {show(step.high, units)}"
    if step.low is not None and value < step.low - _READS_TO:
        return f"{show(step.low - value, units)} {less}: {shown}, at least {show(step.low, units)}"
    return ""
