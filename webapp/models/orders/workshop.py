"""What the shop calculates with: sawing allowances, the air of its seasons, the time and supplies of one flute."""

from datetime import datetime
from decimal import Decimal

from sqlmodel import Field, SQLModel

from webapp.models.base import Money, UtcTime, choice, now
from webapp.models.blanks.blank import Stage


class Workshop(SQLModel, table=True):
    """One row, with id 1, made when it is first changed; until then the values here hold. Lengths in mm.

    Allowances and minutes are common practice, no published source: each shop finds its own.
    """

    id: int = Field(default=1, primary_key=True)
    kerf: float = 3.2  # rip and crosscut
    resaw_kerf: float = 2.0
    board_ends: float = 20.0  # cut off at either end of a board: checks, snipe
    board_edges: float = 4.0  # off either edge until it is straight
    ends: float = 25.0  # on a half's length: squaring, snipe, the foot left long
    sides: float = 3.0  # on a half's width
    faces: float = 1.5  # on a half's thickness: planing the joint face, turning
    shortest_rest: float = 300.0  # a shorter rest of a board counts as waste
    plan_seconds: int = 20
    damp_humidity: float = 0.65  # relative humidity of the shop's dampest and driest months, indoors
    dry_humidity: float = 0.30
    indoor_temperature: float = 20.0  # degrees C
    hourly_rate: Decimal = Field(default=Decimal(0), sa_type=Money)
    version: int = 1


class StageMinutes(SQLModel, table=True):
    """The usual minutes of hand time that one flute takes at a stage; waiting is no hand time."""

    __tablename__ = "stage_minutes"

    stage: Stage = Field(sa_type=choice(Stage), primary_key=True)
    minutes: int


class BlankMinutes(SQLModel, table=True):
    """Append-only: this blank took another time at a stage than usual; the latest row of a stage counts."""

    __tablename__ = "blank_minutes"

    id: int | None = Field(default=None, primary_key=True)
    blank_id: int = Field(foreign_key="blank.id", index=True)
    stage: Stage = Field(sa_type=choice(Stage))
    minutes: int
    why: str = Field(default="", max_length=300)
    at: datetime = Field(default_factory=now, sa_type=UtcTime)
    by: int = Field(foreign_key="person.id")


class FluteSupply(SQLModel, table=True):
    """So much of a lot usually goes into one flute: finish, cord, a block blank, and glue where none is recorded."""

    __tablename__ = "flute_supply"

    item_id: int = Field(foreign_key="stock_item.id", primary_key=True)
    quantity: float
