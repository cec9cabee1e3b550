"""What the shop reckons with: sawing allowances, the air of its seasons, rates, minutes and supplies of one flute."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import Role, Workshop
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Stale
from webapp.shop.costs import rules as costs
from webapp.shop.people import diary
from webapp.shop.settings import workshop
from webapp.shop.settings.workshop import MinutesAsked, SupplyAsked, WorkshopAsked
from webapp.shop.units.lengths import show_length
from webapp.shop.wood import wood_data

router = APIRouter()


@router.get("/shop/workshop")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/shop/workshop")
def change(desk: Act) -> Response:
    desk.who.must(Role.MAKER)
    form = desk.form()
    if not costs.may_see(desk.who):
        # Who does not see the rate leaves it as it is.
        form.values["hourly_rate"] = str(workshop.workshop(desk.session).hourly_rate)
    try:
        workshop.change(desk.session, desk.who, form.read(WorkshopAsked, desk.who.units))
    except Invalid as error:
        return _page(desk, 422, main=form.failed(error))
    except Stale as error:
        form.values["version"] = error.theirs["version"]
        return _page(desk, 409, main=form.failed(Invalid({"": _STALE})))
    return desk.go("/shop/workshop")


@router.post("/shop/workshop/minutes")
def change_minutes(desk: Act) -> Response:
    desk.who.must(Role.MAKER)
    form = desk.form()
    try:
        workshop.change_minutes(desk.session, desk.who, form.read(MinutesAsked))
    except Invalid as error:
        return _page(desk, 422, minutes=form.failed(error))
    return desk.go("/shop/workshop#minutes")


@router.post("/shop/workshop/supplies")
def set_supply(desk: Act) -> Response:
    desk.who.must(Role.MAKER)
    form = desk.form()
    try:
        workshop.set_supply(desk.session, desk.who, form.read(SupplyAsked))
    except Invalid as error:
        return _page(desk, 422, supply=form.failed(error))
    return desk.go("/shop/workshop#supplies")


_STALE = "Someone else changed these settings while you were typing. Nothing of yours is saved; send it again to do so."


def _typed(desk: Desk, found: Workshop) -> dict[str, Any]:
    values = workshop.as_typed(found)
    for name in workshop.LENGTHS:
        values[name] = show_length(values[name], desk.who.units, exact=True)
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
        sees_costs=costs.may_see(desk.who),
        moisture=(dry, damp),
        entries=diary.read(desk.session, "workshop", 1, 30),
    )
