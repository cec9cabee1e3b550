"""What is wrong with a field, in one plain sentence: the same on pages and in the API."""

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

_SAYS = {
    "missing": "Please fill this in.",
    "string_too_short": "Please fill this in.",
    "string_too_long": "Use at most {max_length} characters.",
    "int_parsing": "Write a whole number.",
    "int_from_float": "Write a whole number.",
    "int_parsing_size": "That number is too large.",
    "float_parsing": "Write a number, such as 12.5.",
    "finite_number": "Write a number, such as 12.5.",
    "decimal_parsing": "Write an amount, such as 250 or 250.50.",
    "decimal_max_places": "Write at most {decimal_places} decimals.",
    "decimal_whole_digits": "That amount is too large.",
    "decimal_max_digits": "That amount is too large.",
    "date_parsing": "Write a date as year-month-day, such as 2026-03-31.",
    "date_from_datetime_parsing": "Write a date as year-month-day, such as 2026-03-31.",
    "greater_than_equal": "Must be {ge:g} or more.",
    "greater_than": "Must be more than {gt:g}.",
    "less_than_equal": "Must be {le:g} or less.",
    "less_than": "Must be less than {lt:g}.",
    "enum": "Choose one of the list.",
    "literal_error": "Choose one of the list.",
    "bool_parsing": "Choose yes or no.",
    "too_short": "Choose at least one.",
}


def messages(error: ValidationError) -> dict[str, str]:
    """One plain sentence for each field that failed."""
    return sentences(error.errors())


def sentences(errors: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """The same of errors as pydantic lists them."""
    found: dict[str, str] = {}
    for item in errors:
        field = str(item["loc"][0]) if item["loc"] else ""
        template = _SAYS.get(item["type"])
        given = item.get("ctx", {})
        raised = given.get("error")
        own = str(raised) if isinstance(raised, ValueError) else item["msg"]
        text = template.format(**given) if template else own
        found.setdefault(field, text)
    return found
