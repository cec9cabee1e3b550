"""Lengths as people write them: 5/8, 1 3/16", 15.9 mm, 0.625 in. Stored in mm, never changed by being shown.

One notation for each use: thousandths for what is gauged or cut, fractions to 1/64 for what is laid out with a rule,
never a fraction with a remainder; mm only for those who chose mm.
"""

import math
import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated

from pydantic import BeforeValidator, ValidationInfo

from webapp.models import Units

MM_PER_INCH = Fraction(254, 10)
SIXTY_FOURTH = MM_PER_INCH / 64  # mm

# No length is longer as a text; an expression that tries every way to part blanks must not be given more.
_LONGEST = 80  # characters

THOUSANDTH = MM_PER_INCH / 1000  # mm
# What calipers show.
_STEP = {Units.INCH: THOUSANDTH, Units.MM: Fraction(1, 100)}
# Sizes that were stored to a hundredth of a mm are still the 1/64 in that was meant.
_ROUNDED = 0.0051  # mm
# Two lengths that calipers in inches can't tell apart.
_SAME = float(THOUSANDTH) / 2  # mm
# A limit that is meant to be exactly on a step must not move by a step because of binary fractions.
_SLACK = Fraction(1, 10**6)

_LENGTH = re.compile(
    r"""^\s*(?P<sign>[-+\N{MINUS SIGN}])?\s*
        (?:(?P<whole>\d{1,6})(?:\s+|-))?(?P<top>\d{1,6})\s*[/\N{FRACTION SLASH}]\s*(?P<bottom>\d{1,4})
        \s*(?P<unit1>mm|cm|in|inch|inches|"|\N{DOUBLE PRIME}|\N{RIGHT DOUBLE QUOTATION MARK}|'')?\s*$
      | ^\s*(?P<sign2>[-+\N{MINUS SIGN}])?\s*(?P<decimal>\d{1,6}(?:[.,]\d{0,24})?|[.,]\d{1,24})
        \s*(?P<unit2>mm|cm|in|inch|inches|"|\N{DOUBLE PRIME}|\N{RIGHT DOUBLE QUOTATION MARK}|'')?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


def parse_length(text: str, units: Units) -> float:
    """Millimetres for a typed length; a number without a unit is in `units`, a fraction in inches.

    Raises ValueError with a sentence fit to stand at the field.
    """
    match = _LENGTH.match(text) if len(text) <= _LONGEST else None
    if match is None:
        example = '5/8, 1 3/16" or 0.035' if units is Units.INCH else "15.9 or 15.9 mm"
        raise ValueError(f"Write a length, such as {example}.")
    sign = match["sign"] or match["sign2"]
    unit = (match["unit1"] or match["unit2"] or "").lower()
    if match["top"]:
        if int(match["bottom"]) == 0:
            raise ValueError("A fraction can't have zero below the line.")
        number = Fraction(int(match["whole"] or 0)) + Fraction(int(match["top"]), int(match["bottom"]))
        scale = _scale(unit, Units.INCH)
    else:
        text = match["decimal"].replace(",", ".")
        number = Fraction(text.rstrip("."))
        scale = _scale(unit, units)
    exactly = number * scale
    if not match["top"] and scale == MM_PER_INCH:
        exactly = _whole_metric(text, exactly)
    length = float(exactly)
    return -length if sign in ("-", "\N{MINUS SIGN}") else length


def _scale(unit: str, otherwise: Units) -> Fraction:
    if unit in ("mm", "cm"):
        return Fraction(1 if unit == "mm" else 10)
    return MM_PER_INCH if unit or otherwise is Units.INCH else Fraction(1)


def show_length(mm: float, units: Units, exact: bool = False) -> str:
    """A length to read. In inches: a fraction where it lies on a 1/64 in, to a thousandth; else the nearest 1/64 from
    an inch up, as a rule shows it, and thousandths below, as calipers do. In mm: to a hundredth.

    With `exact`, the text gives back the very same number when it is typed in again.
    """
    if not math.isfinite(mm):
        raise ValueError("a length must be finite")
    if exact:
        return _plainly(mm) if units is Units.MM else _exact_inches(mm)
    if units is Units.MM:
        return _hundredths(mm) + " mm"
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    if abs(mm - float(parts * SIXTY_FOURTH)) < _SAME or abs(mm) >= MM_PER_INCH:
        return _inches(parts)
    return _thousandths(round(mm / THOUSANDTH))


def show_fraction(mm: float) -> str:
    """The nearest 1/64 in, as a rule shows it."""
    return _inches(round(Fraction(mm) / SIXTY_FOURTH))


def show_gauge(mm: float, units: Units) -> str:
    """A size as calipers show it: thousandths of an inch, or hundredths of a millimetre."""
    return _hundredths(mm) + " mm" if units is Units.MM else _thousandths(round(mm / THOUSANDTH))


def show_least(mm: float, units: Units) -> str:
    """A lower limit as calipers show it, never below what it is: what the page lets pass, the rule lets pass too."""
    return _limit(mm, units, math.ceil)


def show_most(mm: float, units: Units) -> str:
    """An upper limit as calipers show it, never above what it is."""
    return _limit(mm, units, math.floor)


def show_offered(mm: float, units: Units, low: float | None = None, high: float | None = None) -> str:
    """The size that a gauge should show, as it is offered to be written down: nominal as a fraction, any other as
    calipers show it. Typed in, it is within `low` and `high` wherever `mm` itself is.
    """
    count = Fraction(mm) / THOUSANDTH
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    if units is Units.MM:
        texts = [show_gauge(mm, units)]
    elif abs(mm - float(parts * SIXTY_FOURTH)) < _ROUNDED:
        texts = [_inches(parts)]
    else:
        texts = [_thousandths(rounded) for rounded in (round(count), math.floor(count), math.ceil(count))]
    for text in texts:
        size = parse_length(text, units)
        if (low is None or size >= low) and (high is None or size <= high):
            return text
    return show_length(mm, units, exact=True)


def cut_size(mm: float, units: Units, grows: bool) -> float:
    """The size to cut to that calipers can show, on the side of less wood taken: `grows` for a hole, else a foot.

    A drill's size, which lies on a 1/64 in, stays what it is.
    """
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    nominal = float(parts * SIXTY_FOURTH)
    if units is Units.INCH and abs(mm - nominal) < 1e-6:
        return nominal
    step = _STEP[units]
    count = math.floor(Fraction(mm) / step + _SLACK) if grows else math.ceil(Fraction(mm) / step - _SLACK)
    return float(count * step)


def show_cut(mm: float, units: Units) -> str:
    """The size of a cut: a fraction where a drill has it, else as calipers show it."""
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    if units is Units.INCH and 0 < mm < MM_PER_INCH and abs(mm - float(parts * SIXTY_FOURTH)) < 1e-6:
        return _inches(parts)
    return show_gauge(mm, units)


def show_taken(mm: float, units: Units) -> str:
    """How much to take off: whole 1/64 in and never more than meant, thousandths where it is less than 1/32 in."""
    if units is Units.MM or mm < 2 * SIXTY_FOURTH:
        return show_most(mm, units)
    return _inches(math.floor(Fraction(mm) / SIXTY_FOURTH + _SLACK))


def show_moved(mm: float, units: Units) -> str:
    """A small difference with its sign: what wood moves by, to 0.001 mm or 0.0001 in."""
    number, places, unit = (mm, 3, " mm") if units is Units.MM else (mm / float(MM_PER_INCH), 4, '"')
    return f"{number:+.{places}f}{unit}".replace("-", "\N{MINUS SIGN}")


def _limit(mm: float, units: Units, rounded: Callable[[Fraction], int]) -> str:
    if units is Units.INCH:
        parts = Fraction(mm) / SIXTY_FOURTH
        if abs(parts - round(parts)) < _SLACK and abs(round(parts)) >= 64:
            return _inches(round(parts))
    slack = -_SLACK if rounded is math.ceil else _SLACK
    count = rounded(Fraction(mm) / _STEP[units] + slack)
    return _hundredths(count / 100) + " mm" if units is Units.MM else _thousandths(count)


def _hundredths(mm: float) -> str:
    text = f"{mm:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _thousandths(count: int) -> str:
    sign = "\N{MINUS SIGN}" if count < 0 else ""
    return f'{sign}{abs(count) / 1000:.3f}"' if count else '0"'


def _plainly(mm: float) -> str:
    """The shortest decimal that reads back as the same number, never in powers of ten."""
    return f"{Decimal(repr(mm)):f} mm"


def _exact_inches(mm: float) -> str:
    """The shortest inches that read back as the same number: a fraction, or as few decimals as do it."""
    text = _inches(round(Fraction(mm) / SIXTY_FOURTH))
    if parse_length(text, Units.INCH) == mm:
        return text
    inches = Fraction(mm) / MM_PER_INCH
    for places in range(1, 25):
        text = f"{Decimal(round(inches * 10**places)).scaleb(-places):f}" + '"'
        if parse_length(text, Units.INCH) == mm:
            return text
    return _plainly(mm)  # less than a millionth of a mm


def _whole_metric(text: str, mm: Fraction) -> Fraction:
    """What a decimal number of inches stands for: with four or five places, the hundredth or thousandth of a millimetre
    whose inches it is to so many places, if it is one's; so a metric size can be read in inches and given back as it
    was. It never moves a length by more than 0.00005 in, and no fraction of an inch at all.
    """
    places = len(text.partition(".")[2])
    if places not in (4, 5) or text.endswith("0"):
        return mm
    whole = Fraction(round(mm * 10 ** (places - 2)), 10 ** (places - 2))
    written = round(whole / MM_PER_INCH * 10**places)
    return whole if written == Fraction(text) * 10**places else mm


def _inches(sixty_fourths: int) -> str:
    sign = "\N{MINUS SIGN}" if sixty_fourths < 0 else ""
    whole, rest = divmod(abs(sixty_fourths), 64)
    if rest == 0:
        return f'{sign}{whole}"'
    part = Fraction(rest, 64)
    fraction = f"{part.numerator}/{part.denominator}"
    return f'{sign}{whole} {fraction}"' if whole else f'{sign}{fraction}"'


def _typed(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        return value
    units = (info.context or {}).get("units", Units.MM)
    return parse_length(value, units)


# A form field for a length: takes what a person types, gives mm.
Typed = BeforeValidator(_typed)
Length = Annotated[float, Typed]
