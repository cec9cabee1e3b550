"""What the shop's prices are built from, and the options it offers."""

from decimal import Decimal
from enum import StrEnum

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from webapp.models.base import Exact, Money, choice
from webapp.models.blanks.blank import Stage


class Rounding(StrEnum):
    """How a price that was built up is rounded."""

    CENT = "to the cent"
    NEAREST_1 = "nearest 1"
    UP_1 = "up to 1"
    NEAREST_5 = "nearest 5"
    UP_5 = "up to 5"
    NEAREST_10 = "nearest 10"
    UP_10 = "up to 10"
    UP_99 = "up to .99"
    UP_9 = "up to a last figure of 9"


class Pricing(SQLModel, table=True):
    """How prices are built and what stands on the papers about them. At most one row, with id 1."""

    id: int = Field(default=1, primary_key=True)
    consumables: Decimal = Field(default=Decimal(0), sa_type=Money)  # glue, abrasives, finish, cord for one flute
    overhead_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)  # spoilt blanks and the like, on the cost
    markup_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    rounding: Rounding = Field(default=Rounding.CENT, sa_type=choice(Rounding))
    tax_name: str = Field(default="", max_length=40)
    tax_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    tax_included: bool = False
    deposit_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    quote_days: int = 30
    letterhead: str = Field(default="", max_length=500)
    terms: str = Field(default="", max_length=1500)
    # Whether a customer's own page says how many orders are before theirs.
    public_line: bool = Field(default=False, sa_column_kwargs={"server_default": sa.false()})
    version: int = 1


class StageRate(SQLModel, table=True):
    """What an hour at a stage costs the shop. How long one flute is worked on there, `StageMinutes` says."""

    __tablename__ = "stage_rate"

    stage: Stage = Field(primary_key=True, sa_type=choice(Stage))
    hourly: Decimal = Field(default=Decimal(0), sa_type=Money)


class FluteOption(SQLModel, table=True):
    """Something beyond the plain flute that the shop offers: what it adds to the price, and what it costs to make."""

    __tablename__ = "flute_option"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80, unique=True)
    price: Decimal = Field(default=Decimal(0), sa_type=Money)
    materials: Decimal = Field(default=Decimal(0), sa_type=Money)
    minutes: int = 0
    offered: bool = True
    version: int = 1


class ChosenOption(SQLModel, table=True):
    """An option that one ordered flute has, at the price agreed for it."""

    __tablename__ = "chosen_option"

    id: int | None = Field(default=None, primary_key=True)
    ordered_flute_id: int = Field(foreign_key="ordered_flute.id", index=True, ondelete="CASCADE")
    option_id: int = Field(foreign_key="flute_option.id", index=True)
    name: str = Field(max_length=80)
    price: Decimal = Field(sa_type=Money)
    materials: Decimal = Field(default=Decimal(0), sa_type=Money)
    minutes: int = 0
