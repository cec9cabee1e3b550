"""The pages of the shop's flutes: switched on and off, and the words that stand on each."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.flute_pages import rules as flute_pages
from webapp.shop.flute_pages.rules import FlutePagesAsked

router = APIRouter()


@router.get("/shop/flute-pages")
def ask(desk: View) -> Response:
    return _page(desk, Form(flute_pages.as_typed(flute_pages.settings(desk.session))))


@router.post("/shop/flute-pages")
def change(desk: Act) -> Response:
    return desk.submit(
        lambda form: flute_pages.change(desk.session, desk.who, form.read(FlutePagesAsked)),
        again=lambda form, status: _page(desk, form, status),
        to="/shop/flute-pages?said=Kept.",
    )


def _page(desk: Desk, form: Form, status: int = 200) -> Response:
    said = flute_pages.settings(desk.session)
    return desk.render("flute_pages/settings.html", status=status, form=form, said=said)
