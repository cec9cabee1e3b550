"""Glue-up: choose blanks that are ready, spread, clamp, take out; what comes out next."""

from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response
from pydantic import TypeAdapter, ValidationError

from webapp.models import Adhesive, Degrees, GlueUp, now
from webapp.pages.frame import drawn
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.rendering import show_span
from webapp.pages.frame.times import clock, when
from webapp.shop.base.errors import Invalid, NotFound
from webapp.shop.glue import adhesives, clamped, rules as glue_up
from webapp.shop.glue.adhesives import Moisture
from webapp.shop.glue.rules import CallOff, ClampsOn, Spread, TakeOutOfClamps
from webapp.shop.units.temperatures import show_temperature

router = APIRouter()
_percent: TypeAdapter[float] = TypeAdapter(Moisture)


@router.get("/glue-up")
def clamps(desk: View) -> Response:
    last = clamped.last_one(desk.session)
    chosen = desk.request.query_params.getlist("blank")
    form = Form(
        {
            "blanks": chosen,
            "adhesive_id": str(last.adhesive_id) if last else "",
            "lot": last.lot if last else "",
            "temperature": show_temperature(desk.shop.bench_temperature, desk.who.degrees),
            "humidity": f"{100 * desk.shop.bench_humidity:g}",
        }
    )
    return _page(desk, form)


@router.get("/glue-up/alarms")
def alarms(desk: View) -> Response:
    """What rings and when, for the script that watches the clocks on every page."""
    found = [
        {"key": one.key, "at": one.at.isoformat(), "what": one.what, "more": one.more}
        for one in clamped.alarms(desk.session)
    ]
    return JSONResponse({"now": now().isoformat(), "alarms": found})


@router.post("/glue-up")
def spread(desk: Act) -> Response:
    def rule(form: Form) -> None:
        asked = form.read(Spread)
        asked.moistures = _moistures(form, asked.blanks)
        try:
            glue_up.spread(desk.session, desk.who, asked)
        except NotFound as error:
            raise Invalid({"blanks": "One of those is no longer there."}) from error

    return desk.submit(
        rule,
        again=lambda form, status: _page(desk, form, status=status),
        to=_saying("Glue is spread: the open time runs."),
        lists=["blanks"],
    )


@router.post("/glue-up/{glue_up_id}/clamped")
def clamp(desk: Act, glue_up_id: int) -> Response:
    def to(made: GlueUp) -> str:
        assert made.out_at is not None
        return _saying(f"Clamped. Out of the clamps at {clock(made.out_at, desk.shop)}.")

    return desk.submit(
        lambda form: glue_up.clamp(desk.session, desk.who, glue_up_id, form.read(ClampsOn)),
        again=lambda form, status: _page(desk, None, (glue_up_id, form), status),
        to=to,
    )


@router.post("/glue-up/{glue_up_id}/out")
def take_out(desk: Act, glue_up_id: int) -> Response:
    return desk.submit(
        lambda form: glue_up.take_out(desk.session, desk.who, glue_up_id, form.read(TakeOutOfClamps)),
        again=lambda form, status: _page(desk, None, (glue_up_id, form), status),
        to=lambda out: _saying(f"Out of the clamps: {', '.join(blank.serial for blank in out)}."),
        lists=["blanks"],
    )


@router.post("/glue-up/{glue_up_id}/call-off")
def call_off(desk: Act, glue_up_id: int) -> Response:
    return desk.submit(
        lambda form: glue_up.call_off(desk.session, desk.who, glue_up_id, form.read(CallOff)),
        again=lambda form, status: _page(desk, None, (glue_up_id, form), status),
        to=_saying("Called off: its blanks await glue-up again."),
    )


def _saying(words: str) -> str:
    return "/glue-up?said=" + quote(words)


def _moistures(form: Form, blanks: list[int]) -> dict[int, tuple[float | None, float | None]]:
    """The readings on the two halves of each chosen blank. Raises Invalid at the field that holds none."""
    found: dict[int, tuple[float | None, float | None]] = {}
    wrong = {}
    for blank_id in blanks:
        pair: list[float | None] = []
        for half in ("one", "other"):
            name = f"moisture-{blank_id}-{half}"
            typed = str(form.values.get(name, "")).removesuffix("%").replace(",", ".").strip()
            try:
                pair.append(_percent.validate_python(typed) if typed else None)
            except ValidationError:
                wrong[name] = "Write the percent the meter shows, 0 to 40."
        if len(pair) == 2:
            found[blank_id] = (pair[0], pair[1])
    if wrong:
        raise Invalid(wrong)
    return found


def _page(desk: Desk, form: Form | None, acted: tuple[int, Form] | None = None, status: int = 200) -> Response:
    session = desk.session
    moment = now()
    ready = clamped.awaiting(session)
    drawings, scale = drawn.all_small(session, ready)
    started = form or Form(
        {"blanks": [], "temperature": show_temperature(desk.shop.bench_temperature, desk.who.degrees)}
    )
    started.id = "spread"
    if acted:
        acted[1].id = f"set{acted[0]}"
    running = clamped.running(session)
    return desk.render(
        "blanks/glue_up.html",
        status=status,
        form=started,
        acted={acted[0]: acted[1]} if acted else {},
        running=running,
        ready=ready,
        woods={one.blank.id: glue_up.wood_of(session, one.blank) for one in ready},
        places=clamped.places(session, running),
        left=glue_up.places_left(session),
        drawings=drawings,
        scale=scale,
        adhesives=[(one.id, one.name, _times(one, desk.who.degrees)) for one in adhesives.adhesives(session)],
        bottles=adhesives.bottles(session),
        moment=moment,
        clock=lambda at: clock(at, desk.shop),
        when=lambda one: when(one, desk.shop),
    )


def _times(one: Adhesive, degrees: Degrees) -> str:
    label = "" if one.as_on_label else "; from memory, not compared with a label yet"
    lowest = show_temperature(one.lowest_temperature, degrees)
    room = f"at {show_temperature(one.at_temperature, degrees)}; not below {lowest}"
    return (
        f"open {show_span(one.open_minutes)}, clamps {show_span(one.clamp_minutes)}, "
        f"cure {show_span(one.cure_minutes)}, {room}{label}"
    )
