"""Finding it all again, as one types: serial, order, customer, key, wood, pattern, lot, and whatever was written down.

Each database looks through its own full-text index (SQLite FTS5, PostgreSQL GIN) over rows that are kept in step with
what they are about (models/searching.py). Every typed word must begin a word of what is found; accents and case do not
count; a key is found in both its spellings.
"""

import re
from dataclasses import dataclass, field
from typing import Final, TypeVar

import sqlalchemy as sa
from sqlmodel import Session, SQLModel, col, select

from webapp.models import Blank, Customer, Order, OrderedFlute, Pattern, SearchRow, Species, StockItem
from webapp.models.folding import folded
from webapp.models.search.searching import key_words, words
from webapp.shop.base.finding import LARGEST_ID
from webapp.shop.orders.customers import Known
from webapp.shop.units.keys import parse_key

MOST = 12  # of each kind, unless fewer are asked for
LONGEST = 100  # characters that are looked at
MOST_WORDS = 8
_LETTER = re.compile(r"[a-g](#|b)?")
_ELIDED = re.compile(r"\b[a-z]'(?=\w)")  # the d of d'Arbois is no note
_OCTAVES: Final = range(2, 8)
_NOTE = 140  # characters of a note that are shown

KINDS: Final = ("blank", "order", "customer", "pattern", "lot")
PASSING: Final = ("blank", "order", "lot")  # of these, what is at hand comes first
# One look-up in the full-text index, the newest first, cut short.
SQLITE = "SELECT rowid FROM search_words WHERE search_words MATCH :w{n} ORDER BY rowid DESC LIMIT {most}"
# OFFSET 0 keeps the planner from walking all rows from the newest on, in the hope of meeting a dozen soon.
POSTGRESQL = (
    "SELECT id FROM (SELECT id FROM search_row"
    " WHERE array_to_tsvector(string_to_array(words, ' ')) @@ CAST(:w{n} AS tsquery) OFFSET 0) m{n}"
    " ORDER BY id DESC LIMIT {most}"
)


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
    """What goes by the typed words, a dozen of each kind at most; `key` where they name a key.

    `notes`: for each kind and row, the line in which a typed word stands, where it is in what was written about it.
    """

    key: str | None = None
    blanks: list[FoundBlank] = field(default_factory=list)
    orders: list[FoundOrder] = field(default_factory=list)
    customers: list[Known] = field(default_factory=list)
    patterns: list[Pattern] = field(default_factory=list)
    lots: list[StockItem] = field(default_factory=list)
    notes: dict[tuple[str, int], str] = field(default_factory=dict)

    @property
    def nothing(self) -> bool:
        return not (self.blanks or self.orders or self.customers or self.patterns or self.lots)

    def note(self, kind: str, row_id: int | None) -> str:
        return self.notes.get((kind, row_id or 0), "")


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


def find(session: Session, typed: str, most: int = MOST) -> Found:
    """Everything that goes by what was typed, even only in part; what is at hand first, then the newest.

    At most `most` of each kind.
    """
    typed = typed.strip()[:LONGEST]
    asked = _asked(typed)
    found = Found(key=_key(typed))
    if not asked:
        return found
    rows = _rows(session, asked, most)
    ids = {kind: [row.row_id for row in some] for kind, some in rows.items()}
    plain = [part for alternatives in asked for part, _ in alternatives]
    for some in rows.values():
        for row in some:
            if line := _line(row, plain):
                found.notes[row.kind, row.row_id] = line
    found.blanks = _blanks(session, ids["blank"])
    found.orders = _orders(session, ids["order"])
    found.customers = _customers(session, ids["customer"])
    found.patterns = _by_id(session, Pattern, ids["pattern"])
    found.lots = _by_id(session, StockItem, ids["lot"])
    return found


Row = TypeVar("Row", bound=SQLModel)
Alternatives = list[tuple[str, bool]]  # words, and whether the beginning of a word is enough


def _asked(typed: str) -> list[Alternatives]:
    """For each typed word what it may stand for."""
    asked: list[Alternatives] = []
    for word in words(_ELIDED.sub(" ", folded(typed)))[:MOST_WORDS]:
        if _LETTER.fullmatch(word):
            # A note without its octave: that note in every octave; as two letters also the beginning of a word.
            notes = [(one, False) for octave in _OCTAVES for one in key_words(f"{word}{octave}")]
            asked.append(notes + ([(word, True)] if len(word) > 1 else []))
        elif len(spellings := key_words(word)) > 1:
            asked.append([(one, False) for one in spellings])
        else:
            asked.append([(word, len(word) > 1)])
    return asked


def _rows(session: Session, asked: list[Alternatives], most: int) -> dict[str, list[SearchRow]]:
    """Rows of each kind: whole words before beginnings of words, what is at hand before the newest others."""
    whole = [[(word, False) for word, _ in some] for some in asked]
    ids: dict[str, list[int]] = {kind: [] for kind in KINDS}
    for words_ in [whole, asked] if whole != asked else [asked]:
        lacking = [kind for kind in KINDS if len(ids[kind]) < most]
        looks = [(kind, [[(f"#{kind}", False)], [("#open", False)], *words_]) for kind in lacking if kind in PASSING]
        looks += [(kind, [[(f"#{kind}", False)], *words_]) for kind in lacking]
        for (kind, _), some in zip(looks, _look(session, [wanted for _, wanted in looks], most), strict=True):
            ids[kind] += [one for one in some if one not in ids[kind]]
    ids = {kind: some[:most] for kind, some in ids.items()}
    every = [one for some in ids.values() for one in some]
    rows = {row.id: row for row in session.exec(select(SearchRow).where(col(SearchRow.id).in_(every)))} if every else {}
    return {kind: [rows[one] for one in some if one in rows] for kind, some in ids.items()}


def _look(session: Session, looks: list[list[Alternatives]], most: int) -> list[list[int]]:
    """The ids that each look-up finds; all of them in one statement."""
    if not looks:
        return []
    sqlite = session.get_bind().dialect.name == "sqlite"
    one, write = (SQLITE, _sqlite) if sqlite else (POSTGRESQL, _postgresql)
    # Of what was typed only bound values get into this.
    parts = [f"SELECT {n} AS n, l{n}.* FROM ({one.format(n=n, most=most)}) l{n}" for n in range(len(looks))]  # noqa: S608
    found: list[list[int]] = [[] for _ in looks]
    wanted = {f"w{n}": write(look) for n, look in enumerate(looks)}
    for n, row_id in session.execute(sa.text(" UNION ALL ".join(parts)), wanted):
        found[n].append(row_id)
    return found


def _sqlite(asked: list[Alternatives]) -> str:
    return " AND ".join(
        "(" + " OR ".join(f'"{word}"' + (" *" if begins else "") for word, begins in some) + ")" for some in asked
    )


def _postgresql(asked: list[Alternatives]) -> str:
    return " & ".join(
        "(" + " | ".join(f"'{word}'" + (":*" if begins else "") for word, begins in some) + ")" for some in asked
    )


def _line(row: SearchRow, plain: list[str]) -> str:
    """The written line in which a typed word stands, unless what it goes by says it all."""
    head = words(row.head)
    missing = [word for word in plain if not any(one.startswith(word) for one in head)]
    for line in row.notes.split("\n") if missing else []:
        if any(one.startswith(word) for one in words(line) for word in missing):
            return line if len(line) <= _NOTE else line[: _NOTE - 1] + "\N{HORIZONTAL ELLIPSIS}"
    return ""


def _blanks(session: Session, ids: list[int]) -> list[FoundBlank]:
    statement = (
        select(Blank, Species, Order.number)
        .join(Species, col(Species.id) == Blank.species_id)
        .join(OrderedFlute, col(OrderedFlute.id) == Blank.ordered_flute_id, isouter=True)
        .join(Order, col(Order.id) == OrderedFlute.order_id, isouter=True)
        .where(col(Blank.id).in_(ids))
    )
    found = {blank.id: FoundBlank(blank, species, number) for blank, species, number in session.exec(statement)}
    return [found[one] for one in ids if one in found]


def _orders(session: Session, ids: list[int]) -> list[FoundOrder]:
    statement = select(Order, Customer).join(Customer, col(Customer.id) == Order.customer_id)
    rows = session.exec(statement.where(col(Order.id).in_(ids)))
    found = {order.id: FoundOrder(order, customer) for order, customer in rows}
    return [found[one] for one in ids if one in found]


def _customers(session: Session, ids: list[int]) -> list[Known]:
    orders = select(sa.func.count()).where(Order.customer_id == Customer.id).correlate(Customer).scalar_subquery()
    rows = session.exec(select(Customer, orders).where(col(Customer.id).in_(ids)))
    found = {customer.id: Known(customer, count) for customer, count in rows}
    return [found[one] for one in ids if one in found]


def _by_id(session: Session, table: type[Row], ids: list[int]) -> list[Row]:
    key = col(table.id)  # type: ignore[attr-defined]
    found = {row.id: row for row in session.exec(select(table).where(key.in_(ids)))}  # type: ignore[attr-defined]
    return [found[one] for one in ids if one in found]


def _key(typed: str) -> str | None:
    """The key that is named, a letter without its octave as well."""
    try:
        return parse_key(typed)
    except ValueError:
        only = words(typed)
        return only[0].capitalize() if len(only) == 1 and _LETTER.fullmatch(only[0]) else None


def _number(typed: str) -> int | None:
    """The number in "17", "#17" or "order 17"; one that begins with a zero is a serial, not an order."""
    text = typed.lower().removeprefix("order").strip().removeprefix("#").strip()
    return (
        int(text)
        if text.isascii() and text.isdigit() and text[0] != "0" and len(text) < 11 and 0 < int(text) <= LARGEST_ID
        else None
    )
