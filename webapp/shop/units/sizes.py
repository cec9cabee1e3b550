"""Limits on typed lengths, said in the person's own units."""

from pydantic import AfterValidator, ValidationInfo

from webapp.models import Units
from webapp.shop.units.lengths import show_least, show_most


def between(low: float, high: float) -> AfterValidator:
    """Refuse a length outside low..high (mm), and anything that is no number, with a sentence for the field."""

    def check(value: float, info: ValidationInfo) -> float:
        if not low <= value <= high:
            units = (info.context or {}).get("units", Units.MM)
            raise ValueError(f"Must be between {show_least(low, units)} and {show_most(high, units)}.")
        return value

    return AfterValidator(check)
