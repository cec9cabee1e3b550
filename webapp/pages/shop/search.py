"""Search: grouped results as one types; a whole serial or order number leads straight there."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Desk, GoTo, View
from webapp.shop import search
from webapp.shop.units.keys import show_note

router = APIRouter()

AT_HAND = 4  # of each kind, below the field in the head


@router.get("/search")
def find(desk: View) -> Response:
    typed = _typed(desk)
    if not desk.wants_fragment and (only := search.exactly(desk.session, typed)):
        kind, name = only
        raise GoTo(f"/blanks/{quote(str(name), safe='')}" if kind == "blank" else f"/orders/{name}")
    block = "found" if desk.wants_fragment else None
    found = search.find(desk.session, typed)
    return desk.render("shop/search.html", block, q=typed, found=found, as_note=show_note)


@router.get("/search/at-hand")
def at_hand(desk: View) -> Response:
    """A few of each kind, for the list below the field in the head."""
    typed = _typed(desk)
    if not desk.wants_fragment:
        raise GoTo(f"/search?q={quote(typed, safe='')}")
    found = search.find(desk.session, typed, most=AT_HAND + 1)
    kinds = (found.blanks, found.orders, found.customers, found.patterns, found.lots)
    return desk.render(
        "shop/search_at_hand.html",
        q=typed,
        found=found,
        most=AT_HAND,
        count=sum(len(some[:AT_HAND]) for some in kinds),
        more=any(len(some) > AT_HAND for some in kinds),
        as_note=show_note,
    )


def _typed(desk: Desk) -> str:
    return "".join(c for c in desk.request.query_params.get("q", "") if c.isprintable())[: search.LONGEST].strip()
