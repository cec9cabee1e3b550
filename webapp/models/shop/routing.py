"""Routings: the steps that blanks of a family of patterns go through, in numbered versions."""

from datetime import datetime
from typing import Any

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class Routing(SQLModel, table=True):
    """A named order of work that patterns point to; those that name none take the shop's usual one."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=60, unique=True)
    note: str = Field(default="", max_length=500)
    is_usual: bool = False
    put_away: bool = False
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    version: int = 1  # counts edits, to refuse a stale one


class RoutingVersion(SQLModel, table=True):
    """All steps of a routing as they stood. The last version is edited until a blank is opened from it; from then on it
    stays as it is, and the next edit begins another."""

    __tablename__ = "routing_version"
    __table_args__ = (UniqueConstraint("routing_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    routing_id: int = Field(foreign_key="routing.id", index=True)
    number: int = 1
    steps: list[dict[str, Any]] = Field(sa_type=document())
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    made_by: int | None = Field(default=None, foreign_key="person.id")
