"""Adhesives, and glue-ups: sets of blanks clamped together at one time."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class Adhesive(SQLModel, table=True):
    """A generic kind of glue with the times the shop works by. The label on the bottle comes first."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=60, unique=True)
    open_minutes: int
    clamp_minutes: int
    cure_minutes: int
    lowest_temperature: float  # degrees C
    note: str = Field(default="", max_length=500)
    item_id: int | None = Field(default=None, foreign_key="stock_item.id")


class GlueUp(SQLModel, table=True):
    """Times are copied from the adhesive when glue is first spread, so that later edits change no history."""

    __tablename__ = "glue_up"

    id: int | None = Field(default=None, primary_key=True)
    adhesive_id: int = Field(foreign_key="adhesive.id")
    lot: str = Field(default="", max_length=60)
    temperature: float
    open_minutes: int
    clamp_minutes: int
    cure_minutes: int
    spread_at: datetime = Field(sa_type=UtcTime)
    clamped_at: datetime | None = Field(default=None, sa_type=UtcTime)
    out_at: datetime | None = Field(default=None, sa_type=UtcTime, index=True)
    cured_at: datetime | None = Field(default=None, sa_type=UtcTime)
    note: str = Field(default="", max_length=500)
    by: int = Field(foreign_key="person.id")


class GluedBlank(SQLModel, table=True):
    """One blank's place in a glue-up, and when it came out (with the reason, where that was early)."""

    __tablename__ = "glued_blank"

    glue_up_id: int = Field(foreign_key="glue_up.id", primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", primary_key=True, index=True)
    taken_out_at: datetime | None = Field(default=None, sa_type=UtcTime)
    taken_out_by: int | None = Field(default=None, foreign_key="person.id")
    why_early: str = Field(default="", max_length=300)
    added_at: datetime = Field(default_factory=now, sa_type=UtcTime)
