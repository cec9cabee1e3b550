"""Cuts at the tuning bench."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class Cut(SQLModel, table=True):
    """Append-only: what one size of a blank was cut to [mm]: a finger hole's diameter, or how far the foot lies from
    the splitting edge."""

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    control: int  # 0 is the foot, else the number of the finger hole
    size: float
    before: float | None = None  # what it was until then, where that was known
    note: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    corrects_id: int | None = Field(default=None, foreign_key="cut.id")
    taken_back: bool = False  # true on the correcting row: the cut it names no longer counts
    # True where the size was measured when tuning ended: it was cut before, nobody knows when.
    found: bool = Field(default=False, sa_column_kwargs={"server_default": "0"})
