"""Papers: what was given out, word for word; every paper as PDF; travelers by the batch."""

from typing import Annotated, Any, Literal

from fastapi import Query
from starlette.responses import Response

from webapp import job_kinds
from webapp.api.frame import ways
from webapp.api.frame.call import PDF, Call, Change, Look
from webapp.api.frame.fields import Id, Serial, ids, texts
from webapp.api.frame.problems import Problem
from webapp.api.frame.rows import listed, model_of, row, row_of
from webapp.api.frame.ways import WORK, way
from webapp.jobs import claims
from webapp.models import (
    IssuedKind,
    IssuedPaper,
    PrintRun,
    Shop,
    Units,
)
from webapp.paper.office.care_sheet import care_job, care_sheet
from webapp.paper.office.letters import draft_job, letter_job, packing_slip, paper_size, slip_job
from webapp.paper.office.tuning_record import tuning_record
from webapp.paper.office.tuning_sheet import tuning_job
from webapp.paper.press.jobs import Job
from webapp.paper.shelf.labels import SHEETS, labels_for, labels_job
from webapp.paper.strip.sheet import strip_job, strip_of
from webapp.paper.traveler.content import traveler, travelers_of_order
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop import print_runs
from webapp.shop.base import finding
from webapp.shop.base.errors import Refused
from webapp.shop.orders import issued, rules as orders
from webapp.shop.print_runs import PrintAsked

MOST_COPIES = 50

SheetName: Any = Literal[tuple(SHEETS)]
UnitsAsked = Annotated[Units | None, Query(description="the shop's own where they are not given")]
BatchShown = model_of("BatchShown", PrintRun, under_way=bool)
router = ways.router("papers")


@router.get(
    "/orders/{number:int}/papers",
    **way("Quotes and confirmations as they were given out", "/orders/{number}", shows=listed(row_of(IssuedPaper))),
)
def given_out(call: Look, number: int) -> Response:
    found = issued.of_order(call.session, orders.order_of(call.session, number))
    return call.answer({"items": [row(one) for one in found]})


@router.get(
    "/orders/{number:int}/quotes/{nth:int}.pdf",
    **way("A quote that was given out", "/orders/{number}/quote/{nth}.pdf", "/orders/{number}/quote/{nth}", gives=PDF),
)
def quote(call: Look, number: int, nth: int) -> Response:
    return _letter(call, number, IssuedKind.QUOTE, nth)


@router.get(
    "/orders/{number:int}/confirmations/{nth:int}.pdf",
    **way(
        "A confirmation that was given out",
        "/orders/{number}/confirmation/{nth}.pdf",
        "/orders/{number}/confirmation/{nth}",
        gives=PDF,
    ),
)
def confirmation(call: Look, number: int, nth: int) -> Response:
    return _letter(call, number, IssuedKind.CONFIRMATION, nth)


@router.get(
    "/orders/{number:int}/draft.pdf",
    **way("The quote as it would be now", "/orders/{number}/quote.pdf", "/orders/{number}/quote", gives=PDF),
)
def draft(call: Look, number: int) -> Response:
    order = orders.order_of(call.session, number)
    return _printed(call, draft_job(call.session, order), f"draft-order-{order.number}")


@router.get(
    "/orders/{number:int}/packing.pdf",
    **way("The packing slip", "/orders/{number}/packing.pdf", "/orders/{number}/packing", gives=PDF),
)
def slip(call: Look, number: int) -> Response:
    order = orders.order_of(call.session, number)
    return _printed(call, slip_job(packing_slip(call.session, order)), f"packing-order-{order.number}")


@router.get(
    "/blanks/{serial}/traveler.pdf",
    **way("A blank's traveler", "/blanks/{serial}/traveler.pdf", "/blanks/{serial}/traveler", gives=PDF),
)
def one_traveler(call: Look, serial: Serial, units: UnitsAsked = None) -> Response:
    return _printed(
        call, traveler_job(traveler(call.session, serial, _units(call, units), call.address())), f"traveler-{serial}"
    )


@router.get(
    "/orders/{number:int}/travelers.pdf",
    **way("The travelers of an order", "/orders/{number}/travelers.pdf", "/orders/{number}/travelers", gives=PDF),
)
def travelers(call: Look, number: int, units: UnitsAsked = None) -> Response:
    jobs = [traveler_job(one) for one in travelers_of_order(call.session, number, _units(call, units), call.address())]
    return call.pdf(call.around.press.print_all(jobs), f"travelers-order-{number}")


@router.get(
    "/blanks/{serial}/tuning.pdf",
    **way("A flute's tuning record", "/blanks/{serial}/tuning.pdf", "/blanks/{serial}/tuning", gives=PDF),
)
def tuning(call: Look, serial: Serial) -> Response:
    return _printed(call, tuning_job(tuning_record(call.session, serial, call.address())), f"tuning-{serial}")


@router.get(
    "/blanks/{serial}/care.pdf",
    **way("The owner's care sheet", "/blanks/{serial}/care.pdf", "/blanks/{serial}/care", gives=PDF),
)
def care(call: Look, serial: Serial) -> Response:
    return _printed(call, care_job(care_sheet(call.session, serial, call.address())), f"care-{serial}")


@router.get(
    "/patterns/{id:int}/revisions/{revision:int}/strip.pdf",
    **way(
        "The layout strip at 1:1",
        "/patterns/{pattern_id}/{number}/strip.pdf",
        "/patterns/{pattern_id}/{number}/strip",
        gives=PDF,
    ),
)
def strip(call: Look, id: int, revision: int, units: UnitsAsked = None) -> Response:
    found = strip_of(call.session, id, revision, _units(call, units))
    return _printed(call, strip_job(found), f"strip-{found.key}-{found.pattern}-r{revision}")


@router.get("/stock/labels.pdf", **way("Labels of lots and blanks", "/stock/labels.pdf", "/stock/labels", gives=PDF))
def labels(
    call: Look,
    lot: Annotated[list[str], Query(description="ids of lots, with commas")] = [],  # noqa: B006
    blank: Annotated[list[str], Query(description="serials of blanks, with commas")] = [],  # noqa: B006
    sheet: Annotated[SheetName | None, Query(description="the label sheet; the usual one for the shop's paper")] = None,
    start: Annotated[Id, Query(description="the first free position on the sheet")] = 1,
    copies: Annotated[Id, Query(description="of each")] = 1,
    units: UnitsAsked = None,
) -> Response:
    usual = "letter-30" if _shop(call).paper == "letter" else "a4-21"
    on = SHEETS[sheet or usual]
    if start > on.count or copies > MOST_COPIES:
        wrong = {"start": f"1 to {on.count} on that sheet.", "copies": f"1 to {MOST_COPIES}."}
        raise Problem("invalid", "That is more than the sheet holds, or too many copies.", wrong)
    serials = [text[:20] for text in texts(blank)]
    found = labels_for(call.session, _units(call, units), call.address(), ids("lot", lot), serials, copies)
    if not found:
        raise Refused("Name at least one lot or blank to print a label for.")
    return _printed(call, labels_job(found, on, start), "labels")


@router.post("/travelers", **way("Print travelers in one file", "/travelers", scope=WORK, shows=BatchShown, status=201))
def start_batch(call: Change, asked: PrintAsked, units: UnitsAsked = None) -> Response:
    run = print_runs.start(call.session, call.who, asked, _units(call, units).value, call.address())
    assert run.id is not None
    call.commit()  # the press must find it
    call.around.queue.enqueue(job_kinds.TRAVELERS, run.id)
    return _batch(call, run, location=f"/api/v1/travelers/{run.id}")


@router.get("/travelers/{id:int}", **way("How far a batch of travelers is", "/travelers/{run_id}", shows=BatchShown))
def batch(call: Look, id: int) -> Response:
    return _batch(call, print_runs.run_of(call.session, id))


@router.get(
    "/travelers/{id:int}/travelers.pdf",
    **way(
        "A finished batch of travelers", "/travelers/{run_id}/travelers.pdf", "/travelers/{run_id}/travelers", gives=PDF
    ),
)
def batch_file(call: Look, id: int) -> Response:
    return call.pdf(print_runs.file_of(call.session, id), f"travelers-{id}")


def _batch(call: Call, run: PrintRun, location: str | None = None) -> Response:
    return call.answer(row(run, under_way=claims.under_way(run)), location=location)


def _letter(call: Call, number: int, kind: IssuedKind, nth: int) -> Response:
    order = orders.order_of(call.session, number)
    paper = issued.paper_of(call.session, order, kind, nth)
    name = f"{kind.value.replace(' ', '-')}-{order.number}-{paper.number}"
    return _printed(call, letter_job(paper, paper_size(call.session)), name)


def _printed(call: Call, job: Job, name: str) -> Response:
    return call.pdf(call.around.press.print(job), name)


def _shop(call: Call) -> Shop:
    return finding.find(call.session, Shop, 1, "shop")


def _units(call: Call, asked: Units | None) -> Units:
    """The units on a paper: those asked for, else the shop's own."""
    return asked or _shop(call).units
