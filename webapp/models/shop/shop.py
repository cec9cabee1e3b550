"""The shop itself: one row, and the tools that hang on its wall."""

from enum import StrEnum

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from webapp.models.base import choice


class Units(StrEnum):
    INCH = "inch"
    MM = "mm"


class Degrees(StrEnum):
    """How temperatures are shown and typed; they are stored in C."""

    C = "C"
    F = "F"


class Paper(StrEnum):
    LETTER = "letter"
    A4 = "A4"


class SecondStepFor(StrEnum):
    """Who may not go without a second step of signing in."""

    NOBODY = "nobody"
    OWNERS = "owners"
    EVERYONE = "everyone"


class SignInsLast(StrEnum):
    """How long a sign-in lasts before the password is asked for again."""

    MONTH = "month"
    DAY = "day"


class Shop(SQLModel, table=True):
    """Settings that everyone in the shop shares. There is exactly one row, with id 1."""

    id: int = Field(default=1, primary_key=True)
    name: str = Field(max_length=120)
    is_demo: bool = False
    units: Units = Field(default=Units.INCH, sa_type=choice(Units))
    degrees: Degrees = Field(default=Degrees.C, sa_type=choice(Degrees), sa_column_kwargs={"server_default": "C"})
    # Tables for a spreadsheet have 1,5 in them, and semicolons between their cells.
    decimal_comma: bool = Field(default=False, sa_column_kwargs={"server_default": sa.false()})
    paper: Paper = Field(default=Paper.LETTER, sa_type=choice(Paper))
    currency: str = Field(default="USD", max_length=3)
    timezone: str = Field(default="UTC", max_length=64)
    a4: float = 440.0
    # The air of a flute as it is played, warm and breathed into: what targets are meant for.
    played_temperature: float = 24.0
    played_humidity: float = 0.9
    played_co2: float = 0.03
    # The air at the bench, where a reading is taken.
    bench_temperature: float = 20.0
    bench_humidity: float = 0.5
    tolerance_cents: float = 5.0
    # How far below its target the fundamental should stand before turning and finishing raise it.
    fundamental_low_cents: float = 8.0
    clamp_places: int = 6
    serial_prefix: str = Field(default="", max_length=8)
    next_serial: int = 1
    next_order: int = 1
    second_step_for: SecondStepFor = Field(
        default=SecondStepFor.NOBODY, sa_type=choice(SecondStepFor), sa_column_kwargs={"server_default": "nobody"}
    )
    sign_ins_last: SignInsLast = Field(
        default=SignInsLast.MONTH, sa_type=choice(SignInsLast), sa_column_kwargs={"server_default": "month"}
    )
    version: int = 1


class Drill(SQLModel, table=True):
    """One drill bit on the rack; the design engine snaps finger holes to these."""

    id: int | None = Field(default=None, primary_key=True)
    diameter: float = Field(unique=True)
    label: str = Field(max_length=30)
