"""Who may do what: the one table. Pages ask it before they do anything; the shop's page shows it; tests walk it.
Which fields of a page are for whom stands beside it, in `amounts`.

A deed names the addresses that carry it out, as the routes are written; a star stands for any ending. For each address
the first deed that names it decides. What changes something and stands in no deed is refused to everybody.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Final

from webapp.models import Role
from webapp.shop.base.errors import NotAllowed

OWNER: Final = frozenset({Role.OWNER})
MONEY: Final = frozenset({Role.OWNER, Role.OFFICE})
HANDS: Final = frozenset({Role.OWNER, Role.MAKER})
WORKING: Final = frozenset({Role.OWNER, Role.OFFICE, Role.MAKER})
EVERYONE: Final = frozenset(Role)


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that is done here: in words, by whom, and by which addresses. `looks`: also looking at them is theirs
    alone; otherwise everyone who is signed in may look. `again`: the password is asked for once more where it was typed
    some time ago, so that a screen left open opens nothing of the kind."""

    words: str
    roles: frozenset[Role]
    addresses: tuple[str, ...]
    looks: bool = False
    again: bool = False


DEEDS: Final = (
    Deed("One's keys for programs, and where one is signed in", EVERYONE, ("/me/keys*", "/me/sign-ins*"), True, True),
    Deed("One's own account: password, second step, units, calendar", EVERYONE, ("/me*", "/sign-out"), True),
    Deed("People, their roles and invitations", OWNER, ("/shop/people*",), True, True),
    Deed("The rules of signing in", OWNER, ("/shop/signing-in",), True, True),
    Deed("The shop's settings, and the pages of its flutes", OWNER, ("/shop/settings", "/shop/flute-pages"), True),
    Deed("Backups", OWNER, ("/shop/backups*",), True, True),
    Deed("The diary of who did what", OWNER, ("/shop/diary",), True),
    Deed("Everything taken out as tables", MONEY, ("/export*",), True, True),
    Deed("Customers, stock and patterns imported from tables", WORKING, ("/import*",), True),
    Deed(
        "Prices, rates, options and the margin",
        MONEY,
        ("/shop/prices", "/shop/options*", "/orders/{number}/flutes/{flute_id}/price"),
        True,
    ),
    Deed("The words of mails", MONEY, ("/shop/mails*",), True),
    Deed(
        "Payments, invoices, receipts and the books",
        MONEY,
        ("/payments*", "/orders/{number}/payments*", "/orders/{number}/bills*", "/books*"),
        True,
    ),
    Deed("What flutes cost", MONEY, ("/orders/{number}/costs",), True),
    Deed(
        "Quotes and confirmations: issued and read",
        MONEY,
        ("/orders/{number}/quote*", "/orders/{number}/confirm*"),
        True,
    ),
    Deed(
        "Customers merged, and erased for good",
        MONEY,
        ("/customers/{customer_id}/merge", "/customers/{customer_id}/erase"),
        True,
    ),
    Deed("Promised dates", WORKING, ("/orders/{number}/promise",)),
    Deed("People's working hours", OWNER, ("/promise/hours*",)),
    Deed("Closed days", MONEY, ("/promise*",)),
    Deed("The customer's own page about an order", WORKING, ("/orders/{number}/status-page*",), True),
    Deed("Repairs: taken, changed, begun, written up", WORKING, ("/orders/{number}/repairs*", "/orders/repair"), True),
    Deed(
        "Orders, their flutes and customers: entered and changed",
        WORKING,
        (
            "/orders/new",
            "/orders/{number}/edit",
            "/orders/{number}/flutes*",
            "/orders/{number}/parcel",
            "/customers/{customer_id}/edit",
        ),
        True,
    ),
    Deed("Flutes sold on the spot and at outlets", MONEY, ("/shelf/outlets*", "/shelf/sales*"), True),
    Deed("Flutes on the shelf: where they lie, taken by an order, given back", WORKING, ("/shelf*",)),
    Deed("Orders handed over, withdrawn", WORKING, ("/orders*", "/customers*")),
    Deed("Travelers in batches", WORKING, ("/travelers*",)),
    Deed(
        "Stock recorded: lots, labels, woods, counts, corrections, sawing",
        WORKING,
        (
            "/stock/new",
            "/stock/count",
            "/stock/woods/new",
            "/stock/{item_id}/label",
            "/stock/{item_id}/correct*",
            "/stock/{item_id}/saw",
        ),
        True,
    ),
    Deed("Stock moved, moisture, flaws, cutting plans and labels", WORKING, ("/stock*",)),
    Deed("Pictures and papers of blanks and stock", WORKING, ("/photos*", "/blanks/{serial}/photos")),
    Deed("What went wrong with a blank, and what becomes of it", WORKING, ("/blanks/{serial}/defects*", "/yields*")),
    Deed("Blanks opened", WORKING, ("/blanks/new",), True),
    Deed("Whose hands a blank is in", WORKING, ("/blanks/{serial}/hands",)),
    Deed("Recorded steps of a blank taken back", WORKING, ("/blanks/{serial}/entries*",), True),
    Deed("Steps and gauges of a blank", WORKING, ("/blanks*", "/together")),
    Deed("Glue-ups", WORKING, ("/glue-up*",)),
    Deed(
        "Readings and cuts taken back",
        WORKING,
        ("/bench/{serial}/readings/{reading_id}", "/bench/{serial}/cuts/{cut_id}"),
        True,
    ),
    Deed("Readings, cuts and recordings at the tuning bench", WORKING, ("/bench*",)),
    Deed("Patterns imported", WORKING, ("/patterns/import",), True),
    Deed("Patterns designed and marked as proven", WORKING, ("/patterns*",)),
    Deed("Learning reset", OWNER, ("/shop/learning/resets*",), True),
    Deed("Which finished flutes the shop learns from", HANDS, ("/shop/learning/flutes*",), True),
    Deed("A new adhesive", WORKING, ("/shop/adhesives/new",), True),
    Deed(
        "Routings, drills, adhesives and their bottles",
        WORKING,
        ("/shop/routings*", "/shop/drills*", "/shop/adhesives*", "/shop/bottles*"),
    ),
    Deed("Standard minutes and supplies", HANDS, ("/shop/workshop*",)),
)


@cache
def deed_of(path: str) -> Deed | None:
    """The deed that an address belongs to, by its route."""
    for deed in DEEDS:
        for address in deed.addresses:
            if path == address or (address.endswith("*") and path.startswith(address[:-1])):
                return deed
    return None


def may(role: Role, method: str, path: str) -> bool:
    """Whether someone of this role may send this request to the route `path`."""
    deed = deed_of(path)
    if method in ("GET", "HEAD"):
        return deed is None or not deed.looks or role in deed.roles
    return deed is not None and role in deed.roles


def check(role: Role, method: str, path: str) -> None:
    """Raises NotAllowed, saying whose it is, where someone of this role may not."""
    if may(role, method, path):
        return
    deed = deed_of(path)
    if deed is None:
        raise NotAllowed("No role may do this.")
    whose = " or ".join(one.value for one in Role if one in deed.roles)
    raise NotAllowed(f"{deed.words}: for the {whose}. Your role is {role.value}.")


def asks_again(path: str) -> bool:
    """Whether the password is asked for once more before the route `path` is opened."""
    deed = deed_of(path)
    return deed is not None and deed.again


def table() -> Iterator[tuple[str, list[bool]]]:
    """The table for people: each deed, and for each role in the order of `Role` whether it may."""
    for deed in DEEDS:
        yield deed.words, [role in deed.roles for role in Role]
