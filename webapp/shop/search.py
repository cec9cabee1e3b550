"""Finding it all again: by serial, order number, customer, key, wood or pattern."""

from collections.abc import Collection
from dataclasses import dataclass, field

from sqlalchemy import ColumnElement, case, exists, func, or_
from sqlmodel import Session, col, select

from webapp.models import (
    Blank,
    BlankStatus,
    Customer,
    Order,
    OrderedFlute,
    Pattern,
    Species,
    StockItem,
)
from webapp.shop import customers
from webapp.shop.customers import Known
from webapp.shop.finding import LARGEST_ID
from webapp.shop.keys import SUGGESTED, parse_key, spellings
from webapp.shop.orders import OPEN

MOST = 12  # of each kind
MOST_NAMED = 200  # customers of a name whose orders are looked through
LONGEST = 100  # characters that are looked at


@dataclass(frozen=True, slots=True)
class FoundBlank:
    blank: Blank
    species: Species
    order: int | None


@dataclass(frozen=True, slots=True)
class FoundOrder:
    order: Order
    customer: Customer


@dataclass(slots=True)
class Found:
    """What goes by the typed words, a dozen of each kind at most; `key` where they name a key."""

    key: str | None = None
    blanks: list[FoundBlank] = field(default_factory=list)
    orders: list[FoundOrder] = field(default_factory=list)
    customers: list[Known] = field(default_factory=list)
    patterns: list[Pattern] = field(default_factory=list)
    lots: list[StockItem] = field(default_factory=list)

    @property
    def nothing(self) -> bool:
        return not (self.blanks or self.orders or self.customers or self.patterns or self.lots)


def exactly(session: Session, typed: str) -> tuple[str, str | int] | None:
    """("blank", serial) or ("order", number) where just one thing is called so; else None."""
    typed = typed.strip()[:LONGEST]
    as_typed = {typed, typed.upper(), typed.lower()}
    serials = session.exec(select(Blank.serial).where(col(Blank.serial).in_(as_typed)).limit(2)).all()
    number = _number(typed)
    order = session.exec(select(Order.number).where(Order.number == number)).first() if number else None
    if len(serials) == 1 and order is None:
        return "blank", serials[0]
    if order is not None and not serials:
        return "order", order
    return None


def find(session: Session, typed: str) -> Found:
    """Everything that goes by what was typed, even only in part."""
    typed = typed.strip()[:LONGEST]
    if not typed:
        return Found()
    keys = _keys(typed)
    woods = _woods(session, typed)
    return Found(
        key=keys[0] if keys else None,
        blanks=_blanks(session, typed, keys, woods),
        orders=_orders(session, typed, keys),
        customers=[] if keys else customers.like(session, typed, MOST),
        patterns=_patterns(session, typed, keys),
        lots=_lots(session, typed, woods),
    )


def _keys(typed: str) -> list[str]:
    """The key in all its spellings; a letter without its octave (F#) names that note in every octave."""
    try:
        return spellings(parse_key(typed))
    except ValueError:
        letter = "".join(typed.split()).replace("♯", "#").replace("♭", "b").capitalize()
        wanted = [key for key in SUGGESTED if key[:-1] == letter]
        return list(dict.fromkeys(name for key in wanted for name in spellings(key)))


def _woods(session: Session, typed: str) -> list[int]:
    if len(typed) < 3:
        return []
    statement = select(Species.id).where(func.lower(Species.name).contains(typed.lower(), autoescape=True))
    return [species_id for species_id in session.exec(statement) if species_id is not None]


def _blanks(session: Session, typed: str, keys: list[str], woods: list[int]) -> list[FoundBlank]:
    """Those in the key, or in the wood, or whose serial holds what was typed; those at work first, then the newest."""
    if keys:
        ids = _newest_blanks(session, [col(Blank.key) == key for key in keys])
    elif woods:
        ids = _newest_blanks(session, [col(Blank.species_id) == wood for wood in woods])
    elif any(c.isdigit() for c in typed):
        ways = [col(Blank.serial).contains(part, autoescape=True) for part in {typed, typed.upper()}]
        by_serial = select(Blank.serial).where(or_(*ways)).order_by(col(Blank.serial).desc()).limit(MOST)
        serials = session.exec(by_serial).all()
        ids = list(session.exec(select(Blank.id).where(col(Blank.serial).in_(serials))))
    else:
        return []
    statement = (
        select(Blank, Species, Order.number)
        .join(Species, col(Species.id) == Blank.species_id)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Order, col(Order.id) == OrderedFlute.order_id, isouter=True)
        .where(col(Blank.id).in_(ids))
        .order_by(case((col(Blank.status) == BlankStatus.IN_WORK, 0), else_=1), col(Blank.id).desc())
    )
    return [FoundBlank(blank, species, number) for blank, species, number in session.exec(statement)]


def _newest_blanks(session: Session, ways: list[ColumnElement[bool]]) -> list[int | None]:
    """The blanks at work that go by one of the ways, then the newest others, each way by its own index."""
    newest = col(Blank.id).desc()
    at_work = select(Blank.id).where(Blank.status == BlankStatus.IN_WORK, or_(*ways)).order_by(newest).limit(MOST)
    ids = list(session.exec(at_work))
    if len(ids) < MOST:
        others = {i for way in ways for i in session.exec(select(Blank.id).where(way).order_by(newest).limit(MOST))}
        ids += sorted(others - set(ids), key=lambda i: -(i or 0))[: MOST - len(ids)]
    return ids


def _orders(session: Session, typed: str, keys: list[str]) -> list[FoundOrder]:
    """The order of this number; those with a flute in the key; those of customers of this name. Open ones first."""
    order_ids: Collection[int | None]
    newest = col(Order.number).desc()
    if number := _number(typed):
        order_ids = session.exec(select(Order.id).where(Order.number == number)).all()
    elif keys:
        order_ids = _orders_in(session, keys)
    else:
        known = [one.customer.id for one in customers.like(session, typed, MOST_NAMED)]
        named = select(Order.id).where(col(Order.customer_id).in_(known)).order_by(newest).limit(MOST)
        order_ids = session.exec(named).all()
    statement = (
        select(Order, Customer)
        .join(Customer, col(Customer.id) == Order.customer_id)
        .where(col(Order.id).in_(order_ids))
        .order_by(case((col(Order.status).in_(OPEN), 0), else_=1), newest)
    )
    return [FoundOrder(order, customer) for order, customer in session.exec(statement)]


def _orders_in(session: Session, keys: list[str]) -> list[int | None]:
    """Open orders with a flute in one of these keys, then the newest others."""
    of_open = (
        select(Order.id)
        .where(col(Order.status).in_(OPEN))
        .where(exists().where(col(OrderedFlute.order_id) == Order.id, col(OrderedFlute.key).in_(keys)))
        .order_by(col(Order.number).desc())
        .limit(MOST)
    )
    ids = list(session.exec(of_open))
    others: set[int] = set()
    for key in keys if len(ids) < MOST else []:
        flutes = select(OrderedFlute.order_id).where(OrderedFlute.key == key)
        others |= set(session.exec(flutes.order_by(col(OrderedFlute.id).desc()).limit(MOST)))
    return ids + sorted(others - set(ids), reverse=True)[: MOST - len(ids)]


def _patterns(session: Session, typed: str, keys: list[str]) -> list[Pattern]:
    statement = select(Pattern).order_by(Pattern.name).limit(MOST)
    if keys:
        return list(session.exec(statement.where(col(Pattern.key).in_(keys))))
    return list(session.exec(statement.where(func.lower(Pattern.name).contains(typed.lower(), autoescape=True))))


def _lots(session: Session, typed: str, woods: list[int]) -> list[StockItem]:
    if len(typed) < 3:
        return []
    by_name = func.lower(StockItem.name).contains(typed.lower(), autoescape=True)
    statement = select(StockItem).where(col(StockItem.used_up).is_(False))
    statement = statement.where(or_(by_name, col(StockItem.species_id).in_(woods)))
    return list(session.exec(statement.order_by(StockItem.name).limit(MOST)))


def _number(typed: str) -> int | None:
    """The number in "17", "#17" or "order 17"; one that begins with a zero is a serial, not an order."""
    text = typed.lower().removeprefix("order").strip().removeprefix("#").strip()
    return (
        int(text)
        if text.isascii() and text.isdigit() and text[0] != "0" and len(text) < 11 and 0 < int(text) <= LARGEST_ID
        else None
    )
