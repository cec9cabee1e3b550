"""Stock: the shelf by kind, and one lot with its movements."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from markupsafe import Markup

from webapp.drawings.blank.boards import Mark, board_picture, one_after_another
from webapp.models import BoardFlaw, MovementReason, Species, StockItem, StockKind
from webapp.pages.frame.desk import Act, Desk, View
from webapp.pages.frame.forms import Form
from webapp.shop.people import amounts, diary
from webapp.shop.stock import lists as stock_list, rules as stock
from webapp.shop.stock.forms import OF_WOOD, UNITS, USUAL_UNIT, Correct, Count, LotAsked, NewLot, Receive, TakeOut
from webapp.shop.stock.lists import Lot
from webapp.shop.units.lengths import show_length
from webapp.shop.units.rough import rough_length, rough_size
from webapp.shop.wood import boards, sawing, species as woods

router = APIRouter()

KINDS = [
    (StockKind.BOARD, "Boards"),
    (StockKind.HALVES, "Halves"),
    (StockKind.BLOCK_BLANK, "Block blanks"),
    (StockKind.GLUE, "Glue"),
    (StockKind.FINISH, "Finish"),
    (StockKind.CORD, "Cord"),
]
SETTLES = (StockKind.BOARD, StockKind.HALVES)  # its moisture and size are told in the list


@router.get("/stock")
def shelf(desk: View) -> Response:
    params = desk.request.query_params
    kind = next((kind for kind, _ in KINDS if kind == params.get("kind")), None)
    used_up = params.get("show") == "used-up"
    lots = stock_list.shelf(desk.session, kind, used_up)
    groups = [(one, words, [lot for lot in lots if lot.item.kind is one]) for one, words in KINDS]
    return desk.render(
        "stock/shelf.html",
        groups=[(words, one in SETTLES, members) for one, words, members in groups if members],
        kinds=KINDS,
        kind=kind,
        show=params.get("show", ""),
        to_buy=[lot for lot in lots if lot.below],
        full=len(lots) == stock_list.MOST_SHOWN,
        amount=stock_list.show_quantity,
        size_of=lambda item: rough_size((item.length, item.width, item.thickness), desk.who.units),
    )


@router.get("/stock/new")
def ask_lot(desk: View) -> Response:
    kind = next((kind for kind, _ in KINDS if kind == desk.request.query_params.get("kind")), StockKind.HALVES)
    return _lot_form(desk, Form({"kind": kind.value, "unit": USUAL_UNIT[kind]}))


@router.post("/stock/new")
def add_lot(desk: Act) -> Response:
    return desk.submit(
        lambda form: stock.add_lot(desk.session, desk.who, form.read(NewLot, desk.who.units)),
        again=lambda form, status: _lot_form(desk, form, status=status),
        to=lambda item: f"/stock/{item.id}",
    )


@router.get("/stock/{item_id}")
def show_lot(desk: View, item_id: int) -> Response:
    return lot_page(desk, stock.item_of(desk.session, item_id))


@router.post("/stock/{item_id}/receive")
def receive(desk: Act, item_id: int) -> Response:
    return desk.submit(
        lambda form: stock.receive(desk.session, desk.who, item_id, form.read(Receive)),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, receive=form),
        to=f"/stock/{item_id}",
    )


@router.post("/stock/{item_id}/take-out")
def take_out(desk: Act, item_id: int) -> Response:
    return desk.submit(
        lambda form: stock.take_out(desk.session, desk.who, item_id, form.read(TakeOut)),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, take_out=form),
        to=f"/stock/{item_id}",
    )


@router.post("/stock/{item_id}/count")
def count(desk: Act, item_id: int) -> Response:
    return desk.submit(
        lambda form: stock.count(desk.session, desk.who, item_id, form.read(Count)),
        again=lambda form, status: lot_page(desk, stock.item_of(desk.session, item_id), status, count=form),
        to=f"/stock/{item_id}",
    )


@router.get("/stock/{item_id}/label")
def ask_label(desk: View, item_id: int) -> Response:
    item = stock.item_of(desk.session, item_id)
    return _lot_form(desk, Form.of(_typed_as(item, desk)), item)


@router.post("/stock/{item_id}/label")
def relabel(desk: Act, item_id: int) -> Response:
    def rule(form: Form) -> None:
        item = stock.item_of(desk.session, item_id)
        form.values |= {"kind": item.kind.value, "unit": item.unit, "species_id": str(item.species_id or "")}
        form.must_be_fresh(_typed_as(item, desk))
        stock.relabel(desk.session, desk.who, item_id, form.read(LotAsked, desk.who.units))

    return desk.submit(
        rule,
        again=lambda form, status: _lot_form(desk, form, stock.item_of(desk.session, item_id), status),
        to=f"/stock/{item_id}",
    )


@router.get("/stock/{item_id}/correct/{movement_id}")
def ask_correction(desk: View, item_id: int, movement_id: int) -> Response:
    return _correction(desk, item_id, movement_id, Form())


@router.post("/stock/{item_id}/correct/{movement_id}")
def correct(desk: Act, item_id: int, movement_id: int) -> Response:
    return desk.submit(
        lambda form: stock.correct(desk.session, desk.who, movement_id, form.read(Correct)),
        again=lambda form, status: _correction(desk, item_id, movement_id, form, status),
        to=f"/stock/{item_id}",
    )


def lot_page(desk: Desk, item: StockItem, status: int = 200, **forms: Form) -> Response:
    """One lot's page; `forms` are those of the page that were refused."""
    assert item.id is not None
    lines = stock_list.movements(desk.session, item.id)
    is_board = item.kind is StockKind.BOARD
    fresh = {
        "moisture": Form(),
        "flaw": Form(),
        "receive": Form(),
        "count": Form(),
        "take_out": Form({"reason": MovementReason.USED.value}),
    }
    shown = fresh | forms
    for name, form in shown.items():
        form.id = name.replace("_", "-")
    lot = stock_list.lot(desk.session, item)
    return desk.render(
        "stock/lot.html",
        status=status,
        lot=lot,
        lines=lines,
        promises=stock_list.promises(desk.session, item.id),
        entries=diary.read(desk.session, desk.who, "lot", item.id),
        forms=shown,
        cautions=woods.cautions(lot.species) if lot.species else [],
        amount=stock_list.show_quantity,
        signed=stock_list.signed_quantity,
        rough=lambda mm: "" if mm is None else rough_length(mm, desk.who.units),
        readings=boards.moisture_readings(desk.session, item.id),
        flaws=boards.flaws(desk.session, item.id) if is_board else [],
        picture=board_drawing(desk, lot) if is_board else None,
        boards=int(lot.there) if is_board else 0,
        given=sawing.given_by(desk.session, item.id) if is_board else [],
        came_from=sawing.came_from(desk.session, item.id),
        is_wood=item.kind in OF_WOOD,
        reasons=[(MovementReason.USED.value, "Used"), (MovementReason.SPOILT.value, "Spoilt")],
    )


MOST_DRAWN = 12  # boards of one lot


def board_drawing(desk: Desk, lot: Lot) -> Markup | None:
    """The board from above with its flaws; none where its sizes are not known."""
    item = lot.item
    if not (item.id and item.length and item.width):
        return None
    found = boards.flaws(desk.session, item.id)
    colour = lot.species.colour if lot.species else "#c9a777"
    # Boards of one lot are drawn apart as soon as a flaw is on one of them.
    count = min(MOST_DRAWN, int(lot.there)) if any(flaw.board for flaw in found) else 1
    drawn = [
        board_picture(
            f"{item.name}, board {number} of {count}" if count > 1 else item.name,
            item.length,
            item.width,
            lambda mm: rough_length(mm, desk.who.units),
            [board_mark(flaw, item.width) for flaw in boards.marked_on(found, number)],
            colour=colour,
        )
        for number in range(1, max(1, count) + 1)
    ]
    return one_after_another(drawn)


def board_mark(flaw: BoardFlaw, width: float) -> Mark:
    """A flaw as the drawing needs it."""
    near = 0.0 if flaw.near_edge is None else flaw.near_edge
    return Mark(flaw.start, flaw.end, near, width if flaw.far_edge is None else min(width, flaw.far_edge))


def _lot_form(desk: Desk, form: Form, item: StockItem | None = None, status: int = 200) -> Response:
    return desk.render(
        "stock/lot_form.html",
        status=status,
        form=form,
        item=item,
        kinds=[(kind.value, words) for kind, words in KINDS],
        units_of_stock=list(UNITS),
        woods=[(wood.id, wood.name) for wood in woods.woods(desk.session)],
        wood=desk.session.get(Species, item.species_id) if item and item.species_id else None,
    )


def _typed_as(item: StockItem, desk: Desk) -> dict[str, Any]:
    """A lot's label as text fields that give back the same sizes when sent again."""
    values = amounts.visible(desk.who.role, "stock_item", item.model_dump())
    for name in ("length", "width", "thickness"):
        if values[name] is not None:
            values[name] = show_length(values[name], desk.who.units, exact=True)
    return values


def _correction(desk: Desk, item_id: int, movement_id: int, form: Form, status: int = 200) -> Response:
    item = stock.item_of(desk.session, item_id)
    line = stock.line_of(desk.session, item_id, movement_id)
    return desk.render(
        "stock/correct.html", status=status, item=item, line=line, form=form, signed=stock_list.signed_quantity
    )
