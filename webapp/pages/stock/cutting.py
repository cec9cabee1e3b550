"""Cutting plans: what is needed, which boards may be cut, the plan as a picture; halves to keep ready."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.drawings.sheet.canvas import Theme
from webapp.jobs import claims
from webapp.jobs.queue import Queue
from webapp.models import CuttingPlan, Person
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.papers import pdf, press
from webapp.paper.shelf.cutting_sheet import cutting_job, pictures
from webapp.shop.base.errors import Refused
from webapp.shop.units.rough import rough_length
from webapp.shop.wood import species as woods
from webapp.shop.wood.plans import demand, rules as cutting_plans
from webapp.shop.wood.plans.demand import WantedAsked
from webapp.shop.wood.plans.rules import PlanAsked
from webapp.shop.wood.plans.shown import shown

router = APIRouter()


@router.get("/stock/plans")
def ask(desk: View) -> Response:
    return _ask(desk)


@router.post("/stock/plans")
def start(desk: Act) -> Response:
    def start_job(plan: CuttingPlan) -> str:
        assert plan.id is not None
        queue: Queue = desk.request.app.state.queue
        desk.commit()  # the process that calculates it must find it
        queue.enqueue(job_kinds.CUTTING_PLAN, plan.id)
        return f"/stock/plans/{plan.id}"

    return desk.submit(
        lambda form: cutting_plans.ask(desk.session, desk.who, form.read(PlanAsked)),
        again=lambda form, status: _ask(desk, form, status=status),
        to=start_job,
        lists=["boards"],
    )


@router.post("/stock/wanted")
def add_wanted(desk: Act) -> Response:
    return desk.submit(
        lambda form: demand.add_wanted(desk.session, desk.who, form.read(WantedAsked, desk.who.units)),
        again=lambda form, status: _ask(desk, wanted=form, status=status),
        to="/stock/plans#ready",
    )


@router.post("/stock/wanted/{wanted_id}/drop")
def drop_wanted(desk: Act, wanted_id: int) -> Response:
    return desk.submit(
        lambda form: demand.drop_wanted(desk.session, desk.who, wanted_id),
        again=lambda form, status: _ask(desk, wanted=form, status=status),
        to="/stock/plans#ready",
    )


@router.get("/stock/plans/{plan_id}")
def show(desk: View, plan_id: int) -> Response:
    return _plan(desk, plan_id)


@router.post("/stock/plans/{plan_id}/accept")
def accept(desk: Act, plan_id: int) -> Response:
    return desk.submit(
        lambda form: cutting_plans.accept(desk.session, desk.who, plan_id),
        again=lambda form, status: _plan(desk, plan_id, form, status),
        to=f"/stock/plans/{plan_id}",
    )


def _plan(desk: Desk, plan_id: int, form: Form | None = None, status: int = 200) -> Response:
    plan = cutting_plans.plan_of(desk.session, plan_id)
    found = shown(desk.session, plan)
    context: dict[str, Any] = {
        "plan": plan,
        "shown": found,
        "under_way": claims.under_way(plan),
        "by": _name(desk, plan.started_by),
        "accepted_by": _name(desk, plan.accepted_by),
        "pictures": pictures(desk.who.units, found) if found else {},
        "rough": lambda mm: rough_length(mm, desk.who.units),
    }
    block = "plan" if desk.wants_fragment else None
    return desk.render("stock/plan.html", block, status=status, form=form or Form(), **context)


@router.get("/stock/plans/{plan_id}/plan.pdf")
def printed(desk: View, plan_id: int) -> Response:
    plan = cutting_plans.plan_of(desk.session, plan_id)
    found = shown(desk.session, plan)
    if found is None:
        raise Refused("That plan is not finished calculating: there is nothing to print.")
    drawn = pictures(desk.who.units, found, Theme.PAPER)
    return pdf(press(desk).print(cutting_job(desk.shop, desk.who.units, plan, found, drawn)), f"cutting-plan-{plan_id}")


def _name(desk: Desk, person_id: int | None) -> str:
    person = desk.session.get(Person, person_id) if person_id else None
    return person.name if person else ""


def _ask(desk: Desk, form: Form | None = None, wanted: Form | None = None, status: int = 200) -> Response:
    boards = cutting_plans.usable_boards(desk.session)
    needs, unplanned = demand.needs(desk.session)
    short = {need.species.id for need in needs if need.short > 0}
    ticked = [str(one.item.id) for one in boards if one.species.id in short]
    first = Form({"orders": "on", "ready": "on", "boards": ticked})
    wanted = wanted or Form()
    wanted.id = "wanted"
    return desk.render(
        "stock/plans.html",
        status=status,
        form=form or first,
        wanted_form=wanted,
        boards=boards,
        needs=needs,
        unplanned=unplanned,
        short_species=short,
        plans=cutting_plans.newest(desk.session),
        under_way=claims.under_way,
        rough=lambda mm: rough_length(mm, desk.who.units),
        woods=[(wood.id, wood.name) for wood in woods.woods(desk.session)],
    )
