"""Papers that went to a customer, kept word for word, and what was changed after an order was confirmed."""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, document, now


class IssuedKind(StrEnum):
    QUOTE = "quote"
    CONFIRMATION = "order confirmation"


class IssuedPaper(SQLModel, table=True):
    """Append-only: a quote or a confirmation as it was given out, numbered from 1 for each order and kind."""

    __tablename__ = "issued_paper"
    __table_args__ = (UniqueConstraint("order_id", "kind", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    kind: IssuedKind = Field(sa_type=choice(IssuedKind))
    number: int
    issued_on: date
    valid_until: date | None = None
    content: dict[str, Any] = Field(sa_type=document())
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class NoticeSeen(SQLModel, table=True):
    """Append-only: somebody has dealt with a notice on an order; `mark` names it as it stood."""

    __tablename__ = "notice_seen"

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    mark: str = Field(max_length=64)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class OrderChange(SQLModel, table=True):
    """Append-only: what was changed after an order was confirmed, from what to what, by whom and why."""

    __tablename__ = "order_change"

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    what: str = Field(max_length=120)
    before: str = Field(default="", max_length=2000)
    after: str = Field(default="", max_length=2000)
    why: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
