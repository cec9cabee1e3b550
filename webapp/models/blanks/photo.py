"""Pictures and papers of blanks and of lots of stock. The files lie in the data folder; here stands what they are."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, now


class FileKind(StrEnum):
    PICTURE = "picture"
    PAPER = "paper"  # a PDF, such as what shows where a timber came from


class Photo(SQLModel, table=True):
    """A picture or paper of one blank or one lot; `file_name` is random, a name that says nothing of what it shows.

    One that was taken back is no longer shown; who did so and why stays on record.
    """

    id: int | None = Field(default=None, primary_key=True)
    kind: FileKind = Field(sa_type=choice(FileKind))
    blank_id: int | None = Field(default=None, foreign_key="blank.id", index=True)
    step_id: int | None = Field(default=None, foreign_key="blank_step.id", index=True)
    defect_id: int | None = Field(default=None, foreign_key="defect.id", index=True)
    item_id: int | None = Field(default=None, foreign_key="stock_item.id", index=True)
    file_name: str = Field(max_length=40, unique=True)  # in the folder photos of the data folder
    sha256: str = Field(max_length=64)
    size: int  # bytes of the kept file
    width: int | None = None  # px
    height: int | None = None
    pages: int | None = None
    caption: str = Field(default="", max_length=200)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    taken_back_at: datetime | None = Field(default=None, sa_type=UtcTime)
    taken_back_by: int | None = Field(default=None, foreign_key="person.id")
    taken_back_why: str = Field(default="", max_length=300)
