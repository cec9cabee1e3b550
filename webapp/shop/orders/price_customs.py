"""What the shop's prices are built from: rates, markup, tax, rounding; and the options it offers."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import FluteOption, Pricing, Role, Rounding, Stage, StageRate
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.base.finding import find
from webapp.shop.orders.prices import Tax
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.settings import workshop

Amount = Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)]
Percent = Annotated[Decimal, Field(ge=0, le=400, max_digits=7, decimal_places=4)]
TaxPercent = Annotated[Decimal, Field(ge=0, le=100, max_digits=7, decimal_places=4)]
Minutes = Annotated[int, Field(ge=0, le=6000)]

# Wording on origin that a shop may keep: it makes no claim. Laws on claims of origin exist (in the United States the
# Indian Arts and Crafts Act, 18 U.S.C. 1159 and 25 CFR part 309; from memory): the page says to check them.
TERMS = (
    "Wood moves and every piece differs: colour and figure are never quite those of a picture.\n"
    "A flute made to order can be returned for any fault of making; tell us within 30 days."
)
_WORDS = {"hourly": "an hour", "minutes": "minutes"}


class PricingAsked(BaseModel):
    """The pricing rules as typed; the rates by stage as `minutes_<stage>` and `hourly_<stage>` beside them.

    The minutes are those that the whole shop calculates with: where none are given, they stay as they are.
    """

    consumables: Amount = Decimal(0)
    overhead_percent: Percent = Decimal(0)
    markup_percent: Percent = Decimal(0)
    rounding: Rounding = Rounding.CENT
    tax_name: Annotated[str, StringConstraints(max_length=40)] = ""
    tax_percent: TaxPercent = Decimal(0)
    tax_included: bool = False
    deposit_percent: TaxPercent = Decimal(0)
    quote_days: Annotated[int, Field(ge=1, le=366)] = 30
    letterhead: Annotated[str, StringConstraints(max_length=500)] = ""
    terms: Annotated[str, StringConstraints(max_length=1500)] = ""
    public_line: bool = False
    minutes_boring: Minutes | None = None
    minutes_gluing: Minutes | None = None
    minutes_flue: Minutes | None = None
    minutes_voicing: Minutes | None = None
    minutes_tuning: Minutes | None = None
    minutes_finishing: Minutes | None = None
    hourly_boring: Amount = Decimal(0)
    hourly_gluing: Amount = Decimal(0)
    hourly_flue: Amount = Decimal(0)
    hourly_voicing: Amount = Decimal(0)
    hourly_tuning: Amount = Decimal(0)
    hourly_finishing: Amount = Decimal(0)
    version: int = 1


class OptionAsked(BaseModel):
    """An option as typed in."""

    name: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    price: Amount = Decimal(0)
    materials: Amount = Decimal(0)
    minutes: Minutes = 0
    offered: bool = False


@dataclass(frozen=True, slots=True)
class Rate:
    """How long one flute is worked on at a stage, as planned, and what an hour of it costs the shop."""

    stage: Stage
    minutes: int
    hourly: Decimal


@dataclass(frozen=True, slots=True)
class Customs:
    """All that a price is built from."""

    pricing: Pricing
    rates: tuple[Rate, ...]

    @property
    def tax(self) -> Tax:
        return Tax(self.pricing.tax_name, self.pricing.tax_percent, self.pricing.tax_included)

    @property
    def is_set(self) -> bool:
        """Whether the shop has set what its time costs: without that no price can be calculated."""
        return any(rate.minutes and rate.hourly for rate in self.rates)

    @property
    def an_hour(self) -> Decimal:
        """What an hour costs on average, weighted by the minutes of each stage that has a rate."""
        priced = [rate for rate in self.rates if rate.minutes and rate.hourly]
        if not priced:
            return Decimal(0)
        return sum((rate.hourly * rate.minutes for rate in priced), Decimal(0)) / sum(rate.minutes for rate in priced)


def customs(session: Session) -> Customs:
    """As they stand; before anything is set, nothing costs anything and no tax is known."""
    pricing = session.get(Pricing, 1) or Pricing(terms=TERMS)
    known = {rate.stage: rate.hourly for rate in session.exec(select(StageRate))}
    planned = workshop.minutes(session)
    return Customs(pricing, tuple(Rate(stage, planned[stage], known.get(stage, Decimal(0))) for stage in Stage))


def as_typed(found: Customs) -> dict[str, Any]:
    """The pricing rules as the form's fields."""
    values: dict[str, Any] = found.pricing.model_dump(exclude={"id"})
    for rate in found.rates:
        values[f"minutes_{rate.stage}"] = rate.minutes
        values[f"hourly_{rate.stage}"] = rate.hourly
    return {
        name: _plain(value) if isinstance(value, Decimal) else value for name, value in values.items() if value != 0
    } | {"version": found.pricing.version}


def change(session: Session, who: Who, asked: PricingAsked) -> None:
    """Change the pricing rules; orders that were quoted or confirmed keep theirs. Raises NotAllowed, Stale."""
    who.must(Role.OFFICE)
    pricing = session.get(Pricing, 1, with_for_update=True)
    if pricing is None:
        pricing = Pricing(terms=TERMS)
    if asked.version != pricing.version:
        now_says = as_typed(customs(session))
        texts = {name: now_says.get(name, "") for name in PricingAsked.model_fields}
        raise Stale({name: "on" if text is True else str(text) for name, text in texts.items()})
    before = as_typed(customs(session))
    for name in Pricing.model_fields.keys() - {"id", "version"}:
        setattr(pricing, name, getattr(asked, name))
    pricing.version += 1
    session.add(pricing)
    for stage in Stage:
        rate = session.get(StageRate, stage) or StageRate(stage=stage)
        rate.hourly = getattr(asked, f"hourly_{stage}")
        session.add(rate)
    given = {stage: getattr(asked, f"minutes_{stage}") for stage in Stage}
    workshop.set_minutes(session, who, {stage: value for stage, value in given.items() if value is not None})
    session.flush()
    after = as_typed(customs(session))
    for name in sorted((before.keys() | after.keys()) - {"version"}):
        if name.startswith("minutes_"):
            continue  # the workshop's diary has them
        was, is_now = (str(values.get(name, "")) for values in (before, after))
        if was != is_now:
            words = name.replace("_", " ").capitalize()
            said = f"{words}: was {was or 'nothing'}, is now {is_now or 'nothing'}"
            diary.write(session, who, "shop", 1, said, about_money=True)
    session.flush()


def options(session: Session, offered_only: bool = False) -> list[FluteOption]:
    """The shop's options by name."""
    statement = select(FluteOption).order_by(FluteOption.name)
    return list(session.exec(statement.where(col(FluteOption.offered)) if offered_only else statement))


def option(session: Session, option_id: int) -> FluteOption:
    """Raises NotFound."""
    return find(session, FluteOption, option_id, "option")


def save_option(
    session: Session, who: Who, option_id: int | None, asked: OptionAsked, version: int | None = None
) -> FluteOption:
    """Add an option or change one, that of `version` where it is given; flutes that have it keep the agreed price.

    Raises NotAllowed, NotFound, Stale, Invalid.
    """
    who.must(Role.OFFICE)
    same = session.exec(select(FluteOption).where(FluteOption.name == asked.name)).first()
    if same and same.id != option_id:
        raise Invalid({"name": "There is already an option of this name."})
    if option_id is None:
        made = FluteOption(**asked.model_dump())
        words = f"Option {asked.name} added"
    else:
        made = find(session, FluteOption, option_id, "option", lock=True)
        if version is not None and version != made.version:
            raise Stale({name: str(getattr(made, name)) for name in OptionAsked.model_fields})
        changed = [name for name, value in asked.model_dump().items() if getattr(made, name) != value]
        words = f"Option {made.name}: " + ", ".join(
            f"{name} was {getattr(made, name)}, is now {getattr(asked, name)}" for name in changed
        )
        for name in changed:
            setattr(made, name, getattr(asked, name))
        made.version += 1 if changed else 0
        if not changed:
            session.flush()
            return made
    session.add(made)
    session.flush()
    diary.write(session, who, "shop", 1, words, about_money=True)
    session.flush()
    return made


def _plain(value: Decimal) -> str:
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text and text.endswith("0") and not text.endswith(".00") else text
