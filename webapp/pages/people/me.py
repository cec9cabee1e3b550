"""One's own page: how lengths are shown, and the password."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.pages.frame import cookies
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
from webapp.pages.people.sign_in import signed_out, visitor_of
from webapp.shop.base.errors import Invalid
from webapp.shop.people import accounts, diary, door, rules as people

router = APIRouter()

UNITS = [("", "As the shop does"), ("inch", "Fractional inches"), ("mm", "Millimetres")]
DEGREES = [("", "As the shop does"), ("F", "Degrees Fahrenheit"), ("C", "Degrees Celsius")]


@router.get("/me")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/me/units")
def change_units(desk: Act) -> Response:
    form = desk.form()
    try:
        people.change_own_units(desk.session, desk.who, form.read(people.OwnUnits))
    except Invalid as error:
        return _page(desk, 422, units_form=form.failed(error))
    return desk.go("/me")


@router.post("/me/password")
@waits
def change_password(desk: Act) -> Response:
    form = desk.form()
    desk.not_again()
    try:
        asked = form.read(people.OwnPassword)
        proof = door.prove(desk.database, visitor_of(desk), desk.who, asked.present)
        new = accounts.new_password(asked.password, proof.sign_in_name)
        people.change_own_password(desk.session, desk.who, proof, new, cookies.token(desk.request))
    except Invalid as error:
        return _page(desk, 422, password_form=form.failed(error))
    return desk.go("/me?said=Your+password+is+changed.+Everywhere+else+you+are+signed+out.")


@router.post("/me/sign-ins/{mark}/end")
def end_one(desk: Act, mark: str) -> Response:
    door.sign_out_there(desk.session, desk.who, mark)
    return desk.go("/me#sign-ins")


@router.post("/me/sign-out-everywhere")
def end_all(desk: Act) -> Response:
    door.sign_out_everywhere(desk.session, desk.who)
    return signed_out(desk)


def _page(desk: Desk, status: int = 200, units_form: Form | None = None, password_form: Form | None = None) -> Response:
    me = people.person(desk.session, desk.who.id)
    return desk.render(
        "people/me.html",
        status=status,
        me=me,
        units_form=units_form
        or Form({"units": me.units.value if me.units else "", "degrees": me.degrees.value if me.degrees else ""}),
        password_form=password_form or Form(),
        choices=UNITS,
        degrees_choices=DEGREES,
        sign_ins=door.sign_ins(desk.session, desk.who),
        here_digest=accounts.digest(cookies.token(desk.request)),
        entries=diary.read(desk.session, desk.who, "person", desk.who.id, 30),
    )
