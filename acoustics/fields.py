"""Reading JSON documents field by field, so that an error can name the field."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from acoustics.errors import InvalidInput


def mapping(value: object, field: str, known: Iterable[str], required: Iterable[str] = ()) -> Mapping[str, Any]:
    """Return ``value`` if it is a JSON object with only known fields and all required ones."""
    if not isinstance(value, Mapping):
        raise InvalidInput(field or "document", value, "must be a JSON object")
    prefix = f"{field}." if field else ""
    allowed = tuple(known)
    for name in value:
        if name not in allowed:
            raise InvalidInput(f"{prefix}{name}", value[name], f"unknown field; known are {', '.join(allowed)}")
    for name in required:
        if name not in value:
            raise InvalidInput(f"{prefix}{name}", None, "is required")
    return value


def sequence(value: object, field: str, at_most: int, at_least: int = 0) -> list[Any]:
    """Return ``value`` if it is a JSON list of a sensible length."""
    if not isinstance(value, list | tuple):
        raise InvalidInput(field, value, "must be a list")
    if not at_least <= len(value) <= at_most:
        how_many = f"{at_most}" if at_least == at_most else f"{at_least} to {at_most}"
        raise InvalidInput(field, len(value), f"must have {how_many} entries")
    return list(value)


def number(value: object, field: str, low: float, high: float, unit: str = "") -> float:
    """Return ``value`` as a finite float in ``[low, high]``."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(field, value, "must be a number")
    try:
        result = float(value)
    except OverflowError:
        raise InvalidInput(field, str(value), "must be a finite number") from None
    if not math.isfinite(result):
        raise InvalidInput(field, value, "must be a finite number")
    if not low <= result <= high:
        raise InvalidInput(field, value, f"must be {low:g} to {high:g}{' ' + unit if unit else ''}")
    return result


def boolean(value: object, field: str) -> bool:
    """Return ``value`` if it is true or false."""
    if not isinstance(value, bool):
        raise InvalidInput(field, value, "must be true or false")
    return value


def choice(value: object, field: str, allowed: Iterable[str]) -> str:
    """Return ``value`` if it is one of the allowed words."""
    words = tuple(allowed)
    if not isinstance(value, str) or value not in words:
        raise InvalidInput(field, value, f"must be one of {', '.join(words)}")
    return value
