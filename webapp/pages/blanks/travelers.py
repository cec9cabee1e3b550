"""A batch of travelers in one file: chosen, printed in the background, fetched when it is finished."""

from fastapi import APIRouter
from fastapi.responses import Response

from webapp import job_kinds
from webapp.jobs import claims
from webapp.jobs.queue import Queue
from webapp.models import PrintRun, Stage
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.papers import pdf
from webapp.shop import print_runs
from webapp.shop.base.finding import as_id
from webapp.shop.print_runs import PrintAsked
from webapp.shop.units.keys import show_note

router = APIRouter()


@router.get("/travelers")
def choose(desk: View) -> Response:
    return _page(desk, Form({"serials": []}))


@router.post("/travelers")
def start(desk: Act) -> Response:
    def to(run: PrintRun) -> str:
        assert run.id is not None
        queue: Queue = desk.request.app.state.queue
        desk.commit()  # the press must find it
        queue.enqueue(job_kinds.TRAVELERS, run.id)
        return f"/travelers/{run.id}"

    return desk.submit(
        lambda form: print_runs.start(
            desk.session, desk.who, form.read(PrintAsked), desk.who.units.value, public_address(desk)
        ),
        again=lambda form, status: _page(desk, form, status),
        to=to,
        lists=["serials"],
    )


@router.get("/travelers/{run_id}")
def follow(desk: View, run_id: int) -> Response:
    run = print_runs.run_of(desk.session, run_id)
    block = "progress" if desk.wants_fragment else None
    return desk.render("orders/travelers_run.html", block, run=run, under_way=claims.under_way(run))


@router.get("/travelers/{run_id}/travelers.pdf")
def fetch(desk: View, run_id: int) -> Response:
    return pdf(print_runs.file_of(desk.session, run_id), f"travelers-{run_id}")


def _page(desk: Desk, form: Form, status: int = 200) -> Response:
    params = desk.request.query_params
    stage = next((stage for stage in Stage if stage.value == params.get("stage")), None)
    number = as_id(params.get("order", ""))
    found = print_runs.choices(desk.session, stage, number)
    if not form.errors:
        # All that is shown is wanted, unless someone thinks otherwise.
        form.values["serials"] = [one.blank.serial for one in found[: print_runs.MOST]]
    return desk.render(
        "orders/travelers.html",
        status=status,
        found=found,
        form=form,
        stage=stage,
        stages=[stage.value for stage in Stage],
        order=number,
        recent=print_runs.recent(desk.session),
        as_note=show_note,
    )
