"""When the shop works: everyone's hours at the bench, and the days on which nobody, or one person, is there."""

from datetime import date

from sqlalchemy import Index
from sqlmodel import Field, SQLModel


class BenchHours(SQLModel, table=True):
    """How many hours one person means to spend at the bench on one day of the week (0: Monday)."""

    __tablename__ = "bench_hours"

    person_id: int = Field(primary_key=True, foreign_key="person.id", ondelete="CASCADE")
    weekday: int = Field(primary_key=True)
    hours: float


class DayOff(SQLModel, table=True):
    """Days, the last one among them, on which the shop is closed, or on which one person is away."""

    __tablename__ = "day_off"
    __table_args__ = (Index("ix_day_off_span", "last", "first"),)

    id: int | None = Field(default=None, primary_key=True)
    first: date
    last: date
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True, ondelete="CASCADE")
    why: str = Field(default="", max_length=120)
