"""Work that the program does by itself, once for all its processes."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime


class Chore(SQLModel, table=True):
    """One kind of chore, such as backups: which process holds it until when, and how it went last."""

    name: str = Field(primary_key=True, max_length=40)
    held_until: datetime | None = Field(default=None, sa_type=UtcTime)
    done_at: datetime | None = Field(default=None, sa_type=UtcTime)
    tried_at: datetime | None = Field(default=None, sa_type=UtcTime)
    fault: str = Field(default="", max_length=500)
