"""A flute of an order taken from the shelf, or given back to it."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Blank
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.orders import flutes as ordered_flutes, lists as order_list, rules as orders
from webapp.shop.shelf import lists as shelf_list, taking
from webapp.shop.shelf.taking import GiveBack, Take
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/orders/{number}/flutes/{flute_id}/shelf")
def ask(desk: View, number: int, flute_id: int) -> Response:
    return _page(desk, number, flute_id, Form({"serial": desk.request.query_params.get("serial", "")[:40]}))


@router.post("/orders/{number}/flutes/{flute_id}/shelf")
def take(desk: Act, number: int, flute_id: int) -> Response:
    def to(blank: Blank) -> str:
        said = quote(f"{blank.serial} is this order's flute now.")
        return f"/orders/{number}?said={said}#flute-{flute_id}"

    return desk.submit(
        lambda form: taking.take(desk.session, desk.who, number, flute_id, form.read(Take)),
        again=lambda form, status: _page(desk, number, flute_id, form, status),
        to=to,
    )


@router.post("/orders/{number}/flutes/{flute_id}/give-back")
def give_back(desk: Act, number: int, flute_id: int) -> Response:
    return desk.submit(
        lambda form: taking.give_back(desk.session, desk.who, number, flute_id, form.read(GiveBack)),
        again=lambda form, status: _page(desk, number, flute_id, form, status),
        to=lambda blank: f"/orders/{number}?said={quote(f'{blank.serial} is on the shelf again.')}#flute-{flute_id}",
    )


def _page(desk: Desk, number: int, flute_id: int, form: Form, status: int = 200) -> Response:
    order = orders.order_of(desk.session, number)
    flute = ordered_flutes.flute_of(desk.session, order, flute_id)
    [row] = [one for one in order_list.flute_rows(desk.session, order) if one.flute.id == flute_id]
    return desk.render(
        "shelf/take.html",
        status=status,
        order=order,
        flute=flute,
        row=row,
        offered=shelf_list.fitting(desk.session, [row]).get(flute_id, []),
        form=form,
        as_note=show_note,
    )
