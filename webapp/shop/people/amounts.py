"""Who sees money, and who changes it: the one table, down to fields.

Pages and their templates, papers, the diary, the API's answers and every rule that takes an amount ask it. A field is
named `table.column` as it is stored; what is calculated from such columns has a name here too. What no matter names is
for everyone who may look at the rest.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, TypeVar

from babel.numbers import get_currency_symbol, list_currencies
from pydantic import BaseModel

from webapp.models import Role
from webapp.shop.base.errors import FieldsNotAllowed
from webapp.shop.people.accounts import Who
from webapp.shop.people.roles import MONEY, OWNER

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Matter:
    """Some fields that belong together: in words, who sees them, who changes them."""

    words: str
    fields: frozenset[str]
    sees: frozenset[Role] = MONEY
    changes: frozenset[Role] = MONEY


def _of(table: str, *columns: str) -> set[str]:
    return {f"{table}.{column}" for column in columns}


MATTERS: Final = (
    Matter(
        "Prices of flutes, repairs and options, and how they are built up",
        frozenset(
            _of("ordered_flute", "price", "extras_price", "built_up", "price_why")
            | _of("repair", "price")
            | _of("chosen_option", "price", "materials", "minutes")
            | _of("flute_option", "price", "materials", "minutes")
        ),
    ),
    Matter("Prices of flutes on the shelf", frozenset(_of("shelf_flute", "price") | _of("shelf_sale", "price"))),
    Matter(
        "What an order comes to: postage, tax, deposit, total, outstanding",
        frozenset(
            _of(
                "customer_order",
                "postage",
                "deposit",
                "tax_name",
                "tax_percent",
                "tax_included",
                "tax_status",
                "tax_reference",
                "total",
                "outstanding",
            )
        ),
    ),
    Matter("Payments", frozenset(_of("payment", "amount") | _of("customer_order", "payments", "paid"))),
    Matter("Invoices, credit notes and receipts", frozenset(_of("bill", "total", "tax", "content"))),
    Matter("Quotes and confirmations", frozenset(_of("issued_paper", "content"))),
    Matter(
        "What stock costs",
        frozenset(
            _of("stock_item", "unit_cost", "cost")
            | _of("stock_movement", "unit_cost")
            | _of("sawing", "cost")
            | _of("sawn_lot", "cost")
        ),
    ),
    Matter("What an hour of work and a flute cost", frozenset({"workshop.hourly_rate", "blank.cost"}), MONEY, OWNER),
    Matter(
        "What prices are built from: rates, overhead, markup, tax, usual deposit",
        frozenset(
            _of("pricing", "consumables", "overhead_percent", "markup_percent", "rounding", "tax_name", "tax_percent")
            | _of("pricing", "tax_included", "deposit_percent")
            | _of("stage_rate", "hourly")
        ),
    ),
)
_MATTER: Final = {name: matter for matter in MATTERS for name in matter.fields}
# The diary's lines about money stand under the subject's name with this behind it: a column decides who reads them.
ABOUT_MONEY: Final = " money"
WITHHELD: Final = "\N{HORIZONTAL ELLIPSIS}"


def sees(role: Role, name: str) -> bool:
    """Whether someone of this role sees the field, which must be one of the table."""
    return role in _MATTER[name].sees


def changes(role: Role, name: str) -> bool:
    """Whether someone of this role sets the field, which must be one of the table."""
    return role in _MATTER[name].changes


@cache
def hidden(role: Role, table: str) -> frozenset[str]:
    """The fields of a table that someone of this role does not see."""
    of = f"{table}."
    return frozenset(name.removeprefix(of) for name in _MATTER if name.startswith(of) and not sees(role, name))


@cache
def hidden_from_some(table: str) -> frozenset[str]:
    """The fields of a table that some role does not see."""
    return frozenset().union(*(hidden(role, table) for role in Role))


def sees_money(role: Role) -> bool:
    """Whether someone of this role sees every amount: what is not a field of its own, such as a line of the diary."""
    return all(role in matter.sees for matter in MATTERS)


def visible(role: Role, table: str, values: Mapping[str, T]) -> dict[str, T]:
    """The values of a table's fields without those that someone of this role does not see."""
    return {name: value for name, value in values.items() if name not in hidden(role, table)}


def check_asked(who: Who, asked: BaseModel, table: str, *, nothing_counts: bool = False) -> None:
    """Raise FieldsNotAllowed, at each field, where this person sends one of a table that they may not set.

    `nothing_counts`: a field that is given as nothing would be emptied; otherwise it is as if it were not given.
    """
    given = [name for name in asked.model_fields_set if nothing_counts or getattr(asked, name) is not None]
    wrong = {name: not_theirs(who, f"{table}.{name}") for name in sorted(given)}
    if wrong := {name: words for name, words in wrong.items() if words}:
        raise FieldsNotAllowed(wrong)


def not_theirs(who: Who, name: str) -> str:
    """Why this person may not set the field; empty where they may, or where it is no matter of money."""
    matter = _MATTER.get(name)
    if matter is None or who.role in matter.changes:
        return ""
    return f"{matter.words}: for the {whose(matter.changes)}. Your role is {who.role.value}, so nothing was changed."


def whose(those: frozenset[Role]) -> str:
    return " or ".join(one.value for one in Role if one in those)


def table() -> Iterator[tuple[str, list[str]]]:
    """The table for people: each matter, and for each role in the order of `Role` what it may do with it."""
    for matter in MATTERS:
        yield matter.words, [_may(matter, role) for role in Role]


def _may(matter: Matter, role: Role) -> str:
    if role not in matter.sees:
        return ""
    return "sees and changes" if role in matter.changes else "sees"


def without_amounts(text: str) -> str:
    """A text in which no amount stands: for words about an order that were written before they were marked, or that
    somebody typed with an amount in them."""
    return _AMOUNT.sub(WITHHELD, text)


def _amount() -> re.Pattern[str]:
    signs = {get_currency_symbol(code, "en_US") for code in list_currencies()}
    marks = "|".join(re.escape(sign) for sign in sorted(signs, key=len, reverse=True) if not sign.isascii())
    codes = "|".join(sorted(sign for sign in signs if sign.isascii() and sign.isalpha()))
    figure = r"\d[\d,.]*"
    before = rf"[A-Z]{{0,3}}\$\s?|(?:{marks})\s?|\b(?:{codes})\u00a0"
    # Two decimals and no measure behind them: as amounts without a currency are written.
    alone = r"(?<![\d.,])\d[\d,]*\.\d\d(?![\d.])(?!\s?(?:mm|cm|in|Hz|%|\"|°|g|ml))"
    return re.compile(rf"[\u2212-]?(?:(?:{before}){figure}(?<![.,])|{alone})")


_AMOUNT: Final = _amount()
