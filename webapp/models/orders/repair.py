"""Repairs and retuning: a line of an order about a flute that exists already."""

from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, choice
from webapp.models.blanks.blank import BlankStatus


class RepairKind(StrEnum):
    REPAIR = "repair"
    RETUNING = "retuning"
    CHECK = "check over"


class Repair(SQLModel, table=True):
    """One flute of an order that is repaired, retuned or checked: one of the shop's own by its blank, or another by its
    description alone."""

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    position: int = 1
    kind: RepairKind = Field(sa_type=choice(RepairKind))
    blank_id: int | None = Field(default=None, foreign_key="blank.id", index=True)
    described: str = Field(default="", max_length=500)  # a flute that was not made here
    asked: str = Field(max_length=1000)
    price: Decimal = Field(default=Decimal(0), sa_type=Money)
    # Set when the flute came in and went to the rack, and what it was until then.
    begun_at: datetime | None = Field(default=None, sa_type=UtcTime)
    came_as: BlankStatus | None = Field(default=None, sa_type=choice(BlankStatus))
    built_at: datetime | None = Field(default=None, sa_type=UtcTime)
    done_at: datetime | None = Field(default=None, sa_type=UtcTime)
    found: str = Field(default="", max_length=1000)  # what was found and done, for the customer
