"""The price of an ordered flute: built up from what it takes, agreed as calculated, or another price with a reason.

For the owner and the office only: it shows the shop's margin.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    ChosenOption,
    FluteOption,
    Order,
    OrderedFlute,
    PatternRevision,
    Role,
    Species,
    StockItem,
    StockKind,
)
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.costs import rules as costs
from webapp.shop.orders import (
    changes as order_changes,
    flutes as ordered_flutes,
    money as order_money,
    prices,
    rules as orders,
)
from webapp.shop.orders.price_customs import Customs, customs
from webapp.shop.orders.prices import BuiltUp, Extra, Margin, Part, Tax
from webapp.shop.patterns.rules import instrument_of
from webapp.shop.people import diary
from webapp.shop.people.accounts import Who
from webapp.shop.stock.halves import PER_BLANK


class PriceAsked(BaseModel):
    """What is agreed: the options, and a price where it is not the one built up, with the reason.

    `shown`: the price that was built up on the screen, so that nothing else is agreed. `instead_of`: the confirmed
    price that is to change, which says that it was seen. `extras_price` is for what is extra to the flute, in words.
    """

    version: int
    options: list[Annotated[int, Field(ge=1, le=LARGEST_ID)]] = []
    price: Annotated[Decimal, Field(gt=0, max_digits=11, decimal_places=2)] | None = None
    price_why: Annotated[str, StringConstraints(max_length=300)] = ""
    extras_price: Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)] | None = None
    shown: Annotated[Decimal, Field(ge=0, max_digits=14, decimal_places=2)] | None = None
    instead_of: Annotated[Decimal, Field(ge=0, max_digits=11, decimal_places=2)] | None = None
    why: Annotated[str, StringConstraints(max_length=500)] = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """A flute's price with all that the office wants to know about it."""

    built: BuiltUp
    margin: Margin  # of the price agreed, or of the one built up before any is agreed
    missing: tuple[str, ...]
    recorded: Margin | None = None  # by what is on record of its blank, once that is finished or its time written down


def chosen(session: Session, flute_ids: list[int | None]) -> dict[int, list[ChosenOption]]:
    """The options of each of these flutes, in one query."""
    found: dict[int, list[ChosenOption]] = {}
    statement = select(ChosenOption).where(col(ChosenOption.ordered_flute_id).in_(flute_ids))
    for one in session.exec(statement.order_by(ChosenOption.name)):
        found.setdefault(one.ordered_flute_id, []).append(one)
    return found


def show(
    session: Session,
    order: Order,
    flute: OrderedFlute,
    option_ids: list[int] | None = None,
    typed: Decimal | None = None,
) -> Shown:
    """The price built up now, with these options or those it has, and what is left of it.

    With options, what is left is of the price that is `typed`, else of the one built up; without, of the agreed one.
    """
    custom = customs(session)
    tax = order_money.tax_of(order, custom.tax)
    picked = _picked(session, flute, option_ids)
    built, missing = _build(session, custom, order, flute, picked, tax)
    cost = built.cost_total + sum((extra.cost for extra in _extras(custom, picked)), Decimal(0))
    price = typed or (built.price if option_ids is not None else flute.price or built.price)
    really = _recorded(session, flute)
    recorded = None if really is None else prices.margin(price, really, tax)
    return Shown(built, prices.margin(price, cost, tax), tuple(missing), recorded)


def agree(session: Session, who: Who, number: int, flute_id: int, asked: PriceAsked) -> OrderedFlute:
    """Agree a price. Raises NotAllowed, NotFound, Stale, Refused, Invalid."""
    who.must(Role.OFFICE)
    order = orders.open_order(session, who, number, asked.version)
    flute = ordered_flutes.flute_of(session, order, flute_id)
    custom = customs(session)
    picked = _picked(session, flute, asked.options)
    if len({option.option_id for option in picked}) < len(set(asked.options)):
        raise Invalid({"options": "Choose options of the list."})
    built, _ = _build(session, custom, order, flute, picked, order_money.tax_of(order, custom.tax))
    price = asked.price if asked.price is not None else built.price
    if wrong := _wrong(order, flute, asked, built.price, price, custom.is_set):
        raise Invalid(wrong)
    _keep(session, who, order, flute, picked, price, asked)
    flute.built_up = built.to_json()
    flute.price_why = asked.price_why if price != built.price else ""
    session.add(flute)
    orders.changed(session, order)
    return flute


def _wrong(
    order: Order, flute: OrderedFlute, asked: PriceAsked, built: Decimal, price: Decimal, calculates: bool
) -> dict[str, str]:
    """What speaks against agreeing this price, by field."""

    def said(amount: Decimal) -> str:
        return prices.money(amount, order.currency)

    if price <= 0:
        return {"price": "Write a price: no rates are set yet to calculate one from."}
    wrong = {}
    if asked.price is None and asked.shown is not None and asked.shown != built:
        wrong["options"] = f"With these it comes to {said(built)}, not {said(asked.shown)}: look before you agree it."
    if price != built and calculates and not asked.price_why:
        wrong["price_why"] = f"The calculated price is {said(built)}: say why it differs."
    if asked.extras_price is not None and not flute.extras:
        wrong["extras_price"] = "No extras are asked for: write on the flute what this price is for."
    if order.status in order_changes.AGREED and flute.price and price != flute.price:
        if asked.instead_of != flute.price:
            wrong["instead_of"] = f"{said(flute.price)} is confirmed: is it to be {said(price)}?"
        if not (asked.why or asked.price_why):
            wrong["why"] = order_changes.WHY
    return wrong


def _keep(
    session: Session,
    who: Who,
    order: Order,
    flute: OrderedFlute,
    picked: list[ChosenOption],
    price: Decimal,
    asked: PriceAsked,
) -> None:
    """Keep options and price, and record what changed."""
    before = chosen(session, [flute.id]).get(flute.id or 0, [])
    names, now_names = (", ".join(sorted(o.name for o in some)) for some in (before, picked))
    changes = []
    if names != now_names:
        changes.append(("options", names, now_names))
    if flute.price != price:
        was, is_now = (prices.money(amount, order.currency) if amount else "" for amount in (flute.price, price))
        changes.append(("price", was, is_now))
    if asked.extras_price is not None and asked.extras_price != flute.extras_price:
        was = "" if flute.extras_price is None else prices.money(flute.extras_price, order.currency)
        changes.append(("price of the extras", was, prices.money(asked.extras_price, order.currency)))
        flute.extras_price = asked.extras_price
    if changes:
        order_changes.must_say_why(order, asked.why or asked.price_why)
    for what, was, is_now in changes:
        words = f"Flute {flute.position}, {what}: was {was or 'nothing'}, is now {is_now or 'nothing'}"
        reason = asked.why or asked.price_why
        diary.write(session, who, "order", order.id, words, reason, about_money=what != "options")
        order_changes.write(session, who, order, f"Flute {flute.position}, {what}", was, is_now, reason)
    flute.price = price
    kept = {one.id for one in picked}
    for one in before:
        if one.id not in kept:
            session.delete(one)
    session.add_all(one for one in picked if one.id is None)


def _picked(session: Session, flute: OrderedFlute, option_ids: list[int] | None) -> list[ChosenOption]:
    """The flute's options: those it has already at the price agreed, others as the shop offers them now."""
    has = {one.option_id: one for one in chosen(session, [flute.id]).get(flute.id or 0, [])}
    if option_ids is None:
        return list(has.values())
    offered = session.exec(select(FluteOption).where(col(FluteOption.id).in_(option_ids)).order_by(FluteOption.name))
    return [
        has.get(option.id or 0)
        or ChosenOption(
            ordered_flute_id=flute.id or 0,
            option_id=option.id or 0,
            name=option.name,
            price=option.price,
            materials=option.materials,
            minutes=option.minutes,
        )
        for option in offered
    ]


def _extras(custom: Customs, picked: list[ChosenOption]) -> list[Extra]:
    return [Extra(one.name, one.price, costs.option_cost(custom, one)) for one in picked]


def _build(
    session: Session, custom: Customs, order: Order, flute: OrderedFlute, picked: list[ChosenOption], tax: Tax
) -> tuple[BuiltUp, list[str]]:
    parts, missing = _materials(session, flute)
    pricing = custom.pricing
    if pricing.consumables:
        parts.append(Part("Consumables", "glue, abrasives, finish, cord", pricing.consumables))
    for rate in custom.rates:
        if rate.minutes and rate.hourly:
            how = f"{rate.minutes} min at {prices.money(rate.hourly, order.currency)} an hour"
            amount = prices.to_unit(rate.hourly * rate.minutes / 60, order.currency)
            parts.append(Part(str(rate.stage).capitalize(), how, amount))
    if not custom.is_set:
        missing.append("the shop's rates by stage")
    built = prices.built_up(
        parts,
        pricing.overhead_percent,
        pricing.markup_percent,
        _extras(custom, picked),
        tax,
        pricing.rounding,
        order.currency,
    )
    return built, missing


def _recorded(session: Session, flute: OrderedFlute) -> Decimal | None:
    """What the flute's blank costs. None as long as nothing but usual figures could be said."""
    blank = _blank(session, flute)
    if blank is None or blank.id is None:
        return None
    found = costs.cost_of_blank(session, blank.id)
    return found.total if blank.finished_at or any(line.own for line in found.time) else None


def _blank(session: Session, flute: OrderedFlute) -> Blank | None:
    """The blank that the flute is made from: the first one that did not end as firewood."""
    own = select(Blank).where(Blank.ordered_flute_id == flute.id, Blank.status != BlankStatus.FIREWOOD)
    return session.exec(own.order_by(col(Blank.id)).limit(1)).first()


def _materials(session: Session, flute: OrderedFlute) -> tuple[list[Part], list[str]]:
    """Two halves and a block at what they really cost: as taken for the flute's blank, else as they lie on the shelf,
    else as they last came in."""
    species = session.get(Species, flute.species_id)
    wood = species.name if species else "wood"
    halves = _taken(session, flute, StockKind.HALVES) or _on_the_shelf(session, flute, wood)
    if halves is None and (newest := _newest(session, StockKind.HALVES, flute.species_id)):
        halves = Part("Wood", f"two halves of {wood}, as they last came in", PER_BLANK * newest.unit_cost)
    block = _taken(session, flute, StockKind.BLOCK_BLANK)
    if block is None:
        lot = _newest(session, StockKind.BLOCK_BLANK, flute.species_id)
        lot = lot or _newest(session, StockKind.BLOCK_BLANK, None)
        block = Part("Block", lot.name, lot.unit_cost) if lot else None
    missing = [] if halves else [f"what halves of {wood} cost"]
    return [part for part in (halves, block) if part], missing


def _taken(session: Session, flute: OrderedFlute, kind: StockKind) -> Part | None:
    """What was taken from the shelf, or is reserved, for its blank: sawn pieces at their share of the board."""
    blank = _blank(session, flute)
    if blank is None:
        return None
    lines = costs.materials_of(session, blank, kind)
    amount = sum((line.amount for line in lines), Decimal(0))
    if not amount:
        return None
    names = " and ".join(dict.fromkeys(line.what for line in lines))
    return Part("Wood" if kind is StockKind.HALVES else "Block", f"{names}, for blank {blank.serial}", amount)


def _on_the_shelf(session: Session, flute: OrderedFlute, wood: str) -> Part | None:
    """Two halves at the mean price of those in stock, or their share of the boards in stock, waste included."""
    revision = session.get(PatternRevision, flute.revision_id) if flute.revision_id else None
    found = costs.wood_price(session, flute.species_id, instrument_of(revision) if revision else None)
    if found is None:
        return None
    how = "sawn from boards in stock, waste included" if found.from_boards else f"the mean of {found.pieces:g} in stock"
    return Part("Wood", f"two halves of {wood}, {how}", found.amount.quantize(costs.CENT))


def _newest(session: Session, kind: StockKind, species_id: int | None) -> StockItem | None:
    statement = select(StockItem).where(StockItem.kind == kind, StockItem.unit_cost != Decimal(0))
    if species_id is not None:
        statement = statement.where(StockItem.species_id == species_id)
    return session.exec(statement.order_by(col(StockItem.used_up), col(StockItem.id).desc()).limit(1)).first()
