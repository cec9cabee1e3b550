"""The shop: settings, people, drills; each a short page of its own."""

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.model.air import Air
from webapp.models import Person, Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.glue import adhesives
from webapp.shop.people import accounts, diary, rules as people
from webapp.shop.settings import rules as shop_settings, tools
from webapp.shop.settings.setting_up import CHOICES
from webapp.shop.units.durations import show_duration

router = APIRouter()
PERSON = {"name", "role", "active"}


@router.get("/shop")
def overview(desk: View) -> Response:
    shop = desk.shop
    air = Air.moist(shop.played_temperature, shop.played_humidity, shop.played_co2)
    return desk.render(
        "shop/overview.html",
        settings=shop_settings.as_typed(shop),
        speed=air.speed_of_sound,
        people=accounts.people(desk.session),
        drills=tools.drills(desk.session),
        adhesives=adhesives.adhesives(desk.session),
        duration=show_duration,
        is_owner=desk.who.role is Role.OWNER,
        entries=diary.read(desk.session, "shop", 1, 20),
    )


@router.get("/shop/settings")
def ask_settings(desk: View) -> Response:
    desk.who.must(Role.OWNER)
    return _settings(desk, Form(shop_settings.as_typed(desk.shop)))


@router.post("/shop/settings")
def change_settings(desk: Act) -> Response:
    desk.who.must(Role.OWNER)
    form = desk.form()
    try:
        shop_settings.change_shop(desk.session, desk.who, form.read(shop_settings.ShopAsked))
    except Invalid as error:
        return _settings(desk, form.failed(error), 422)
    except Stale as error:
        form.values["version"] = error.theirs["version"]
        return _settings(desk, form, 409, error.theirs)
    return desk.go("/shop")


@router.get("/shop/people/new")
def ask_person(desk: View) -> Response:
    desk.who.must(Role.OWNER)
    return _person(desk, None, Form({"role": Role.MAKER.value}))


@router.post("/shop/people/new")
def add_person(desk: Act) -> Response:
    desk.who.must(Role.OWNER)
    form = desk.form()
    try:
        new = people.add(desk.session, desk.who, form.read(people.NewPerson))
    except Invalid as error:
        return _person(desk, None, form.failed(error), 422)
    return desk.go("/shop#people" if form.values.get("password") else f"/shop/people/{new.id}")


@router.get("/shop/people/{person_id}")
def show_person(desk: View, person_id: int) -> Response:
    desk.who.must(Role.OWNER)
    person = people.person(desk.session, person_id)
    return _person(desk, person, Form.of(person.model_dump(include=PERSON)))


@router.post("/shop/people/{person_id}")
def change_person(desk: Act, person_id: int) -> Response:
    desk.who.must(Role.OWNER)
    person = people.person(desk.session, person_id)
    form = desk.form()
    if form.is_stale(person.model_dump(include=PERSON)):
        return _person(desk, person, form, 409)
    try:
        people.change(desk.session, desk.who, person_id, form.read(people.PersonAsked))
    except Invalid as error:
        return _person(desk, person, form.failed(error), 422)
    return desk.go("/shop#people")


@router.get("/shop/drills")
def show_drills(desk: View) -> Response:
    return _drills(desk, Form())


@router.post("/shop/drills")
def add_drill(desk: Act) -> Response:
    desk.who.must_work()
    form = desk.form()
    try:
        tools.add_drill(desk.session, desk.who, form.read(tools.DrillAsked, desk.who.units))
    except Invalid as error:
        return _drills(desk, form.failed(error), 422)
    return desk.go("/shop/drills")


@router.post("/shop/drills/{drill_id}/take-down")
def take_down(desk: Act, drill_id: int) -> Response:
    desk.who.must_work()
    tools.take_down_drill(desk.session, desk.who, drill_id)
    return desk.go("/shop/drills")


def _settings(desk: Desk, form: Form, status: int = 200, theirs: dict[str, str] | None = None) -> Response:
    differs = {
        name: (value, str(form.values.get(name, "")))
        for name, value in (theirs or {}).items()
        if name != "version" and value != str(form.values.get(name, ""))
    }
    return desk.render(
        "shop/settings.html", status=status, form=form, choices=CHOICES, differs=differs, labels=shop_settings.WORDS
    )


def _person(desk: Desk, person: Person | None, form: Form, status: int = 200) -> Response:
    entries = diary.read(desk.session, "person", person.id) if person else []
    return desk.render(
        "people/person.html", status=status, known=person, form=form, roles=people.ROLES, entries=entries
    )


def _drills(desk: Desk, form: Form, status: int = 200) -> Response:
    entries = diary.read(desk.session, "tools", 1, 20)
    return desk.render("shop/drills.html", status=status, drills=tools.drills(desk.session), form=form, entries=entries)
