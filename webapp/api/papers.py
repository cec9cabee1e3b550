"""Papers: what was given out, word for word; every paper as PDF; travelers by the batch."""

from collections.abc import Callable

from webapp import job_kinds
from webapp.api.problems import Problem
from webapp.api.ways import PDF, Answer, Call, Way, pdf, row
from webapp.jobs import claims
from webapp.models import IssuedKind, PrintRun, Shop, Units
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
from webapp.shop.people.tokens import Scope
from webapp.shop.print_runs import PrintAsked

MOST_COPIES = 50


def given_out(call: Call) -> Answer:
    found = issued.of_order(call.session, orders.order_of(call.session, call.number("number")))
    return Answer({"items": [row(one) for one in found]})


def quote(call: Call) -> Answer:
    return _letter(call, IssuedKind.QUOTE)


def confirmation(call: Call) -> Answer:
    return _letter(call, IssuedKind.CONFIRMATION)


def draft(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    return _printed(call, draft_job(call.session, order), f"draft-order-{order.number}")


def slip(call: Call) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    return _printed(call, slip_job(packing_slip(call.session, order)), f"packing-order-{order.number}")


def one_traveler(call: Call) -> Answer:
    serial = call.text("serial")
    return _printed(
        call, traveler_job(traveler(call.session, serial, _units(call), call.address())), f"traveler-{serial}"
    )


def travelers(call: Call) -> Answer:
    number = call.number("number")
    jobs = [traveler_job(one) for one in travelers_of_order(call.session, number, _units(call), call.address())]
    return pdf(call.around.press.print_all(jobs), f"travelers-order-{number}")


def tuning(call: Call) -> Answer:
    serial = call.text("serial")
    return _printed(call, tuning_job(tuning_record(call.session, serial, call.address())), f"tuning-{serial}")


def care(call: Call) -> Answer:
    serial = call.text("serial")
    return _printed(call, care_job(care_sheet(call.session, serial)), f"care-{serial}")


def strip(call: Call) -> Answer:
    found = strip_of(call.session, call.number("id"), call.number("revision"), _units(call))
    return _printed(call, strip_job(found), f"strip-{found.key}-{found.pattern}-r{call.number('revision')}")


def labels(call: Call) -> Answer:
    sheet = SHEETS[call.choice("sheet", list(SHEETS), "letter-30" if _shop(call).paper == "letter" else "a4-21")]
    start, copies = call.query_id("start") or 1, call.query_id("copies") or 1
    if start > sheet.count or copies > MOST_COPIES:
        wrong = {"start": f"1 to {sheet.count} on that sheet.", "copies": f"1 to {MOST_COPIES}."}
        raise Problem("invalid", "That is more than the sheet holds, or too many copies.", wrong)
    serials = [text[:20] for text in call.query_texts("blank")]
    found = labels_for(call.session, _units(call), call.address(), call.query_ids("lot"), serials, copies)
    if not found:
        raise Refused("Name at least one lot or blank to print a label for.")
    return _printed(call, labels_job(found, sheet, start), "labels")


def start_batch(call: Call) -> Answer:
    run = print_runs.start(call.session, call.who, call.asked(PrintAsked), _units(call).value, call.address())
    assert run.id is not None
    call.session.commit()  # the press must find it
    call.around.queue.enqueue(job_kinds.TRAVELERS, run.id)
    return _batch(run, location=f"/api/v1/travelers/{run.id}")


def batch(call: Call) -> Answer:
    return _batch(print_runs.run_of(call.session, call.number("id")))


def batch_file(call: Call) -> Answer:
    return pdf(print_runs.file_of(call.session, call.number("id")), f"travelers-{call.number('id')}")


def _batch(run: PrintRun, location: str | None = None) -> Answer:
    return Answer(row(run, under_way=claims.under_way(run)), location=location)


def _letter(call: Call, kind: IssuedKind) -> Answer:
    order = orders.order_of(call.session, call.number("number"))
    paper = issued.paper_of(call.session, order, kind, call.number("nth"))
    name = f"{kind.value.replace(' ', '-')}-{order.number}-{paper.number}"
    return _printed(call, letter_job(paper, paper_size(call.session)), name)


def _printed(call: Call, job: Job, name: str) -> Answer:
    return pdf(call.around.press.print(job), name)


def _shop(call: Call) -> Shop:
    return finding.find(call.session, Shop, 1, "shop")


def _units(call: Call) -> Units:
    """The units on a paper: those asked for, else the shop's own."""
    return Units(call.choice("units", [str(one) for one in Units], str(_shop(call).units)))


_ORDER = "/orders/{number:int}"
_PAGE = "/orders/{number}"
_BLANK = "/blanks/{serial}"
_UNITS = {"units": f"one of {', '.join(Units)}; the shop's own where it is not given"}


def _paper(
    path: str, summary: str, handler: Callable[[Call], Answer], page: str, query: dict[str, str] | None = None
) -> Way:
    return Way("GET", path, summary, handler, query=query or {}, gives=PDF, does=(page, page.removesuffix(".pdf")))


WAYS = [
    Way(
        "GET",
        _ORDER + "/papers",
        "Quotes and confirmations as they were given out",
        given_out,
        shows="issued_paper",
        listed=True,
        does=(_PAGE,),
    ),
    _paper(_ORDER + "/draft.pdf", "The quote as it would be now", draft, _PAGE + "/quote.pdf"),
    _paper(_ORDER + "/quotes/{nth:int}.pdf", "A quote that was given out", quote, _PAGE + "/quote/{nth}.pdf"),
    _paper(
        _ORDER + "/confirmations/{nth:int}.pdf",
        "A confirmation that was given out",
        confirmation,
        _PAGE + "/confirmation/{nth}.pdf",
    ),
    _paper(_ORDER + "/packing.pdf", "The packing slip", slip, _PAGE + "/packing.pdf"),
    _paper(_ORDER + "/travelers.pdf", "The travelers of an order", travelers, _PAGE + "/travelers.pdf", _UNITS),
    _paper(_BLANK + "/traveler.pdf", "A blank's traveler", one_traveler, _BLANK + "/traveler.pdf", _UNITS),
    _paper(_BLANK + "/tuning.pdf", "A flute's tuning record", tuning, _BLANK + "/tuning.pdf"),
    _paper(_BLANK + "/care.pdf", "The owner's care sheet", care, _BLANK + "/care.pdf"),
    _paper(
        "/patterns/{id:int}/revisions/{revision:int}/strip.pdf",
        "The layout strip at 1:1",
        strip,
        "/patterns/{pattern_id}/{number}/strip.pdf",
        _UNITS,
    ),
    _paper(
        "/stock/labels.pdf",
        "Labels of lots and blanks",
        labels,
        "/stock/labels.pdf",
        {
            "lot": "ids of lots, with commas",
            "blank": "serials of blanks, with commas",
            "sheet": f"one of {', '.join(SHEETS)}",
            "start": "the first free position on the sheet",
            "copies": "of each",
        }
        | _UNITS,
    ),
    Way(
        "POST",
        "/travelers",
        "Print travelers in one file",
        start_batch,
        Scope.WORK,
        PrintAsked,
        "print_run",
        does=("/travelers",),
    ),
    Way(
        "GET",
        "/travelers/{id:int}",
        "How far a batch of travelers is",
        batch,
        shows="print_run",
        does=("/travelers/{run_id}",),
    ),
    _paper(
        "/travelers/{id:int}/travelers.pdf",
        "A finished batch of travelers",
        batch_file,
        "/travelers/{run_id}/travelers.pdf",
    ),
]
