"""The shop: settings, people, drills; each a short page of its own."""

from fastapi import APIRouter
from fastapi.responses import Response

from acoustics.model.air import Air
from webapp.models import Person, Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.patience import waits
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
        settings=shop_settings.as_typed(shop, desk.who.degrees),
        speed=air.speed_of_sound,
        people=accounts.people(desk.session),
        drills=tools.drills(desk.session),
        adhesives=adhesives.adhesives(desk.session),
        duration=show_duration,
        is_owner=desk.who.role is Role.OWNER,
        entries=diary.read(desk.session, desk.who, "shop", 1, 20),
    )


@router.get("/shop/settings")
def ask_settings(desk: View) -> Response:
    return _settings(desk, Form(shop_settings.as_typed(desk.shop, desk.who.degrees)))


@router.post("/shop/settings")
def change_settings(desk: Act) -> Response:
    def rule(form: Form) -> None:
        form.values.setdefault("decimal_comma", "off")  # a box that is not ticked sends nothing
        shop_settings.change_shop(desk.session, desk.who, form.read(shop_settings.ShopAsked))

    return desk.submit(
        rule,
        again=lambda form, status: _settings(desk, form, status),
        to="/shop",
    )


@router.get("/shop/people/new")
def ask_person(desk: View) -> Response:
    return _person(desk, None, Form({"role": Role.MAKER.value}))


@router.post("/shop/people/new")
@waits
def add_person(desk: Act) -> Response:
    def rule(form: Form) -> Person:
        desk.not_again()
        asked = form.read(people.NewPerson)
        password = people.first_password(asked)  # hashed before anything is locked
        return people.add(desk.session, desk.who, asked, password)

    return desk.submit(
        rule,
        again=lambda form, status: _person(desk, None, form, status),
        to=lambda new: "/shop#people" if desk.data.get("password") else f"/shop/people/{new.id}",
    )


@router.get("/shop/people/{person_id}")
def show_person(desk: View, person_id: int) -> Response:
    person = people.person(desk.session, person_id)
    return _person(desk, person, Form.of(person.model_dump(include=PERSON)))


@router.post("/shop/people/{person_id}")
@waits
def change_person(desk: Act, person_id: int) -> Response:
    def rule(form: Form) -> None:
        desk.not_again()
        with desk.database.read() as reading:
            sign_in_name = people.person(reading, person_id).sign_in_name
        asked = form.read(people.PersonAsked)
        password = people.another_password(sign_in_name, asked)  # hashed before anything is locked
        form.must_be_fresh(people.person(desk.session, person_id).model_dump(include=PERSON))
        people.change(desk.session, desk.who, person_id, asked, password)

    return desk.submit(
        rule,
        again=lambda form, status: _person(desk, people.person(desk.session, person_id), form, status),
        to="/shop#people",
    )


@router.get("/shop/drills")
def show_drills(desk: View) -> Response:
    return _drills(desk, Form())


@router.post("/shop/drills")
def add_drill(desk: Act) -> Response:
    return desk.submit(
        lambda form: tools.add_drill(desk.session, desk.who, form.read(tools.DrillAsked, desk.who.units)),
        again=lambda form, status: _drills(desk, form, status),
        to="/shop/drills",
    )


@router.post("/shop/drills/{drill_id}/take-down")
def take_down(desk: Act, drill_id: int) -> Response:
    tools.take_down_drill(desk.session, desk.who, drill_id)
    return desk.go("/shop/drills")


def _settings(desk: Desk, form: Form, status: int = 200) -> Response:
    return desk.render("shop/settings.html", status=status, form=form, choices=CHOICES, labels=shop_settings.WORDS)


def _person(desk: Desk, person: Person | None, form: Form, status: int = 200) -> Response:
    entries = diary.read(desk.session, desk.who, "person", person.id) if person else []
    return desk.render(
        "people/person.html", status=status, known=person, form=form, roles=people.ROLES, entries=entries
    )


def _drills(desk: Desk, form: Form, status: int = 200) -> Response:
    entries = diary.read(desk.session, desk.who, "tools", 1, 20)
    return desk.render("shop/drills.html", status=status, drills=tools.drills(desk.session), form=form, entries=entries)
