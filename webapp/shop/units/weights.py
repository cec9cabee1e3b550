"""Weights as people write them: 450, 450 g, 0.45 kg, 1 lb 2 oz, 16 oz. Stored in whole grams."""

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator

from webapp.models import Units

# The international pound: 0.45359237 kg exactly (Weights and measures, agreement of 1959).
_POUND = 453.59237
_IN_GRAMS = {"": 1.0, "g": 1.0, "kg": 1000.0, "oz": _POUND / 16, "lb": _POUND, "lbs": _POUND}
_ONE = r"(\d{1,6}(?:[.,]\d{1,3})?)\s*(g|kg|oz|lbs?|)\.?"
_WEIGHT = re.compile(rf"\s*{_ONE}(?:\s+{_ONE})?\s*", re.IGNORECASE)
_LONGEST_TEXT = 30
HEAVIEST = 100_000


def parse_weight(text: str) -> int:
    """Whole grams; a number alone is grams. Raises ValueError, fit for the field."""
    match = _WEIGHT.fullmatch(text) if len(text) <= _LONGEST_TEXT else None
    if match is None or (match[3] and (match[2].lower() not in ("lb", "lbs") or match[4].lower() != "oz")):
        raise ValueError("Write a weight, such as 450 g, 0.45 kg or 1 lb 2 oz.")
    grams = float(match[1].replace(",", ".")) * _IN_GRAMS[match[2].lower()]
    if match[3]:
        grams += float(match[3].replace(",", ".")) * _IN_GRAMS[match[4].lower()]
    return round(grams)


def show_weight(grams: int, units: Units) -> str:
    """A weight that reads well: 450 g, 1.2 kg; 15.9 oz, 2 lb 3 oz."""
    if units is Units.MM:
        return f"{grams} g" if grams < 1000 else f"{grams / 1000:.3g} kg"
    ounces = grams / _POUND * 16
    if ounces < 15.95:
        return f"{ounces:.1f} oz"
    pounds, rest = divmod(round(ounces), 16)
    return f"{pounds} lb {rest} oz" if rest else f"{pounds} lb"


def _typed(value: object) -> object:
    return parse_weight(value) if isinstance(value, str) else value


def _within(value: int) -> int:
    if not 1 <= value <= HEAVIEST:
        raise ValueError(f"Must be between 1 g and {HEAVIEST // 1000} kg.")
    return value


# A form field for a weight: takes what a person types, gives grams.
Weight = Annotated[int, BeforeValidator(_typed), AfterValidator(_within)]
