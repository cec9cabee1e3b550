"""The shop's own settings: its name and customs, and the air it plays and measures in."""

import re
from typing import Annotated, Any

from pydantic import BaseModel, Field, StringConstraints, field_validator
from sqlmodel import Session

from webapp.models import Degrees, Paper, Role, Shop, Units
from webapp.shop.base.errors import Stale
from webapp.shop.base.finding import find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.air import HumidityPercent
from webapp.shop.units.field_types import Currency, TimeZone
from webapp.shop.units.sounding import PitchStandard
from webapp.shop.units.temperatures import Temperature, show_temperature

# How the settings are called where their names alone would not read well.
WORDS = {
    "a4": "A4",
    "degrees": "Temperatures in",
    "decimal_comma": "Tables with decimal commas",
    "timezone": "Time zone",
    "played_co2": "Carbon dioxide in the flute",
    "played_temperature": "Temperature in the flute",
    "played_humidity": "Humidity in the flute",
    "fundamental_low_cents": "Fundamental left low",
    "tolerance_cents": "Tolerance",
}
TEMPERATURES = ("played_temperature", "bench_temperature")
_IN_PERCENT = ("played_humidity", "played_co2", "bench_humidity")


class ShopAsked(BaseModel):
    """The settings as typed in, humidity and carbon dioxide in percent. `version` is the one on the screen."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=120)]
    units: Units
    degrees: Degrees | None = None
    decimal_comma: bool | None = None
    paper: Paper
    currency: Currency
    timezone: TimeZone
    a4: PitchStandard
    played_temperature: Temperature
    played_humidity: HumidityPercent
    played_co2: Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)]
    bench_temperature: Temperature
    bench_humidity: HumidityPercent
    tolerance_cents: Annotated[float, Field(ge=0.5, le=50, allow_inf_nan=False)]
    fundamental_low_cents: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
    clamp_places: Annotated[int, Field(ge=1, le=500)]
    serial_prefix: Annotated[str, StringConstraints(max_length=8)] = ""
    version: int

    @field_validator("serial_prefix")
    @classmethod
    def _fit_for_an_address(cls, value: str) -> str:
        if not re.fullmatch(r"[A-Za-z0-9-]*", value):
            raise ValueError("Use letters, digits and hyphens.")
        return value


def as_typed(shop: Shop, degrees: Degrees | None = None) -> dict[str, Any]:
    """The settings as the form's fields, in the form's own measures; temperatures in `degrees`, else plain C."""
    values = shop.model_dump(include=set(ShopAsked.model_fields))
    for name in _IN_PERCENT:
        values[name] = 100 * values[name]
    if degrees:
        values |= {name: show_temperature(values[name], degrees, None) for name in TEMPERATURES}
    return {name: f"{value:.6g}" if isinstance(value, float) else value for name, value in values.items()}


def change_shop(session: Session, who: Who, asked: ShopAsked) -> Shop:
    """Change the settings; what is built and ordered already keeps its own. Raises NotAllowed, Stale."""
    who.must(Role.OWNER)
    shop = find(session, Shop, 1, "shop", lock=True)
    if asked.version != shop.version:
        raise Stale({name: str(value) for name, value in as_typed(shop, who.degrees).items()})
    wanted = asked.model_dump(exclude={"version"})
    for name in _IN_PERCENT:
        wanted[name] = round(wanted[name] / 100, 8)
    changed = False
    for name, value in wanted.items():
        if value is not None and (before := getattr(shop, name)) != value:
            changed = True
            setattr(shop, name, value)
            words = WORDS.get(name, name.replace("_", " ").capitalize())
            was, is_now = (_said(name, one, who) for one in (before, value))
            diary.write(session, who, "shop", 1, f"{words}: was {was}, is now {is_now}")
    if changed:
        shop.version += 1
        session.add(shop)
    session.flush()
    return shop


def _said(name: str, value: object, who: Who) -> str:
    if name in TEMPERATURES and isinstance(value, float):
        return show_temperature(value, who.degrees)
    if name in _IN_PERCENT and isinstance(value, float):
        return f"{100 * value:.6g} %"
    return f"{value:.6g}" if isinstance(value, float) else str(value) or "nothing"
