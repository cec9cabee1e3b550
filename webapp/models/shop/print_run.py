"""Many papers printed into one file in the background: how far that has come, and the file."""

from datetime import datetime
from typing import Any

from sqlalchemy import Column, LargeBinary
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class PrintRun(SQLModel, table=True):
    """One batch of travelers. `done` and `touched_at` are kept up as it goes, for whichever process asks."""

    __tablename__ = "print_run"

    id: int | None = Field(default=None, primary_key=True)
    serials: list[Any] = Field(sa_type=document())
    units: str = Field(max_length=10)
    address: str = Field(max_length=300)
    total: int
    done: int = 0
    pages: int | None = None
    size: int | None = None  # bytes of the finished file
    fault: str = Field(default="", max_length=300)
    started_at: datetime = Field(default_factory=now, sa_type=UtcTime, index=True)
    started_by: int = Field(foreign_key="person.id")
    touched_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class PrintedFile(SQLModel, table=True):
    """The finished file of a run, apart from it, so that asking how far it is never reads the file."""

    __tablename__ = "printed_file"

    run_id: int = Field(primary_key=True, foreign_key="print_run.id", ondelete="CASCADE")
    pdf: bytes = Field(sa_column=Column(LargeBinary, nullable=False))
