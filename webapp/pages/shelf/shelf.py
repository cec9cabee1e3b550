"""The shelf: its flutes as a list, and one of them with its price, its place and the orders it would fit."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank
from webapp.pages.frame import drawn
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.finding import as_id
from webapp.shop.blanks.state import by_serial
from webapp.shop.people import amounts
from webapp.shop.shelf import lists as shelf_list, rules as shelf
from webapp.shop.shelf.lists import Which
from webapp.shop.shelf.rules import ShelfAsked
from webapp.shop.units.keys import parse_key, show_note

router = APIRouter()
LAST_PAGE = 1_000_000
PRICE = "shelf_flute.price"


@router.get("/shelf")
def show(desk: View) -> Response:
    params = desk.request.query_params
    which = next((one for one in Which if one == params.get("show")), Which.FINISHED)
    typed = params.get("key", "").strip()[:12]
    form = Form({"key": typed})
    page = min(as_id(params.get("page", "1")) or 1, LAST_PAGE)
    key = None
    if typed:
        try:
            key = parse_key(typed)
        except ValueError as error:
            form.errors = {"key": str(error)}
    rows, more = ([], False) if form.errors else shelf_list.listed(desk.session, which, page, key)
    drawings, scale = drawn.all_small(desk.session, [one.seen for one in rows])
    return desk.render(
        "shelf/list.html",
        status=422 if form.errors else 200,
        rows=rows,
        more=more,
        page=page,
        which=which,
        ways=list(Which),
        form=form,
        drawings=drawings,
        scale=scale,
        as_note=show_note,
    )


@router.get("/shelf/{serial}")
def one(desk: View, serial: str) -> Response:
    blank = by_serial(desk.session, serial)
    said = shelf.as_typed(shelf.said_of(desk.session, blank))
    return _page(desk, blank, Form(amounts.visible(desk.who.role, "shelf_flute", said)))


@router.post("/shelf/{serial}")
def change(desk: Act, serial: str) -> Response:
    blank = by_serial(desk.session, serial)
    return desk.submit(
        lambda form: shelf.change(desk.session, desk.who, blank.serial, form.read(ShelfAsked)),
        again=lambda form, status: _page(desk, blank, form, status),
        to=f"/shelf/{quote(blank.serial, safe='')}?said={quote('Kept.')}",
    )


def _page(desk: Desk, blank: Blank, form: Form, status: int = 200) -> Response:
    row = shelf_list.one(desk.session, blank)
    drawings, _ = drawn.all_small(desk.session, [row.seen])
    return desk.render(
        "shelf/one.html",
        status=status,
        row=row,
        blank=blank,
        drawing=drawings[blank.id or 0],
        on_shelf=shelf.is_on_the_shelf(blank),
        waiting=shelf_list.waiting_for(desk.session, blank),
        form=form,
        works=desk.who.role != "viewer",
        prices=amounts.changes(desk.who.role, PRICE),
        as_note=show_note,
    )
