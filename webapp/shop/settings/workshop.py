"""What the shop calculates with: allowances for sawing, the air of its seasons, rates, what one flute usually takes."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field
from sqlmodel import Session, col, select

from webapp.models import FluteSupply, Role, Shop, Stage, StageMinutes, StockItem, StockKind, Workshop
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.base.finding import find
from webapp.shop.people import amounts, diary
from webapp.shop.people.accounts import Who
from webapp.shop.units.lengths import Length
from webapp.shop.units.sizes import between
from webapp.shop.units.temperatures import Temperature

Percent = Annotated[float, Field(ge=5, le=95, allow_inf_nan=False)]
Minutes = Annotated[int, Field(ge=0, le=10_000)]
LENGTHS = (
    "kerf",
    "resaw_kerf",
    "board_ends",
    "board_edges",
    "ends",
    "sides",
    "faces",
    "shortest_rest",
)
WORDS = {
    "kerf": "Saw kerf",
    "resaw_kerf": "Kerf when resawing",
    "board_ends": "Off either end of a board",
    "board_edges": "Off either edge of a board",
    "ends": "On a half's length",
    "sides": "On a half's width",
    "faces": "On a half's thickness",
    "shortest_rest": "Shortest rest worth keeping",
    "plan_seconds": "Seconds for a cutting plan",
    "damp_humidity": "Dampest months",
    "dry_humidity": "Driest months",
    "indoor_temperature": "Indoors",
    "hourly_rate": "An hour of hand work",
}
# Minutes of hand time for a careful maker; common practice, no published source.
USUAL_MINUTES = {
    Stage.BORING: 60,
    Stage.GLUING: 25,
    Stage.FLUE: 40,
    Stage.VOICING: 45,
    Stage.TUNING: 60,
    Stage.FINISHING: 75,
}
SUPPLIES = (StockKind.BLOCK_BLANK, StockKind.GLUE, StockKind.FINISH, StockKind.CORD)


class WorkshopAsked(BaseModel):
    """The settings as typed in, humidity in percent. `version` is the one on the screen."""

    kerf: Annotated[Length, between(0.5, 10.0)]
    resaw_kerf: Annotated[Length, between(0.5, 10.0)]
    board_ends: Annotated[Length, between(0.0, 300.0)]
    board_edges: Annotated[Length, between(0.0, 50.0)]
    ends: Annotated[Length, between(0.0, 200.0)]
    sides: Annotated[Length, between(0.0, 30.0)]
    faces: Annotated[Length, between(0.0, 20.0)]
    shortest_rest: Annotated[Length, between(50.0, 3000.0)]
    plan_seconds: Annotated[int, Field(ge=2, le=90)]
    damp_humidity: Percent
    dry_humidity: Percent
    indoor_temperature: Temperature
    hourly_rate: Annotated[Decimal, Field(ge=0, max_digits=8, decimal_places=2)] = Decimal(0)
    version: int


class MinutesAsked(BaseModel):
    """The usual minutes of hand time at each stage."""

    boring: Minutes
    gluing: Minutes
    flue: Minutes
    voicing: Minutes
    tuning: Minutes
    finishing: Minutes


class SupplyAsked(BaseModel):
    """So much of a lot goes into one flute; nothing takes it off the list."""

    item_id: Annotated[int, Field(ge=1, le=2**31 - 1)]
    quantity: Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)] = 0


def workshop(session: Session) -> Workshop:
    """The settings as they hold now; the usual ones until they are first changed."""
    return session.get(Workshop, 1) or Workshop()


def as_typed(found: Workshop) -> dict[str, Any]:
    """The settings as the form's fields, humidity in percent; lengths stay in mm for the page to show."""
    values = found.model_dump(exclude={"id"})
    for name in ("damp_humidity", "dry_humidity"):
        values[name] = f"{100 * values[name]:.6g}"
    values["indoor_temperature"] = f"{found.indoor_temperature:.6g}"
    return values


def as_seen(found: Workshop, who: Who) -> dict[str, Any]:
    """The same without what this person does not see."""
    return amounts.visible(who.role, "workshop", as_typed(found))


def change(session: Session, who: Who, asked: WorkshopAsked) -> Workshop:
    """Change the settings. Raises NotAllowed, Invalid, Stale."""
    who.must(Role.MAKER)
    amounts.check_asked(who, asked, "workshop")
    if asked.dry_humidity >= asked.damp_humidity:
        raise Invalid({"damp_humidity": "The dampest months must be damper than the driest."})
    # The shop's row is held so that two first changes can't both make the workshop's row.
    _hold(session)
    found = workshop(session)
    if asked.version != found.version:
        raise Stale({name: str(value) for name, value in as_seen(found, who).items()})
    wanted = amounts.visible(who.role, "workshop", asked.model_dump(exclude={"version"}))
    for name in ("damp_humidity", "dry_humidity"):
        wanted[name] = round(wanted[name] / 100, 8)
    changed = []
    for name, value in wanted.items():
        if (before := getattr(found, name)) != value:
            setattr(found, name, value)
            changed.append((name, f"{WORDS[name]}: was {_said(before)}, is now {_said(value)}"))
    if changed:
        found.version += 1
        session.add(found)
        for name, what in changed:
            diary.write(session, who, "workshop", 1, what, about_money=name == "hourly_rate")
    session.flush()
    return found


def minutes(session: Session) -> dict[Stage, int]:
    """The usual minutes of hand time at each stage, in the order of the work."""
    own = {row.stage: row.minutes for row in session.exec(select(StageMinutes))}
    return {stage: own.get(stage, usual) for stage, usual in USUAL_MINUTES.items()}


def change_minutes(session: Session, who: Who, asked: MinutesAsked) -> None:
    """Set the usual minutes. Raises NotAllowed."""
    who.must(Role.MAKER)
    set_minutes(session, who, {stage: int(getattr(asked, stage.value)) for stage in USUAL_MINUTES})


def set_minutes(session: Session, who: Who, wanted: Mapping[Stage, int]) -> None:
    """Set the usual minutes of these stages: from its own form, or from that of prices, which calculates with them."""
    _hold(session)
    before = minutes(session)
    for stage, value in wanted.items():
        if value != before[stage]:
            session.merge(StageMinutes(stage=stage, minutes=value))
            diary.write(session, who, "workshop", 1, f"Minutes at {stage}: was {before[stage]}, is now {value}")
    session.flush()


def supplies(session: Session) -> list[tuple[StockItem, float]]:
    """What usually goes into one flute, by kind and name."""
    rows = session.exec(
        select(StockItem, FluteSupply.quantity)
        .join(FluteSupply, col(FluteSupply.item_id) == StockItem.id)
        .order_by(StockItem.kind, StockItem.name)
    )
    return [(item, quantity) for item, quantity in rows]


def may_be_supplies(session: Session) -> list[StockItem]:
    """The lots on the shelf that can go into every flute."""
    statement = select(StockItem).where(col(StockItem.kind).in_(SUPPLIES), col(StockItem.used_up).is_(False))
    return list(session.exec(statement.order_by(StockItem.kind, StockItem.name).limit(200)))


def set_supply(session: Session, who: Who, asked: SupplyAsked) -> None:
    """Put a lot on the list of what one flute takes, change how much, or take it off. Raises NotAllowed, Invalid."""
    who.must(Role.MAKER)
    _hold(session)
    item = session.get(StockItem, asked.item_id)
    if item is None or item.kind not in SUPPLIES:
        raise Invalid({"item_id": "Choose one of the list."})
    found = session.get(FluteSupply, asked.item_id)
    if asked.quantity == 0:
        if found:
            session.delete(found)
            diary.write(session, who, "workshop", 1, f"One flute takes no {item.name} any more")
    else:
        found = found or FluteSupply(item_id=asked.item_id, quantity=0)
        found.quantity = asked.quantity
        session.add(found)
        diary.write(session, who, "workshop", 1, f"One flute takes {asked.quantity:g} {item.unit} of {item.name}")
    session.flush()


def _hold(session: Session) -> None:
    find(session, Shop, 1, "shop", lock=True)


def _said(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
