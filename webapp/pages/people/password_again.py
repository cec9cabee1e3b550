"""The password once more, before what a screen left open should not give away: people, keys, backups, tables."""

from urllib.parse import urlsplit

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame import cookies
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.people.sign_in import own_page, visitor_of
from webapp.shop.base.errors import Invalid
from webapp.shop.people import door, news as account_news
from webapp.shop.people.rules import person

router = APIRouter()


@router.get("/me/password-again")
def ask(desk: View) -> Response:
    return _page(desk, desk.form(), desk.request.query_params.get("then", "/"))


@router.post("/me/password-again")
def check(desk: Act) -> Response:
    form = desk.form()
    then, password = form.values.get("then", "/"), form.values.get("present", "")
    visitor, name = visitor_of(desk), person(desk.session, desk.who.id).sign_in_name
    # Nothing is locked while the password is hashed.
    desk.session.rollback()
    try:
        with desk.request.app.state.database.read() as reading:
            fits = door.check(reading, visitor, name, password, field="present")
    except Invalid as error:
        return _page(desk, form.failed(error), then, 422)
    if fits is None or fits.id != desk.who.id:
        door.note_failure(desk.session, visitor, name)
        return _page(desk, form.failed(Invalid({"present": "That is not your password."})), then, 422)
    token = door.confirm(desk.session, desk.who, cookies.token(desk.request))
    answer = desk.go(own_page(then))
    cookies.keep_token(answer, desk.request, token, desk.settings.session_days)
    return answer


@router.post("/me/news-heard")
def heard(desk: Act) -> Response:
    account_news.heard(desk.session, desk.who)
    came_from = urlsplit(desk.request.headers.get("referer", "")).path
    return desk.go(own_page(came_from or "/"))


def _page(desk: Desk, form: Form, then: str, status: int = 200) -> Response:
    return desk.render("people/password_again.html", status=status, form=form, then=own_page(then))
