"""The rules of signing in, for the owner; and how strong a password is, for whoever chooses one."""

from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import Response
from starlette.datastructures import FormData

from webapp.pages.frame.desk import Act, Desk, PublicView, View, form_data
from webapp.pages.frame.forms import Form
from webapp.shop.people import accounts, second_step, sign_in_rules
from webapp.shop.people.sign_in_rules import RulesAsked

router = APIRouter()


@router.get("/shop/signing-in")
def show(desk: View) -> Response:
    return _page(desk, Form(desk.shop.model_dump(include=set(RulesAsked.model_fields))))


@router.post("/shop/signing-in")
def change(desk: Act) -> Response:
    return desk.submit(
        lambda form: sign_in_rules.change(desk.session, desk.who, form.read(RulesAsked)),
        again=lambda form, status: _page(desk, form, status),
        to="/shop/signing-in?said=Saved.",
    )


@router.post("/password-strength")
def strength(desk: PublicView, data: Annotated[FormData, Depends(form_data)]) -> Response:
    """A part of a page alone: asked for while someone types, so it locks nothing and keeps nothing."""
    typed = data.get("password", "")
    password = typed if isinstance(typed, str) else ""
    return desk.render("people/_strength.html", strength=accounts.strength(password) if password else None)


def _page(desk: Desk, form: Form, status: int = 200) -> Response:
    everyone = [one for one in accounts.people(desk.session) if one.active]
    return desk.render(
        "people/signing_in.html",
        status=status,
        form=form,
        for_whom=sign_in_rules.FOR_WHOM,
        how_long=sign_in_rules.HOW_LONG,
        everyone=[(one, second_step.is_wanted_of(desk.shop, one.role)) for one in everyone],
    )
