"""Patterns: the complete dimensions for a key, in numbered revisions."""

from datetime import datetime
from typing import Any

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class Pattern(SQLModel, table=True):
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=80, unique=True)
    key: str = Field(max_length=4, index=True)
    scale: str = Field(max_length=30)
    holes: int = 6
    a4: float = 440.0
    temperament: str = Field(default="equal", max_length=20)
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    routing_id: int | None = Field(default=None, foreign_key="routing.id")  # None: the shop's usual one


class PatternRevision(SQLModel, table=True):
    """One numbered set of dimensions. Rows are only ever added: a revision, once saved, is never edited."""

    __tablename__ = "pattern_revision"
    __table_args__ = (UniqueConstraint("pattern_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    pattern_id: int = Field(foreign_key="pattern.id", index=True)
    number: int = 1
    instrument: dict[str, Any] = Field(sa_type=document())
    request: dict[str, Any] = Field(sa_type=document())
    notes: list[dict[str, Any]] = Field(sa_type=document())
    warnings: list[str | dict[str, Any]] = Field(sa_type=document())  # plain texts, or with their lengths apart
    note: str = Field(default="", max_length=2000)
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    made_by: int = Field(foreign_key="person.id")
    # Set when someone vouches for it from flutes that came out well.
    proven_at: datetime | None = Field(default=None, sa_type=UtcTime)
    proven_by: int | None = Field(default=None, foreign_key="person.id")
