"""Adhesives, their bottles, and glue-ups: sets of blanks clamped together at one time."""

from datetime import date, datetime

from sqlalchemy import Index, UniqueConstraint, text
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
    # The times above hold at this temperature [degrees C] and this moisture of the wood [percent] ...
    at_temperature: float = Field(default=20.0, sa_column_kwargs={"server_default": "20"})
    at_moisture: float = Field(default=8.0, sa_column_kwargs={"server_default": "8"})
    # ... and are so many times as long 10 degrees colder, and with 2 percent more moisture in the wood.
    slower_when_cold: float = Field(default=1.5, sa_column_kwargs={"server_default": "1.5"})
    slower_when_damp: float = Field(default=1.15, sa_column_kwargs={"server_default": "1.15"})
    # What the wood and the room should be like [percent], and how far two halves may be apart.
    driest_wood: float = Field(default=6.0, sa_column_kwargs={"server_default": "6"})
    dampest_wood: float = Field(default=12.0, sa_column_kwargs={"server_default": "12"})
    most_apart: float = Field(default=2.0, sa_column_kwargs={"server_default": "2"})
    driest_air: float = Field(default=30.0, sa_column_kwargs={"server_default": "30"})
    # How much is spread [g/m2 of joint], and what a ml of it weighs [g].
    spread_rate: float = Field(default=180.0, sa_column_kwargs={"server_default": "180"})
    density: float = Field(default=1.1, sa_column_kwargs={"server_default": "1.1"})
    # True once someone compared these figures with the label; until then they are from memory.
    as_on_label: bool = Field(default=False, sa_column_kwargs={"server_default": "0"})


class GlueLot(SQLModel, table=True):
    """A bottle or tin of an adhesive by the lot on its label, and the day after which it should not be used."""

    __tablename__ = "glue_lot"
    __table_args__ = (UniqueConstraint("adhesive_id", "lot"),)

    id: int | None = Field(default=None, primary_key=True)
    adhesive_id: int = Field(foreign_key="adhesive.id", index=True)
    lot: str = Field(max_length=60)
    best_before: date | None = None
    empty: bool = False  # thrown away or used up: no longer offered
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


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
    humidity: float | None = None  # of the room's air [percent]
    # What was wrong when glue was spread, one line each, and why it was done all the same.
    warned: str = Field(default="", max_length=1000, sa_column_kwargs={"server_default": ""})
    why: str = Field(default="", max_length=300, sa_column_kwargs={"server_default": ""})
    why_late: str = Field(default="", max_length=300, sa_column_kwargs={"server_default": ""})  # clamped too late


_INSIDE = text("taken_out_at IS NULL")


class GluedBlank(SQLModel, table=True):
    """One blank's place in a glue-up, and when it came out (with the reason, where that was early)."""

    __tablename__ = "glued_blank"
    __table_args__ = (
        Index("ix_glued_blank_inside", "glue_up_id", "blank_id", sqlite_where=_INSIDE, postgresql_where=_INSIDE),
    )

    glue_up_id: int = Field(foreign_key="glue_up.id", primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", primary_key=True, index=True)
    taken_out_at: datetime | None = Field(default=None, sa_type=UtcTime)
    taken_out_by: int | None = Field(default=None, foreign_key="person.id")
    why_early: str = Field(default="", max_length=300)
    added_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    moisture_one: float | None = None  # of its two halves [percent]
    moisture_other: float | None = None
    glue: float | None = None  # g that were spread on its joint
    place: int | None = None  # which of the shop's clamp places it lies in, counted from 1
