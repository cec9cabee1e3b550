"""How an order leaves the shop: to whom, by which carrier, under which number."""

from datetime import date

from sqlmodel import Field, SQLModel


class Parcel(SQLModel, table=True):
    """The parcel of one order; what is left empty is the customer's own."""

    order_id: int = Field(primary_key=True, foreign_key="customer_order.id")
    name: str = Field(default="", max_length=120)
    address: str = Field(default="", max_length=400)
    country: str = Field(default="", max_length=2)  # ISO 3166-1; empty: at home
    is_gift: bool = False
    gift_words: str = Field(default="", max_length=500)
    carrier: str = Field(default="", max_length=60)
    tracking: str = Field(default="", max_length=80)
    weight: int | None = None  # g, packed
    sent_on: date | None = None
    version: int = 1
