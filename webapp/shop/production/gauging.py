"""What a measured size says: within its limits, or by how much it is off, in words for the bench."""

from webapp.models import BlankStep, Measure, Units
from webapp.shop.base.errors import Doubtful
from webapp.shop.units.lengths import show_gauge, show_least, show_most, show_offered

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
INCH = 25.4  # mm
UNLIKELY = 1.5  # times what it should be, or that part of it
LEAST_ASKED = 1.0  # mm
READS = {Units.INCH: 0.0254, Units.MM: 0.01}  # mm


def fault(step: BlankStep, value: float, units: Units) -> str:
    """Why this size does not pass, such as '0.2 mm too wide: 16.2 mm, at most 16 mm'; empty where it does."""
    more, less = WORDS[step.measures]
    shown = show_gauge(value, units)
    least = READS[units]  # where both round to the same, the least that calipers show is said
    if step.high is not None and value > step.high + _READS_TO:
        return (
            f"{show_gauge(max(least, value - step.high), units)} {more}: {shown}, at most {show_most(step.high, units)}"
        )
    if step.low is not None and value < step.low - _READS_TO:
        return (
            f"{show_gauge(max(least, step.low - value), units)} {less}: {shown}, at least {show_least(step.low, units)}"
        )
    return ""


def must_be_likely(step: BlankStep, value: float, units: Units, sure: str) -> None:
    """Ask about a size that no tool leaves: half as much again as its limits, or an inch beyond. Raises Doubtful."""
    nominal = step.nominal
    if not nominal:
        return
    least, most = min(nominal, step.low or nominal), max(nominal, step.high or nominal)
    off, times = max(value - most, least - value), max(value / most, least / value)
    if off <= LEAST_ASKED or (off <= INCH and times <= UNLIKELY):
        return
    mark = f"{step.code} {value:.4f}"
    if sure == mark:
        return
    should = show_offered(nominal, units, step.low, step.high)
    other = value / INCH if units is Units.INCH else value * INCH
    hint = ""
    if abs(other - nominal) < abs(value - nominal) / 4:
        hint = f" If {'mm' if units is Units.INCH else 'inches'} are meant, write the unit beside the number."
    raise Doubtful(f"{show_gauge(value, units)} was typed, and it should be {should}.{hint}", mark)
