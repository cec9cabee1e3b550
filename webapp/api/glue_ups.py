"""Glue-ups: what is in clamps, what awaits them."""

from sqlmodel import col, select

from webapp.api.ways import Answer, Call, Way, row, rows
from webapp.models import Blank, GluedBlank, GlueUp
from webapp.shop.glue import clamped, rules as glue_up
from webapp.shop.glue.rules import CallOff, ClampsOn, Spread, TakeOut
from webapp.shop.people.tokens import Scope


def in_clamps(call: Call) -> Answer:
    running = [
        row(one.glue_up, adhesive=one.adhesive, blanks=[inside.blank.serial for inside in one.inside])
        for one in clamped.running(call.session)
    ]
    awaiting = [one.blank.serial for one in clamped.awaiting(call.session)]
    return Answer({"items": running, "awaiting": awaiting, "places_left": glue_up.places_left(call.session)})


def spread(call: Call) -> Answer:
    return _glue_up(call, glue_up.spread(call.session, call.who, call.asked(Spread)), new=True)


def clamp(call: Call) -> Answer:
    return _glue_up(call, glue_up.clamp(call.session, call.who, call.number("id"), call.asked(ClampsOn)))


def take_out(call: Call) -> Answer:
    return Answer({"items": rows(glue_up.take_out(call.session, call.who, call.number("id"), call.asked(TakeOut)))})


def call_off(call: Call) -> Answer:
    return _glue_up(call, glue_up.call_off(call.session, call.who, call.number("id"), call.asked(CallOff)))


def _glue_up(call: Call, made: GlueUp, new: bool = False) -> Answer:
    inside = select(Blank.serial).join(GluedBlank, col(GluedBlank.blank_id) == Blank.id)
    serials = call.session.exec(inside.where(GluedBlank.glue_up_id == made.id).order_by(Blank.serial)).all()
    return Answer(row(made, blanks=list(serials)), location="/api/v1/glue-ups" if new else None)


_GLUE, _IN = "/glue-ups/{id:int}", "/glue-up/{glue_up_id}"
W = Scope.WORK
WAYS = [
    Way(
        "GET",
        "/glue-ups",
        "What is in clamps, what awaits glue-up",
        in_clamps,
        shows="glue_up",
        listed=True,
        does=("/glue-up", "/glue-up/alarms"),
    ),
    Way("POST", "/glue-ups", "Glue is spread now", spread, W, Spread, "glue_up", does=("/glue-up",)),
    Way("POST", _GLUE + "/clamp", "The clamps are on", clamp, W, ClampsOn, "glue_up", does=(_IN + "/clamped",)),
    Way(
        "POST",
        _GLUE + "/take-out",
        "Take blanks out of the clamps",
        take_out,
        W,
        TakeOut,
        "blank",
        listed=True,
        does=(_IN + "/out",),
    ),
    Way("POST", _GLUE + "/call-off", "Call a glue-up off", call_off, W, CallOff, "glue_up", does=(_IN + "/call-off",)),
]
