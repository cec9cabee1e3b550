"""The woods that the shop works with, and what to watch with each."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Species
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.people import diary
from webapp.shop.wood import species as woods, wood_data

router = APIRouter()


@router.get("/stock/woods")
def list_woods(desk: View) -> Response:
    return desk.render("stock/woods.html", woods=woods.woods(desk.session), cautions=woods.cautions)


@router.get("/stock/woods/new")
def ask_wood(desk: View) -> Response:
    return _wood_form(desk, None, Form({"colour": "#b98a56"}))


@router.post("/stock/woods/new")
def add_wood(desk: Act) -> Response:
    return desk.submit(
        lambda form: woods.add_wood(desk.session, desk.who, form.read(woods.WoodAsked)),
        again=lambda form, status: _wood_form(desk, None, form, status),
        to="/stock/woods",
    )


@router.get("/stock/woods/{species_id}")
def show_wood(desk: View, species_id: int) -> Response:
    desk.who.must_work()  # programs read a wood under this address for everyone, so the table of roles leaves it open
    wood = woods.wood(desk.session, species_id)
    return _wood_form(desk, wood, Form.of(wood.model_dump(exclude={"id"})))


@router.post("/stock/woods/{species_id}")
def change_wood(desk: Act, species_id: int) -> Response:
    def rule(form: Form) -> None:
        form.must_be_fresh(woods.wood(desk.session, species_id).model_dump(exclude={"id"}))
        woods.change_wood(desk.session, desk.who, species_id, form.read(woods.WoodAsked))

    return desk.submit(
        rule,
        again=lambda form, status: _wood_form(desk, woods.wood(desk.session, species_id), form, status),
        to="/stock/woods",
    )


def _wood_form(desk: Desk, wood: Species | None, form: Form, status: int = 200) -> Response:
    entries = diary.read(desk.session, desk.who, "wood", wood.id) if wood else []
    known = [wood.name for wood in wood_data.WOODS]
    return desk.render("stock/wood.html", status=status, wood=wood, form=form, entries=entries, known=known)
