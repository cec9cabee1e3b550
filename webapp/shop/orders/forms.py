"""What is typed about an order and its flutes."""

from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints, field_validator

from webapp.models import OrderStatus, TaxStatus
from webapp.shop.base.errors import SURE
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.units.field_types import Day, listed_id
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between
from webapp.shop.units.sounding import Sounding

MOST_FLUTES = 50
Id = Annotated[int, Field(ge=1, le=LARGEST_ID)]
Note = Annotated[str, StringConstraints(max_length=2000)]
Amount = Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)]
Reason = Annotated[str, StringConstraints(min_length=1, max_length=500)]


class FluteAsked(Sounding):
    """One flute of an order: what it should sound, for which hand, of what wood, at what price.

    `extras_price` is for all that `extras` names, beside the price of the flute; 0 where it is in that.
    """

    species_id: Id
    reach: Annotated[Length, between(60.0, 400.0)] | None = None
    extras: Annotated[str, StringConstraints(max_length=1000)] = ""
    price: Amount | None = None
    extras_price: Amount | None = None


class MoreFlutes(FluteAsked):
    """So many flutes of one kind."""

    count: Annotated[int, Field(ge=1, le=MOST_FLUTES)] = 1


class Facts(BaseModel):
    """An order's own facts, apart from its flutes."""

    due_on: Day | None = None
    note: Note = ""


class ForWhom(BaseModel):
    """The customer: `customer_id` is the number of one who is known, or "new"."""

    customer_name: Annotated[str, StringConstraints(max_length=120)] = ""
    customer_id: Id | Literal["new"] | None = None
    contact: Annotated[str, StringConstraints(max_length=200)] = ""

    @field_validator("customer_id", mode="before")
    @classmethod
    def _known_or_new(cls, value: Any) -> Any:
        return listed_id(value, "new")


Early = Literal[OrderStatus.ENQUIRY, OrderStatus.QUOTED, OrderStatus.CONFIRMED]


class TakeOrder(MoreFlutes, Facts, ForWhom):
    """An order as it is taken on one page."""

    status: Early = OrderStatus.ENQUIRY


class Because(BaseModel):
    """Why an order changes; a confirmed one needs it."""

    why: Annotated[str, StringConstraints(max_length=500)] = ""


class ChangeOrder(Facts, Because):
    """Changed fields; `version` is the one that was on the screen. What is not given stays, what is given as nothing
    is emptied."""

    version: int
    sure: Annotated[str, StringConstraints(max_length=SURE)] = ""
    postage: Amount | None = None
    deposit: Amount | None = None
    tax_status: TaxStatus | None = None
    tax_reference: Annotated[str, StringConstraints(max_length=80)] | None = None

    def given(self) -> dict[str, Any]:
        """The fields of the order that were given, whatever they say."""
        return {name: getattr(self, name) for name in self.model_fields_set - {"version", "why", "sure"}}


class ChangeFlute(FluteAsked, Because):
    """A changed flute; `version` is that of its order as it was on the screen."""

    version: int


class FurtherFlutes(MoreFlutes, Because):
    """Flutes added to an order that is taken already."""


class LeaveOut(Because):
    """A line taken off an order; `version` is that of the order as it was on the screen."""

    version: int


class Withdraw(BaseModel):
    """Why an order is withdrawn."""

    version: int
    why: Reason


class Version(BaseModel):
    """The version of the order that was on the screen."""

    version: int


class HandOver(Version):
    """`unpaid`: it is handed over although something is still outstanding."""

    unpaid: bool = False


class SeenNotice(Version):
    """What stands on the order was seen and is left as it is; `mark` names what was on the screen."""

    mark: Annotated[str, StringConstraints(min_length=1, max_length=64)]


class ChoosePattern(BaseModel):
    """The revision that a flute is to be built from."""

    version: int
    revision_id: Id


class OpenBlanks(BaseModel):
    """The lot of halves to build from (or "none": wood that is not in stock), and how many blanks."""

    item_id: Id | Literal["none"]
    count: Annotated[int, Field(ge=1, le=MOST_FLUTES)] = 1

    @field_validator("item_id", mode="before")
    @classmethod
    def _a_lot_or_none(cls, value: Any) -> Any:
        return listed_id(value, "none")
