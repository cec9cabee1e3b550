"""Finding it all again: by serial, order number, customer, key, wood or pattern."""

from dataclasses import dataclass, field

from sqlalchemy import case, func, or_
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
from webapp.models.order import folded
from webapp.shop import customers
from webapp.shop.customers import Known
from webapp.shop.finding import LARGEST_ID
from webapp.shop.keys import SUGGESTED, parse_key, spellings
from webapp.shop.orders import OPEN

MOST = 12  # of each kind
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
    serials = session.exec(select(Blank.serial).where(func.lower(Blank.serial) == typed.lower()).limit(2)).all()
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
    """Those whose serial holds what was typed, or in the key or the wood; those at work first, then the newest."""
    ways = [func.lower(Blank.serial).contains(typed.lower(), autoescape=True)]
    if keys:
        ways = [col(Blank.key).in_(keys)]
    elif woods:
        ways.append(col(Blank.species_id).in_(woods))
    statement = (
        select(Blank, Species, Order.number)
        .join(Species, col(Species.id) == Blank.species_id)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Order, col(Order.id) == OrderedFlute.order_id, isouter=True)
        .where(or_(*ways))
        .order_by(case((col(Blank.status) == BlankStatus.IN_WORK, 0), else_=1), col(Blank.id).desc())
        .limit(MOST)
    )
    return [FoundBlank(blank, species, number) for blank, species, number in session.exec(statement)]


def _orders(session: Session, typed: str, keys: list[str]) -> list[FoundOrder]:
    """The order of this number; those with a flute in the key, open ones first; the newest of customers of this name."""
    statement = select(Order, Customer).join(Customer, col(Customer.id) == Order.customer_id)
    if number := _number(typed):
        statement = statement.where(Order.number == number)
    elif keys:
        with_key = select(OrderedFlute.order_id).where(col(OrderedFlute.key).in_(keys))
        statement = statement.where(col(Order.id).in_(with_key))
        statement = statement.order_by(case((col(Order.status).in_(OPEN), 0), else_=1))
    else:
        for word in folded(typed).split()[:8]:
            statement = statement.where(col(Customer.sought).contains(word, autoescape=True))
    statement = statement.order_by(col(Order.number).desc()).limit(MOST)
    return [FoundOrder(order, customer) for order, customer in session.exec(statement)]


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
