"""The password once more, before what a screen left open should not give away: people, keys, backups, tables."""

from urllib.parse import urlsplit

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame import cookies
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
from webapp.pages.people.sign_in import own_page, visitor_of
from webapp.shop.base.errors import Invalid
from webapp.shop.people import door, news as account_news

router = APIRouter()


@router.get("/me/password-again")
def ask(desk: View) -> Response:
    return _page(desk, desk.form(), desk.request.query_params.get("then", "/"))


@router.post("/me/password-again")
@waits
def check(desk: Act) -> Response:
    form = desk.form()
    then, password = form.values.get("then", "/"), form.values.get("present", "")
    desk.not_again()
    try:
        door.prove(desk.database, visitor_of(desk), desk.who, password)
    except Invalid as error:
        return _page(desk, form.failed(error), then, 422)
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
