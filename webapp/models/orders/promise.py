"""Dates calculated from the shop's queue, in the background, and the dates that were promised."""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Index
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, document, now


class ForecastKind(StrEnum):
    QUEUE = "queue"  # when everything that is open will be finished, and what would help
    PAST = "past"  # how the dates of orders already finished would have held


class Forecast(SQLModel, table=True):
    """One calculation. `mark` names the queue that it is for; `done` of `total` is kept up as it goes."""

    __table_args__ = (Index("ix_forecast_latest", "kind", "id"),)

    id: int | None = Field(default=None, primary_key=True)
    kind: ForecastKind = Field(sa_type=choice(ForecastKind))
    mark: str = Field(max_length=64)
    total: int
    done: int = 0
    result: dict[str, Any] | None = Field(default=None, sa_type=document())
    fault: str = Field(default="", max_length=300)
    started_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    touched_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class PromiseKind(StrEnum):
    LIKELY = "likely"
    SAFE = "safe"
    OWN = "own"  # a day that the shop chose itself


class Promise(SQLModel, table=True):
    """Append-only: the day that was promised for an order, what was calculated then, and the words it was said in."""

    id: int | None = Field(default=None, primary_key=True)
    order_id: int = Field(foreign_key="customer_order.id", index=True)
    due_on: date
    kind: PromiseKind = Field(sa_type=choice(PromiseKind))
    earliest: date | None = None
    likely: date | None = None
    safe: date | None = None
    words: str = Field(max_length=600)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
