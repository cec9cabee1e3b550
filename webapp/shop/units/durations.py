"""Waiting times as people write them: 45, 45 min, 8 h, 1.5 h, 3 days. Stored in whole minutes."""

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator

_IN_MINUTES = {"": 1, "min": 1, "minute": 1, "h": 60, "hour": 60, "d": 1440, "day": 1440}
_DURATION = re.compile(r"\s*(\d{1,5}(?:[.,]\d{1,3})?)\s*(min|minute|h|hour|d|day|)s?\.?\s*", re.IGNORECASE)
_LONGEST_TEXT = 40  # characters: more could only be blanks
LONGEST = 60 * 1440  # two months


def parse_duration(text: str) -> int:
    """Whole minutes for a typed waiting time; a number alone is minutes. Raises ValueError, fit for the field."""
    match = _DURATION.fullmatch(text) if len(text) <= _LONGEST_TEXT else None
    if match is None:
        raise ValueError("Write a time, such as 45 min, 8 h or 3 days.")
    return round(float(match[1].replace(",", ".")) * _IN_MINUTES[match[2].lower()])


def show_duration(minutes: int) -> str:
    """A waiting time that reads well and, typed in again, gives the same minutes."""
    if minutes and minutes % 1440 == 0:
        return "1 day" if minutes == 1440 else f"{minutes // 1440} days"
    if minutes and minutes % 60 == 0:
        return f"{minutes // 60} h"
    return f"{minutes} min"


def _typed(value: object) -> object:
    return parse_duration(value) if isinstance(value, str) else value


def _within(value: int) -> int:
    if not 1 <= value <= LONGEST:
        raise ValueError("Must be between a minute and 60 days.")
    return value


# A form field for a waiting time: takes what a person types, gives minutes.
Minutes = Annotated[int, BeforeValidator(_typed), AfterValidator(_within)]
