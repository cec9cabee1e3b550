"""Signing in and out."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Person
from webapp.pages.desk import COOKIE, Act, Desk, GoTo, PublicAct, PublicView
from webapp.shop import accounts

router = APIRouter()


@router.get("/sign-in")
def ask(desk: PublicView) -> Response:
    if not desk.is_set_up:
        raise GoTo("/first-run")
    return desk.render("sign_in.html", then=_own_page(desk.request.query_params.get("then", "/")))


@router.post("/sign-in")
def check(desk: PublicAct) -> Response:
    form = desk.form()
    then = _own_page(form.values.get("then", "/"))
    token = accounts.sign_in(
        desk.session,
        form.values.get("sign_in_name", ""),
        form.values.get("password", ""),
        desk.settings.session_days,
    )
    if token is None:
        form.errors["password"] = "That name and password do not go together."
        return desk.render("sign_in.html", status=422, form=form, then=then)
    return _with_cookie(desk, desk.go(then), token)


@router.post("/sign-out")
def leave(desk: Act) -> Response:
    accounts.sign_out(desk.session, desk.request.cookies.get(COOKIE, ""))
    answer = desk.go("/sign-in")
    answer.delete_cookie(COOKIE)
    return answer


def let_in(desk: Desk, person: Person, to: str) -> Response:
    """Sign this person in at once, as after the first run."""
    return _with_cookie(desk, desk.go(to), accounts.open_sign_in(desk.session, person, desk.settings.session_days))


def _with_cookie(desk: Desk, answer: Response, token: str) -> Response:
    answer.set_cookie(
        COOKIE,
        token,
        max_age=desk.settings.session_days * 86400,
        httponly=True,
        samesite="lax",
        secure=desk.request.url.scheme == "https",
    )
    return answer


def _own_page(address: str) -> str:
    """The address where it is one of ours, else the rack: a sign-in must not lead to another site."""
    safe = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if safe and address.isprintable() else "/"
