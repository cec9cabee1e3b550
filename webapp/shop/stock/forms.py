"""Forms: a new lot, stock received, taken out, counted, corrected."""

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints, field_validator, model_validator

from webapp.models import MovementReason, StockKind
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between

UNITS = ("piece", "ml", "g", "m", "ft", "fl oz", "oz")
USUAL_UNIT = {
    StockKind.BOARD: "piece",
    StockKind.HALVES: "piece",
    StockKind.BLOCK_BLANK: "piece",
    StockKind.GLUE: "ml",
    StockKind.FINISH: "ml",
    StockKind.CORD: "m",
}
OF_WOOD = (StockKind.BOARD, StockKind.HALVES, StockKind.BLOCK_BLANK)

Size = Annotated[Length, between(0.1, 6096.0)]
Quantity = Annotated[float, Field(gt=0, le=1_000_000, allow_inf_nan=False)]
Counted = Annotated[float, Field(ge=0, le=1_000_000, allow_inf_nan=False)]
Note = Annotated[str, StringConstraints(max_length=500)]


class LotAsked(BaseModel):
    """A lot's label: what it is, where it is kept, when to buy more."""

    kind: StockKind
    name: Annotated[str, StringConstraints(min_length=1, max_length=120)]
    species_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None
    unit: Literal["piece", "ml", "g", "m", "ft", "fl oz", "oz"] = "piece"
    length: Size | None = None
    width: Size | None = None
    thickness: Size | None = None
    moisture: Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)] | None = None
    unit_cost: Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)] = Decimal(0)
    reorder_at: Counted | None = None
    usual_order: Quantity | None = None
    place: Annotated[str, StringConstraints(max_length=60)] = ""
    source: Annotated[str, StringConstraints(max_length=120)] = ""
    papers: Annotated[str, StringConstraints(max_length=500)] = ""

    @model_validator(mode="after")
    def _wood_needs_a_species(self) -> "LotAsked":
        if self.kind not in OF_WOOD:
            self.species_id = None
        return self

    @field_validator("unit", mode="before")
    @classmethod
    def _of_the_list(cls, value: object) -> object:
        if value not in UNITS:
            raise ValueError("Choose one of the list.")
        return value


class NewLot(LotAsked):
    """A lot that comes in: its label and how much of it."""

    quantity: Quantity
    note: Note = ""


class Receive(BaseModel):
    """More of a lot came in."""

    quantity: Quantity
    note: Note = ""


class TakeOut(BaseModel):
    """Some of a lot was used on no blank in particular, or was spoilt."""

    quantity: Quantity
    reason: Literal[MovementReason.USED, MovementReason.SPOILT] = MovementReason.USED
    note: Note = ""


class Counting(BaseModel):
    """One line of a count sheet: what was counted, what explains a difference, what the sheet said was on record."""

    item_id: Annotated[int, Field(ge=1, le=LARGEST_ID)]
    counted: Counted
    why: Note = ""
    said: float | None = None


class Count(BaseModel):
    """What was counted on the shelf, and what explains the difference from the record."""

    counted: Counted
    why: Note = ""


class Correct(BaseModel):
    """What a movement should have said, and how the mistake happened."""

    quantity: Counted
    why: Annotated[str, StringConstraints(min_length=1, max_length=500)]
