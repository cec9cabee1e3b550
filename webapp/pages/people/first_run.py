"""The first run: name the shop, make the owner's account. No account and no password exists before."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame.desk import GoTo, PublicAct, PublicView
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
from webapp.pages.people.sign_in import let_in
from webapp.shop.base.errors import Invalid
from webapp.shop.settings import setting_up

router = APIRouter()


@router.get("/first-run")
def ask(desk: PublicView) -> Response:
    _only_once(desk)
    form = Form({"units": "inch", "paper": "letter", "currency": "USD", "timezone": "UTC"})
    return desk.render("people/first_run.html", form=form, choices=setting_up.CHOICES)


@router.post("/first-run")
@waits
def carry_out(desk: PublicAct) -> Response:
    _only_once(desk)
    form = desk.form()
    try:
        person = setting_up.set_up(desk.session, form.read(setting_up.FirstRun))
    except Invalid as error:
        return desk.render("people/first_run.html", status=422, form=form.failed(error), choices=setting_up.CHOICES)
    return let_in(desk, person, "/")


def _only_once(desk: PublicView) -> None:
    if desk.is_set_up:
        raise GoTo("/")
