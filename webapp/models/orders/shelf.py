"""Flutes that were built for the shop: at what price, and where they lie."""

from datetime import datetime
from decimal import Decimal

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, now


class ShelfFlute(SQLModel, table=True):
    """What the shop says of a flute that no order asked for; `since` is when it came to its place."""

    __tablename__ = "shelf_flute"

    blank_id: int = Field(primary_key=True, foreign_key="blank.id")
    price: Decimal = Field(default=Decimal(0), sa_type=Money)
    place: str = Field(default="", max_length=80)
    since: datetime = Field(default_factory=now, sa_type=UtcTime)
    version: int = 1
