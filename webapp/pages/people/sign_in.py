"""Signing in and out: name and password, and where someone wants it, the code of the second step."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Person
from webapp.pages.frame import cookies
from webapp.pages.frame.desk import Act, Desk, GoTo, PublicAct, PublicView
from webapp.pages.frame.failures import crowded
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
from webapp.pages.people.devices import device
from webapp.security.passwords import Crowded
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts, door
from webapp.shop.people.door import Entered
from webapp.shop.people.guesses import Visitor

router = APIRouter()


@router.get("/sign-in")
def ask(desk: PublicView) -> Response:
    if not desk.is_set_up:
        raise GoTo("/first-run")
    return desk.render("people/sign_in.html", then=own_page(desk.request.query_params.get("then", "/")))


@router.post("/sign-in")
@waits
def check(desk: PublicAct) -> Response:
    form = desk.form()
    then = own_page(form.values.get("then", "/"))
    name, password = form.values.get("sign_in_name", ""), form.values.get("password", "")
    visitor = visitor_of(desk)
    try:
        person = door.check(desk.database, visitor, name, password)
    except Invalid as error:
        return desk.render("people/sign_in.html", status=422, form=form.failed(error), then=then)
    except Crowded as error:
        return _again_later(desk, "people/sign_in.html", form, then, error)
    if person is None:
        form.errors["password"] = door.WRONG
        return desk.render("people/sign_in.html", status=422, form=form, then=then)
    entered = door.let_in(desk.session, visitor, person, desk.settings.session_days)
    return _enter(desk, entered, then)


@router.get("/sign-in/code")
def ask_code(desk: PublicView) -> Response:
    if door.awaiting(desk.session, cookies.token(desk.request)) is None:
        raise GoTo("/sign-in")
    return desk.render("people/sign_in_code.html", then=own_page(desk.request.query_params.get("then", "/")))


@router.post("/sign-in/code")
@waits
def check_code(desk: PublicAct) -> Response:
    form = desk.form()
    then = own_page(form.values.get("then", "/"))
    token, code = cookies.token(desk.request), form.values.get("code", "")
    try:
        entered = door.enter_with_code(
            desk.database, desk.request.app.state.seal, visitor_of(desk), token, code, desk.settings.session_days
        )
    except Invalid as error:
        return desk.render("people/sign_in_code.html", status=422, form=form.failed(error), then=then)
    except Crowded as error:
        return _again_later(desk, "people/sign_in_code.html", form, then, error)
    return _enter(desk, entered, then)


@router.post("/sign-out")
def leave(desk: Act) -> Response:
    accounts.sign_out(desk.session, cookies.token(desk.request))
    return signed_out(desk)


def signed_out(desk: Desk) -> Response:
    """Back to the door, with no sign-in left in this browser and nothing of the shop kept in it."""
    answer = desk.go("/sign-in")
    cookies.drop_token(answer, desk.request)
    answer.headers["clear-site-data"] = '"storage"'
    return answer


def let_in(desk: Desk, person: Person, to: str) -> Response:
    """Sign this person in at once, as after the first run."""
    return _enter(desk, door.let_in(desk.session, visitor_of(desk), person, desk.settings.session_days), to)


def visitor_of(desk: Desk) -> Visitor:
    request = desk.request
    address = request.client.host if request.client else ""
    return Visitor(address, device(request.headers.get("user-agent", "")), cookies.known_token(request))


def _again_later(desk: Desk, template: str, form: Form, then: str, error: Crowded) -> Response:
    """Nothing was looked at; what was typed stays, and the browser is told when to try again."""
    form.errors[""] = str(error)
    answer = desk.render(template, status=429, form=form, then=then)
    answer.headers.update(crowded())
    return answer


def _enter(desk: Desk, entered: Entered, then: str) -> Response:
    if entered.awaits_code:
        then = "/sign-in/code" if then == "/" else f"/sign-in/code?then={quote(then, safe='/')}"
    answer = desk.go(then)
    cookies.keep_token(answer, desk.request, entered.token, desk.settings.session_days)
    if entered.known:
        cookies.keep_known(answer, desk.request, entered.known)
    return answer


def own_page(address: str) -> str:
    """The address where it is one of ours, else the rack: a sign-in must not lead to another site."""
    safe = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if safe and address.isprintable() and " " not in address else "/"
