"""A table of rows that someone is about to bring in, kept between the preview and the decision."""

from datetime import datetime
from typing import Any

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class ImportDraft(SQLModel, table=True):
    """The text of a CSV file as it was read; once it is imported, what taking that back needs instead.

    Gone once it is given up, taken back, or a day old.
    """

    __tablename__ = "import_draft"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    noun: str = Field(max_length=20)
    file_name: str = Field(default="", max_length=120)
    content: str
    done_at: datetime | None = Field(default=None, sa_type=UtcTime)
    undo: list[dict[str, Any]] | None = Field(default=None, sa_type=document())
    at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
