"""What finished flutes teach the shop: what a person decided about it, and what was calculated from it."""

from datetime import datetime
from typing import Any

from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, document, now


class LearningReset(SQLModel, table=True):
    """Append-only: flutes finished before `at` no longer count; a row that names another takes that one back."""

    __tablename__ = "learning_reset"

    id: int | None = Field(default=None, primary_key=True)
    why: str = Field(max_length=300)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    undoes_id: int | None = Field(default=None, foreign_key="learning_reset.id")


class LearningChoice(SQLModel, table=True):
    """Append-only: whether a finished flute should teach, and why; its newest row holds."""

    __tablename__ = "learning_choice"

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    counts: bool
    why: str = Field(default="", max_length=300)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class Evidence(SQLModel, table=True):
    """What one finished flute says by itself. Calculated from its readings and cuts, and again when they change."""

    blank_id: int = Field(foreign_key="blank.id", primary_key=True)
    based_on: str = Field(max_length=64)
    document: dict[str, Any] | None = Field(default=None, sa_type=document())
    fault: str = Field(default="", max_length=300)  # why it can't teach
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class Learnt(SQLModel, table=True):
    """The shop's corrections as calculated last, from which flutes; one row, with id 1."""

    id: int = Field(default=1, primary_key=True)
    based_on: str = Field(max_length=64)
    newest: datetime | None = Field(default=None, sa_type=UtcTime)  # when the last flute in it was finished
    document: dict[str, Any] = Field(sa_type=document())
    made_at: datetime = Field(default_factory=now, sa_type=UtcTime)
