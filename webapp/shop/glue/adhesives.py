"""Adhesives as the shop works with them: their times, what they need of the room and the wood, and their bottles.

All figures are the shop's own, to be set by the label on the bottle. Those a shop starts with are from memory.
"""

from datetime import date
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import Adhesive, GlueLot, StockItem, StockKind
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings.air import HumidityPercent
from webapp.shop.units.durations import Minutes, show_duration
from webapp.shop.units.temperatures import Temperature

Moisture = Annotated[float, Field(ge=0, le=40, allow_inf_nan=False)]
Factor = Annotated[float, Field(ge=0.5, le=4, allow_inf_nan=False)]
LotName = Annotated[str, StringConstraints(max_length=60)]


class AdhesiveAsked(BaseModel):
    """An adhesive with the times and limits the shop works by. The label on the bottle comes first."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    open_minutes: Minutes
    clamp_minutes: Minutes
    cure_minutes: Minutes
    lowest_temperature: Temperature
    note: Annotated[str, StringConstraints(max_length=500)] = ""
    item_id: Annotated[int, Field(ge=1, le=LARGEST_ID)] | None = None
    at_temperature: Temperature = 20.0
    at_moisture: Moisture = 8.0
    slower_when_cold: Annotated[Factor, Field(ge=1)] = 1.5
    slower_when_damp: Factor = 1.15
    driest_wood: Moisture = 6.0
    dampest_wood: Moisture = 12.0
    most_apart: Annotated[float, Field(gt=0, le=20, allow_inf_nan=False)] = 2.0
    driest_air: HumidityPercent = 30.0
    spread_rate: Annotated[float, Field(ge=20, le=1000, allow_inf_nan=False)] = 180.0
    density: Annotated[float, Field(ge=0.5, le=3, allow_inf_nan=False)] = 1.1
    as_on_label: bool = False


class BottleAsked(BaseModel):
    """A bottle by the lot on its label, and until when it is good."""

    lot: Annotated[LotName, StringConstraints(min_length=1)]
    best_before: date | None = None


WORDS = {
    "name": "Name",
    "open_minutes": "Open time",
    "clamp_minutes": "In clamps",
    "cure_minutes": "Cured after",
    "lowest_temperature": "Not below",
    "note": "Note",
    "item_id": "Taken from",
    "at_temperature": "The times hold at",
    "at_moisture": "With the wood at",
    "slower_when_cold": "Slower in the cold",
    "slower_when_damp": "Slower in damp wood",
    "driest_wood": "Wood no drier than",
    "dampest_wood": "Wood no damper than",
    "most_apart": "Halves apart by at most",
    "driest_air": "Air no drier than",
    "spread_rate": "Spread",
    "density": "Weight of a ml",
    "as_on_label": "Compared with the label",
}


def adhesives(session: Session) -> list[Adhesive]:
    return list(session.exec(select(Adhesive).order_by(Adhesive.name)))


def adhesive(session: Session, adhesive_id: int) -> Adhesive:
    """Raises NotFound."""
    return find(session, Adhesive, adhesive_id, "adhesive")


def glue_lots(session: Session) -> list[StockItem]:
    """Lots of glue that an adhesive may be taken from."""
    statement = select(StockItem).where(StockItem.kind == StockKind.GLUE, col(StockItem.used_up).is_(False))
    return list(session.exec(statement.order_by(StockItem.name)))


def add_adhesive(session: Session, who: Who, asked: AdhesiveAsked) -> Adhesive:
    """A further adhesive. Raises NotAllowed, Invalid."""
    who.must_work()
    _check(session, asked, None)
    new = Adhesive(**asked.model_dump())
    session.add(new)
    session.flush()
    diary.write(session, who, "adhesive", new.id, f"Added {new.name}")
    session.flush()
    return new


def change_adhesive(session: Session, who: Who, adhesive_id: int, asked: AdhesiveAsked) -> Adhesive:
    """Change an adhesive; glue-ups under way keep the times they began with. Raises NotAllowed, NotFound, Invalid."""
    who.must_work()
    known = find(session, Adhesive, adhesive_id, "adhesive", lock=True)
    _check(session, asked, adhesive_id)
    for name, value in asked.model_dump().items():
        if (before := getattr(known, name)) != value:
            setattr(known, name, value)
            was, is_now = (_said(name, one) for one in (before, value))
            diary.write(session, who, "adhesive", known.id, f"{WORDS[name]}: was {was}, is now {is_now}")
    session.add(known)
    session.flush()
    return known


def _check(session: Session, asked: AdhesiveAsked, own_id: int | None) -> None:
    wrong = {}
    same = select(Adhesive.id).where(Adhesive.name == asked.name, col(Adhesive.id) != (own_id or 0))
    if session.exec(same).first():
        wrong["name"] = "There is an adhesive of that name already."
    if asked.clamp_minutes > asked.cure_minutes:
        wrong["cure_minutes"] = "It can't be cured before it comes out of the clamps."
    if asked.driest_wood >= asked.dampest_wood:
        wrong["dampest_wood"] = "This must be more than the driest."
    if asked.item_id is not None:
        item = session.get(StockItem, asked.item_id)
        if item is None or item.kind is not StockKind.GLUE:
            wrong["item_id"] = "Choose a lot of glue."
    if wrong:
        raise Invalid(wrong)


def _said(name: str, value: object) -> str:
    if name.endswith("_minutes") and isinstance(value, int):
        return show_duration(value)
    if name == "item_id":
        return f"lot {value}" if value else "no lot"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value) or "nothing"


def bottles(session: Session, adhesive_id: int | None = None) -> list[GlueLot]:
    """The bottles that are not empty, of one adhesive or of all, the first to expire first."""
    statement = select(GlueLot).where(col(GlueLot.empty).is_(False))
    if adhesive_id is not None:
        statement = statement.where(GlueLot.adhesive_id == adhesive_id)
    found = session.exec(statement.order_by(col(GlueLot.id)).limit(200)).all()
    return sorted(found, key=lambda one: (one.best_before is None, one.best_before or date.max))


def add_bottle(session: Session, who: Who, adhesive_id: int, asked: BottleAsked) -> GlueLot:
    """A bottle is there, or its date was read again. Raises NotAllowed, NotFound."""
    who.must_work()
    known = find(session, Adhesive, adhesive_id, "adhesive", lock=True)
    made = bottle_of(session, who, known, asked.lot, asked.best_before)
    assert made is not None
    made.empty = False
    until = f", good until {made.best_before.isoformat()}" if made.best_before else ""
    diary.write(session, who, "adhesive", known.id, f"Bottle of lot {made.lot}{until}")
    session.flush()
    return made


def empty_bottle(session: Session, who: Who, lot_id: int) -> GlueLot:
    """A bottle is empty or was thrown away: it is no longer offered. Raises NotAllowed, NotFound."""
    who.must_work()
    bottle = find(session, GlueLot, lot_id, "bottle of glue", lock=True)
    bottle.empty = True
    session.add(bottle)
    diary.write(session, who, "adhesive", bottle.adhesive_id, f"Bottle of lot {bottle.lot} is empty or gone")
    session.flush()
    return bottle


def bottle_of(session: Session, who: Who, known: Adhesive, lot: str, best_before: date | None) -> GlueLot | None:
    """The bottle of this lot, made known where it is new; a typed date is written on it."""
    if not lot:
        return None
    assert known.id is not None
    bottle = session.exec(select(GlueLot).where(GlueLot.adhesive_id == known.id, GlueLot.lot == lot)).first()
    if bottle is None:
        bottle = GlueLot(adhesive_id=known.id, lot=lot, by=who.id)
    bottle.best_before = best_before or bottle.best_before
    session.add(bottle)
    session.flush()
    return bottle
