"""Glue-up: choose blanks that are ready, spread, clamp, take out; what comes out next."""

from collections.abc import Callable
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import select

from webapp.models import Adhesive, now
from webapp.pages import drawn
from webapp.pages.blanks import failed, status_of
from webapp.pages.desk import Act, Desk, View
from webapp.pages.forms import Form
from webapp.pages.rack import clock, when
from webapp.pages.rendering import show_span
from webapp.shop import clamped, glue_up
from webapp.shop.errors import Invalid, NotFound, Refused
from webapp.shop.glue_up import CallOff, Spread, TakeOut

router = APIRouter()


@router.get("/glue-up")
def clamps(desk: View) -> Response:
    last = clamped.last_one(desk.session)
    chosen = desk.request.query_params.getlist("blank")
    form = Form(
        {
            "blanks": chosen,
            "adhesive_id": str(last.adhesive_id) if last else "",
            "lot": last.lot if last else "",
            "temperature": f"{desk.shop.bench_temperature:g}",
        }
    )
    return _page(desk, form)


@router.post("/glue-up")
def spread(desk: Act) -> Response:
    form = desk.form("blanks")
    try:
        glue_up.spread(desk.session, desk.who, form.read(Spread))
    except (Invalid, Refused, NotFound) as error:
        desk.session.rollback()
        if isinstance(error, NotFound):
            error = Invalid({"blanks": "One of those is no longer there."})
        return _page(desk, failed(form, error), status=status_of(error))
    return desk.go("/glue-up?said=" + quote("Glue is spread: the open time runs."))


@router.post("/glue-up/{glue_up_id}/clamped")
def clamp(desk: Act, glue_up_id: int) -> Response:
    def act(form: Form) -> str:
        made = glue_up.clamp(desk.session, desk.who, glue_up_id)
        assert made.out_at is not None
        return f"Clamped. Out of the clamps at {clock(made.out_at, desk.shop)}."

    return _act(desk, glue_up_id, desk.form(), act)


@router.post("/glue-up/{glue_up_id}/out")
def take_out(desk: Act, glue_up_id: int) -> Response:
    def act(form: Form) -> str:
        out = glue_up.take_out(desk.session, desk.who, glue_up_id, form.read(TakeOut))
        return f"Out of the clamps: {', '.join(blank.serial for blank in out)}."

    return _act(desk, glue_up_id, desk.form("blanks"), act)


@router.post("/glue-up/{glue_up_id}/call-off")
def call_off(desk: Act, glue_up_id: int) -> Response:
    def act(form: Form) -> str:
        glue_up.call_off(desk.session, desk.who, glue_up_id, form.read(CallOff))
        return "Called off: its blanks await glue-up again."

    return _act(desk, glue_up_id, desk.form(), act)


def _act(desk: Desk, glue_up_id: int, form: Form, act: Callable[[Form], str]) -> Response:
    """Do it and say so; where it can't be done, the page says why at that glue-up."""
    try:
        said = act(form)
    except (Invalid, Refused) as error:
        desk.session.rollback()
        return _page(desk, None, (glue_up_id, failed(form, error)), status_of(error))
    return desk.go("/glue-up?said=" + quote(said))


def _page(desk: Desk, form: Form | None, acted: tuple[int, Form] | None = None, status: int = 200) -> Response:
    session = desk.session
    moment = now()
    ready = clamped.awaiting(session)
    drawings, scale = drawn.all_small(session, ready)
    adhesives = list(session.exec(select(Adhesive).order_by(Adhesive.name)))
    started = form or Form({"blanks": [], "temperature": f"{desk.shop.bench_temperature:g}"})
    started.id = "spread"
    if acted:
        acted[1].id = f"set{acted[0]}"
    return desk.render(
        "glue_up/glue_up.html",
        status=status,
        form=started,
        acted={acted[0]: acted[1]} if acted else {},
        running=clamped.running(session),
        ready=ready,
        places=glue_up.places_left(session),
        drawings=drawings,
        scale=scale,
        adhesives=[
            (
                one.id,
                one.name,
                f"open {show_span(one.open_minutes)}, clamps {show_span(one.clamp_minutes)}, "
                f"cure {show_span(one.cure_minutes)}, from {one.lowest_temperature:g} °C",
            )
            for one in adhesives
        ],
        moment=moment,
        clock=lambda at: clock(at, desk.shop),
        when=lambda one: when(one, desk.shop),
    )
