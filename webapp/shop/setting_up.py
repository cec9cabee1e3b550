"""The first run of a shop: its name, its customs, its owner's account, and the shelf labels it starts with."""

from typing import Annotated
from zoneinfo import available_timezones

from babel.numbers import list_currencies
from pydantic import BaseModel, Field, StringConstraints, field_validator
from sqlmodel import Session

from webapp.models import Paper, Person, Role, Shop, Units
from webapp.shop import accounts, beginnings
from webapp.shop.errors import NotAllowed

Line = Annotated[str, StringConstraints(min_length=1, max_length=120)]

CHOICES = {
    "units": [(Units.INCH, "Fractional inches"), (Units.MM, "Millimetres")],
    "paper": [(Paper.LETTER, "Letter"), (Paper.A4, "A4")],
    "timezone": sorted(available_timezones()),
}


class FirstRun(BaseModel):
    """What the first page asks for."""

    shop_name: Line
    owner_name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    sign_in_name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    password: str = Field(min_length=1)
    units: Units = Units.INCH
    paper: Paper = Paper.LETTER
    currency: str = "USD"
    timezone: str = "UTC"

    @field_validator("currency")
    @classmethod
    def _a_currency(cls, value: str) -> str:
        if value.upper() not in list_currencies():
            raise ValueError("Write a currency's three letters, such as USD or EUR.")
        return value.upper()

    @field_validator("timezone")
    @classmethod
    def _a_zone(cls, value: str) -> str:
        if value not in available_timezones():
            raise ValueError("Choose a time zone of the list.")
        return value


def set_up(session: Session, asked: FirstRun, is_demo: bool = False) -> Person:
    """Make the shop, its owner, and the woods, adhesives and drills it starts with. Raises Invalid, NotAllowed."""
    if accounts.is_set_up(session):
        raise NotAllowed("This shop is already set up.")
    shop = Shop(
        name=asked.shop_name,
        units=asked.units,
        paper=asked.paper,
        currency=asked.currency,
        timezone=asked.timezone,
        is_demo=is_demo,
    )
    beginnings.lay_out(session, asked.units)
    session.add(shop)
    owner = accounts.new_person(session, asked.owner_name, asked.sign_in_name, asked.password, Role.OWNER)
    session.commit()
    return owner
