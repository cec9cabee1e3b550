"""Blanks, the steps that each goes through, and what was recorded at each step."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ColumnElement, Index, literal_column, text
from sqlmodel import Field, SQLModel

from webapp.models.base import UtcTime, choice, now


class Stage(StrEnum):
    BORING = "boring"
    GLUING = "gluing"
    FLUE = "flue"
    VOICING = "voicing"
    TUNING = "tuning"
    FINISHING = "finishing"


class BlankStatus(StrEnum):
    IN_WORK = "in work"
    FINISHED = "finished"
    HANDED_OVER = "handed over"
    FIREWOOD = "firewood"
    MISTAKE = "opened by mistake"


class StepKind(StrEnum):
    WORK = "work"  # done or not done
    GAUGE = "gauge"  # a measured length against limits
    GLUE_UP = "glue-up"  # passed by coming out of clamps
    CURE = "cure"  # passed once the cure time is over
    COAT = "coat"  # a coat of finish that must dry before the next step
    FUNDAMENTAL = "fundamental"  # a reading of the lowest note
    READINGS = "readings"  # a reading of every note of the chart


class Measure(StrEnum):
    """What sort of size a gauge measures: by it a size beyond its limits is called too deep, too long or too thin."""

    SIZE = "size"  # too large, too small
    WIDTH = "width"
    LENGTH = "length"
    DEPTH = "depth"
    THICKNESS = "thickness"


_FOR_THE_SHOP = "ordered_flute_id IS NULL AND status IN ('in work', 'finished')"


class Blank(SQLModel, table=True):
    """Two halves as one work piece, from milling to finish.

    `stage`, `status` and the `waits_*` fields are what the records add up to; they are updated in the same
    transaction as the record that changes them, so that the rack can be drawn from an index.
    """

    __table_args__ = (
        Index("ix_blank_shelf", "status", "stage", "due_on", "id", "waits_for"),
        Index("ix_blank_next", "status", "next_kind", "due_on", "id", "waits_for"),
        Index("ix_blank_due", "status", "due_on", "id"),
        Index("ix_blank_waits", "waits_for", "waits_until"),
        Index("ix_blank_built", "revision_id", "status"),
        Index("ix_blank_finished", "finished_at", "id"),
        Index("ix_blank_given_up", "given_up_at", "id"),
        Index("ix_blank_came_out", "revision_id", "finished_at", "id"),
        Index("ix_blank_hands", "hands_id", "status", "stage", "due_on", "id"),
        Index("ix_blank_keyed", "status", "key", "stage", "due_on", "id"),
        Index("ix_blank_wood", "status", "species_id", "stage", "due_on", "id"),
        Index(
            "ix_blank_for_the_shop",
            "key",
            "id",
            sqlite_where=text(_FOR_THE_SHOP),
            postgresql_where=text(_FOR_THE_SHOP),
        ),
    )

    id: int | None = Field(default=None, primary_key=True)
    serial: str = Field(max_length=20, unique=True)
    ordered_flute_id: int | None = Field(default=None, foreign_key="ordered_flute.id", index=True)
    revision_id: int = Field(foreign_key="pattern_revision.id")
    species_id: int = Field(foreign_key="species.id", index=True)
    item_id: int | None = Field(default=None, foreign_key="stock_item.id")
    key: str = Field(max_length=4, index=True)
    status: BlankStatus = Field(default=BlankStatus.IN_WORK, sa_type=choice(BlankStatus))
    stage: Stage = Field(default=Stage.BORING, sa_type=choice(Stage))
    due_on: date | None = None
    waits_for: str | None = Field(default=None, max_length=20)  # glue, clamps, cure, coat
    waits_until: datetime | None = Field(default=None, sa_type=UtcTime, index=True)
    # The first step that is not passed yet: the next hand movement.
    next_name: str | None = Field(default=None, max_length=80)
    next_kind: StepKind | None = Field(default=None, sa_type=choice(StepKind))
    opened_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    opened_by: int = Field(foreign_key="person.id")
    hands_id: int | None = Field(default=None, foreign_key="person.id")  # whose hands it is in, where that was said
    routing_version_id: int | None = Field(default=None, foreign_key="routing_version.id")
    finished_at: datetime | None = Field(default=None, sa_type=UtcTime)
    given_up_at: datetime | None = Field(default=None, sa_type=UtcTime)  # when it became firewood
    version: int = 1
    # What its defects add up to: how many nothing was decided about, and whether one of those is grave.
    defects_open: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    grave_defect: bool = Field(default=False, sa_column_kwargs={"server_default": "0"})


def is_for_the_shop() -> ColumnElement[bool]:
    """That a blank is nobody's yet, in work or finished, in the very words of the index of those."""
    return literal_column("blank.ordered_flute_id IS NULL AND blank.status IN ('in work', 'finished')")


class StepState(StrEnum):
    OPEN = "open"
    PASSED = "passed"
    FAILED = "failed"


class BlankStep(SQLModel, table=True):
    """One step of a blank's own copy of the routing, made when the blank was opened."""

    __tablename__ = "blank_step"

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    stage: Stage = Field(sa_type=choice(Stage))
    position: int
    code: str = Field(max_length=30)  # what the drawing listens for: bore, glue-up, flue, window, block ...
    name: str = Field(max_length=80)
    instruction: str = Field(default="", max_length=600)
    caution: str = Field(default="", max_length=600)
    kind: StepKind = Field(sa_type=choice(StepKind))
    gauge: str = Field(default="", max_length=60)  # what to measure, with what, in words for the bench
    measures: Measure = Field(
        default=Measure.SIZE, sa_type=choice(Measure), sa_column_kwargs={"server_default": Measure.SIZE.value}
    )
    nominal: float | None = None  # mm for a gauge, minutes for a coat
    low: float | None = None
    high: float | None = None
    # May be recorded while the waiting step before it still waits: squeeze-out is swabbed in the clamps.
    while_waiting: bool = False
    # Not passed without a picture, or a reason why there is none.
    photo: bool = Field(default=False, sa_column_kwargs={"server_default": "0"})
    state: StepState = Field(default=StepState.OPEN, sa_type=choice(StepState))
    # A step of a later repair, not of the flute's own building.
    repair_id: int | None = Field(default=None, foreign_key="repair.id", index=True)


class Outcome(StrEnum):
    PASSED = "passed"
    FAILED = "failed"
    LET_PASS = "let pass"  # outside its limits, or before its time, for a stated reason
    TAKEN_BACK = "taken back"  # corrects an earlier entry


class StepRecord(SQLModel, table=True):
    """Append-only: who did which step, when, what was measured, and how it came out."""

    __tablename__ = "step_record"

    id: int | None = Field(default=None, primary_key=True)
    step_id: int = Field(foreign_key="blank_step.id", index=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    outcome: Outcome = Field(sa_type=choice(Outcome))
    value: float | None = None
    why: str = Field(default="", max_length=300)  # why it failed, or why it was let pass
    note: str = Field(default="", max_length=1000)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    corrects_id: int | None = Field(default=None, foreign_key="step_record.id")


class Reading(SQLModel, table=True):
    """Append-only: a measured pitch, with its fingering, air and moment. `cents` is against `target` in played air."""

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    stage: Stage = Field(sa_type=choice(Stage))
    fingering: str = Field(max_length=8)
    note_name: str = Field(max_length=4)
    typed: str = Field(default="", max_length=30)  # as it was written: 437.2 or A4 -12
    frequency: float
    target: float
    temperature: float
    humidity: float
    warmed_up: bool = True
    cents: float
    note: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    corrects_id: int | None = Field(default=None, foreign_key="reading.id")
    taken_back: bool = False  # true on the correcting row: the reading it names no longer counts
