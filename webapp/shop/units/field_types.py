"""Field types that several forms share, each with the sentence that stands at the field when it does not fit."""

from datetime import date
from typing import Annotated
from zoneinfo import available_timezones

from babel.numbers import list_currencies
from pydantic import AfterValidator, BeforeValidator

from webapp.shop.base.finding import LARGEST_ID


def _currency(value: str) -> str:
    if value.upper() not in list_currencies():
        raise ValueError("Write a currency's three letters, such as USD or EUR.")
    return value.upper()


def _zone(value: str) -> str:
    if value not in available_timezones():
        raise ValueError("Choose a time zone of the list.")
    return value


def _day(value: object) -> object:
    if not isinstance(value, str):
        return value
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise ValueError("Write a date as year-month-day, such as 2026-03-31.") from None


Currency = Annotated[str, AfterValidator(_currency)]
TimeZone = Annotated[str, AfterValidator(_zone)]
Day = Annotated[date, BeforeValidator(_day)]


def listed_id(value: object, *words: str) -> object:
    """A row's number as a list sends it, or one of the words that the list offers beside its rows.

    Raises ValueError with a sentence for the field.
    """
    if value is None or value in words:
        return value
    try:
        number = int(str(value))
    except ValueError:
        raise ValueError("Choose one of the list.") from None
    if not 0 < number <= LARGEST_ID:
        raise ValueError("Choose one of the list.")
    return number
