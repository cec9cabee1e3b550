"""Many toleranced flutes calculated in the background: how far that has come, and what came out."""

from datetime import datetime
from typing import Any

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class SpreadRun(SQLModel, table=True):
    """One calculation for one revision. `done` and `touched_at` are kept up as it goes, for whichever process asks."""

    __tablename__ = "spread_run"

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="pattern_revision.id", index=True)
    tolerances: dict[str, Any] = Field(sa_type=document())
    tolerance_cents: float
    flutes: int
    done: int = 0
    result: dict[str, Any] | None = Field(default=None, sa_type=document())
    fault: str = Field(default="", max_length=300)
    started_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    started_by: int = Field(foreign_key="person.id")
    touched_at: datetime = Field(default_factory=now, sa_type=UtcTime)
