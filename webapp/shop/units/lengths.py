"""Lengths as people write them: 5/8, 1 3/16", 15.9 mm, 0.625 in. Stored in mm, never changed by being shown."""

import math
import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated

from pydantic import BeforeValidator, ValidationInfo

from webapp.models import Units

MM_PER_INCH = Fraction(254, 10)
SIXTY_FOURTH = MM_PER_INCH / 64  # mm

# No length is longer as a text; an expression that tries every way to part blanks must not be given more.
_LONGEST = 80  # characters

# A remainder smaller than this is no part of the number as a person means it.
_WORTH_SAYING = 0.02  # mm

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
        example = '5/8, 1 3/16" or 15.9 mm' if units is Units.INCH else '15.9, 15.9 mm or 5/8"'
        raise ValueError(f"Write a length, such as {example}.")
    sign = match["sign"] or match["sign2"]
    unit = (match["unit1"] or match["unit2"] or "").lower()
    if match["top"]:
        if int(match["bottom"]) == 0:
            raise ValueError("A fraction can't have zero below the line.")
        number = Fraction(int(match["whole"] or 0)) + Fraction(int(match["top"]), int(match["bottom"]))
        scale = _scale(unit, Units.INCH)
    else:
        number = Fraction(match["decimal"].replace(",", ".").rstrip("."))
        scale = _scale(unit, units)
    length = float(number * scale)
    return -length if sign in ("-", "\N{MINUS SIGN}") else length


def _scale(unit: str, otherwise: Units) -> Fraction:
    if unit in ("mm", "cm"):
        return Fraction(1 if unit == "mm" else 10)
    return MM_PER_INCH if unit or otherwise is Units.INCH else Fraction(1)


def show_length(mm: float, units: Units, exact: bool = False) -> str:
    """A length to read at the bench: to 1/64 in with the remainder where it matters, or to 0.1 mm.

    With `exact`, the text gives back the very same number when it is typed in again.
    """
    if not math.isfinite(mm):
        raise ValueError("a length must be finite")
    if units is Units.MM:
        return _plainly(mm) if exact else f"{mm:.2f}".rstrip("0").rstrip(".") + " mm"
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    remainder = mm - float(parts * SIXTY_FOURTH)
    text = _inches(parts)
    if exact:
        return text if parse_length(text, units) == mm else _plainly(mm)
    if abs(remainder) < _WORTH_SAYING:
        return text
    sign = "+" if remainder > 0 else "\N{MINUS SIGN}"
    return f"{text} {sign} {abs(remainder):.2f} mm"


def speak_length(mm: float, units: Units) -> str:
    """A length within a sentence: as it is measured where it lies on a 1/64 in, else with a decimal point."""
    if units is Units.MM:
        return show_length(mm, units)
    parts = round(Fraction(mm) / SIXTY_FOURTH)
    if abs(mm - float(parts * SIXTY_FOURTH)) < _WORTH_SAYING:
        return _inches(parts)
    return f"{mm / float(MM_PER_INCH):.2f}".replace("-", "\N{MINUS SIGN}") + " in"


def _plainly(mm: float) -> str:
    """The shortest decimal that reads back as the same number, never in powers of ten."""
    return f"{Decimal(repr(mm)):f} mm"


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
