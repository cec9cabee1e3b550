"""Money that came and went for an order: a plain ledger, not an accounting system."""

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, choice, now


class PaymentKind(StrEnum):
    DEPOSIT = "deposit"
    PAYMENT = "payment"
    REFUND = "refund"


class PaidBy(StrEnum):
    CASH = "cash"
    CARD = "card"
    TRANSFER = "bank transfer"
    CHECK = "check"
    OTHER = "other"


class Payment(SQLModel, table=True):
    """Append-only: so much came (above zero) or went back (below zero). A mistake is put right by a counter row that
    names the first."""

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    kind: PaymentKind = Field(sa_type=choice(PaymentKind))
    amount: Decimal = Field(sa_type=Money)
    currency: str = Field(max_length=3)
    paid_by: PaidBy = Field(sa_type=choice(PaidBy))
    paid_on: date = Field(index=True)
    reference: str = Field(default="", max_length=120)
    note: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    corrects_id: int | None = Field(default=None, foreign_key="payment.id", unique=True)
