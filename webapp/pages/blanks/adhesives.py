"""Adhesives: their times and limits, and the bottles that stand on the shelf."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Adhesive, GlueLot
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import today_of
from webapp.shop.base.errors import Invalid
from webapp.shop.base.finding import find
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked, BottleAsked
from webapp.shop.people import diary
from webapp.shop.units.durations import show_duration

router = APIRouter()

TIMES = ("open_minutes", "clamp_minutes", "cure_minutes")
NUMBERS = (
    "lowest_temperature",
    "at_temperature",
    "at_moisture",
    "slower_when_cold",
    "slower_when_damp",
    "driest_wood",
    "dampest_wood",
    "most_apart",
    "driest_air",
    "spread_rate",
    "density",
)


@router.get("/shop/adhesives/new")
def ask(desk: View) -> Response:
    desk.who.must_work()
    usual = {name: f"{AdhesiveAsked.model_fields[name].default:g}" for name in NUMBERS if name != "lowest_temperature"}
    return _page(desk, None, Form(usual))


@router.post("/shop/adhesives/new")
def add(desk: Act) -> Response:
    desk.who.must_work()
    form = desk.form()
    try:
        adhesives.add_adhesive(desk.session, desk.who, form.read(AdhesiveAsked))
    except Invalid as error:
        return _page(desk, None, form.failed(error), 422)
    return desk.go("/shop#adhesives")


@router.get("/shop/adhesives/{adhesive_id}")
def show(desk: View, adhesive_id: int) -> Response:
    desk.who.must_work()
    known = adhesives.adhesive(desk.session, adhesive_id)
    return _page(desk, known, Form.of(_as_typed(known)))


@router.post("/shop/adhesives/{adhesive_id}")
def change(desk: Act, adhesive_id: int) -> Response:
    desk.who.must_work()
    known = adhesives.adhesive(desk.session, adhesive_id)
    form = desk.form()
    if form.is_stale(_as_typed(known)):
        return _page(desk, known, form, 409)
    try:
        adhesives.change_adhesive(desk.session, desk.who, adhesive_id, form.read(AdhesiveAsked))
    except Invalid as error:
        return _page(desk, known, form.failed(error), 422)
    return desk.go("/shop#adhesives")


@router.post("/shop/adhesives/{adhesive_id}/bottles")
def add_bottle(desk: Act, adhesive_id: int) -> Response:
    desk.who.must_work()
    form = desk.form()
    form.id = "bottle"
    try:
        adhesives.add_bottle(desk.session, desk.who, adhesive_id, form.read(BottleAsked))
    except Invalid as error:
        desk.session.rollback()
        known = adhesives.adhesive(desk.session, adhesive_id)
        return _page(desk, known, Form.of(_as_typed(known)), 422, form.failed(error))
    return desk.go(f"/shop/adhesives/{adhesive_id}#bottles")


@router.post("/shop/bottles/{lot_id}/empty")
def empty_bottle(desk: Act, lot_id: int) -> Response:
    desk.who.must_work()
    bottle: GlueLot = find(desk.session, GlueLot, lot_id, "bottle of glue")
    adhesives.empty_bottle(desk.session, desk.who, lot_id)
    return desk.go(f"/shop/adhesives/{bottle.adhesive_id}#bottles")


def _as_typed(known: Adhesive) -> dict[str, Any]:
    values: dict[str, Any] = known.model_dump(include={"name", "note", "item_id", "as_on_label"})
    values |= {name: show_duration(getattr(known, name)) for name in TIMES}
    return values | {name: f"{getattr(known, name):.6g}" for name in NUMBERS}


def _page(desk: Desk, adhesive: Adhesive | None, form: Form, status: int = 200, bottle: Form | None = None) -> Response:
    bottle = bottle or Form()
    bottle.id = "bottle"
    return desk.render(
        "shop/adhesive.html",
        status=status,
        adhesive=adhesive,
        form=form,
        bottle=bottle,
        bottles=adhesives.bottles(desk.session, adhesive.id) if adhesive else [],
        today=today_of(desk.shop),
        words=adhesives.WORDS,
        lots=[(item.id, item.name) for item in adhesives.glue_lots(desk.session)],
        entries=diary.read(desk.session, "adhesive", adhesive.id) if adhesive else [],
    )
