"""One's own second step of signing in: set up with a telephone, spare codes, switched off again."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame import cookies
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
from webapp.pages.people.sign_in import visitor_of
from webapp.paper.press.qr import qr_svg
from webapp.security.sealing import Seal
from webapp.shop.base.errors import Invalid
from webapp.shop.people import door, rules as people, second_step
from webapp.shop.people.accounts import Proof
from webapp.shop.people.second_step import CodeAsked, PasswordAgain

router = APIRouter()


@router.get("/me/second-step")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/me/second-step")
@waits
def switch_on(desk: Act) -> Response:
    form = desk.form()
    desk.not_again()
    try:
        token, asked = cookies.token(desk.request), form.read(CodeAsked)
        proof, spare = _proved(desk, asked), second_step.new_spare_codes()
        second_step.switch_on(desk.session, desk.who, _seal(desk), asked, proof, spare, token)
    except Invalid as error:
        return _page(desk, 422, form.failed(error))
    return _page(desk, codes=spare.codes)


@router.post("/me/second-step/spare-codes")
@waits
def renew(desk: Act) -> Response:
    form = desk.form()
    form.id = "renew"
    desk.not_again()
    try:
        proof, spare = _proved(desk, form.read(PasswordAgain)), second_step.new_spare_codes()
        second_step.renew_spare_codes(desk.session, desk.who, proof, spare)
    except Invalid as error:
        return _page(desk, 422, renew_form=form.failed(error))
    return _page(desk, codes=spare.codes)


@router.get("/me/second-step/spare-codes")
def shown_once(desk: View) -> Response:
    return desk.go("/me/second-step")


@router.post("/me/second-step/off")
@waits
def switch_off(desk: Act) -> Response:
    form = desk.form()
    form.id = "off"
    desk.not_again()
    try:
        proof = _proved(desk, form.read(PasswordAgain))
        second_step.switch_off(desk.session, desk.who, proof)
    except Invalid as error:
        return _page(desk, 422, off_form=form.failed(error))
    return desk.go("/me?said=Your+password+alone+is+enough+again.")


def _proved(desk: Desk, asked: PasswordAgain) -> Proof:
    return door.prove(desk.database, visitor_of(desk), desk.who, asked.present)


def _seal(desk: Desk) -> Seal:
    seal: Seal = desk.request.app.state.seal
    return seal


def _page(
    desk: Desk,
    status: int = 200,
    form: Form | None = None,
    renew_form: Form | None = None,
    off_form: Form | None = None,
    codes: list[str] | None = None,
) -> Response:
    me = people.person(desk.session, desk.who.id)
    # The same secret as long as the form is being filled in; a page asked for again begins with a new one.
    secret = str(form.values.get("secret", "")) if form and "secret" not in form.errors else ""
    secret = secret or second_step.new_secret()
    address = second_step.address(secret, me.sign_in_name, desk.shop.name)
    return desk.render(
        "people/second_step.html",
        status=status,
        is_on=me.code_secret is not None,
        is_wanted=second_step.is_wanted_of(desk.shop, me.role),
        codes=codes,
        left=second_step.spare_codes_left(desk.session, desk.who.id),
        secret=secret,
        grouped=" ".join(secret[i : i + 4] for i in range(0, len(secret), 4)),
        picture=qr_svg(address, 52, "The secret for your telephone"),
        form=form or Form(),
        renew_form=renew_form or _named("renew"),
        off_form=off_form or _named("off"),
    )


def _named(name: str) -> Form:
    form = Form()
    form.id = name
    return form
