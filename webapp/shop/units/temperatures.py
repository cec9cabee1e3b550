"""Temperatures as people write them: 20, 20 °C, 68 F. Stored in degrees C, shown and read in a person's own degrees."""

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from webapp.models import Degrees

_LONGEST = 40  # characters: more could only be blanks, which the expression would part in every way
_TEMPERATURE = re.compile(
    r"^\s*([-+\N{MINUS SIGN}]?\d{1,3}(?:[.,]\d{0,4})?)\s*(?:°|deg(?:rees)?\.?)?\s*([CF])?\s*$", re.I
)


def parse_temperature(text: str, degrees: Degrees = Degrees.C) -> float:
    """Degrees C for a typed temperature; without a letter it is in `degrees`. Raises ValueError for the field."""
    match = _TEMPERATURE.match(text) if len(text) <= _LONGEST else None
    if match is None:
        raise ValueError("Write a temperature, such as " + ("68." if degrees is Degrees.F else "20 or 68 F."))
    number = float(match[1].replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    # To a ten-thousandth: a temperature that was stored in C comes back from F as it was.
    return round((number - 32) / 1.8, 4) if (match[2] or degrees).upper() == "F" else number


def show_temperature(celsius: float, degrees: Degrees, places: int | None = 1) -> str:
    """68 °F, 19.9 °C. With `places` none it gives the same temperature when it is typed in again."""
    number = celsius if degrees is Degrees.C else celsius * 1.8 + 32
    text = f"{number:.6g}" if places is None else f"{number:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} °{degrees.value}".replace("-", "\N{MINUS SIGN}")


def show_warmer(celsius: float, degrees: Degrees) -> str:
    """A difference of temperatures: 2 °C, 3.6 °F."""
    return f"{celsius * (1.8 if degrees is Degrees.F else 1):.3g} °{degrees.value}"


def _typed(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str):
        return value
    return parse_temperature(value, (info.context or {}).get("degrees", Degrees.C))


def _within(value: float, info: ValidationInfo) -> float:
    if not 0 <= value <= 45:
        degrees = (info.context or {}).get("degrees", Degrees.C)
        raise ValueError(f"Must be between {show_temperature(0, degrees)} and {show_temperature(45, degrees)}.")
    return value


# A form field for the temperature of a room [degrees C].
Temperature = Annotated[float, Field(allow_inf_nan=False), BeforeValidator(_typed), AfterValidator(_within)]
