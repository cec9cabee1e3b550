"""Routings: the orders of work that blanks go through, their steps and their earlier versions."""

from typing import Any

from pydantic import BaseModel, Field

from webapp.api.ways import Answer, Call, Way, row
from webapp.models import Routing
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.base.marks import marked
from webapp.shop.patterns import rules as patterns
from webapp.shop.people.tokens import Scope
from webapp.shop.routings import rules as routings, steps as routing_steps
from webapp.shop.routings.forms import NewRouting, RoutingAsked, StepAsked


class GoesBy(BaseModel):
    """The routing that a pattern goes by; none: the shop's usual one."""

    routing_id: int | None = Field(default=None, ge=1, le=LARGEST_ID)


def listed(call: Call) -> Answer:
    """Empty where the shop has none of its own yet: then blanks go by the built-in one."""
    items = [row(one.routing, steps=one.steps, patterns=one.patterns) for one in routings.listed(call.session)]
    return Answer({"items": items})


def show(call: Call) -> Answer:
    return _shown(call, routings.routing(call.session, call.number("id")))


def version(call: Call) -> Answer:
    known = routings.routing(call.session, call.number("id"))
    return Answer(row(routings.version(call.session, known, call.number("version"))))


def begin(call: Call) -> Answer:
    return _shown(call, routings.begin(call.session, call.who))


def add(call: Call) -> Answer:
    made = routings.add(call.session, call.who, call.asked(NewRouting))
    return Answer(row(made), location=f"/api/v1/routings/{made.id}")


def rename(call: Call) -> Answer:
    _seen(call)
    return _shown(call, routings.rename(call.session, call.who, call.number("id"), call.asked(RoutingAsked)))


def make_usual(call: Call) -> Answer:
    return _shown(call, routings.make_usual(call.session, call.who, call.number("id")))


def put_away(call: Call) -> Answer:
    return _shown(call, routings.put_away(call.session, call.who, call.number("id"), True))


def take_out(call: Call) -> Answer:
    return _shown(call, routings.put_away(call.session, call.who, call.number("id"), False))


def add_step(call: Call) -> Answer:
    _seen(call)
    routing_steps.add_step(call.session, call.who, call.number("id"), call.asked(StepAsked))
    return show(call)


def change_step(call: Call) -> Answer:
    _seen(call)
    routing_steps.change_step(call.session, call.who, call.number("id"), call.text("code"), call.asked(StepAsked))
    return show(call)


def move_up(call: Call) -> Answer:
    return _moved(call, True)


def move_down(call: Call) -> Answer:
    return _moved(call, False)


def remove_step(call: Call) -> Answer:
    _seen(call)
    routing_steps.remove_step(call.session, call.who, call.number("id"), call.text("code"))
    return show(call)


def bring_back(call: Call) -> Answer:
    _seen(call)
    routing_steps.bring_back(call.session, call.who, call.number("id"), call.number("version"))
    return show(call)


def built_in(call: Call) -> Answer:
    _seen(call)
    routing_steps.bring_back(call.session, call.who, call.number("id"), None)
    return show(call)


def of_pattern(call: Call) -> Answer:
    found = routings.of_pattern(call.session, patterns.pattern_of(call.session, call.number("id")))
    return Answer({"routing": row(found) if found else None})


def choose(call: Call) -> Answer:
    asked = call.asked(GoesBy)
    return Answer(row(routings.choose(call.session, call.who, call.number("id"), asked.routing_id)))


def _moved(call: Call, up: bool) -> Answer:
    _seen(call)
    routing_steps.move_step(call.session, call.who, call.number("id"), call.text("code"), up)
    return show(call)


def _seen(call: Call) -> None:
    """That nobody changed the routing or its steps since it was shown. Raises NotFound, Stale."""
    call.must_be_as_seen(_says(find(call.session, Routing, call.number("id"), "routing", lock=True)))


def _says(of: Routing) -> dict[str, Any]:
    return {"version": of.version, "name": of.name, "note": of.note}


def _shown(call: Call, of: Routing) -> Answer:
    call.session.refresh(of)
    newest = routings.newest(call.session, of)
    versions = [row(one, blanks=count) for one, count in routings.versions(call.session, of)]
    for one in versions:
        one.pop("steps")
    return Answer(row(of, steps=row(newest)["steps"], versions=versions), marked(_says(of)))


_ALL, _ONE = "/routings", "/routings/{id:int}"
_STEP, _PAGE = _ONE + "/steps/{code}", "/shop/routings/{routing_id}"
_R, _STEPS = "routing", "/shop/routings/{routing_id}/steps/{code}"
W = Scope.WORK
WAYS = [
    Way("GET", _ALL, "Routings, the usual one first", listed, shows=_R, listed=True, does=("/shop/routings",)),
    Way("POST", _ALL, "A further routing, as a copy of one", add, W, NewRouting, _R, does=("/shop/routings",)),
    Way(
        "POST",
        _ALL + "/begin",
        "Make the built-in routing the shop's own",
        begin,
        W,
        shows=_R,
        does=("/shop/routings/begin",),
    ),
    Way("GET", _ONE, "A routing, its steps and its versions", show, shows=_R, does=(_PAGE,)),
    Way("PUT", _ONE, "Rename a routing", rename, W, RoutingAsked, _R, does=(_PAGE,), marked=True),
    Way("POST", _ONE + "/usual", "Make it the usual one", make_usual, W, shows=_R, does=(_PAGE + "/usual",)),
    Way("POST", _ONE + "/put-away", "Put it away", put_away, W, shows=_R, does=(_PAGE + "/put-away",)),
    Way("POST", _ONE + "/take-out", "Take it out again", take_out, W, shows=_R, does=(_PAGE + "/take-out",)),
    Way(
        "POST",
        _ONE + "/built-in",
        "The built-in steps again",
        built_in,
        W,
        shows=_R,
        does=(_PAGE + "/built-in",),
        marked=True,
    ),
    Way(
        "GET",
        _ONE + "/versions/{version:int}",
        "An earlier version's steps",
        version,
        shows="routing_version",
        does=(_PAGE + "/versions/{number}",),
    ),
    Way(
        "POST",
        _ONE + "/versions/{version:int}/bring-back",
        "An earlier version's steps again",
        bring_back,
        W,
        shows=_R,
        does=(_PAGE + "/versions/{number}/bring-back",),
        marked=True,
    ),
    Way("POST", _ONE + "/steps", "Add a step", add_step, W, StepAsked, _R, does=(_PAGE + "/steps/new",), marked=True),
    Way("PUT", _STEP, "Change a step", change_step, W, StepAsked, _R, does=(_STEPS,), marked=True),
    Way("POST", _STEP + "/up", "Move a step up", move_up, W, shows=_R, does=(_STEPS + "/up",), marked=True),
    Way("POST", _STEP + "/down", "Move a step down", move_down, W, shows=_R, does=(_STEPS + "/down",), marked=True),
    Way("POST", _STEP + "/remove", "Remove a step", remove_step, W, shows=_R, does=(_STEPS + "/remove",), marked=True),
    Way(
        "GET",
        "/patterns/{id:int}/routing",
        "The routing a pattern goes by",
        of_pattern,
        shows="routing",
        does=("/patterns/{pattern_id}/routing",),
    ),
    Way(
        "PUT",
        "/patterns/{id:int}/routing",
        "Let a pattern go by a routing",
        choose,
        W,
        GoesBy,
        "pattern",
        does=("/patterns/{pattern_id}/routing",),
    ),
]
