"""The home screen: the rack. Open on every device, it asks now and then whether anything changed."""

from dataclasses import replace

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import BlankStatus, now
from webapp.pages.frame import drawn, filters
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.times import WAITS, clock, today_of, when
from webapp.shop.billing import unpaid
from webapp.shop.blanks import rack
from webapp.shop.blanks.lists import Waiting
from webapp.shop.people import amounts
from webapp.shop.scheduling import promise

router = APIRouter()

FILTERS = ("waiting", "key", "wood", "person")


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
    sees = amounts.sees(desk.who.role, "payment.amount")
    drawings, scale = drawn.all_small(desk.session, found.everything)
    return desk.render(
        "blanks/rack.html",
        block="live" if desk.wants_fragment else None,
        status=422 if form.errors else 200,
        rack=found,
        expected_late=promise.expected_late(desk.session),
        form=form,
        kept=kept,
        others={name: value for name, value in kept.items() if name != "waiting"},
        keys=filters.keys(desk.session),
        woods=filters.woods(desk.session),
        people=filters.people(desk.session),
        drawings=drawings,
        scale=scale,
        mark=mark,
        when=lambda one: when(one, desk.shop, found_late=one.is_late(today), said_whose=True),
        late=lambda one: one.is_late(today) and not one.is_waiting(moment),
        clock=lambda at: clock(at, desk.shop),
        waits=WAITS,
        waiting=Waiting,
        owed=unpaid.in_all(desk.session) if sees and not desk.wants_fragment else (0, {}),
    )
