"""Labels to print: for which lots and blanks, on which sheet, from which position."""

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import col

from webapp.models import Blank, BlankStatus, Paper
from webapp.pages.frame.addresses import public_address
from webapp.pages.frame.desk import View
from webapp.pages.frame.forms import Form
from webapp.pages.frame.papers import pdf, press
from webapp.pages.frame.patience import waits
from webapp.pages.stock.stock import KINDS
from webapp.paper.shelf.labels import SHEETS, labels_for, labels_job
from webapp.shop.base.errors import Refused
from webapp.shop.base.finding import as_id
from webapp.shop.blanks.lists import due_first
from webapp.shop.stock import lists as stock_list
from webapp.shop.units.keys import show_note

router = APIRouter()

MOST_COPIES = 50


@router.get("/stock/labels")
def ask(desk: View) -> Response:
    params = desk.request.query_params
    usual = "letter-30" if desk.shop.paper is Paper.LETTER else "a4-21"
    form = Form(
        {
            "lot": params.getlist("lot"),
            "blank": params.getlist("blank"),
            "sheet": params.get("sheet", usual),
            "start": params.get("start", "1"),
            "copies": params.get("copies", "1"),
        }
    )
    lots = stock_list.shelf(desk.session)
    groups = {words: [lot for lot in lots if lot.item.kind == kind] for kind, words in KINDS}
    return desk.render(
        "stock/labels.html",
        form=form,
        sheets=[(code, sheet.words) for code, sheet in SHEETS.items()],
        groups={
            words: [(lot.item.id, f"{lot.item.id} {lot.item.name}", lot.item.place) for lot in members]
            for words, members in groups.items()
            if members
        },
        blanks=_blanks(desk),
    )


@router.get("/stock/labels.pdf")
@waits
def printed(desk: View) -> Response:
    params = desk.request.query_params
    sheet = SHEETS.get(params.get("sheet", ""))
    if sheet is None:
        raise Refused("Choose one of the label sheets.")
    start, copies = as_id(params.get("start", "1")), as_id(params.get("copies", "1"))
    if start is None or start > sheet.count:
        raise Refused(f"That sheet has positions 1 to {sheet.count}: choose one of these.")
    if copies is None or copies > MOST_COPIES:
        raise Refused(f"Print 1 to {MOST_COPIES} of each label.")
    lots = [lot for text in params.getlist("lot")[:400] if (lot := as_id(text)) is not None]
    serials = [text[:20] for text in params.getlist("blank")[:400] if text.isprintable()]
    found = labels_for(desk.session, desk.who.units, public_address(desk), lots, serials, copies)
    if not found:
        raise Refused("Choose at least one lot or blank to print a label for.")
    return pdf(press(desk).print(labels_job(found, sheet, start)), "labels")


def _blanks(desk: View) -> list[tuple[str, str, str]]:
    found = due_first(desk.session, [col(Blank.status) == BlankStatus.IN_WORK], 100)
    return [(one.blank.serial, one.blank.serial, f"{show_note(one.blank.key)}, {one.wood}") for one in found]
