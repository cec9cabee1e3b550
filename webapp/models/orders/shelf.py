"""Flutes that were built for the shop: at what price, where they lie, who sells them, which were sold on the spot."""

from datetime import date, datetime
from decimal import Decimal

from sqlmodel import Field, SQLModel

from webapp.models.base import Exact, Money, UtcTime, now


class ShelfFlute(SQLModel, table=True):
    """What the shop says of a flute that no order asked for; `since` is when it came to its place."""

    __tablename__ = "shelf_flute"

    blank_id: int = Field(primary_key=True, foreign_key="blank.id")
    price: Decimal = Field(default=Decimal(0), sa_type=Money)
    place: str = Field(default="", max_length=80)
    outlet_id: int | None = Field(default=None, foreign_key="outlet.id", index=True)
    since: datetime = Field(default_factory=now, sa_type=UtcTime)
    version: int = 1


class Outlet(SQLModel, table=True):
    """Somebody who sells flutes of the shop: on consignment, what is sold is owed to the shop less what they keep."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80, unique=True)
    customer_id: int = Field(foreign_key="customer.id", index=True)  # whom the shop's orders for it name
    keeps_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    version: int = 1


class ShelfSale(SQLModel, table=True):
    """Append-only, but for `taken_back_at`: a flute of the shelf was sold, and which order stands for that."""

    __tablename__ = "shelf_sale"

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", unique=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    outlet_id: int | None = Field(default=None, foreign_key="outlet.id", index=True)
    place: str = Field(default="", max_length=80)
    price: Decimal = Field(sa_type=Money)  # what whoever bought it paid
    sold_on: date = Field(index=True)
    by: int = Field(foreign_key="person.id")
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    taken_back_at: datetime | None = Field(default=None, sa_type=UtcTime)
