"""Quotes and confirmations as they were issued: kept word for word, so that a price that was quoted stays quoted."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    ChosenOption,
    Customer,
    IssuedKind,
    IssuedPaper,
    Order,
    OrderedFlute,
    Pattern,
    PatternRevision,
    Repair,
    Shop,
    Species,
)
from webapp.shop.base.errors import NotFound
from webapp.shop.base.finding import find
from webapp.shop.orders import changes as order_changes, money as order_money, prices, repair_state
from webapp.shop.orders.checks import today
from webapp.shop.orders.price_customs import customs
from webapp.shop.orders.prices import Tax
from webapp.shop.people.accounts import Who
from webapp.shop.units.keys import show_note

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")


def give_out(session: Session, who: Who, order: Order, kind: IssuedKind) -> IssuedPaper:
    """Keep a paper as it reads now, under the next number of its kind."""
    assert order.id is not None
    last = latest(session, order, kind)
    if kind is IssuedKind.QUOTE:
        # A new quote is made by the pricing rules of its day; a deposit that was set by hand stays.
        order.tax_percent = None
        if last and last.content["deposit"] == str(order.deposit):
            order.deposit = None
    order_money.keep_as_agreed(session, order)
    session.flush()
    day = today(session)
    days = customs(session).pricing.quote_days
    paper = IssuedPaper(
        order_id=order.id,
        kind=kind,
        number=last.number + 1 if last else 1,
        issued_on=day,
        valid_until=day + timedelta(days=days) if kind is IssuedKind.QUOTE else None,
        content=content_of(session, order, order_changes.untold(session, order)),
        by=who.id,
    )
    session.add(paper)
    session.flush()
    return paper


def of_order(session: Session, order: Order) -> list[IssuedPaper]:
    """All papers issued for an order, the latest first."""
    statement = select(IssuedPaper).where(IssuedPaper.order_id == order.id)
    return list(session.exec(statement.order_by(col(IssuedPaper.id).desc())))


def latest(session: Session, order: Order, kind: IssuedKind) -> IssuedPaper | None:
    """The last paper of a kind."""
    statement = select(IssuedPaper).where(IssuedPaper.order_id == order.id, IssuedPaper.kind == kind)
    return session.exec(statement.order_by(col(IssuedPaper.number).desc()).limit(1)).first()


def paper_of(session: Session, order: Order, kind: IssuedKind, number: int) -> IssuedPaper:
    """Raises NotFound."""
    statement = select(IssuedPaper).where(
        IssuedPaper.order_id == order.id, IssuedPaper.kind == kind, IssuedPaper.number == number
    )
    found = session.exec(statement).first() if 0 < number < 2**31 else None
    if found is None:
        raise NotFound(f"There is no {kind} {number} for order {order.number}.")
    return found


def content_of(session: Session, order: Order, changes: Sequence[Any] = ()) -> dict[str, Any]:
    """Everything that stands on a paper about an order, as text: none of it changes once it is issued."""
    shop = find(session, Shop, 1, "shop")
    customer = find(session, Customer, order.customer_id, "customer")
    pricing = customs(session).pricing
    tax = order_money.tax_of(order, order_money.usual_tax(session))
    sums = prices.sums(order_money.line_prices(session, order), order.postage, tax, order.currency)
    paid = order_money.paid(session, order)
    lines, woods = lines_of(session, order)
    return {
        "shop": shop.name,
        "letterhead": pricing.letterhead,
        "is_demo": shop.is_demo,
        "currency": order.currency,
        "order": order.number,
        "taken_on": order.taken_on.isoformat(),
        "customer": customer.name,
        "contact": customer.contact,
        "address": customer.address,
        "lines": lines,
        "lines_total": str(sums.lines),
        "postage": str(sums.postage),
        **_tax(tax, sums.tax),
        "tax_status": str(tax.status),
        "tax_relief": str(sums.relief),
        "tax_reference": order.tax_reference,
        "total": str(sums.total),
        "deposit": str(order_money.deposit_of(session, order, sums.total)),
        "paid": str(paid),
        "outstanding": str(sums.total - paid),
        "due_on": order.due_on.isoformat() if order.due_on else "",
        "restricted": woods,
        **_makers(session, order),
        "terms": pricing.terms,
        "changes": [{"what": c.what, "before": c.before, "after": c.after, "why": c.why} for c in changes],
    }


def lines_of(session: Session, order: Order) -> tuple[list[dict[str, Any]], list[str]]:
    """The order's flutes and repairs as lines of a paper, and the names of its restricted woods."""
    rows = session.exec(
        select(OrderedFlute, Species, PatternRevision, Pattern)
        .join(Species, col(Species.id) == OrderedFlute.species_id)
        .join(PatternRevision, col(PatternRevision.id) == OrderedFlute.revision_id, isouter=True)
        .join(Pattern, col(Pattern.id) == PatternRevision.pattern_id, isouter=True)
        .where(OrderedFlute.order_id == order.id)
        .order_by(col(OrderedFlute.position), col(OrderedFlute.id))
    ).all()
    chosen: dict[int, list[ChosenOption]] = {}
    ids = [flute.id for flute, *_ in rows]
    for option in session.exec(select(ChosenOption).where(col(ChosenOption.ordered_flute_id).in_(ids))):
        chosen.setdefault(option.ordered_flute_id, []).append(option)
    lines = [
        # The pattern is printed nowhere: it is kept so that another one can be told later.
        _flute_line(flute, species, chosen.get(flute.id or 0, []))
        | {"pattern": f"{pattern.name}, revision {revision.number}" if pattern and revision else ""}
        for flute, species, revision, pattern in rows
    ]
    lines += [_repair_line(session, repair) for repair in repair_state.of_order(session, order)]
    return lines, sorted({species.name for _, species, *_ in rows if species.restricted})


def _makers(session: Session, order: Order) -> dict[str, bool]:
    """Whether the order is about flutes made here, and about others."""
    repairs = repair_state.of_order(session, order)
    flutes = session.exec(select(OrderedFlute.id).where(OrderedFlute.order_id == order.id).limit(1)).first()
    return {
        "made_here": flutes is not None or any(one.blank_id for one in repairs),
        "elsewhere": any(one.blank_id is None for one in repairs),
    }


def _flute_line(flute: OrderedFlute, species: Species, options: list[ChosenOption]) -> dict[str, Any]:
    holes = NUMBERS[flute.holes] if flute.holes < len(NUMBERS) else str(flute.holes)
    temperament = "" if flute.temperament == "equal" else f", {flute.temperament} temperament"
    details = [
        f"{species.name[:1].upper()}{species.name[1:]}",
        f"{holes[:1].upper()}{holes[1:]} finger holes, A4 = {flute.a4:g} Hz{temperament}",
        *sorted(option.name for option in options),
        *([flute.extras] if flute.extras and not flute.extras_price else []),
    ]
    what = f"Flute in {show_note(flute.key)}, {flute.scale}"
    more = [{"what": flute.extras, "amount": _amount(flute.extras_price)}] if flute.extras_price else []
    line = {"what": what, "details": details, "amount": _amount(flute.price), "more": more}
    return {"of": f"flute {flute.id}", "name": f"Flute {flute.position}", **line}


def _repair_line(session: Session, repair: Repair) -> dict[str, Any]:
    blank = session.get(Blank, repair.blank_id) if repair.blank_id else None
    which = f"flute {blank.serial}" if blank else repair.described
    what = f"{str(repair.kind).capitalize()}: {which}"
    details = [text for text in ("" if blank else "Made elsewhere", repair.asked, repair.found) if text]
    name = f"{str(repair.kind).capitalize()} {repair.position}"
    line = {"what": what, "details": details, "amount": _amount(repair.price)}
    return {"of": f"repair {repair.id}", "name": name, **line}


def _amount(value: Decimal) -> str:
    return str(value.quantize(Decimal("0.01")))


def _tax(tax: Tax, amount: Decimal) -> dict[str, Any]:
    return {
        "tax_name": tax.name or "Tax",
        "tax_percent": format(tax.percent, "f"),
        "tax_included": tax.included,
        "tax": str(amount),
    }


def day(text: str) -> date | None:
    """A day as the content has it."""
    return date.fromisoformat(text) if text else None
