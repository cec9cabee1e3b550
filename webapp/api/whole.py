"""What is about the whole shop: who the key speaks for, and search."""

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Shop
from webapp.shop import search
from webapp.shop.base import finding


def me(call: Call) -> Answer:
    shop = finding.find(call.session, Shop, 1, "shop")
    return Answer({"id": call.who.id, "name": call.who.name, "role": str(call.who.role), "shop": shop.name})


def find(call: Call) -> Answer:
    typed = call.query.get("q", "")
    found, only = search.find(call.session, typed), search.exactly(call.session, typed)
    return Answer(
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


WAYS = [
    Way("GET", "/me", "Whom this key speaks for", me, shows="me", does=("/me",)),
    Way(
        "GET",
        "/search",
        "Everything that goes by some words",
        find,
        shows="found",
        query={"q": "words"},
        does=("/search", "/search/at-hand"),
    ),
]
