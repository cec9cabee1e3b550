"""Keys for programs: one's own, made and revoked; and the page that says what a program can do with one."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.people import tokens
from webapp.shop.people.tokens import WORDS, Scope, TokenAsked

router = APIRouter()
DAYS = [("90", "90 days"), ("365", "a year"), ("", "until it is revoked")]


@router.get("/api")
def described(desk: View) -> Response:
    described = desk.request.app.state.described
    tags: dict[str, list[Any]] = {}
    for way in described["ways"]:
        tags.setdefault(way.tag, []).append(way)
    fields = {way: _fields(way) for way in described["ways"]}
    return desk.render(
        "people/api.html", tags=tags, at=described["at"], kinds=described["kinds"], scopes=WORDS, fields=fields
    )


@router.get("/me/keys")
def show(desk: View) -> Response:
    return _page(desk, Form({"scopes": ["read"], "days": "365"}))


@router.post("/me/keys")
def make(desk: Act) -> Response:
    form = desk.form("scopes")
    try:
        _, text = tokens.make(desk.session, desk.who, form.read(TokenAsked))
    except Invalid as error:
        return _page(desk, form.failed(error), 422)
    except Refused as error:
        return _page(desk, form.failed(Invalid({"": str(error)})), 409)
    # Shown this once: the page itself is the answer, since no address may carry it.
    return _page(desk, Form({"scopes": ["read"], "days": "365"}), made=text)


@router.post("/me/keys/{token_id}/revoke")
def revoke(desk: Act, token_id: int) -> Response:
    tokens.revoke(desk.session, desk.who, token_id)
    return desk.go("/me/keys")


def _page(desk: Desk, form: Form, status: int = 200, made: str | None = None) -> Response:
    others = []
    if desk.who.role is Role.OWNER:
        others = [(token, person) for token, person in tokens.every(desk.session, desk.who) if person.id != desk.who.id]
    return desk.render(
        "people/api_keys.html",
        status=status,
        form=form,
        keys=tokens.of_person(desk.session, desk.who),
        others=others,
        scopes=[(scope.value, scope.value.capitalize(), WORDS[scope]) for scope in Scope],
        days=DAYS,
        made=made,
    )


def _fields(way: Any) -> str:
    """The fields of a body in few words, those that are needed first."""
    if way.model is None:
        return ""
    fields = way.model.model_fields
    needed = [name for name, field in fields.items() if field.is_required()]
    return ", ".join([*needed, *(f"{name}?" for name in fields if name not in needed)])
