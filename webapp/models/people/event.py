"""The shop's diary, and keys that make a repeated form harmless."""

from datetime import datetime

from sqlalchemy import Index
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class Event(SQLModel, table=True):
    """Append-only: who did what to which order, blank, pattern, lot or person, in plain words."""

    __table_args__ = (Index("ix_event_subject_subject_id", "subject", "subject_id"),)

    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int | None = Field(default=None, foreign_key="person.id")
    subject: str = Field(max_length=20)
    subject_id: int
    what: str = Field(max_length=300)
    why: str = Field(default="", max_length=1000)


class Submission(SQLModel, table=True):
    """A form that was carried out, by the random key it was sent with; sent again, it does nothing twice."""

    key: str = Field(primary_key=True, max_length=40)
    person_id: int = Field(foreign_key="person.id")
    went_to: str = Field(max_length=1000)
    at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
