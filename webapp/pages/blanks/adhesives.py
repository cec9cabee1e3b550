"""Adhesives: their times and limits, and the bottles that stand on the shelf."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Adhesive, GlueLot
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import today_of
from webapp.shop.base.finding import find
from webapp.shop.glue import adhesives
from webapp.shop.glue.adhesives import AdhesiveAsked, BottleAsked
from webapp.shop.people import diary
from webapp.shop.units.durations import show_duration
from webapp.shop.units.temperatures import show_temperature

router = APIRouter()

TEMPERATURES = ("at_temperature", "lowest_temperature")
TIMES = ("open_minutes", "clamp_minutes", "cure_minutes")


@router.get("/shop/adhesives/new")
def ask(desk: View) -> Response:
    defaults = {name: field.default for name, field in AdhesiveAsked.model_fields.items()}
    usual = {name: f"{value:g}" for name, value in defaults.items() if isinstance(value, float)}
    usual["at_temperature"] = show_temperature(defaults["at_temperature"], desk.who.degrees, None)
    return _page(desk, None, Form(usual))


@router.post("/shop/adhesives/new")
def add(desk: Act) -> Response:
    return desk.submit(
        lambda form: adhesives.add_adhesive(desk.session, desk.who, form.read(AdhesiveAsked)),
        again=lambda form, status: _page(desk, None, form, status),
        to="/shop#adhesives",
    )


@router.get("/shop/adhesives/{adhesive_id}")
def show(desk: View, adhesive_id: int) -> Response:
    # Not in the table of roles: a program of any role may read an adhesive, only its form is not for everyone.
    desk.who.must_work()
    return _page(desk, adhesive_id)


@router.post("/shop/adhesives/{adhesive_id}")
def change(desk: Act, adhesive_id: int) -> Response:
    def rule(form: Form) -> None:
        form.must_be_fresh(_as_typed(desk, adhesives.adhesive(desk.session, adhesive_id)))
        adhesives.change_adhesive(desk.session, desk.who, adhesive_id, form.read(AdhesiveAsked))

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, adhesive_id, form, status),
        to="/shop#adhesives",
    )


@router.post("/shop/adhesives/{adhesive_id}/bottles")
def add_bottle(desk: Act, adhesive_id: int) -> Response:
    return desk.submit(
        lambda form: adhesives.add_bottle(desk.session, desk.who, adhesive_id, form.read(BottleAsked)),
        again=lambda form, status: _page(desk, adhesive_id, status=status, bottle=form),
        to=f"/shop/adhesives/{adhesive_id}#bottles",
    )


@router.post("/shop/bottles/{lot_id}/empty")
def empty_bottle(desk: Act, lot_id: int) -> Response:
    bottle: GlueLot = find(desk.session, GlueLot, lot_id, "bottle of glue")
    return desk.submit(
        lambda _: adhesives.empty_bottle(desk.session, desk.who, lot_id),
        again=lambda form, status: _page(desk, bottle.adhesive_id, status=status, bottle=form),
        to=f"/shop/adhesives/{bottle.adhesive_id}#bottles",
    )


def _as_typed(desk: Desk, known: Adhesive) -> dict[str, Any]:
    values: dict[str, Any] = known.model_dump(include=set(AdhesiveAsked.model_fields))
    numbers = {name: f"{value:.6g}" for name, value in values.items() if isinstance(value, float)}
    warm = {name: show_temperature(values[name], desk.who.degrees, None) for name in TEMPERATURES}
    return values | numbers | warm | {name: show_duration(values[name]) for name in TIMES}


def _page(
    desk: Desk, adhesive_id: int | None, form: Form | None = None, status: int = 200, bottle: Form | None = None
) -> Response:
    adhesive = None if adhesive_id is None else adhesives.adhesive(desk.session, adhesive_id)
    if form is None:
        form = Form.of(_as_typed(desk, adhesive)) if adhesive else Form()
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
        entries=diary.read(desk.session, desk.who, "adhesive", adhesive.id) if adhesive else [],
    )
