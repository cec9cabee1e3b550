"""What the shop has learned from its finished flutes: the corrections, how far they carry, and from which flutes."""

import time
from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.drawings.charts.learning_course import Flute, course_plot
from webapp.jobs.queue import Queue
from webapp.models import Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.bench import finished_flutes
from webapp.shop.bench.finished_flutes import Reason
from webapp.shop.learning import corrections, shown

router = APIRouter()

HERE = "/shop/learning"
PATIENCE = 20.0  # seconds before what is still missing is asked for again
LISTED = 60


def keep_up(desk: Desk) -> bool:
    """Whether something is still to be calculated; a background job does it, and the page need not wait."""
    if not corrections.behind(desk.session):
        return False
    state = desk.request.app.state
    if time.monotonic() - getattr(state, "learning_asked", -PATIENCE) >= PATIENCE:
        state.learning_asked = time.monotonic()
        queue: Queue = state.queue
        queue.enqueue(job_kinds.LEARNING)
    return True


def _changed(desk: Desk, part: str) -> str:
    """Somebody has just changed which flutes count: what was asked before is out of date. Where it shows."""
    desk.request.app.state.learning_asked = -PATIENCE
    return f"{HERE}#{part}"


@router.get("/shop/learning")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/shop/learning/resets")
def reset(desk: Act) -> Response:
    return desk.submit(
        lambda form: finished_flutes.reset(desk.session, desk.who, form.read(Reason)),
        again=lambda form, status: _page(desk, status, resetting=form),
        to=lambda _: _changed(desk, "resets"),
    )


@router.get("/shop/learning/resets/{reset_id}")
def ask_reset_back(desk: View, reset_id: int) -> Response:
    return _back(desk, reset_id, Form())


@router.post("/shop/learning/resets/{reset_id}")
def take_reset_back(desk: Act, reset_id: int) -> Response:
    return desk.submit(
        lambda form: finished_flutes.take_reset_back(desk.session, desk.who, reset_id, form.read(Reason)),
        again=lambda form, status: _back(desk, reset_id, form, status),
        to=lambda _: _changed(desk, "resets"),
    )


@router.get("/shop/learning/flutes/{blank_id}")
def ask_out(desk: View, blank_id: int) -> Response:
    return _flute(desk, blank_id, Form())


@router.post("/shop/learning/flutes/{blank_id}")
def choose(desk: Act, blank_id: int) -> Response:
    """Leave a flute out with a reason, or take it in again."""

    def rule(form: Form) -> None:
        if form.values.get("counts") == "yes":
            finished_flutes.take_in(desk.session, desk.who, blank_id)
        else:
            finished_flutes.leave_out(desk.session, desk.who, blank_id, form.read(Reason))

    return desk.submit(
        rule,
        again=lambda form, status: _flute(desk, blank_id, form, status),
        to=lambda _: _changed(desk, "flutes"),
    )


def _flute(desk: Desk, blank_id: int, form: Form, status: int = 200) -> Response:
    return desk.render("bench/learning/flute.html", status=status, flute=shown.flute(desk.session, blank_id), form=form)


def _back(desk: Desk, reset_id: int, form: Form, status: int = 200) -> Response:
    return desk.render("bench/learning/back.html", status=status, row=shown.reset(desk.session, reset_id), form=form)


def _page(desk: Desk, status: int = 200, resetting: Form | None = None) -> Response:
    behind = keep_up(desk)
    said = shown.told(desk.session, desk.shop)
    context: dict[str, Any] = {
        "behind": behind,
        "said": said,
        "plot": _plot(said.course) if len(said.course) >= shown.FEW else None,
        "resets": finished_flutes.resets(desk.session),
        "listed": LISTED,
        "resetting": resetting or Form(),
        "is_owner": desk.who.role is Role.OWNER,
    }
    if desk.wants_fragment and desk.request.method == "GET":
        return desk.render("bench/learning/learning.html", "known", **context)
    return desk.render("bench/learning/learning.html", status=status, **context)


def _plot(steps: Sequence[shown.Step]) -> Any:
    line = [(at.date(), off) for at, off in shown.running(steps)]
    return course_plot([Flute(one.flute, one.at.date(), one.off) for one in steps], line)
