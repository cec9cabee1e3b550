"""What the shop has learnt from its finished flutes: the corrections, how far they carry, and who teaches."""

import time
from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.drawings.charts.learnt import Dot, learnt_plot
from webapp.jobs.queue import Queue
from webapp.models import Role
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.base.errors import Invalid, Refused
from webapp.shop.bench import finished_flutes as learning
from webapp.shop.bench.finished_flutes import Reason
from webapp.shop.learning import corrections as learnt, shown as taught

router = APIRouter()

HERE = "/shop/learning"
PATIENCE = 20.0  # seconds before what is still behind is asked for again
LISTED = 60


def keep_up(desk: Desk) -> bool:
    """Whether something is still to be calculated; it is enqueued, and the page need not wait for it."""
    if not learnt.behind(desk.session):
        return False
    state = desk.request.app.state
    if time.monotonic() - getattr(state, "learning_asked", -PATIENCE) >= PATIENCE:
        state.learning_asked = time.monotonic()
        queue: Queue = state.queue
        queue.enqueue(job_kinds.LEARNING)
    return True


def _anew(desk: Desk) -> None:
    """Somebody has just changed who teaches: what was asked before does not count."""
    desk.request.app.state.learning_asked = -PATIENCE


@router.get("/shop/learning")
def show(desk: View) -> Response:
    return _page(desk)


@router.post("/shop/learning/anew")
def begin_anew(desk: Act) -> Response:
    form = desk.form()
    try:
        learning.begin_anew(desk.session, desk.who, form.read(Reason))
    except Invalid as error:
        return _page(desk, 422, anew=form.failed(error))
    _anew(desk)
    return desk.go(f"{HERE}#beginnings")


@router.get("/shop/learning/anew/{reset_id}")
def ask_back(desk: View, reset_id: int) -> Response:
    desk.who.must(Role.OWNER)
    return _back(desk, reset_id, Form())


@router.post("/shop/learning/anew/{reset_id}")
def go_back(desk: Act, reset_id: int) -> Response:
    form = desk.form()
    try:
        learning.go_back(desk.session, desk.who, reset_id, form.read(Reason))
    except Invalid as error:
        return _back(desk, reset_id, form.failed(error), 422)
    except Refused as error:
        return _back(desk, reset_id, form.failed(Invalid({"": str(error)})), 409)
    _anew(desk)
    return desk.go(f"{HERE}#beginnings")


@router.get("/shop/learning/flutes/{blank_id}")
def ask_out(desk: View, blank_id: int) -> Response:
    desk.who.must(Role.MAKER)
    return _flute(desk, blank_id, Form())


@router.post("/shop/learning/flutes/{blank_id}")
def choose(desk: Act, blank_id: int) -> Response:
    """Leave a flute out with a reason, or take it in again."""
    form = desk.form()
    try:
        if form.values.get("counts") == "yes":
            learning.take_in(desk.session, desk.who, blank_id)
        else:
            learning.leave_out(desk.session, desk.who, blank_id, form.read(Reason))
    except Invalid as error:
        return _flute(desk, blank_id, form.failed(error), 422)
    except Refused as error:
        return _flute(desk, blank_id, form.failed(Invalid({"": str(error)})), 409)
    _anew(desk)
    return desk.go(f"{HERE}#flutes")


def _flute(desk: Desk, blank_id: int, form: Form, status: int = 200) -> Response:
    return desk.render(
        "bench/learning/flute.html", status=status, flute=taught.flute(desk.session, blank_id), form=form
    )


def _back(desk: Desk, reset_id: int, form: Form, status: int = 200) -> Response:
    return desk.render(
        "bench/learning/back.html", status=status, row=taught.beginning(desk.session, reset_id), form=form
    )


def _page(desk: Desk, status: int = 200, anew: Form | None = None) -> Response:
    behind = keep_up(desk)
    said = taught.told(desk.session, desk.shop)
    context: dict[str, Any] = {
        "behind": behind,
        "said": said,
        "plots": _plots(said.notes) if said.notes else None,
        "beginnings": learning.beginnings(desk.session),
        "listed": LISTED,
        "anew": anew or Form(),
        "is_owner": desk.who.role is Role.OWNER,
    }
    if desk.wants_fragment and desk.request.method == "GET":
        return desk.render("bench/learning/learning.html", "known", **context)
    return desk.render("bench/learning/learning.html", status=status, **context)


def _plots(notes: Sequence[taught.Note]) -> Any:
    before = [Dot(note.before, note.measured, note.family) for note in notes]
    after = [Dot(note.after, note.measured, note.family) for note in notes]
    return learnt_plot(before, after)
