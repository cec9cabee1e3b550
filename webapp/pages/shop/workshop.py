"""What the shop calculates with: allowances, the air of its seasons, rates, minutes and supplies of a flute."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Role, Workshop
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.people import diary
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import MinutesAsked, SupplyAsked, WorkshopAsked
from webapp.shop.units.lengths import show_length
from webapp.shop.units.temperatures import show_temperature
from webapp.shop.wood import wood_data

router = APIRouter()


@router.get("/shop/workshop")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/shop/workshop")
def change(desk: Act) -> Response:
    def rule(form: Form) -> None:
        workshop.change(desk.session, desk.who, form.read(WorkshopAsked, desk.who.units))

    return desk.submit(rule, again=lambda form, status: _page(desk, status, main=form), to="/shop/workshop")


@router.post("/shop/workshop/minutes")
def change_minutes(desk: Act) -> Response:
    return desk.submit(
        lambda form: workshop.change_minutes(desk.session, desk.who, form.read(MinutesAsked)),
        again=lambda form, status: _page(desk, status, minutes=form),
        to="/shop/workshop#minutes",
    )


@router.post("/shop/workshop/supplies")
def set_supply(desk: Act) -> Response:
    return desk.submit(
        lambda form: workshop.set_supply(desk.session, desk.who, form.read(SupplyAsked)),
        again=lambda form, status: _page(desk, status, supply=form),
        to="/shop/workshop#supplies",
    )


def _typed(desk: Desk, found: Workshop) -> dict[str, Any]:
    values = workshop.as_seen(found, desk.who)
    for name in workshop.LENGTHS:
        values[name] = show_length(values[name], desk.who.units, exact=True)
    values["indoor_temperature"] = show_temperature(found.indoor_temperature, desk.who.degrees, None)
    return values


def _page(desk: Desk, status: int = 200, **forms: Form) -> Response:
    found = workshop.workshop(desk.session)
    usual = workshop.minutes(desk.session)
    fresh = {
        "main": Form(_typed(desk, found)),
        "minutes": Form({stage.value: str(minutes) for stage, minutes in usual.items()}),
        "supply": Form(),
    }
    dry, damp = (
        wood_data.equilibrium_moisture(found.indoor_temperature, humidity)
        for humidity in (found.dry_humidity, found.damp_humidity)
    )
    return desk.render(
        "shop/workshop.html",
        status=status,
        forms=fresh | forms,
        stages=list(usual),
        total=sum(usual.values()),
        supplies=workshop.supplies(desk.session),
        lots=[(item.id, f"{item.name} ({item.unit})") for item in workshop.may_be_supplies(desk.session)],
        labels=workshop.WORDS,
        may_change=desk.who.role in (Role.OWNER, Role.MAKER),
        moisture=(dry, damp),
        entries=diary.read(desk.session, desk.who, "workshop", 1, 30),
    )
