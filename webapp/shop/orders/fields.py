"""The one table of an order's fields that can be changed: their words, how they are shown, what is agreed about them.

The form, the diary, the record of changes, the stale answer, the page of both versions and the API all read it.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Literal

from webapp.models import Order, TaxStatus
from webapp.shop.orders import prices
from webapp.shop.people import amounts


@dataclass(frozen=True, slots=True)
class OrderField:
    """One field. `agreed`: the customer was told, so that a confirmed order changes it for a reason only.

    `empty` is what the field holds once it is emptied. `label` and `hint` stand at the form's field. `placed`: the
    order's page shows it at a place of its own, otherwise among the facts.
    """

    name: str
    words: str
    kind: Literal["date", "amount", "note", "choice", "text"]
    agreed: bool
    empty: Any = None
    label: str = ""
    hint: str = ""
    placed: bool = True
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def is_money(self) -> bool:
        """Whether some role does not see it."""
        return self.name in amounts.hidden_from_some("customer_order")

    def of(self, order: Order) -> Any:
        """What the field holds."""
        return getattr(order, self.name)

    def said(self, value: Any, currency: str) -> object:
        """A value as the diary and the papers have it: an amount with its currency."""
        if self.kind == "amount":
            return "" if value is None else prices.money(value, currency)
        return value

    def typed(self, value: Any) -> str:
        """A value as it is typed into a form; an amount that is usually nothing is an empty field then."""
        if value is None or (value == self.empty and self.kind == "amount"):
            return ""
        return str(value)


FIELDS: Final = (
    OrderField("due_on", "Due", "date", agreed=True),
    OrderField("postage", "Packing and postage", "amount", agreed=True, empty=Decimal(0)),
    OrderField(
        "deposit",
        "Deposit",
        "amount",
        agreed=True,
        label="Deposit asked for",
        hint="Left empty, the shop's usual share.",
    ),
    OrderField(
        "tax_status",
        "Tax",
        "choice",
        agreed=True,
        empty=TaxStatus.TAXED,
        label="Tax on sales",
        hint="Why none is charged. Ask local law and a tax adviser what has to be proven, and keep the proof.",
        choices=(
            (TaxStatus.TAXED.value, "Charged as usual"),
            (TaxStatus.EXEMPT.value, "None: the customer is exempt"),
            (TaxStatus.RESALE.value, "None: for resale"),
            (TaxStatus.EXPORT.value, "None: export"),
        ),
    ),
    OrderField(
        "tax_reference",
        "Tax certificate",
        "text",
        agreed=False,
        empty="",
        label="Certificate or number",
        hint="Of the exemption, the reseller or the export; it is printed on the papers.",
    ),
    OrderField(
        "note",
        "Note",
        "note",
        agreed=False,
        empty="",
        label="Note for the shop",
        hint="It stands on no paper that goes to the customer.",
        placed=False,
    ),
)
NAMES: Final = tuple(field.name for field in FIELDS)


def named(name: str) -> OrderField:
    """The field of that name."""
    return next(field for field in FIELDS if field.name == name)


def as_typed(order: Order) -> dict[str, str]:
    """Every field as its form is filled, with the version that is seen."""
    return {field.name: field.typed(field.of(order)) for field in FIELDS} | {"version": str(order.version)}


def as_now(order: Order) -> dict[str, str]:
    """Every field and the status as they stand: what a stale change is told."""
    now = {field.name: "" if field.of(order) is None else str(field.of(order)) for field in FIELDS}
    return {"status": str(order.status)} | now


def both_versions(order: Order, typed: dict[str, Any]) -> dict[str, tuple[str, str]]:
    """For each field that differs, by its words: what the order says now and what was typed."""
    pairs = {
        field.words: (field.typed(field.of(order)), str(typed[field.name])) for field in FIELDS if field.name in typed
    }
    return {words: pair for words, pair in pairs.items() if pair[0] != pair[1]}


def facts(order: Order) -> dict[str, str]:
    """What the order's page shows among the facts, by its words."""
    return {field.words: str(field.of(order)) for field in FIELDS if not field.placed and field.of(order)}
