"""Glue-ups: what is in clamps, what awaits them."""

from sqlmodel import col, select
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Look
from webapp.api.frame.rows import listed, model_of, row, row_of, rows
from webapp.api.frame.ways import WORK, way
from webapp.models import Blank, GluedBlank, GlueUp
from webapp.shop.glue import clamped, rules as glue_up
from webapp.shop.glue.rules import CallOff, ClampsOn, Spread, TakeOutOfClamps

GlueUpShown = model_of("GlueUpShown", GlueUp, blanks=list[str])
RunningShown = model_of("RunningShown", GlueUp, adhesive=str, blanks=list[str])
router = ways.router("glue ups")


@router.get(
    "/glue-ups",
    **way(
        "What is in clamps, what awaits glue-up",
        "/glue-up",
        "/glue-up/alarms",
        shows=listed(RunningShown, awaiting=list[str], places_left=int),
    ),
)
def in_clamps(call: Look) -> Response:
    running = [
        row(one.glue_up, adhesive=one.adhesive, blanks=[inside.blank.serial for inside in one.inside])
        for one in clamped.running(call.session)
    ]
    awaiting = [one.blank.serial for one in clamped.awaiting(call.session)]
    return call.answer({"items": running, "awaiting": awaiting, "places_left": glue_up.places_left(call.session)})


@router.post("/glue-ups", **way("Glue is spread now", "/glue-up", scope=WORK, shows=GlueUpShown, status=201))
def spread(call: Change, asked: Spread) -> Response:
    return _glue_up(call, glue_up.spread(call.session, call.who, asked), new=True)


@router.post(
    "/glue-ups/{id:int}/clamp",
    **way("The clamps are on", "/glue-up/{glue_up_id}/clamped", scope=WORK, shows=GlueUpShown),
)
def clamp(call: Change, id: int, asked: ClampsOn) -> Response:
    return _glue_up(call, glue_up.clamp(call.session, call.who, id, asked))


@router.post(
    "/glue-ups/{id:int}/take-out",
    **way("Take blanks out of the clamps", "/glue-up/{glue_up_id}/out", scope=WORK, shows=listed(row_of(Blank))),
)
def take_out(call: Change, id: int, asked: TakeOutOfClamps) -> Response:
    return call.answer({"items": rows(glue_up.take_out(call.session, call.who, id, asked))})


@router.post(
    "/glue-ups/{id:int}/call-off",
    **way("Call a glue-up off", "/glue-up/{glue_up_id}/call-off", scope=WORK, shows=GlueUpShown),
)
def call_off(call: Change, id: int, asked: CallOff) -> Response:
    return _glue_up(call, glue_up.call_off(call.session, call.who, id, asked))


def _glue_up(call: Call, made: GlueUp, new: bool = False) -> Response:
    inside = select(Blank.serial).join(GluedBlank, col(GluedBlank.blank_id) == Blank.id)
    serials = call.session.exec(inside.where(GluedBlank.glue_up_id == made.id).order_by(Blank.serial)).all()
    return call.answer(row(made, blanks=list(serials)), location="/api/v1/glue-ups" if new else None)
