"""What went wrong with a blank, and what was decided about it."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import Index
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, now
from webapp.models.blanks.blank import Stage


class DefectCause(SQLModel, table=True):
    """A name the shop gave to something that goes wrong, beside those every shop starts with."""

    __tablename__ = "defect_cause"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=40, unique=True)
    retired: bool = False
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class Defect(SQLModel, table=True):
    """Append-only: one thing found wrong on one blank, and where along it [mm from the mouth end].

    `is_open` is what the decisions add up to; it is set in the transaction of the decision.
    """

    __table_args__ = (Index("ix_defect_open", "is_open", "blank_id"), Index("ix_defect_found", "at", "cause"))

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    cause: str = Field(max_length=40)
    grave: bool = False  # the blank waits until something is decided
    stage: Stage = Field(sa_type=choice(Stage))  # where the blank stood when it was found
    start: float | None = None
    end: float | None = None
    what: str = Field(default="", max_length=500)
    is_open: bool = True
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class DefectChoice(StrEnum):
    FILL = "fill"
    SHORTEN = "shorten"
    ANOTHER_KEY = "another key"
    FIREWOOD = "firewood"
    LEAVE = "leave it"  # it does no harm where it is
    NO_DEFECT = "no defect"  # it was written down by mistake


class DefectDecision(SQLModel, table=True):
    """Append-only: what was decided about a defect, by whom and why; the newest row holds."""

    __tablename__ = "defect_decision"

    id: int | None = Field(default=None, primary_key=True)
    defect_id: int = Field(foreign_key="defect.id", index=True)
    decided: DefectChoice = Field(sa_type=choice(DefectChoice))
    why: str = Field(default="", max_length=500)
    # Where the blank is now made to another pattern: the revision it had, and the one it has.
    from_revision_id: int | None = Field(default=None, foreign_key="pattern_revision.id")
    to_revision_id: int | None = Field(default=None, foreign_key="pattern_revision.id")
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
