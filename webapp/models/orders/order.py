"""Customers, their orders, and each flute that an order asks for."""

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, Index, event, literal_column, text
from sqlmodel import Field, SQLModel

from webapp.models.base import Exact, Money, UtcTime, choice, document, now
from webapp.models.folding import folded


class Customer(SQLModel, table=True):
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120, index=True)
    sought: str = Field(default="", max_length=400, index=True)  # the name as `folded` leaves it, kept by itself
    contact: str = Field(default="", max_length=200)
    address: str = Field(default="", max_length=400, sa_column_kwargs={"server_default": ""})
    note: str = Field(default="", max_length=2000)
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    version: int = 1


@event.listens_for(Customer, "before_insert")
@event.listens_for(Customer, "before_update")
def _keep_sought(_mapper: Any, _connection: Any, customer: Customer) -> None:
    customer.sought = folded(customer.name)[:400]


class OrderStatus(StrEnum):
    ENQUIRY = "enquiry"
    QUOTED = "quoted"
    CONFIRMED = "confirmed"
    IN_THE_SHOP = "in the shop"
    READY = "ready"
    HANDED_OVER = "handed over"
    WITHDRAWN = "withdrawn"


class TaxStatus(StrEnum):
    """Whether an order bears the shop's tax on sales, and why not."""

    TAXED = "taxed"
    EXEMPT = "exempt"
    RESALE = "resale"
    EXPORT = "export"


_OPEN = "status NOT IN ('handed over', 'withdrawn')"


class Order(SQLModel, table=True):
    """What a customer asked for and when it is due. `version` counts edits, to refuse a stale one."""

    __tablename__ = "customer_order"
    __table_args__ = (
        Index("ix_customer_order_due", "status", "due_on"),
        Index("ix_customer_order_newest", "status", "number"),
        Index("ix_customer_order_open", "due_on", "number", sqlite_where=text(_OPEN), postgresql_where=text(_OPEN)),
    )

    id: int | None = Field(default=None, primary_key=True)
    number: int = Field(unique=True)
    customer_id: int = Field(foreign_key="customer.id", index=True)
    status: OrderStatus = Field(sa_type=choice(OrderStatus))
    taken_on: date
    due_on: date | None = Field(default=None, index=True)
    currency: str = Field(max_length=3)
    note: str = Field(default="", max_length=2000)
    handed_over_at: datetime | None = Field(default=None, sa_type=UtcTime)
    postage: Decimal = Field(default=Decimal(0), sa_type=Money, sa_column_kwargs={"server_default": "0"})
    # What was agreed about tax and the deposit: the shop's customs until then, kept from the quote or confirmation on.
    tax_name: str | None = Field(default=None, max_length=40)
    tax_percent: Decimal | None = Field(default=None, sa_type=Exact)
    tax_included: bool | None = None
    deposit: Decimal | None = Field(default=None, sa_type=Money)
    tax_status: TaxStatus = Field(
        default=TaxStatus.TAXED, sa_type=choice(TaxStatus), sa_column_kwargs={"server_default": "taxed"}
    )
    tax_reference: str = Field(default="", max_length=80, sa_column_kwargs={"server_default": ""})  # a certificate
    # The customer's own page, where it is open: only the digest of its secret address is kept.
    status_digest: str | None = Field(default=None, max_length=64, unique=True)
    status_since: datetime | None = Field(default=None, sa_type=UtcTime)
    version: int = 1


def is_open() -> ColumnElement[bool]:
    """That an order is neither handed over nor withdrawn, in the very words of the index of those that are open.

    Said beside any narrower condition: a database does not know that few of many orders are open.
    """
    return literal_column(f"customer_order.{_OPEN}")


class OrderedFlute(SQLModel, table=True):
    """One flute of an order: key, scale, hand, wood and price."""

    __tablename__ = "ordered_flute"

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    position: int = 1
    key: str = Field(max_length=4, index=True)
    scale: str = Field(max_length=30)
    holes: int = 6
    a4: float = 440.0
    temperament: str = Field(default="equal", max_length=20)
    species_id: int = Field(foreign_key="species.id")
    reach: float | None = None  # mm from the first to the last finger hole that the hands can span
    extras: str = Field(default="", max_length=1000)
    price: Decimal = Field(default=Decimal(0), sa_type=Money)
    extras_price: Decimal | None = Field(default=None, sa_type=Money)  # beside `price`; none: not agreed yet
    revision_id: int | None = Field(default=None, foreign_key="pattern_revision.id")
    dropped_revision_id: int | None = None  # the pattern that a change of key, scale or holes took away
    # How the price was built up when it was agreed, and why it was set otherwise.
    built_up: dict[str, Any] | None = Field(default=None, sa_type=document())
    price_why: str = Field(default="", max_length=300, sa_column_kwargs={"server_default": ""})

    @property
    def amount(self) -> Decimal:
        """What the customer pays for it: the flute with its options, and its extras."""
        return self.price + (self.extras_price or Decimal(0))
