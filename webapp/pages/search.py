"""Search: grouped results as one types; a whole serial or order number leads straight there."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.desk import GoTo, View
from webapp.shop import search
from webapp.shop.keys import show_note

router = APIRouter()


@router.get("/search")
def find(desk: View) -> Response:
    typed = "".join(c for c in desk.request.query_params.get("q", "") if c.isprintable())[: search.LONGEST].strip()
    if not desk.wants_fragment and (only := search.exactly(desk.session, typed)):
        kind, name = only
        raise GoTo(f"/blanks/{quote(str(name), safe='')}" if kind == "blank" else f"/orders/{name}")
    block = "found" if desk.wants_fragment else None
    found = search.find(desk.session, typed)
    return desk.render("search/search.html", block, q=typed, found=found, as_note=show_note)
