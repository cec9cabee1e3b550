"""Routings: the list of them, one with its steps, one step; every change is a plain form."""

from collections.abc import Callable
from itertools import groupby
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path
from fastapi.responses import Response

from webapp.models import Routing, Stage, StepKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.people import diary
from webapp.shop.production import gauging
from webapp.shop.routings import rules as routings, steps as routing_steps
from webapp.shop.routings.built_in import BUILT_IN
from webapp.shop.routings.forms import KINDS, SHOWN, NewRouting, RoutingAsked, StepAsked, as_typed, limits_in_words
from webapp.shop.routings.step_plan import DIMENSIONS, EACH_HOLE, FIXED, Step
from webapp.shop.units.durations import show_duration

router = APIRouter()
Code = Annotated[str, Path(max_length=40)]


@router.get("/shop/routings")
def every(desk: View) -> Response:
    return _list(desk, Form({"copy_of": desk.request.query_params.get("copy", "")}))


@router.post("/shop/routings")
def add(desk: Act) -> Response:
    return desk.submit(
        lambda form: routings.add(desk.session, desk.who, form.read(NewRouting)),
        again=lambda form, status: _list(desk, form, status),
        to=_address,
    )


@router.post("/shop/routings/begin")
def begin(desk: Act) -> Response:
    return desk.go(_address(routings.begin(desk.session, desk.who)))


@router.get("/shop/routings/{routing_id}")
def one(desk: View, routing_id: int) -> Response:
    return _page(desk, routings.routing(desk.session, routing_id))


@router.post("/shop/routings/{routing_id}")
def rename(desk: Act, routing_id: int) -> Response:
    def rule(form: Form) -> Routing:
        known = routings.routing(desk.session, routing_id)
        form.must_be_fresh(_names(known))
        routings.rename(desk.session, desk.who, routing_id, form.read(RoutingAsked))
        return known

    return desk.submit(rule, _page_of(desk, routing_id), _address)


@router.post("/shop/routings/{routing_id}/usual")
def make_usual(desk: Act, routing_id: int) -> Response:
    return desk.go(_said(routings.make_usual(desk.session, desk.who, routing_id), "It is the usual routing now."))


@router.post("/shop/routings/{routing_id}/put-away")
def put_away(desk: Act, routing_id: int) -> Response:
    return desk.go(_said(routings.put_away(desk.session, desk.who, routing_id, True), "Put away."))


@router.post("/shop/routings/{routing_id}/take-out")
def take_out(desk: Act, routing_id: int) -> Response:
    return desk.go(_said(routings.put_away(desk.session, desk.who, routing_id, False), "It may be chosen again."))


@router.post("/shop/routings/{routing_id}/built-in")
def built_in(desk: Act, routing_id: int) -> Response:
    known = routings.routing(desk.session, routing_id)
    routing_steps.bring_back(desk.session, desk.who, routing_id, None)
    return desk.go(_said(known, "It has the built-in steps again."))


@router.get("/shop/routings/{routing_id}/versions/{number}")
def earlier(desk: View, routing_id: int, number: int) -> Response:
    known = routings.routing(desk.session, routing_id)
    version = routings.version(desk.session, known, number)
    newest = routings.newest(desk.session, known)
    return desk.render(
        "shop/routings/version.html",
        routing=known,
        version=version,
        is_newest=version.id == newest.id,
        **_steps(desk, routings.steps_in(version)),
    )


@router.post("/shop/routings/{routing_id}/versions/{number}/bring-back")
def bring_back(desk: Act, routing_id: int, number: int) -> Response:
    known = routings.routing(desk.session, routing_id)
    routing_steps.bring_back(desk.session, desk.who, routing_id, number)
    return desk.go(_said(known, f"It has the steps of version {number} again."))


@router.get("/shop/routings/{routing_id}/steps/new")
def ask_step(desk: View, routing_id: int) -> Response:
    desk.who.must_work()
    typed = desk.request.query_params
    form = Form({"stage": typed.get("stage", ""), "after": typed.get("after", ""), "kind": StepKind.WORK.value})
    return _step(desk, routings.routing(desk.session, routing_id), None, form)


@router.post("/shop/routings/{routing_id}/steps/new")
def add_step(desk: Act, routing_id: int) -> Response:
    return desk.submit(
        lambda form: routing_steps.add_step(desk.session, desk.who, routing_id, form.read(StepAsked, desk.who.units)),
        again=lambda form, status: _step(desk, routings.routing(desk.session, routing_id), None, form, status),
        to=lambda code: _at_step(routing_id, code),
    )


@router.get("/shop/routings/{routing_id}/steps/{code}")
def show_step(desk: View, routing_id: int, code: Code) -> Response:
    desk.who.must_work()
    known = routings.routing(desk.session, routing_id)
    plan = routings.steps_in(routings.newest(desk.session, known))
    step = routing_steps.one(plan, code)
    return _step(desk, known, step, Form.of(as_typed(step, desk.who.units)))


@router.post("/shop/routings/{routing_id}/steps/{code}")
def change_step(desk: Act, routing_id: int, code: Code) -> Response:
    def known() -> tuple[Routing, Step]:
        found = routings.routing(desk.session, routing_id)
        return found, routing_steps.one(routings.steps_in(routings.newest(desk.session, found)), code)

    def rule(form: Form) -> str:
        form.must_be_fresh(as_typed(known()[1], desk.who.units))
        asked = form.read(StepAsked, desk.who.units)
        return routing_steps.change_step(desk.session, desk.who, routing_id, code, asked)

    return desk.submit(
        rule,
        again=lambda form, status: _step(desk, *known(), form, status),
        to=lambda changed: _at_step(routing_id, changed),
    )


@router.post("/shop/routings/{routing_id}/steps/{code}/up")
def up(desk: Act, routing_id: int, code: Code) -> Response:
    return _move(desk, routing_id, code, up=True)


@router.post("/shop/routings/{routing_id}/steps/{code}/down")
def down(desk: Act, routing_id: int, code: Code) -> Response:
    return _move(desk, routing_id, code, up=False)


@router.post("/shop/routings/{routing_id}/steps/{code}/remove")
def remove(desk: Act, routing_id: int, code: Code) -> Response:
    def rule(_form: Form) -> Routing:
        routing_steps.remove_step(desk.session, desk.who, routing_id, code)
        return routings.routing(desk.session, routing_id)

    return desk.submit(rule, _page_of(desk, routing_id), lambda known: _said(known, "Removed."))


def _move(desk: Desk, routing_id: int, code: str, up: bool) -> Response:
    return desk.submit(
        lambda _form: routing_steps.move_step(desk.session, desk.who, routing_id, code, up),
        again=_page_of(desk, routing_id),
        to=_at_step(routing_id, code),
    )


def _at_step(routing_id: int, code: str) -> str:
    return f"/shop/routings/{routing_id}#step-{quote(code)}"


def _page_of(desk: Desk, routing_id: int) -> Callable[[Form, int], Response]:
    """The routing's page with what was typed."""
    return lambda form, status: _page(desk, routings.routing(desk.session, routing_id), form, status)


def _address(known: Routing) -> str:
    return f"/shop/routings/{known.id}"


def _said(known: Routing, words: str) -> str:
    return f"{_address(known)}?said={quote(words)}"


def _names(known: Routing) -> dict[str, Any]:
    return {"name": known.name, "note": known.note}


def _steps(desk: Desk, plan: list[Step]) -> dict[str, Any]:
    """What a page needs to show steps, stage by stage."""
    members = {stage: list(found) for stage, found in groupby(plan, key=lambda step: step.stage)}
    return {
        "stages": [(stage, members.get(stage, [])) for stage in Stage],
        "many": len(plan),
        "limits": lambda step: limits_in_words(step, desk.who.units),
        "duration": show_duration,
        "kinds": {kind: words for kind, words, _ in KINDS},
    }


def _list(desk: Desk, form: Form, status: int = 200) -> Response:
    found = routings.listed(desk.session)
    sources = [(one.routing.id, one.routing.name) for one in found] + [(0, "the built-in steps")]
    if not form.values.get("copy_of"):
        form.values["copy_of"] = str(sources[0][0])
    return desk.render(
        "shop/routings/list.html", status=status, form=form, routings=found, sources=sources, built_in=len(BUILT_IN)
    )


def _page(desk: Desk, known: Routing, form: Form | None = None, status: int = 200) -> Response:
    newest = routings.newest(desk.session, known)
    return desk.render(
        "shop/routings/routing.html",
        block="steps" if desk.wants_fragment and status == 200 else None,
        status=status,
        routing=known,
        form=form or Form.of(_names(known)),
        opened=bool(form and form.errors.keys() - {""}) or bool(form and form.theirs),
        newest=newest,
        versions=routings.versions(desk.session, known),
        entries=diary.read(desk.session, desk.who, "routing", known.id, 30),
        **_steps(desk, routings.steps_in(newest)),
    )


def _step(desk: Desk, known: Routing, step: Step | None, form: Form, status: int = 200) -> Response:
    plan = routings.steps_in(routings.newest(desk.session, known))
    places = {
        stage.capitalize(): [
            (other.code, f"after: {other.name}") for other in plan if other.stage is stage and other != step
        ]
        for stage in Stage
    }
    return desk.render(
        "shop/routings/step.html",
        status=status,
        routing=known,
        step=step,
        form=form,
        stage_words=[(stage, stage.capitalize()) for stage in Stage],
        kind_words=KINDS,
        measure_words=[(measure, " or ".join(words)) for measure, words in gauging.WORDS.items()],
        sizes=[
            (FIXED, "a size of its own, written below"),
            *[(key, dimension.words) for key, dimension in DIMENSIONS.items()],
            (EACH_HOLE, "each finger hole as it is started: one step for each hole"),
        ],
        shown=[(code, words) for code, words in SHOWN.items()],
        places={"": [("first", "first in its stage")], **{stage: found for stage, found in places.items() if found}},
    )
