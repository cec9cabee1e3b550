"""The first run of a shop: its name, its customs, its owner's account, and the shelf labels it starts with."""

from typing import Annotated
from zoneinfo import available_timezones

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session

from webapp.models import Degrees, Paper, Person, Role, Shop, Units
from webapp.shop.base.errors import NotAllowed
from webapp.shop.people import accounts
from webapp.shop.routings import rules as routings
from webapp.shop.settings import beginnings
from webapp.shop.units.field_types import Currency, TimeZone

Line = Annotated[str, StringConstraints(min_length=1, max_length=120)]

CHOICES = {
    "units": [(Units.INCH, "Fractional inches"), (Units.MM, "Millimetres")],
    "degrees": [(Degrees.F, "Degrees Fahrenheit"), (Degrees.C, "Degrees Celsius")],
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
    currency: Currency = "USD"
    timezone: TimeZone = "UTC"
    decimal_comma: bool = False


def set_up(session: Session, asked: FirstRun, is_demo: bool = False) -> Person:
    """Make the shop, its owner, and the woods, adhesives and drills it starts with. Raises Invalid, NotAllowed."""
    # Hashed before the session asks anything: from then on it may hold the lock.
    password = accounts.new_password(asked.password, asked.sign_in_name)
    if accounts.is_set_up(session):
        raise NotAllowed("This shop is already set up.")
    shop = Shop(
        name=asked.shop_name,
        units=asked.units,
        # Not asked at first: it is on the page of settings.
        degrees=Degrees.F if asked.units is Units.INCH else Degrees.C,
        paper=asked.paper,
        currency=asked.currency,
        timezone=asked.timezone,
        decimal_comma=asked.decimal_comma,
        is_demo=is_demo,
    )
    beginnings.lay_out(session, asked.units)
    routings.ensure(session)
    session.add(shop)
    owner = accounts.new_person(session, asked.owner_name, asked.sign_in_name, password, Role.OWNER)
    session.flush()
    return owner
