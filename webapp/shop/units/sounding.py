"""What a flute should sound, as it is typed: key, scale, number of finger holes, pitch standard, temperament."""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, field_validator

from acoustics.notes.music import A4_RANGE, SCALES, TEMPERAMENTS
from webapp.shop.units.keys import Key
from webapp.shop.units.numbers import plain_number


def _with_a_comma(value: object) -> object:
    """A comma as decimal sign is understood."""
    return plain_number(value) if isinstance(value, str) else value


def _a_pitch_standard(value: float) -> float:
    low, high = A4_RANGE
    if not low <= value <= high:
        raise ValueError(f"Must be between {low:g} and {high:g} Hz.")
    return value


# A form field for what A4 sounds at, in Hz.
PitchStandard = Annotated[float, BeforeValidator(_with_a_comma), AfterValidator(_a_pitch_standard)]


class Sounding(BaseModel):
    """The same five questions for an ordered flute and for a pattern."""

    key: Key
    scale: str = "minor pentatonic"
    holes: Literal[5, 6] = 6
    a4: PitchStandard = 440.0
    temperament: str = "equal"

    @field_validator("scale")
    @classmethod
    def _a_scale(cls, value: str) -> str:
        if value not in SCALES:
            raise ValueError("Choose one of the list.")
        return value

    @field_validator("temperament")
    @classmethod
    def _a_temperament(cls, value: str) -> str:
        if value not in TEMPERAMENTS:
            raise ValueError("Choose one of the list.")
        return value

    @field_validator("holes", mode="before")
    @classmethod
    def _five_or_six(cls, value: object) -> object:
        if str(value) not in ("5", "6"):
            raise ValueError("Choose five or six.")
        return int(str(value))
