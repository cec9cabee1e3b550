"""Boards: their moisture over time, their flaws, what was sawn from them; the halves the shop wants to keep; plans."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, document, now


class MoistureReading(SQLModel, table=True):
    """Append-only: what a meter showed on a lot of wood [percent of the ovendry weight]."""

    __tablename__ = "moisture_reading"

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="stock_item.id", index=True)
    percent: float
    note: str = Field(default="", max_length=300)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class BoardFlaw(SQLModel, table=True):
    """A stretch of a board that no piece may hold [mm from the marked end], across all of it or from edge to edge.

    `gone_at` is set when it was sawn away or was no flaw after all.
    """

    __tablename__ = "board_flaw"

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="stock_item.id", index=True)
    start: float
    end: float
    near_edge: float | None = None
    far_edge: float | None = None
    what: str = Field(default="", max_length=120)
    board: int | None = None  # which board of its lot, from 1; empty: each of them
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    gone_at: datetime | None = Field(default=None, sa_type=UtcTime)


class Sawing(SQLModel, table=True):
    """Append-only: a board was sawn. Its length before and after [mm] (none left: 0), its cost, what became waste."""

    id: int | None = Field(default=None, primary_key=True)
    board_id: int = Field(foreign_key="stock_item.id", index=True)
    plan_id: int | None = Field(default=None, foreign_key="cutting_plan.id", index=True)
    plan_cut: int | None = None  # which board of the plan this was
    length_before: float
    length_after: float
    cost: Decimal = Field(default=Decimal(0), sa_type=Money)  # of the part that was sawn up, waste included
    sawn_volume: float  # mm3 of board that was sawn up
    piece_volume: float  # mm3 of that which became pieces
    note: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class SawnLot(SQLModel, table=True):
    """What one sawing gave: a lot of pieces, with their share of the cost."""

    __tablename__ = "sawn_lot"

    id: int | None = Field(default=None, primary_key=True)
    sawing_id: int = Field(foreign_key="sawing.id", index=True)
    item_id: int = Field(foreign_key="stock_item.id", index=True)
    count: int
    cost: Decimal = Field(default=Decimal(0), sa_type=Money)


class WantedHalves(SQLModel, table=True):
    """So many halves of a wood and size [mm] the shop wants to have lying ready."""

    __tablename__ = "wanted_halves"

    id: int | None = Field(default=None, primary_key=True)
    species_id: int = Field(foreign_key="species.id", index=True)
    length: float
    width: float
    thickness: float
    count: int
    by: int = Field(foreign_key="person.id")


class CuttingPlan(SQLModel, table=True):
    """Which boards to cut for what: asked, calculated in the background, then accepted or left."""

    __tablename__ = "cutting_plan"

    id: int | None = Field(default=None, primary_key=True)
    asked: dict[str, Any] = Field(sa_type=document())
    result: dict[str, Any] | None = Field(default=None, sa_type=document())
    fault: str = Field(default="", max_length=300)
    stage: str = Field(default="", max_length=120)
    started_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    started_by: int = Field(foreign_key="person.id")
    touched_at: datetime = Field(default_factory=now, sa_type=UtcTime)
    accepted_at: datetime | None = Field(default=None, sa_type=UtcTime)
    accepted_by: int | None = Field(default=None, foreign_key="person.id")
