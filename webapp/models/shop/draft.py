"""A table of rows that someone is about to bring in, kept between the preview and the decision."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, now


class ImportDraft(SQLModel, table=True):
    """The text of a CSV file as it was read. Gone once it is imported, given up, or a day old."""

    __tablename__ = "import_draft"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True, ondelete="CASCADE")
    noun: str = Field(max_length=20)
    file_name: str = Field(default="", max_length=120)
    content: str
    at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
