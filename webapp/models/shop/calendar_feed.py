"""Secret addresses at which a person's calendar reads what comes due in the shop."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class CalendarFeed(SQLModel, table=True):
    """One person's feed. The secret itself is shown once and never kept, only its digest."""

    __tablename__ = "calendar_feed"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    digest: str = Field(max_length=64, unique=True)
    with_customers: bool = False
    alarm_minutes: int | None = None  # a calendar's own alarm, so long before; none: no alarm
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    read_at: datetime | None = Field(default=None, sa_type=UtcTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcTime)
