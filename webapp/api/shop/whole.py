"""What is about the whole shop: who the key speaks for, and search."""

from typing import Annotated

from fastapi import Query
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Look
from webapp.api.frame.rows import Shown, made, many, model_of, row, row_of, rows
from webapp.api.frame.ways import way
from webapp.models import Blank, Customer, Order, Pattern, Shop, StockItem
from webapp.shop import search
from webapp.shop.base import finding


class MeShown(Shown):
    """Whom the key speaks for, and in which shop."""

    id: int
    name: str
    role: str
    shop: str


class NamedShown(Shown):
    """The one thing that is called just so."""

    kind: str
    name: str | int


FoundShown = made(
    "FoundShown",
    "What goes by the words, a dozen of each kind at most.",
    exactly=NamedShown | None,
    key=str | None,
    blanks=many(model_of("BlankNoted", Blank, note=str | None)),
    orders=many(model_of("OrderNoted", Order, customer=str, note_found=str | None)),
    customers=many(row_of(Customer)),
    patterns=many(row_of(Pattern)),
    lots=many(row_of(StockItem)),
)


router = ways.router("shop")


@router.get("/me", **way("Whom this key speaks for", "/me", shows=MeShown))
def me(call: Look) -> Response:
    shop = finding.find(call.session, Shop, 1, "shop")
    return call.answer({"id": call.who.id, "name": call.who.name, "role": str(call.who.role), "shop": shop.name})


@router.get("/search", **way("Everything that goes by some words", "/search", "/search/at-hand", shows=FoundShown))
def find(call: Look, q: Annotated[str, Query(description="words")] = "") -> Response:
    found, only = search.find(call.session, q), search.exactly(call.session, q)
    return call.answer(
        {
            "exactly": dict(zip(("kind", "name"), only, strict=True)) if only else None,
            "key": found.key,
            "blanks": [row(one.blank, note=found.note("blank", one.blank.id)) for one in found.blanks],
            "orders": [
                row(one.order, customer=one.customer.name, note_found=found.note("order", one.order.id))
                for one in found.orders
            ],
            "customers": [row(one.customer) for one in found.customers],
            "patterns": rows(found.patterns),
            "lots": rows(found.lots),
        }
    )
