"""Routings: the orders of work that blanks go through, their steps and their earlier versions."""

from typing import Any

from pydantic import BaseModel, Field
from starlette.responses import Response

from webapp.api.frame import ways
from webapp.api.frame.call import Call, Change, Changing, Look
from webapp.api.frame.fields import Serial
from webapp.api.frame.rows import listed, made, many, model_of, row, row_of
from webapp.api.frame.ways import WORK, way
from webapp.models import Pattern, Routing, RoutingVersion
from webapp.shop.base.finding import LARGEST_ID, find
from webapp.shop.base.marks import marked
from webapp.shop.patterns import rules as patterns
from webapp.shop.routings import rules as routings, steps as routing_steps
from webapp.shop.routings.forms import NewRouting, RoutingAsked, StepAsked

RoutingFound = model_of("RoutingFound", Routing, steps=int, patterns=int)
VersionShown = model_of("VersionShown", RoutingVersion, "steps", blanks=int)
RoutingShown = model_of("RoutingShown", Routing, steps=list[Any], versions=many(VersionShown))


GoesByShown = made(
    "GoesByShown",
    "The routing that a pattern goes by; null: the shop's usual one.",
    routing=row_of(Routing) | None,
)


router = ways.router("routings")


class GoesBy(BaseModel):
    """The routing that a pattern goes by; none: the shop's usual one."""

    routing_id: int | None = Field(default=None, ge=1, le=LARGEST_ID)


@router.get("/routings", **way("Routings, the usual one first", "/shop/routings", shows=listed(RoutingFound)))
def every(call: Look) -> Response:
    """Empty where the shop has none of its own yet: then blanks go by the built-in one."""
    items = [row(one.routing, steps=one.steps, patterns=one.patterns) for one in routings.listed(call.session)]
    return call.answer({"items": items})


@router.get(
    "/routings/{id:int}",
    **way("A routing, its steps and its versions", "/shop/routings/{routing_id}", shows=RoutingShown),
)
def show(call: Look, id: int) -> Response:
    return _shown(call, routings.routing(call.session, id))


@router.get(
    "/routings/{id:int}/versions/{version:int}",
    **way("An earlier version's steps", "/shop/routings/{routing_id}/versions/{number}", shows=row_of(RoutingVersion)),
)
def version(call: Look, id: int, version: int) -> Response:
    known = routings.routing(call.session, id)
    return call.answer(row(routings.version(call.session, known, version)))


@router.post(
    "/routings/begin",
    **way("Make the built-in routing the shop's own", "/shop/routings/begin", scope=WORK, shows=RoutingShown),
)
def begin(call: Change) -> Response:
    return _shown(call, routings.begin(call.session, call.who))


@router.post(
    "/routings",
    **way("A further routing, as a copy of one", "/shop/routings", scope=WORK, shows=row_of(Routing), status=201),
)
def add(call: Change, asked: NewRouting) -> Response:
    made = routings.add(call.session, call.who, asked)
    return call.answer(row(made), location=f"/api/v1/routings/{made.id}")


@router.put(
    "/routings/{id:int}",
    **way("Rename a routing", "/shop/routings/{routing_id}", scope=WORK, shows=RoutingShown, marked=True),
)
def rename(call: Change, id: int, asked: RoutingAsked) -> Response:
    _seen(call, id)
    return _shown(call, routings.rename(call.session, call.who, id, asked))


@router.post(
    "/routings/{id:int}/usual",
    **way("Make it the usual one", "/shop/routings/{routing_id}/usual", scope=WORK, shows=RoutingShown),
)
def make_usual(call: Change, id: int) -> Response:
    return _shown(call, routings.make_usual(call.session, call.who, id))


@router.post(
    "/routings/{id:int}/put-away",
    **way("Put it away", "/shop/routings/{routing_id}/put-away", scope=WORK, shows=RoutingShown),
)
def put_away(call: Change, id: int) -> Response:
    return _shown(call, routings.put_away(call.session, call.who, id, True))


@router.post(
    "/routings/{id:int}/take-out",
    **way("Take it out again", "/shop/routings/{routing_id}/take-out", scope=WORK, shows=RoutingShown),
)
def take_out(call: Change, id: int) -> Response:
    return _shown(call, routings.put_away(call.session, call.who, id, False))


@router.post(
    "/routings/{id:int}/steps",
    **way("Add a step", "/shop/routings/{routing_id}/steps/new", scope=WORK, shows=RoutingShown, marked=True),
)
def add_step(call: Change, id: int, asked: StepAsked) -> Response:
    _seen(call, id)
    routing_steps.add_step(call.session, call.who, id, asked)
    return _shown(call, routings.routing(call.session, id))


@router.put(
    "/routings/{id:int}/steps/{code}",
    **way("Change a step", "/shop/routings/{routing_id}/steps/{code}", scope=WORK, shows=RoutingShown, marked=True),
)
def change_step(call: Change, id: int, code: Serial, asked: StepAsked) -> Response:
    _seen(call, id)
    routing_steps.change_step(call.session, call.who, id, code, asked)
    return _shown(call, routings.routing(call.session, id))


@router.post(
    "/routings/{id:int}/steps/{code}/up",
    **way("Move a step up", "/shop/routings/{routing_id}/steps/{code}/up", scope=WORK, shows=RoutingShown, marked=True),
)
def move_up(call: Change, id: int, code: Serial) -> Response:
    return _moved(call, id, code, True)


@router.post(
    "/routings/{id:int}/steps/{code}/down",
    **way(
        "Move a step down",
        "/shop/routings/{routing_id}/steps/{code}/down",
        scope=WORK,
        shows=RoutingShown,
        marked=True,
    ),
)
def move_down(call: Change, id: int, code: Serial) -> Response:
    return _moved(call, id, code, False)


@router.post(
    "/routings/{id:int}/steps/{code}/remove",
    **way(
        "Remove a step",
        "/shop/routings/{routing_id}/steps/{code}/remove",
        scope=WORK,
        shows=RoutingShown,
        marked=True,
    ),
)
def remove_step(call: Change, id: int, code: Serial) -> Response:
    _seen(call, id)
    routing_steps.remove_step(call.session, call.who, id, code)
    return _shown(call, routings.routing(call.session, id))


@router.post(
    "/routings/{id:int}/versions/{version:int}/bring-back",
    **way(
        "An earlier version's steps again",
        "/shop/routings/{routing_id}/versions/{number}/bring-back",
        scope=WORK,
        shows=RoutingShown,
        marked=True,
    ),
)
def bring_back(call: Change, id: int, version: int) -> Response:
    _seen(call, id)
    routing_steps.bring_back(call.session, call.who, id, version)
    return _shown(call, routings.routing(call.session, id))


@router.post(
    "/routings/{id:int}/built-in",
    **way(
        "The built-in steps again",
        "/shop/routings/{routing_id}/built-in",
        scope=WORK,
        shows=RoutingShown,
        marked=True,
    ),
)
def built_in(call: Change, id: int) -> Response:
    _seen(call, id)
    routing_steps.bring_back(call.session, call.who, id, None)
    return _shown(call, routings.routing(call.session, id))


@router.get(
    "/patterns/{id:int}/routing",
    **way("The routing a pattern goes by", "/patterns/{pattern_id}/routing", shows=GoesByShown),
)
def of_pattern(call: Look, id: int) -> Response:
    found = routings.of_pattern(call.session, patterns.pattern_of(call.session, id))
    return call.answer({"routing": row(found) if found else None})


@router.put(
    "/patterns/{id:int}/routing",
    **way("Let a pattern go by a routing", "/patterns/{pattern_id}/routing", scope=WORK, shows=row_of(Pattern)),
)
def choose(call: Change, id: int, asked: GoesBy) -> Response:
    return call.answer(row(routings.choose(call.session, call.who, id, asked.routing_id)))


def _moved(call: Changing, id: int, code: str, up: bool) -> Response:
    _seen(call, id)
    routing_steps.move_step(call.session, call.who, id, code, up)
    return _shown(call, routings.routing(call.session, id))


def _seen(call: Changing, id: int) -> None:
    """That nobody changed the routing or its steps since it was shown. Raises NotFound, Stale."""
    call.must_be_as_seen(_says(find(call.session, Routing, id, "routing", lock=True)))


def _says(of: Routing) -> dict[str, Any]:
    return {"version": of.version, "name": of.name, "note": of.note}


def _shown(call: Call, of: Routing) -> Response:
    call.session.refresh(of)
    newest = routings.newest(call.session, of)
    versions = [row(one, blanks=count) for one, count in routings.versions(call.session, of)]
    for one in versions:
        one.pop("steps")
    return call.answer(row(of, steps=row(newest)["steps"], versions=versions), marked(_says(of)))
