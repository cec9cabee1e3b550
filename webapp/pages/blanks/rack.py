"""The home screen: the rack. Open on every device, it asks now and then whether anything changed."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from babel.dates import format_datetime
from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import BlankStatus, Shop, now
from webapp.pages.frame import drawn, filters
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.rendering import LOCALE, show_day
from webapp.shop.blanks import rack
from webapp.shop.blanks.lists import Seen, Waiting
from webapp.shop.scheduling import promise

router = APIRouter()

FILTERS = ("waiting", "key", "wood", "person")
WAITS = {"glue": "glue is spread", "clamps": "out of clamps", "cure": "cured", "coat": "dry"}


@router.get("/")
def shelves(desk: View) -> Response:
    moment, today = now(), today_of(desk.shop)
    mark = rack.mark(desk.session, moment, today)
    if desk.wants_fragment and desk.request.query_params.get("mark") == mark:
        return Response(status_code=204, headers={"vary": "HX-Request"})
    kept = {name: value for name, value in filters.kept(filters.typed(desk.request)).items() if name in FILTERS}
    form = Form(kept)
    wanted, _ = filters.wanted(form, desk.who.id)
    found = rack.rack(desk.session, moment, today, replace(wanted, status=BlankStatus.IN_WORK))
    drawings, scale = drawn.all_small(desk.session, found.everything)
    return desk.render(
        "blanks/rack.html",
        block="live" if desk.wants_fragment else None,
        status=422 if form.errors else 200,
        rack=found,
        foreseen=promise.foreseen_late(desk.session),
        form=form,
        kept=kept,
        others={name: value for name, value in kept.items() if name != "waiting"},
        keys=filters.keys(desk.session),
        woods=filters.woods(desk.session),
        people=filters.people(desk.session),
        drawings=drawings,
        scale=scale,
        mark=mark,
        when=lambda one: when(one, desk.shop, found_late=one.is_late(today)),
        late=lambda one: one.is_late(today) and not one.is_waiting(moment),
        clock=lambda at: clock(at, desk.shop),
        waits=WAITS,
        waiting=Waiting,
    )


def today_of(shop: Shop) -> date:
    """The day it is on the shop's own clock."""
    return now().astimezone(ZoneInfo(shop.timezone)).date()


def when(one: Seen, shop: Shop, found_late: bool = False, said_whose: bool = False) -> str:
    """What there is to know about time on one blank: when its wait ends, else when it is due."""
    blank = one.blank
    if blank.grave_defect:
        return "defect: decide"
    if blank.waits_for == "glue":
        return "glue is spread: clamp it"
    if blank.waits_for and blank.waits_until:
        if blank.waits_until > now():
            return f"{WAITS[blank.waits_for]} {clock(blank.waits_until, shop)}"
        if blank.waits_for == "clamps":
            return "can come out"
    if blank.due_on is None:
        return "for the shop" if one.order is None and not said_whose else ""
    return f"{'late: was due' if found_late else 'due'} {show_day(blank.due_on)}"


def clock(at: datetime, shop: Shop) -> str:
    """The time of day on the shop's clock, with the weekday where it is not today."""
    zone = ZoneInfo(shop.timezone)
    local = at.astimezone(zone)
    pattern = "HH:mm" if local.date() == now().astimezone(zone).date() else "EEE HH:mm"
    return str(format_datetime(local, pattern, tzinfo=zone, locale=LOCALE))
