"""Papers to print: travelers, layout strips, tuning records, care sheets, quotes, confirmations, packing slips."""

from collections.abc import Sequence

from fastapi import APIRouter
from fastapi.responses import Response

from webapp.models import IssuedKind
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import Desk, View
from webapp.pages.frame.patience import waits
from webapp.paper.office.bills import bill_job
from webapp.paper.office.care_sheet import care_job, care_sheet
from webapp.paper.office.letters import draft_job, letter_job, packing_slip, paper_size, slip_job
from webapp.paper.office.tuning_record import tuning_record
from webapp.paper.office.tuning_sheet import tuning_job
from webapp.paper.press.jobs import Job
from webapp.paper.press.workers import Press
from webapp.paper.strip.sheet import strip_job, strip_of
from webapp.paper.traveler.content import traveler, travelers_of_order
from webapp.paper.traveler.sheet import traveler_job
from webapp.shop.billing import numbers, rules as billing
from webapp.shop.orders import issued, rules as orders

router = APIRouter()


@router.get("/blanks/{serial}/traveler.pdf")
@waits
def one_traveler(desk: View, serial: str) -> Response:
    job = traveler_job(traveler(desk.session, serial, desk.who.units, public_address(desk)))
    return pdf(press(desk).print(job), f"traveler-{serial}")


@router.get("/orders/{number}/travelers.pdf")
@waits
def all_travelers(desk: View, number: int) -> Response:
    found = travelers_of_order(desk.session, number, desk.who.units, public_address(desk))
    return pdf(press(desk).print_all([traveler_job(t) for t in found]), f"travelers-order-{number}")


@router.get("/blanks/{serial}/tuning.pdf")
@waits
def final_readings(desk: View, serial: str) -> Response:
    record = tuning_record(desk.session, serial, public_address(desk))
    return pdf(press(desk).print(tuning_job(record)), f"tuning-{serial}")


@router.get("/blanks/{serial}/care.pdf")
@waits
def owners_care_sheet(desk: View, serial: str) -> Response:
    return pdf(press(desk).print(care_job(care_sheet(desk.session, serial, public_address(desk)))), f"care-{serial}")


@router.get("/orders/{number}/quote.pdf")
@waits
def quote_as_it_would_be(desk: View, number: int) -> Response:
    order = orders.order_of(desk.session, number)
    return pdf(press(desk).print(draft_job(desk.session, order)), f"draft-order-{number}")


@router.get("/orders/{number}/quote/{nth}.pdf")
@waits
def quote(desk: View, number: int, nth: int) -> Response:
    return _given_out(desk, number, IssuedKind.QUOTE, nth)


@router.get("/orders/{number}/confirmation/{nth}.pdf")
@waits
def confirmation(desk: View, number: int, nth: int) -> Response:
    return _given_out(desk, number, IssuedKind.CONFIRMATION, nth)


@router.get("/orders/{number}/packing.pdf")
@waits
def slip(desk: View, number: int) -> Response:
    found = packing_slip(desk.session, orders.order_of(desk.session, number))
    return pdf(press(desk).print(slip_job(found)), f"packing-order-{number}")


@router.get("/orders/{number}/bills/{bill_id}.pdf")
@waits
def bill(desk: View, number: int, bill_id: int) -> Response:
    found = billing.bill_of(desk.session, orders.order_of(desk.session, number), bill_id)
    return pdf(press(desk).print(bill_job(found, paper_size(desk.session))), numbers.text(found))


def _given_out(desk: Desk, number: int, kind: IssuedKind, nth: int) -> Response:
    paper = issued.paper_of(desk.session, orders.order_of(desk.session, number), kind, nth)
    job = letter_job(paper, paper_size(desk.session))
    return pdf(press(desk).print(job), f"{kind.value.replace(' ', '-')}-{number}-{nth}")


@router.get("/patterns/{pattern_id}/{number}/strip.pdf")
@waits
def layout_strip(desk: View, pattern_id: int, number: int) -> Response:
    strip = strip_of(desk.session, pattern_id, number, desk.who.units)
    return pdf(press(desk).print(strip_job(strip)), f"strip-{strip.key}-{strip.pattern}-r{number}")


class Printing:
    """The press, for a page; while a paper is set, no transaction of the page stays open."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._press: Press = desk.request.app.state.press

    def print(self, job: Job) -> bytes:
        """The PDF of one document. Raises NotPrinted."""
        self._desk.session.rollback()
        return self._press.print(job)

    def print_all(self, jobs: Sequence[Job]) -> bytes:
        """Many documents in one PDF. Raises NotPrinted."""
        self._desk.session.rollback()
        return self._press.print_all(jobs)


def press(desk: Desk) -> Printing:
    return Printing(desk)


def pdf(content: bytes, name: str) -> Response:
    """Shown in the browser, and saved under this name. What it shows may change with the next step recorded."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)
    headers = {"content-disposition": f'inline; filename="{safe}.pdf"', "cache-control": "private, no-cache"}
    return Response(content, media_type="application/pdf", headers=headers)
