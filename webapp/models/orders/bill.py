"""Invoices, receipts and credit notes, kept word for word, and the counters of their numbers."""

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, choice, document, now


class BillKind(StrEnum):
    INVOICE = "invoice"
    CREDIT_NOTE = "credit note"
    RECEIPT = "receipt"


class Numbering(StrEnum):
    """How invoices, receipts and credit notes are numbered."""

    PER_YEAR = "per year"
    RUNNING = "running"


class Bookkeeping(SQLModel, table=True):
    """How the shop numbers its bills, and its accountant's numbers of accounts. At most one row, with id 1."""

    id: int = Field(default=1, primary_key=True)
    numbering: Numbering = Field(default=Numbering.PER_YEAR, sa_type=choice(Numbering))
    accounts: dict[str, str] = Field(default_factory=dict, sa_type=document())
    version: int = 1


class Bill(SQLModel, table=True):
    """Append-only: a paper for the books. Numbers of a kind run without gaps, within a year or on and on (year 0)."""

    __table_args__ = (UniqueConstraint("kind", "year", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    kind: BillKind = Field(sa_type=choice(BillKind))
    year: int
    number: int
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    issued_on: date = Field(index=True)
    currency: str = Field(max_length=3)
    total: Decimal = Field(sa_type=Money)  # below zero on a credit note
    tax: Decimal = Field(default=Decimal(0), sa_type=Money)
    content: dict[str, Any] = Field(sa_type=document())
    why: str = Field(default="", max_length=300)
    credits_id: int | None = Field(default=None, foreign_key="bill.id", unique=True)
    payment_id: int | None = Field(default=None, foreign_key="payment.id", unique=True)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class BillCounter(SQLModel, table=True):
    """The last number of a kind that was given, in a year; year 0 where they run on."""

    __tablename__ = "bill_counter"

    kind: BillKind = Field(sa_type=choice(BillKind), primary_key=True)
    year: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    last: int = 0
