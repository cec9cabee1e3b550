"""Woods, what lies on the shelf, every movement of it, and what is reserved."""

from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, choice, now


class Species(SQLModel, table=True):
    """A wood the shop uses, with what to watch."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=60, unique=True)
    colour: str = Field(default="#b98a56", max_length=7)  # for drawings
    sensitising: bool = False
    restricted: bool = False
    what_to_check: str = Field(default="", max_length=500)
    reckoned_as: str | None = Field(default=None, max_length=40)  # the Wood Handbook's wood whose figures are used


class StockKind(StrEnum):
    BOARD = "board"
    HALVES = "halves"
    BLOCK_BLANK = "block blank"
    GLUE = "glue"
    FINISH = "finish"
    CORD = "cord"


class StockItem(SQLModel, table=True):
    """A lot on the shelf. How much of it there is, is the sum of its movements, never a number stored here."""

    __tablename__ = "stock_item"

    id: int | None = Field(default=None, primary_key=True)
    kind: StockKind = Field(sa_type=choice(StockKind), index=True)
    name: str = Field(max_length=120)
    species_id: int | None = Field(default=None, foreign_key="species.id", index=True)
    unit: str = Field(max_length=10)  # piece, ml, g, mm
    length: float | None = None
    width: float | None = None
    thickness: float | None = None
    moisture: float | None = None  # percent
    unit_cost: Decimal = Field(default=Decimal(0), sa_type=Money)
    reorder_at: float | None = None
    place: str = Field(default="", max_length=60)
    # Where it came from, and the papers that show it may be used and sold.
    source: str = Field(default="", max_length=120, sa_column_kwargs={"server_default": ""})
    papers: str = Field(default="", max_length=500, sa_column_kwargs={"server_default": ""})
    usual_order: float | None = None  # how much of it is bought at a time
    # True once nothing is left and nothing is reserved, so that the shelf's list stays short over the years.
    used_up: bool = Field(default=False, index=True)
    created_at: datetime = Field(default_factory=now, sa_type=UtcTime)


class MovementReason(StrEnum):
    RECEIVED = "received"
    USED = "used"
    COUNTED = "counted"
    RETURNED = "returned"
    SPOILT = "spoilt"
    CORRECTED = "corrected"


class StockMovement(SQLModel, table=True):
    """Append-only: so much came or went. A mistake is put right by a further row that names the first."""

    __tablename__ = "stock_movement"

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="stock_item.id", index=True)
    quantity: float
    reason: MovementReason = Field(sa_type=choice(MovementReason))
    blank_id: int | None = Field(default=None, foreign_key="blank.id", index=True)
    unit_cost: Decimal | None = Field(default=None, sa_type=Money)  # what one cost on that day
    note: str = Field(default="", max_length=500)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    corrects_id: int | None = Field(default=None, foreign_key="stock_movement.id")


class Reservation(SQLModel, table=True):
    """So much of a lot is reserved for a blank, until it is taken or given back."""

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="stock_item.id", index=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    quantity: float
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")
    ended_at: datetime | None = Field(default=None, sa_type=UtcTime)
    ended_why: str = Field(default="", max_length=120)
